// @ts-check
// Alarms in the order that people need them: the worst first, and what follows from one under it.

/**
 * @typedef {import("./messages.js").Alarm} Alarm
 * @typedef {{alarm: Alarm, follows: Alarm[]}} AlarmGroup
 * @typedef {{groups: AlarmGroup[], returned: Alarm[], shelved: Alarm[]}} AlarmBoard
 */

const RANK = { act: 0, watch: 1, note: 2 };
const STOPS = new Set(["film_trip", "motor_lost", "start_missing"]);

/**
 * Worst first; among equals those nobody has acknowledged, then film that has stopped, then the oldest.
 * @param {Alarm} a @param {Alarm} b
 */
export function worstFirst(a, b) {
  return (
    RANK[a.level] - RANK[b.level] ||
    Number(a.state === "acknowledged") - Number(b.state === "acknowledged") ||
    Number(STOPS.has(b.kind)) - Number(STOPS.has(a.kind)) ||
    a.since_s - b.since_s ||
    a.key.localeCompare(b.key)
  );
}

/** What is told with what follows from it; what went off unacknowledged; what is set aside. @param {Alarm[]} alarms @returns {AlarmBoard} */
export function boardFrom(alarms) {
  const byKey = new Map(alarms.map((alarm) => [alarm.key, alarm]));
  const isOn = (/** @type {Alarm} */ alarm) => alarm.state !== "returned";
  const first = (/** @type {Alarm} */ alarm) => alarm.told || alarm.cause === null || !byKey.has(alarm.cause);
  const shelved = alarms.filter((alarm) => isOn(alarm) && alarm.shelved_until_s !== null);
  const open = alarms.filter((alarm) => isOn(alarm) && alarm.shelved_until_s === null);
  const groups = open.filter(first).map((alarm) => ({ alarm, follows: /** @type {Alarm[]} */ ([]) }));
  for (const alarm of open.filter((each) => !first(each)).sort(worstFirst)) {
    const root = rootOf(alarm, byKey);
    const group = groups.find((each) => each.alarm.key === root);
    if (group) group.follows.push(alarm);
    else groups.push({ alarm, follows: [] }); // its first-out is off or set aside: it stands for itself
  }
  groups.sort((a, b) => worstFirst(a.alarm, b.alarm));
  return { groups, returned: alarms.filter((alarm) => !isOn(alarm)).sort(worstFirst), shelved };
}

/**
 * Groups of one kind and level together, each in the place of its first: a wall has no room for a line each in a flood.
 * @param {AlarmGroup[]} groups @returns {AlarmGroup[][]}
 */
export function alike(groups) {
  const bundles = new Map();
  for (const group of groups) {
    const { kind, level } = group.alarm;
    const bundle = bundles.get(`${level} ${kind}`);
    if (bundle) bundle.push(group);
    else bundles.set(`${level} ${kind}`, [group]);
  }
  return [...bundles.values()];
}

/** What an alarm is about, as its text begins: "House 5: the lamp is not lit". @param {Alarm} alarm */
export function placeOf({ text }) {
  return text.split(":", 1)[0] ?? text;
}

/**
 * What follows from an alarm: what else happens at its own place is said, other places are named; in a stop that runs
 * along the chain that is much.
 * @param {AlarmGroup} group
 */
export function followsInWords({ alarm, follows }) {
  const place = placeOf(alarm);
  const here = follows.filter((each) => placeOf(each) === place).map(({ text }) => text.slice(place.length + 2));
  const elsewhere = new Set(follows.map(placeOf).filter((each) => each !== place));
  return [...here, ...(elsewhere.size ? [`alarms at ${[...elsewhere].join(", ")}`] : [])].join("; ");
}

/** The key of the first-out alarm that this one hangs on. @param {Alarm} alarm @param {Map<string, Alarm>} byKey */
function rootOf(alarm, byKey) {
  const seen = new Set();
  let root = alarm;
  while (!root.told && root.cause !== null && !seen.has(root.key)) {
    seen.add(root.key);
    const cause = byKey.get(root.cause);
    if (!cause) break;
    root = cause;
  }
  return root.key;
}

/** The worst level that is on for each subject, without what is set aside. @param {Alarm[]} alarms @returns {Map<string, import("./messages.js").Level>} */
export function levelBySubject(alarms) {
  const levels = new Map();
  for (const alarm of [...alarms].sort(worstFirst).reverse()) {
    if (alarm.state !== "returned" && alarm.shelved_until_s === null) levels.set(alarm.subject, alarm.level);
  }
  return levels;
}
