"""Every state on every desk, at every size: nothing scrolls that must not, and no desk contradicts another."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.served import Served
from tests.browser.test_stops import SAID
from tests.screens.desks import opened, sized
from tests.screens.serving import shown
from tests.screens.sizes import ENLARGED, SIZES
from tests.screens.states import STATES, State

pytestmark = [pytest.mark.slow, pytest.mark.long]

FAR_PX = 32.0
"""Of what is read from ten metres, at 1080 lines: screens.md."""
NEAR_PX = 12.0
"""Of any text in the hand: chosen."""
A_TENTH = 0.1
WALLS = ("1920x1080", "1366x768", "3840x2160", "1024x768")
FAR = ("1920x1080", "1366x768", "3840x2160")
MACHINE = re.compile(r"\b\w*\d>\w*\d|\bcontact:|(?<![\w.])/\w+/\w+")
"""An id of a link, one of a source, a path."""

EVERY = """const every = (selector, root = document) => [...root.querySelectorAll("*")].flatMap((element) => [
    ...(element.matches(selector) && element.getClientRects().length ? [element] : []),
    ...(element.shadowRoot ? every(selector, element.shadowRoot) : []),
]);
const within = (host, selector) => every(selector).filter((each) => each.getRootNode().host?.matches(host));"""

WALL = f"""() => {{
    {EVERY}
    const px = (element) => parseFloat(getComputedStyle(element).fontSize);
    const [chart, top] = ["string-chart", ".top"].map((name) => every(name)[0]);
    const box = (element) => element.getBoundingClientRect();
    const told = ".headline, time, li.alarm:not(.line) .todo, .count, section.act .todo, li.first span:first-child";
    const far = every(`${{told}}, article h3`);
    const least = {FAR_PX} * innerHeight / 1080 - 0.5;
    const parts = every("station-card, canvas, link-caption");
    return {{
        wide: document.documentElement.scrollWidth,
        high: document.documentElement.scrollHeight,
        lacks: far.length < 2 + every("station-card").length,
        small: far.filter((each) => px(each) < least).map((each) => [each.textContent, px(each)]),
        chart: box(chart).height / innerHeight,
        cut: top.scrollHeight - top.clientHeight,
        outside: parts.filter((part) => box(part).bottom > box(chart).top + 1).length,
        over: every("article").filter((card) => card.scrollWidth > card.clientWidth + 1).map((card) => card.innerText),
        blocks: every("li.alarm").length + within("heat-block", "section").length,
    }};
}}"""

HEADLINE = f"""() => {{ {EVERY} return every(".headline").map((each) => [each.className, each.textContent]); }}"""

HAND = f"""() => {{
    {EVERY}
    const bar = every("section.latest")[0].getBoundingClientRect();
    const inBar = (element) => Boolean(element.getRootNode().host?.matches("pinned-bar"));
    const isSeen = (element) => {{
        const {{ top, bottom }} = element.getBoundingClientRect();
        const to = inBar(element) ? innerHeight : bar.top;
        return Math.min(bottom, to) - Math.max(top, 0) >= Math.min(24, bottom - top);
    }};
    const seen = (selector, words) => every(selector).filter((each) => words.test(each.textContent)).some(isSeen);
    const steps = every("next-steps li button");
    const answers = /^\\s*(Acknowledge|I have it)\\s*$/;
    const buttons = [...every("li.alarm button"), ...within("heat-block", "button")];
    const isAsked = buttons.some((each) => answers.test(each.textContent));
    return {{
        step: steps.length === 0 || [...steps.slice(0, 1), ...every("button.step")].some(isSeen),
        alarm: !isAsked || seen("button", answers),
        stop: seen("button", /All motors stopped/),
        wide: document.documentElement.scrollWidth,
    }};
}}"""

BRIGHTEST = f"""() => {{
    {EVERY}
    const linear = (value) => (value <= 10.31475 ? value / 3294.6 : ((value / 255 + 0.055) / 1.055) ** 2.4);
    const blocks = ["lost-screen", "heat-block"].flatMap((host) => within(host, "section"));
    const told = [...every(".act, .fault, .headline"), ...blocks];
    return Math.max(told.length ? 0 : 1, ...told.map((each) => {{
        const [r, g, b, a = 1] = getComputedStyle(each).backgroundColor.match(/[\\d.]+/g).map(Number);
        return a * (0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b));
    }}));
}}"""

SMALLEST = f"""() => {{
    {EVERY}
    const hasText = (each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    const texts = every("*").filter((each) => !each.matches("script, style, .unseen") && hasText(each));
    return Math.min(texts.length ? Infinity : 0, ...texts.map((each) => parseFloat(getComputedStyle(each).fontSize)));
}}"""


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
    found: list[list[str]] = page.evaluate(HEADLINE)
    return [[re.sub(r"headline|long", "", kind).strip(), text.strip()] for kind, text in found]


def test_a_state_fits_every_screen_and_is_told_alike(state: State, evening: Served, browser: Browser) -> None:
    """A wall fits its screen with the chain whole, the hand has what it needs, and all desks have one headline."""
    with opened(browser, evening, state, "wall") as wall:
        assert [(size, fault) for size in WALLS for fault in faults_of_wall(sized(wall, SIZES[size]), size)] == []
        assert width_of(sized(wall, SIZES["390x844"])) <= SIZES["390x844"][0]
        said = wall.evaluate(SAID)
    with opened(browser, evening, state, "booth") as booth:
        assert [(size, fault) for size in (*SIZES.values(), ENLARGED) for fault in faults_of_booth(booth, size)] == []
        said += booth.evaluate(SAID)
    with opened(browser, evening, state, "lobby") as lobby:
        wide = [
            sized(lobby, size).evaluate("() => document.documentElement.scrollWidth") - size[0]
            for size in SIZES.values()
        ]
        assert wide == [0] * len(SIZES)
        said += lobby.evaluate(SAID)
    assert MACHINE.findall(said) == []


@pytest.mark.parametrize("state", [name for name in SHOWN if not STATES[name].gone], indirect=True)
def test_all_desks_say_one_thing(state: State, evening: Served, browser: Browser) -> None:
    """Wall, booth and lobby have one headline, and none says "nothing" beside an alarm; one without a server is old."""
    with (
        opened(browser, evening, state, "wall") as wall,
        opened(browser, evening, state, "booth") as booth,
        opened(browser, evening, state, "lobby") as lobby,
    ):
        told = [headlines(page) for page in (wall, booth, lobby)]
        again = headlines(wall)
        if again != told[0]:  # it changed while it was read
            told = [headlines(page) for page in (wall, booth, lobby)]
        (kind, text), said = told[0][0], wall.evaluate(SAID) + booth.evaluate(SAID)
    assert told[1] == told[0]
    assert told[2][0][0] == kind
    assert told[2][0][1] in (text, f"{state.title}: {text}")
    if kind != "calm":
        assert "Nothing" not in said


def width_of(page: Page) -> int:
    """How wide a page is, with what hangs over its side."""
    width: int = page.evaluate("() => document.documentElement.scrollWidth")
    return width


def faults_of_wall(wall: Page, size: str) -> list[Any]:
    """What is wrong with a wall on a screen of that size."""
    found, (width, height) = wall.evaluate(WALL), SIZES[size]
    return [
        *([("wide", found["wide"])] if found["wide"] > width else []),
        *([("high", found["high"])] if found["high"] > height else []),
        *([("lacks", "headline, clock or houses")] if found["lacks"] else []),
        *([("small", found["small"])] if found["small"] and size in FAR else []),
        *([("chart", found["chart"])] if found["chart"] < 0.2 else []),
        *([("cut", found["cut"])] if found["cut"] > 1 else []),
        *([("outside", found["outside"])] if found["outside"] else []),
        *([("over", found["over"])] if found["over"] else []),
        *([("blocks", found["blocks"])] if found["blocks"] > 2 else []),
    ]


def faults_of_booth(booth: Page, size: tuple[int, int]) -> list[Any]:
    """What a hand lacks on a screen of that size, at the page's top and at its end, and an eye in the dark."""
    sized(booth, size)
    found: list[Any] = []
    for place in ("0", "document.documentElement.scrollHeight"):
        booth.evaluate(f"() => scrollTo(0, {place})")
        seen = sized(booth, size).evaluate(HAND)
        found += [(place, what) for what in ("step", "alarm", "stop") if not seen[what]]
        found += [("wide", seen["wide"])] if seen["wide"] > size[0] else []
    found += [("bright", bright)] if (bright := booth.evaluate(BRIGHTEST)) > A_TENTH else []
    found += [("small", small)] if (small := booth.evaluate(SMALLEST)) < NEAR_PX else []
    return found


def test_slack_that_comes_back_is_told(browser: Browser) -> None:
    """A link that runs tight and is trimmed is called recovering while its alarm is still on."""
    with shown(STATES["recovering"]) as server, opened(browser, server, STATES["recovering"], "wall") as wall:
        assert headlines(wall) == [["watch", "8 to 7: the film is running tight, and recovers"]]


def test_an_evening_without_a_show_fits_its_screens(browser: Browser) -> None:
    """With no run there is nothing to scroll to the side either."""
    with shown(STATES["none"]) as server, opened(browser, server, STATES["none"], "lobby") as lobby:
        lobby.get_by_text("No show is running.").wait_for()
        for size in SIZES.values():
            assert width_of(sized(lobby, size)) == size[0]
