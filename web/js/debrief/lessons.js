// @ts-check
// What is learned from runs, as far as words go.

/** What the next plan may be called: `lantern.plan.toml` goes on as `lantern-2.plan.toml`, that as `lantern-3`. @param {string} name */
export function nextPlanName(name) {
  const stem = name.replace(/^.*[/\\]/, "").replace(/(\.plan)?\.toml$/, "") || "next";
  const found = /^(.*)-(\d{1,3})$/.exec(stem);
  return found ? `${found[1]}-${Number(found[2]) + 1}.plan.toml` : `${stem}-2.plan.toml`;
}
