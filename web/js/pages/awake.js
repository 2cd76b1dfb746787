// @ts-check
// Keeps the screen on while the page is in sight, where the browser lets it (Screen Wake Lock).

export class Awake {
  /** @param {(held: boolean) => void} onChange whether the screen stays on */
  constructor(onChange) {
    this.onChange = onChange;
    /** @type {WakeLockSentinel | null} */
    this.lock = null;
  }

  /** Asks for it; a browser lets go of it whenever the page is out of sight, and some want a touch first. */
  async hold() {
    if (this.lock && !this.lock.released) return;
    try {
      const lock = await navigator.wakeLock.request("screen");
      this.lock = lock;
      lock.onrelease = () => this.onChange(false);
      this.onChange(true);
    } catch {
      this.onChange(false); // there is none, it is refused, or the battery is low
    }
  }
}
