// @ts-check
// Sound and vibration of alarms: insistent for `act` until somebody acknowledges it, once and low for `watch`; what people
// say rings until somebody has it.

import { isSaid } from "./alarms.js";

/**
 * @typedef {import("../wire.js").Alarm} Alarm
 * @typedef {"act" | "call" | "watch"} SignalLevel
 * @typedef {{hz: number, from_s: number, for_s: number}} Tone
 * @typedef {{tones: Tone[], shake_ms: number[]}} Signal
 * @typedef {"on" | "off" | "none"} SoundState `off` until the screen was touched; `none` where the browser makes no sound
 */

const AGAIN_MS = 4000; // how often an alarm that nobody acknowledged is told again: chosen
const LOUDNESS = 0.5; // of what the device can: chosen

/** Chosen: apart in pitch, rhythm and length, so that none is taken for another by ear or by hand. @type {Record<SignalLevel, Signal>} */
export const SIGNALS = {
  act: {
    tones: [0, 0.25, 0.5, 1, 1.25, 1.5].map((from_s, place) => ({ hz: place % 3 === 2 ? 1175 : 880, from_s, for_s: 0.16 })),
    shake_ms: [300, 100, 300, 100, 600],
  },
  call: {
    tones: [0, 0.22, 0.7, 0.92].map((from_s, place) => ({ hz: place % 2 === 0 ? 523 : 659, from_s, for_s: 0.2 })),
    shake_ms: [120, 80, 120],
  },
  watch: { tones: [{ hz: 392, from_s: 0, for_s: 0.45 }], shake_ms: [120] },
};

/** Whether it asks for somebody: told, not acknowledged here or anywhere. @param {Alarm} alarm @param {Set<string>} acknowledged keys that were acknowledged here */
function calls(alarm, acknowledged) {
  return alarm.told && alarm.state === "unacknowledged" && alarm.shelved_until_s === null && !acknowledged.has(alarm.key);
}

/** What an alarm calls for: film in the light is one call, in however many houses. @param {Alarm} alarm */
function callOf({ kind, key }) {
  return kind === "film_heat" ? kind : key;
}

/** What to signal next: an `act` again and again, what people say as well, a `watch` once each. */
export class Caller {
  constructor() {
    /** @type {Set<string>} */
    this.told = new Set();
    this.acted_ms = -Infinity;
    this.rung_ms = -Infinity;
  }

  /** @param {Alarm[]} alarms @param {Set<string>} acknowledged @param {number} now_ms @returns {SignalLevel | null} */
  next(alarms, acknowledged, now_ms) {
    const calling = alarms.filter((alarm) => calls(alarm, acknowledged));
    const watched = [...new Set(calling.filter((alarm) => alarm.level === "watch" && !isSaid(alarm)).map(callOf))];
    const known = watched.filter((key) => this.told.has(key));
    this.told = new Set(known);
    if (calling.some(({ level }) => level === "act")) {
      if (now_ms - this.acted_ms < AGAIN_MS) return null;
      this.acted_ms = now_ms;
      return "act";
    }
    this.acted_ms = -Infinity;
    this.told = new Set(watched);
    if (known.length < watched.length) return "watch";
    return calling.some((alarm) => alarm.level === "watch" && isSaid(alarm)) ? this.#ring(now_ms) : this.#silence();
  }

  /** @param {number} now_ms @returns {SignalLevel | null} */
  #ring(now_ms) {
    if (now_ms - this.rung_ms < AGAIN_MS) return null;
    this.rung_ms = now_ms;
    return "call";
  }

  /** The next that is said rings at once. @returns {null} */
  #silence() {
    this.rung_ms = -Infinity;
    return null;
  }
}

/** The device's loudspeaker and its vibration. Browsers let a page use them only once it was touched. */
export class Sounder {
  /** @param {(state: SoundState) => void} onChange */
  constructor(onChange) {
    this.onChange = onChange;
    /** @type {AudioContext | null} */
    this.audio = null;
  }

  /** @returns {SoundState} */
  get state() {
    if (typeof AudioContext === "undefined") return "none";
    return this.audio?.state === "running" ? "on" : "off";
  }

  /** The screen was touched or a key pressed: sound may begin. */
  touched() {
    if (this.state !== "off") return;
    if (this.audio === null) {
      this.audio = new AudioContext();
      this.audio.onstatechange = () => this.onChange(this.state);
    }
    void this.audio.resume().then(() => this.onChange(this.state));
  }

  /** @param {SignalLevel} level */
  signal(level) {
    const { tones, shake_ms } = SIGNALS[level];
    if (this.audio?.state === "running") for (const tone of tones) sound(this.audio, tone);
    if (navigator.userActivation?.hasBeenActive !== false) navigator.vibrate?.(shake_ms);
  }
}

/** @param {AudioContext} audio @param {Tone} tone */
function sound(audio, { hz, from_s, for_s }) {
  const [begin, end] = [audio.currentTime + from_s, audio.currentTime + from_s + for_s];
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  oscillator.frequency.value = hz;
  gain.gain.setValueAtTime(0, begin);
  gain.gain.linearRampToValueAtTime(LOUDNESS, begin + 0.01); // without a ramp it clicks
  gain.gain.setValueAtTime(LOUDNESS, end - 0.02);
  gain.gain.linearRampToValueAtTime(0, end);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(begin);
  oscillator.stop(end);
}
