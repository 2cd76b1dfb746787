"""The desks of a state in a browser, drawn at any size."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import Browser, Page

from tests.browser.served import Served
from tests.screens.states import State

DESKS: Final = ("wall", "booth", "lobby")

PATIENCE_MS = 20_000
FRAMES_OF_A_SIZE = 5
"""What is measured after a change of size, and drawn after that, takes a few frames."""
FRAMES_OF_A_SCROLL = 2

_HAS = """(name) => {
    const desk = document.querySelector(`${name}-desk`);
    if (!desk) return false;
    if (name === "lobby") return desk.runs !== null && desk.runs.every(({ state, schedule }) => state && schedule);
    return desk.state !== null && (name === "booth" || desk.schedule !== null);
}"""
"""Whether a desk knows all that it shows."""

_DRAWN = """(frames) => new Promise((drawn) => {
    const next = () => (frames-- ? requestAnimationFrame(next) : drawn());
    next();
})"""


_MEASURES = Path(__file__).with_name("measures.js").read_text(encoding="utf-8")


def measured(page: Page, what: str, given: dict[str, float] | None = None) -> Any:
    """What `measures.js` says of a page."""
    return page.evaluate(_MEASURES, [what, given])


@contextmanager
def opened(browser: Browser, server: Served, state: State, *desks: str) -> Iterator[list[Page]]:
    """Desks of a state that know what they show, side by side; a booth whose runner gave no name.

    Where the state's server is gone it says nothing more, until the desks are left.
    """
    with browser.new_context(locale="en-US", service_workers="block", color_scheme="dark") as context:
        pages = [_opened(context.new_page(), server, state, desk) for desk in desks]
        if state.gone:
            server.stall()
            for page in pages:
                page.get_by_role("heading", name="No word from the server").wait_for(timeout=PATIENCE_MS)
        yield pages
        if state.gone:
            server.go_on()


def _opened(page: Page, server: Served, state: State, desk: str) -> Page:
    page.goto(f"{server.base}/{desk}" if desk == "lobby" or not state.shows else server.desk(desk))
    if state.shows:
        page.wait_for_function(_HAS, arg=desk, timeout=PATIENCE_MS)
    if state.shows and desk == "booth":
        page.get_by_role("button", name="Without a name").click()
    return page


def sized(page: Page, size: tuple[int, int]) -> Page:
    """The page on a screen of that size, drawn anew."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.evaluate(_DRAWN, FRAMES_OF_A_SIZE)
    return page


def scrolled(page: Page, part: float) -> Page:
    """The page scrolled down by that part of its height, drawn anew."""
    page.evaluate("(part) => scrollTo(0, part * document.documentElement.scrollHeight)", part)
    page.evaluate(_DRAWN, FRAMES_OF_A_SCROLL)
    return page
