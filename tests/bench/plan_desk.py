"""How fast the plan desk answers: from a key that is pressed to the chart that is drawn, for sixteen houses.

    python -m tests.bench.plan_desk [--keys N]

Each key goes into a path of the chain, is written into the text, checked and drawn. Beside it stands what the server
alone takes for that, without and with a site and a crew: processor time, without the network and the browser.
"""

import argparse
import shutil
import statistics
import tempfile
from itertools import combinations, pairwise
from pathlib import Path
from time import process_time

from playwright.sync_api import Page, sync_playwright

from server.desk.debriefs import json_answer
from server.desk.plan_answers import checked_json
from server.plans.check import checked
from server.plans.edits import SetKey, edited
from server.plans.site_store import SiteStore
from server.timeline.plan import parse_plan
from tests.browser.served import served_plans, written_plan

PLAN = Path(__file__).parents[2] / "fixtures/plans/sixteen.plan.toml"
TARGET_MS = 100.0
BETWEEN_KEYS_MS = 150.0
"""Chosen: a fast typist's eighty words a minute."""

WATCH = """() => {
  const desk = document.querySelector("plan-desk").shadowRoot;
  const chart = desk.querySelector("plan-answer").shadowRoot.querySelector("plan-chart").shadowRoot;
  window.pressed = null;
  window.drawn = [];
  window.addEventListener("keydown", () => (window.pressed = performance.now()), {capture: true});
  new MutationObserver(() => {
    if (window.pressed === null) return;
    const from = window.pressed;
    window.pressed = null;
    // A task that is begun in a frame runs once that frame is painted.
    requestAnimationFrame(() => {
      const {port1, port2} = new MessageChannel();
      port1.onmessage = () => window.drawn.push(performance.now() - from);
      port2.postMessage(null);
    });
  }).observe(chart, {subtree: true, childList: true, attributes: true, attributeFilter: ["d"]});
}"""


def main() -> None:
    """Measure both, and print them."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--keys", type=int, default=40)
    keys = asked.parse_args().keys
    text = PLAN.read_text(encoding="utf-8")
    print(f"{'':38}{'median':>8}{'95 %':>8}{'worst':>8}")
    with (
        tempfile.TemporaryDirectory() as folder,
        served_plans(written_plan(Path(folder))) as server,
        sync_playwright() as p,
    ):
        none, sites = SiteStore(Path(folder) / "none"), SiteStore(Path(folder) / "log/sites")
        sites.keep(site_of(text), "")
        tell("server, to the chart, processor, ms", [server_ms(text, n, none, judge=False) for n in range(keys)])
        tell("the same at a site, ms", [server_ms(text, n, sites, judge=False) for n in range(keys)])
        tell("server, judged too, processor, ms", [server_ms(text, n, none, judge=True) for n in range(keys)])
        tell("the same at a site, for a crew, ms", [server_ms(text, n, sites, judge=True, crew=4) for n in range(keys)])
        (Path(folder) / "log/plans").mkdir(parents=True)
        (Path(folder) / "log/plans/sixteen.plan.toml").write_text(text, encoding="utf-8")
        browser = p.chromium.launch(executable_path=shutil.which("chromium-headless-shell"), args=["--disable-gpu"])
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto(f"{server.base}/plan?plan=sixteen")
        tell("key to drawn chart, ms", key_to_chart_ms(page, keys))
        browser.close()
    print(f"target: under {TARGET_MS:.0f} ms from key to chart")


def site_of(text: str) -> str:
    """The site of a plan: its houses with large decks, its paths with loops, and a walk between any two booths."""
    stations = parse_plan(text, "the plan").stations
    booths = combinations(sorted({station.booth or "" for station in stations}), 2)
    return "\n".join(
        [
            f'format = "festoon-site/1"\nsite = "{parse_plan(text, "the plan").site}"',
            *(
                f'[[houses]]\nhouse = "{one.house}"\nbooth = "{one.booth}"\ndeck_core_mm = 300\ndeck_roll_mm = 1400'
                for one in stations
            ),
            *(
                f'[[paths]]\nfrom = "{one.house}"\nto = "{other.house}"\npath_m = {other.path_m:.2f}\n'
                "height_m = 3\nloop_span_m = 1.2\nloop_drop_m = 1.3"
                for one, other in pairwise(stations)
            ),
            *(f'[[walks]]\nfrom = "{one}"\nto = "{other}"\nwalk_s = 90' for one, other in booths),
        ]
    )


def server_ms(text: str, n: int, sites: SiteStore, *, judge: bool, crew: int | None = None) -> float:
    """What one key costs the server: the edit, the check and the answer; the judge is asked once nobody types."""
    begun = process_time()
    changed = edited(text, [SetKey(do="set", path="stations[5].path_ft", value=50 + n % 7)])
    json_answer(checked_json(checked(changed, judge=judge, site_of=sites.for_plan, crew=crew)))
    return (process_time() - begun) * 1000.0


def key_to_chart_ms(page: Page, keys: int) -> list[float]:
    """Each key in turn, after the chart of the one before is drawn."""
    houses = page.get_by_role("list", name="Houses in film order").get_by_role("listitem")
    field = houses.nth(5).get_by_role("textbox", name="Path from")
    field.wait_for()
    page.get_by_role("img", name="Planned passes of every mark").wait_for()
    page.evaluate(WATCH)
    field.focus()
    page.keyboard.press("Control+A")
    for n in range(keys):
        page.keyboard.press(str(3 + n % 6) if n % 2 == 0 else "Backspace")
        page.wait_for_function("(count) => window.drawn.length > count", arg=n)
        page.wait_for_timeout(BETWEEN_KEYS_MS)
    found: list[float] = page.evaluate("() => window.drawn")
    return found


def tell(what: str, ms: list[float]) -> None:
    ordered = sorted(ms)
    share = ordered[min(len(ordered) - 1, int(len(ordered) * 0.95))]
    print(f"{what:38}{statistics.median(ordered):8.1f}{share:8.1f}{ordered[-1]:8.1f}")


if __name__ == "__main__":
    main()
