// @ts-check
// What a booth desk keeps on its device: taps that were not answered, and the last picture of each run (IndexedDB).

/**
 * @typedef {import("./taps.js").Tap} Tap
 * @typedef {object} KeptPicture
 * @property {string} run
 * @property {import("../live/store.js").RunState} state
 * @property {import("../live/clock.js").KeptOffset} offset
 * @property {number} wall_s the device's clock when the server was last heard
 * @typedef {{run: string, place: number, id: string, tap: Tap}} KeptTap
 */

const NAME = "festoon-booth";
const VERSION = 1;

/** The device's store; rejects where the browser has none or refuses it. @returns {Promise<IDBDatabase>} */
function openDatabase() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(NAME, VERSION);
    opening.onupgradeneeded = () => {
      opening.result.createObjectStore("taps", { keyPath: "id" });
      opening.result.createObjectStore("pictures", { keyPath: "run" });
    };
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

/**
 * The result once all of its transaction is on the device: a full one takes the request and aborts afterwards.
 * @template T @param {IDBTransaction} transaction @param {IDBRequest<T>} request @returns {Promise<T>}
 */
function resultOf(transaction, request) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error);
  });
}

/** What is kept; without a store nothing is, and `works` says so. */
export class Kept {
  /** @param {() => void} onFailure it no longer keeps anything */
  constructor(onFailure) {
    this.works = true;
    this.onFailure = onFailure;
    /** Where each tap stands in their order, by its id. @type {Map<string, number>} */
    this.places = new Map();
    this.opened = openDatabase();
    this.opened.catch(() => this.#fail());
  }

  /** Taps of a run that were not answered or were refused, in their order. @param {string} run @returns {Promise<Tap[]>} */
  async taps(run) {
    const all = (await this.#ask("taps", "readonly", (store) => store.getAll())) ?? [];
    const kept = /** @type {KeptTap[]} */ (all).sort((a, b) => a.place - b.place);
    for (const { id, place } of kept) this.places.set(id, place);
    return kept.filter((each) => each.run === run).map(({ tap }) => tap);
  }

  /** Other runs for which taps still wait here. @param {string} run @returns {Promise<string[]>} */
  async otherRuns(run) {
    const all = /** @type {KeptTap[]} */ ((await this.#ask("taps", "readonly", (store) => store.getAll())) ?? []);
    return [...new Set(all.filter((each) => each.run !== run && each.tap.state === "waiting").map((each) => each.run))];
  }

  /** A tap keeps its first place in the order, whatever is written of it later. @param {string} run @param {Tap} tap */
  async putTap(run, tap) {
    const { id } = tap.event;
    const place = this.places.get(id) ?? Math.max(-1, ...this.places.values()) + 1;
    this.places.set(id, place);
    await this.#ask("taps", "readwrite", (store) => store.put({ run, id, tap, place }));
  }

  /** @param {string} id */
  async dropTap(id) {
    await this.#ask("taps", "readwrite", (store) => store.delete(id));
  }

  /** @param {KeptPicture} picture */
  async putPicture(picture) {
    await this.#ask("pictures", "readwrite", (store) => store.put(picture));
  }

  /** The last picture of a run; of the run that was shown last where none is named. @param {string | null} run @returns {Promise<KeptPicture | null>} */
  async picture(run) {
    const all = /** @type {KeptPicture[]} */ ((await this.#ask("pictures", "readonly", (store) => store.getAll())) ?? []);
    const latestFirst = all.filter(isWhole).sort((a, b) => b.wall_s - a.wall_s);
    return latestFirst.find((each) => run === null || each.run === run) ?? null;
  }

  /**
   * @template T @param {"taps" | "pictures"} name @param {IDBTransactionMode} mode
   * @param {(store: IDBObjectStore) => IDBRequest<T>} act @returns {Promise<T | null>}
   */
  async #ask(name, mode, act) {
    try {
      const database = await this.opened;
      const transaction = database.transaction(name, mode, { durability: name === "taps" ? "strict" : "relaxed" });
      const result = resultOf(transaction, act(transaction.objectStore(name)));
      // At once, so that what was tapped outlives a page that is left in the same moment.
      transaction.commit?.();
      return await result;
    } catch {
      this.#fail();
      return null;
    }
  }

  #fail() {
    if (this.works) {
      this.works = false;
      this.onFailure();
    }
  }
}

/** Whether a picture has all that this desk shows: one that an earlier desk kept may not. @param {KeptPicture} picture */
function isWhole({ state }) {
  return Array.isArray(state.reports) && Array.isArray(state.info.booths);
}

/** A small choice of this reader at this device, or null; a browser may refuse to keep any. @param {string} name */
export function choice(name) {
  try {
    return localStorage.getItem(`festoon.${name}`);
  } catch {
    return null;
  }
}

/** @param {string} name @param {string} value */
export function choose(name, value) {
  try {
    localStorage.setItem(`festoon.${name}`, value);
  } catch {
    // It holds as long as the page does.
  }
}
