"""Every state on every desk, at every size: nothing scrolls that must not, and no desk contradicts another."""

import re
import time
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.served import Served
from tests.browser.test_stops import SAID
from tests.screens.desks import measured, opened, scrolled, sized
from tests.screens.serving import shown
from tests.screens.sizes import ENLARGED, SIZES
from tests.screens.states import STATES, State

pytestmark = [pytest.mark.slow, pytest.mark.long]

FAR_PX = 32.0
"""Of what is read from ten metres, at 1080 lines: screens.md."""
NEAR_PX = 12.0
"""Of any text on any screen: chosen."""
WALL_NEAR_PX = 16.0
"""Of any text of a wall at 1080 lines, and of a long name of a house, which is no larger than it has room: chosen."""
SOON_S, BETWEEN_MS = 5.0, 100.0
"""Until when a change has come to all desks, on a busy machine: chosen."""
SHORT = 4
"""Letters of a house's name that is read from ten metres: a longer one wraps and shrinks. Chosen."""
A_TENTH = 0.1
WALLS = ("1920x1080", "1366x768", "3840x2160", "1024x768")
MACHINE = re.compile(r"\b\w*\d>\w*\d|\bcontact:|(?<![\w.])/\w+/\w+")
"""An id of a link, one of a source, a path."""

LEAST = {"far_px": FAR_PX, "near_px": WALL_NEAR_PX, "least_px": NEAR_PX, "short": SHORT}


SHOWN = [name for name in STATES if STATES[name].shows]


@pytest.fixture(params=SHOWN)
def state(request: pytest.FixtureRequest) -> State:
    return STATES[request.param]


@pytest.fixture
def evening(state: State) -> Iterator[Served]:
    with shown(state) as server:
        yield server


def headlines(page: Page) -> list[list[str]]:
    """The kinds and words of the headlines of a desk."""
    found: list[list[str]] = measured(page, "headlines")
    return [[re.sub(r"headline|clamped|long", "", kind).strip(), text.strip()] for kind, text in found]


def test_a_state_fits_every_screen_and_is_told_alike(state: State, evening: Served, browser: Browser) -> None:
    """A wall fits its screen with the chain whole, the hand has what it needs, and all desks say one thing.

    Wall, booth and lobby have one headline, and none says "nothing" beside an alarm; without a server each is old at
    another time. A desk is closed once it is measured: one that is open goes on drawing.
    """
    with opened(browser, evening, state, "wall", "booth", "lobby") as (wall, booth, lobby):
        if not state.gone:
            assert_told_alike(wall, booth, lobby, state)
        assert [(size, fault) for size in WALLS for fault in faults_of_wall(sized(wall, SIZES[size]), size)] == []
        assert width_of(sized(wall, SIZES["390x844"])) <= SIZES["390x844"][0]
        assert faults_of_text(wall) == []
        said = wall.evaluate(SAID)
        wall.close()
        sizes = [*SIZES.values(), *ENLARGED.values()]
        assert [(size, fault) for size in sizes for fault in faults_of_booth(booth, size)] == []
        said += booth.evaluate(SAID)
        booth.close()
        assert [(size, fault) for size in SIZES for fault in faults_of_lobby(lobby, size)] == []
        said += lobby.evaluate(SAID)
    assert MACHINE.findall(said) == []


def assert_told_alike(wall: Page, booth: Page, lobby: Page, state: State) -> None:
    """AssertionError where a desk has another headline than the others, or says "nothing" beside an alarm."""
    desks = (wall, booth, lobby)
    until_s = time.monotonic() + SOON_S
    while is_told_apart(told := [headlines(desk)[0] for desk in desks], state) and time.monotonic() < until_s:
        wall.wait_for_timeout(BETWEEN_MS)
    kind, said = told[0][0], wall.evaluate(SAID) + booth.evaluate(SAID)
    assert not is_told_apart(told, state), told
    if kind != "calm":
        assert "Nothing" not in said


def is_told_apart(told: list[list[str]], state: State) -> bool:
    """Whether wall, booth and lobby have headlines of several kinds or words; the lobby's says of which run."""
    (kind, text), booth, (lobby_kind, lobby_text) = told
    of_run = rf"(?:{re.escape(state.title)}(?: \(.* time\))?(?:, \d+:\d\d\s?[AP]?M?)?: )?"
    return booth != [kind, text] or lobby_kind != kind or not re.fullmatch(of_run + re.escape(text), lobby_text)


def width_of(page: Page) -> int:
    """How wide a page is, with what hangs over its side."""
    width: int = page.evaluate("() => document.documentElement.scrollWidth")
    return width


def faults_of_text(page: Page) -> list[Any]:
    """What is cut without a sign, and what lies on top of one another, on a page as it is."""
    return [*(("cut", text) for text in measured(page, "cut")), *(("over", text) for text in measured(page, "over"))]


def faults_of_wall(wall: Page, size: str) -> list[Any]:
    """What is wrong with a wall on a screen of that size."""
    found, (width, height) = measured(wall, "wall", LEAST), SIZES[size]
    return [
        *([("wide", found["wide"])] if found["wide"] > width else []),
        *([("high", found["high"])] if found["high"] > height else []),
        *([("lacks", "headline, clock or houses")] if found["lacks"] else []),
        *([("small", found["small"])] if found["small"] else []),
        *([("chart", found["chart"])] if found["chart"] < 0.2 else []),
        *([("figure", found["figure"])] if found["figure"] < 0.12 else []),
        *([("outside", found["outside"])] if found["outside"] else []),
        *([("beyond", found["beyond"])] if found["beyond"] else []),
        *([("blocks", found["blocks"])] if found["blocks"] > 2 else []),
        *faults_of_text(wall),
    ]


def faults_of_booth(booth: Page, size: tuple[int, int]) -> list[Any]:
    """What a hand lacks at that size, at the page's top, in its middle and at its end, and an eye in the dark."""
    sized(booth, size)
    found: list[Any] = faults_of_text(booth)
    for part in (0.0, 0.5, 1.0):
        seen = measured(scrolled(booth, part), "hand")
        found += [(part, what) for what in ("step", "alarm", "stop", "line", "free") if not seen[what]]
        found += [("wide", seen["wide"])] if seen["wide"] > size[0] else []
    found += [("bright", bright)] if (bright := measured(booth, "brightest")) > A_TENTH else []
    found += [("small", small)] if (small := measured(booth, "smallest")) < NEAR_PX else []
    return found


def faults_of_lobby(lobby: Page, size: str) -> list[Any]:
    """What is wrong with a lobby on a screen of that size; only a phone scrolls."""
    width, height = SIZES[size]
    sized(lobby, SIZES[size])
    found: list[Any] = faults_of_text(lobby)
    found += [("wide", wide)] if (wide := width_of(lobby)) > width else []
    high = lobby.evaluate("() => document.documentElement.scrollHeight")
    found += [("high", high)] if size in WALLS and high > height else []
    found += [("small", small)] if (small := measured(lobby, "smallest")) < NEAR_PX else []
    return found


def test_slack_that_comes_back_is_told(browser: Browser) -> None:
    """A link that runs tight and is trimmed is called recovering while its alarm is still on."""
    with shown(STATES["recovering"]) as server, opened(browser, server, STATES["recovering"], "wall") as (wall,):
        assert headlines(wall) == [["watch", "8 to 7: the film is running tight, and recovers"]]


def test_an_evening_without_a_show_fits_its_screens(browser: Browser) -> None:
    """With no run there is nothing to scroll to the side either."""
    with shown(STATES["none"]) as server, opened(browser, server, STATES["none"], "lobby") as (lobby,):
        lobby.get_by_role("main").get_by_text("No show is running.").wait_for()
        for size in SIZES.values():
            assert width_of(sized(lobby, size)) == size[0]
