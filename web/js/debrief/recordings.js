// @ts-check
// Files that were dropped: which is the recording, which its plan.

const MOST_BYTES = 8_000_000; // what the server takes is 8 MB whole

/**
 * The recording and, where it is there, its plan. Throws one sentence where the files are none.
 * @param {Pick<File, "name" | "size" | "text">[]} files
 * @returns {Promise<{recording: {name: string, text: string}, plan: {name: string, text: string} | null}>}
 */
export async function recordingFrom(files) {
  const plans = files.filter(({ name }) => name.toLowerCase().endsWith(".toml"));
  const recordings = files.filter((file) => !plans.includes(file));
  const [recording] = recordings;
  if (!recording) throw new Error(`${namesOf(files)}: a plan alone is no run; drop a recording (NAME.events.jsonl) with it.`);
  if (recordings.length > 1 || plans.length > 1) throw new Error(`${namesOf(files)}: one recording at a time, with at most one plan.`);
  const size = files.reduce((sum, file) => sum + file.size, 0);
  if (size > MOST_BYTES) throw new Error(`${recording.name} has ${Math.ceil(size / 1e6)} MB; accepted are at most ${MOST_BYTES / 1e6} MB.`);
  const [plan] = plans;
  return { recording: await textOf(recording), plan: plan ? await textOf(plan) : null };
}

/** @param {Pick<File, "name" | "text">} file */
async function textOf(file) {
  return { name: file.name, text: await file.text() };
}

/** @param {{name: string}[]} files */
function namesOf(files) {
  return files.map(({ name }) => name).join(", ");
}
