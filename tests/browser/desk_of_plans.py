"""What somebody does at the plan desk, by keyboard or by touch."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Locator, Page, expect

from tests.browser.served import Served, served_plans, written_plan

FOCUSED = """() => {
  let active = document.activeElement;
  while (active?.shadowRoot?.activeElement) active = active.shadowRoot.activeElement;
  const labelled = active?.labels?.[0]?.textContent ?? "";
  return (active?.getAttribute("aria-label") || labelled || active?.textContent || "").replace(/\\s+/g, " ").trim();
}"""
MOST_TABS = 150
"""Chosen: more than a page of six houses has to stop at."""


@contextmanager
def serving_plans(folder: Path) -> Iterator[tuple[Served, Path]]:
    """A server with one live run and no plan yet, and the folder of its plans."""
    with served_plans(written_plan(folder)) as server:
        yield server, folder / "log" / "plans"


def tab_to(page: Page, name: str, *, back: bool = False) -> None:
    """Press Tab until what is called so has the focus."""
    found: list[str] = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        found.append(str(page.evaluate(FOCUSED)))
        if re.fullmatch(name, found[-1]):
            return
    raise AssertionError(f"no stop is called {name!r}; there are {found}")


def wait_for_focus(page: Page, name: str) -> None:
    """Wait until what is called so has the focus."""
    page.wait_for_function(f"(name) => new RegExp(`^(?:${{name}})$`).test(({FOCUSED})())", arg=name)


def verdict(page: Page) -> Locator:
    """What the desk says of the plan as a whole."""
    return page.get_by_role("region", name="Does this chain work?").get_by_role("status")


def houses(page: Page) -> Locator:
    return page.get_by_role("list", name="Houses in film order").get_by_role("listitem")


def house(page: Page, name: str) -> Locator:
    return page.get_by_role("listitem", name=name, exact=True)


def open_new(page: Page, base: str, kind: str = "example", part: str = "chain") -> None:
    """Begin a plan and show one of its parts."""
    page.goto(f"{base}/plan?new={kind}#{part}")
    expect(verdict(page)).to_be_visible()


def save(page: Page, by: str = "Ada") -> None:
    """Save for the first time on this page."""
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_label("Who does it").fill(by)
    page.get_by_role("button", name="Save it").click()
    expect(page.get_by_text(re.compile(f"^Saved .* by {by}$"))).to_be_visible()
