// @ts-check
// What is measured on a desk in a browser: `(what, given) => figures`. Shadow trees are looked into.
/** @typedef {{left: number, top: number, right: number, bottom: number}} Edges */

/** @param {[string, any]} asked */ ([what, given]) => {
  /** @param {string} selector @param {Document | ShadowRoot} root @returns {Element[]} */
  const every = (selector, root = document) =>
    [...root.querySelectorAll("*")].flatMap((element) => [
      ...(element.matches(selector) && element.getClientRects().length && element.checkVisibility() ? [element] : []),
      ...(element.shadowRoot ? every(selector, element.shadowRoot) : []),
    ]);
  /** @param {Element} element */
  const hostOf = (element) => /** @type {Partial<ShadowRoot>} */ (element.getRootNode()).host ?? null;
  /** @param {string} host @param {string} selector */
  const within = (host, selector) => every(selector).filter((each) => hostOf(each)?.matches(host));
  /** @param {Element} element @returns {Element | null} */
  const above = (element) => element.assignedSlot ?? element.parentElement ?? hostOf(element);
  /** @param {Element | null} element @param {string} selector @returns {boolean} */
  const isIn = (element, selector) => element !== null && (element.matches(selector) || isIn(above(element), selector));
  /** @param {Element} outer @param {Element | null} inner @returns {boolean} */
  const holds = (outer, inner) => inner !== null && (inner === outer || holds(outer, above(inner)));
  /** @param {Node} node */
  const isWritten = (node) => node instanceof Text && node.data.trim() !== "";
  const texts = () => every("*").filter((each) => [...each.childNodes].some(isWritten) && !isIn(each, ".unseen, script, style, title"));
  /** @param {Element} element */
  const px = (element) => parseFloat(getComputedStyle(element).fontSize);
  /** @param {Element} element */
  const box = (element) => element.getBoundingClientRect();
  const page = document.documentElement;

  /** A wall against its screen; `given` are least sizes at 1080 lines, of what is read from afar and of any text. */
  const wall = (/** @type {Record<"far_px" | "near_px" | "least_px" | "short", number>} */ { far_px, near_px, least_px, short }) => {
    const [chart, figure] = ["string-chart", "figure"].map((name) => /** @type {Element} */ (every(name)[0]));
    if (!chart || !figure) throw new Error("a wall has its chart");
    const told = ".headline, time, li.alarm:not(.line) .todo, .count, section.act .todo, li.first > :first-child";
    const isShort = (/** @type {string} */ name) => name.length <= short && !name.includes("…");
    const names = every("article h3").filter((each) => isShort(each.lastChild?.textContent ?? ""));
    const share = innerHeight / 1080;
    const small = (/** @type {Element} */ each, /** @type {number} */ size) => (px(each) < size - 0.5 ? [[each.textContent, px(each)]] : []);
    const parts = every("station-card, canvas, link-caption");
    return {
      wide: page.scrollWidth,
      high: page.scrollHeight,
      lacks: every(told).length < 2 || every("article h3").length < every("station-card").length,
      small: [
        ...[...every(told), ...names].flatMap((each) => small(each, far_px * share)),
        ...texts().flatMap((each) => small(each, Math.max(least_px, near_px * share))),
      ],
      chart: box(chart).height / innerHeight,
      figure: box(figure).height / innerHeight,
      outside: parts.filter((part) => box(part).bottom > box(chart).top + 1).length,
      beyond: texts().flatMap((each) => (box(each).left < -1 || box(each).right > innerWidth + 1 ? [each.textContent] : [])),
      blocks: every("li.alarm").length + within("heat-block", "section").length,
    };
  };

  /** What is cut without a sign. */
  const cut = () => {
    const isOver = (/** @type {Element} */ each) => each.scrollWidth > each.clientWidth + 1 || each.scrollHeight > each.clientHeight + 2;
    const hasSign = (/** @type {CSSStyleDeclaration} */ { textOverflow, webkitLineClamp }) => textOverflow === "ellipsis" || webkitLineClamp !== "none";
    const isCut = (/** @type {Element} */ each) => {
      const style = getComputedStyle(each);
      return /hidden|clip/.test(style.overflow) && !isIn(each, ".unseen") && isOver(each) && !hasSign(style);
    };
    return every("*").flatMap((each) => (each instanceof HTMLElement && isCut(each) ? [`${each.localName}.${each.className}: ${each.innerText}`] : []));
  };

  /** What is written, or to be touched, on top of one another; what stays in place lies over the rest on purpose. */
  const over = () => {
    const meet = (/** @type {Edges} */ a, /** @type {Edges} */ b) => ({
      left: Math.max(a.left, b.left),
      top: Math.max(a.top, b.top),
      right: Math.min(a.right, b.right),
      bottom: Math.min(a.bottom, b.bottom),
    });
    const isArea = (/** @type {Edges} */ { left, top, right, bottom }) => right > left && bottom > top;
    const clips = (/** @type {Element} */ each) => each instanceof HTMLElement && /hidden|clip|auto|scroll/.test(getComputedStyle(each).overflow);
    /** @param {Element | null} element @param {Edges} rect @returns {Edges} */
    const clipped = (element, rect) => {
      if (element === null) return rect;
      return clipped(above(element), clips(element) ? meet(rect, box(element)) : rect);
    };
    const stays = ".latest, lost-screen, heat-block, table-sheet .sheet";
    const written = (/** @type {Element} */ each) =>
      [...each.childNodes].filter(isWritten).flatMap((node) => {
        const range = document.createRange();
        range.selectNodeContents(node);
        return [...range.getClientRects()];
      });
    const rectsOf = (/** @type {Element} */ each) => (each.matches("button, summary, input") ? [box(each)] : written(each));
    const drawn = [...new Set([...texts(), ...every("button, summary, input")])]
      .filter((each) => each instanceof HTMLElement && !isIn(each, stays))
      .map((each) => ({
        each,
        rects: rectsOf(each)
          .map((rect) => clipped(each, rect))
          .filter(isArea),
      }));
    // The area of a letter is higher than its line: what lies over a third of another is on top of it.
    const isOn = (/** @type {Edges} */ a, /** @type {Edges} */ b) => {
      const both = meet(a, b);
      return both.right - both.left > 3 && both.bottom - both.top > 0.35 * Math.min(a.bottom - a.top, b.bottom - b.top);
    };
    return drawn.flatMap((one, place) =>
      drawn
        .slice(place + 1)
        .filter((other) => !holds(one.each, other.each) && !holds(other.each, one.each))
        .filter((other) => one.rects.some((a) => other.rects.some((b) => isOn(a, b))))
        .map((other) => `${one.each.textContent?.trim()} / ${other.each.textContent?.trim()}`),
    );
  };

  /** What a hand has in view and can touch. */
  const hand = () => {
    const [pinned] = every("section.latest");
    if (!pinned) throw new Error("a booth has its pinned bar");
    const bar = box(pinned);
    const inBar = (/** @type {Element} */ element) => Boolean(hostOf(element)?.matches("pinned-bar"));
    /** @param {number} x @param {number} y @param {Document | ShadowRoot} root @returns {Element | null} */
    const at = (x, y, root = document) => {
      const found = root.elementFromPoint(x, y);
      const inside = found?.shadowRoot?.elementFromPoint(x, y);
      return found?.shadowRoot && inside && inside !== found ? at(x, y, found.shadowRoot) : found;
    };
    const isSeen = (/** @type {Element} */ element) => {
      const { left, right, top, bottom } = box(element);
      const [from, to] = [Math.max(top, 0), Math.min(bottom, inBar(element) ? innerHeight : bar.top)];
      if (to - from < Math.min(24, bottom - top) || left < 0 || right > innerWidth) return false;
      const touched = at((left + right) / 2, (from + to) / 2);
      return touched !== null && element.contains(touched);
    };
    const seen = (/** @type {string} */ selector, /** @type {RegExp} */ words) =>
      every(selector)
        .filter((each) => words.test(each.textContent ?? ""))
        .some(isSeen);
    const steps = every("next-steps li button");
    const answers = /^\s*(Acknowledge|I have it)\s*$/;
    const buttons = [...every("li.alarm button"), ...within("heat-block", "button")];
    return {
      step: steps.length === 0 || [...steps.slice(0, 1), ...every("button.step")].some(isSeen),
      alarm: !buttons.some((each) => answers.test(each.textContent ?? "")) || seen("button", answers),
      stop: seen("button", /All motors stopped/),
      line: every(".words span").every((each) => box(each).height < 2 * px(each)),
      free: innerHeight - bar.height >= 0.3 * innerHeight,
      wide: page.scrollWidth,
    };
  };

  /** The relative luminance of the brightest ground of a page (WCAG 2.2); 1 where none has a colour. */
  const brightest = () => {
    const linear = (/** @type {number} */ value) => (value <= 10.31475 ? value / 3294.6 : ((value / 255 + 0.055) / 1.055) ** 2.4);
    const lights = [page, ...every("*")].map((each) => {
      const [r = 0, g = 0, b = 0, a = 1] = (getComputedStyle(each).backgroundColor.match(/[\d.]+/g) ?? []).map(Number);
      return a * (0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b));
    });
    return Math.max(lights.some((light) => light > 0) ? 0 : 1, ...lights);
  };

  const smallest = () => Math.min(texts().length ? Infinity : 0, ...texts().map(px));
  const headlines = () => every(".headline").map((each) => [each.className, each.textContent]);

  /** @type {Record<string, (given: any) => unknown>} */
  const measures = { wall, cut, over, hand, brightest, smallest, headlines };
  return measures[what]?.(given ?? {});
};
