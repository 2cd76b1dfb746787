// @ts-check
// Follows server-sent events, also past an answer that is none: a browser gives such a source up for good (HTML, 9.2).

const FIRST_MS = 1000;
const LONGEST_MS = 30_000; // each wait is twice the one before. Chosen: a proxy that is back is soon found

/**
 * Hear `address` without end; `take` gets each message.
 * @param {string} address @param {(message: MessageEvent<string>) => void} take
 * @param {(address: string) => EventSource} [open] @param {(then: () => void, wait_ms: number) => void} [wait]
 */
export function follow(address, take, open = (from) => new EventSource(from), wait = (then, wait_ms) => void setTimeout(then, wait_ms)) {
  let wait_ms = FIRST_MS;
  const begin = () => {
    const source = open(address);
    source.onmessage = (message) => {
      wait_ms = FIRST_MS;
      take(message);
    };
    source.onerror = () => {
      // Otherwise the browser itself tries again.
      if (source.readyState !== 2) return;
      source.close();
      wait(begin, wait_ms);
      wait_ms = Math.min(LONGEST_MS, wait_ms * 2);
    };
  };
  begin();
}
