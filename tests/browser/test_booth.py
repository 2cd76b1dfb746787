"""Taps at the booth desk: each is answered at once, can be taken back and moved, and is seen elsewhere."""

import re
from datetime import datetime

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.hands import answer, choose, events, name, open_booth, tap
from tests.browser.served import Served

pytestmark = pytest.mark.slow

NOTICE_MS = 10_000
RETURN_MS = 15_000


@pytest.fixture
def booth(two_houses: Served, context: BrowserContext) -> Page:
    """The booth desk, with the pad of house 1."""
    return open_booth(context.new_page(), two_houses)


def test_starting_the_chain_starts_every_house(wall: Page, booth: Page) -> None:
    """One tap for all the motors."""
    expect(wall.get_by_text("See that two timers start the motors together", exact=True)).to_be_visible()
    choose(booth, "All")
    tap(booth, "All motors started")
    for house in ("House 1", "House 2"):
        expect(wall.get_by_role("article", name=house)).to_contain_text("rolling")
    expect(wall.get_by_text(re.compile("^House 1: strike the lamp")).first).to_be_visible()


def test_no_film_that_moves_is_said_to_start(booth: Page) -> None:
    """The caution beside the pad is as true while film moves as it is before."""
    caution = booth.get_by_role("region", name="Pad").get_by_text("keep hands and clothing clear")
    expect(caution).to_contain_text("Film may move at any time")
    choose(booth, "All")
    tap(booth, "All motors started")
    expect(answer(booth)).to_contain_text("taken")
    expect(caution).to_contain_text("Film may move at any time")


def test_the_next_thing_is_one_target_that_says_it_was_done(wall: Page, booth: Page) -> None:
    """Touching the next thing to do reports it, and what comes after that takes its place."""
    steps = booth.get_by_role("region", name="Next").get_by_role("button")
    expect(steps).to_have_count(1)
    expect(steps).to_contain_text(
        re.compile("See that two timers start the motors.*[0-9]:[0-9]{2}.*(left|over)", re.DOTALL)
    )
    steps.click()
    expect(answer(booth)).to_contain_text(re.compile("All motors started.*taken", re.DOTALL))
    expect(wall.get_by_role("article", name="House 2")).to_contain_text("rolling")
    expect(steps).to_contain_text(["House 1: strike the lamp", "House 2: strike the lamp"])
    expect(booth.get_by_role("region", name="Next")).to_contain_text("A xenon lamp can burst")


def test_a_tap_without_a_connection_waits_and_is_sent_once_it_is_back(
    two_houses: Served, wall: Page, booth: Page
) -> None:
    """No tap is lost, and none is taken twice."""
    two_houses.stall()
    tap(booth, "Lamp lit")
    expect(answer(booth)).to_contain_text("waiting to be sent")
    expect(booth.get_by_role("heading", name="No word from the server")).to_be_visible(timeout=NOTICE_MS)
    two_houses.go_on()
    expect(answer(booth)).to_contain_text("✓ taken", timeout=RETURN_MS)
    expect(wall.get_by_role("article", name="House 1")).to_contain_text("lamp lit")
    assert [event["kind"] for event in events(booth, two_houses)] == ["lamp_lit"]


def test_a_refused_tap_says_why_and_can_be_put_away(two_houses: Served, context: BrowserContext) -> None:
    """A tap that the server does not take is not shown as taken; the one after it is not held up."""
    booth = context.new_page()

    def mislead(text: str | bytes) -> str | bytes:
        return text.replace('"lamp_lit"', '"lamp_bright"') if isinstance(text, str) else text

    def between(socket: object) -> None:
        server = socket.connect_to_server()  # type: ignore[attr-defined]
        socket.on_message(lambda text: server.send(mislead(text)))  # type: ignore[attr-defined]

    booth.route_web_socket(re.compile("/live"), between)
    open_booth(booth, two_houses)
    tap(booth, "Lamp lit")
    expect(answer(booth)).to_contain_text(re.compile("refused: .*lamp_bright"))
    tap(booth, "Douser open")
    expect(answer(booth)).to_contain_text(re.compile("House 1: douser open .*taken", re.DOTALL))
    booth.get_by_role("button", name="Put away House 1: lamp lit").click()
    expect(booth.get_by_text("lamp_bright")).to_have_count(0)


def test_a_tap_is_moved_by_taking_it_back_and_saying_it_again(two_houses: Served, booth: Page) -> None:
    """ "That was about ten seconds ago" leaves the first tap retracted, and a less certain one ten seconds earlier."""
    tap(booth, "Lamp lit")
    expect(answer(booth)).to_contain_text("✓ taken")
    booth.get_by_role("button", name="About 10 seconds earlier").click()
    expect(booth.get_by_role("group", name="Who did what").first).to_contain_text(
        re.compile("lamp lit.*taken back", re.DOTALL)
    )
    expect(answer(booth)).to_contain_text("✓ taken")
    first, back, again = events(booth, two_houses)
    assert (first["kind"], back["kind"], back["retracts"], again["kind"]) == (
        "lamp_lit",
        "retract",
        first["id"],
        "lamp_lit",
    )
    moved = datetime.fromisoformat(first["t"]) - datetime.fromisoformat(again["t"])
    assert moved.total_seconds() == pytest.approx(10.0, abs=1e-3)
    assert again["sigma_s"] == pytest.approx((first["sigma_s"] ** 2 + 2.5**2) ** 0.5, abs=2e-3)


def test_who_taps_is_asked_once_and_kept(two_houses: Served, context: BrowserContext) -> None:
    """The name goes with every tap, and a desk that is loaded again does not ask."""
    booth = open_booth(context.new_page(), two_houses, by="Ines")
    booth.reload()
    choose(booth, "House 1")
    expect(booth.get_by_label("Who taps here?")).to_have_count(0)
    tap(booth, "Lamp lit")
    expect(answer(booth)).to_contain_text(re.compile("by Ines, tap.*taken", re.DOTALL))
    assert events(booth, two_houses)[0]["by"] == "Ines"
    booth.get_by_text("This tablet").click()
    booth.get_by_role("button", name="Change the name").click()
    name(booth, "Odile")
    tap(booth, "Douser open")
    expect(answer(booth)).to_contain_text("by Odile, tap")


def test_two_tablets_at_once(two_houses: Served, context: BrowserContext, browser: Browser) -> None:
    """Two people tap at one time; each is answered, and each sees what the other did."""
    with browser.new_context(service_workers="block", has_touch=True, viewport={"width": 768, "height": 1024}) as other:
        ines = open_booth(context.new_page(), two_houses, by="Ines")
        odile = open_booth(other.new_page(), two_houses, "House 2", by="Odile")
        for kind in ("Motor started", "Lamp lit"):
            tap(ines, kind)
            odile.get_by_role("region", name="Pad").get_by_role("button", name=re.compile(f"^{kind}")).tap()
        expect(answer(ines)).to_contain_text(re.compile("House 1: lamp lit.*by Ines.*taken", re.DOTALL))
        expect(answer(odile)).to_contain_text(re.compile("House 2: lamp lit.*by Odile.*taken", re.DOTALL))
        for booth, line in ((ines, "House 2: lamp lit.*by Odile"), (odile, "House 1: lamp lit.*by Ines")):
            log = booth.get_by_role("region", name="Who did what")
            expect(log.get_by_role("listitem").filter(has_text=re.compile(line, re.DOTALL))).to_have_count(1)
        assert len(events(ines, two_houses)) == 4
        ines.get_by_role("button", name="Take back House 2: lamp lit").click()
        expect(answer(odile)).to_contain_text("taken back")


def test_an_alarm_is_acknowledged_at_the_booth(two_houses: Served, wall: Page, context: BrowserContext) -> None:
    """Who sees to an alarm says so, and the wall knows."""
    booth = open_booth(context.new_page(), two_houses, "All", by="Ines")
    lose_a_motor(booth, wall)
    booth.get_by_role("button", name=re.compile("^Acknowledge")).first.click()
    expect(wall.get_by_text(re.compile("acknowledged by Ines"))).to_be_visible()


def test_an_alarm_is_shelved_and_brought_back(wall: Page, booth: Page) -> None:
    """A shelved alarm stands small with the time of its return, at every desk, until somebody ends that."""
    choose(booth, "All")
    lose_a_motor(booth, wall)
    lost = "House 2: the motor"
    booth.get_by_label(re.compile(f"^Shelve: {lost}")).click()
    booth.get_by_role("button", name=re.compile(f"^Shelve for 15 minutes: {lost}")).click()
    for desk in (wall, booth):
        expect(desk.get_by_text(re.compile(f"Shelved until [0-9]+:[0-9]{{2}}: {lost}"))).to_be_visible()
    booth.get_by_role("button", name=re.compile(f"^End shelving: {lost}")).click()
    expect(wall.get_by_role("listitem", name=re.compile(f"^Act now: {lost}"))).to_be_visible()


def lose_a_motor(booth: Page, wall: Page) -> None:
    """Start all, and have the motor of house 2 stop."""
    tap(booth, "All motors started")
    expect(wall.get_by_role("article", name="House 1")).to_contain_text("rolling")
    choose(booth, "House 2")
    tap(booth, "Motor stopped")
    expect(wall.get_by_text(re.compile("^Act now · since")).first).to_be_visible()


def test_a_booth_shows_its_own_stations_and_remembers_it(demo: Served, clean: BrowserContext) -> None:
    """The filter leaves the stations of one booth, also after the desk is loaded again."""
    page = clean.new_page()
    page.goto(demo.desk("booth"))
    stations = page.get_by_role("group", name="What the taps are about").get_by_role("button")
    expect(stations).to_have_count(10, timeout=NOTICE_MS)
    booths = page.get_by_role("group", name="Booth")
    booths.get_by_role("button", name="North").click()
    expect(booths.get_by_role("button", name="North", pressed=True)).to_be_visible()
    few = stations.count()
    assert 1 < few < 10
    page.reload()
    expect(stations).to_have_count(few, timeout=NOTICE_MS)
    booths.get_by_role("button", name="All booths").click()
    expect(stations).to_have_count(10)


@pytest.mark.parametrize(
    ("words", "seconds"), [("Read 1.5 s tight", -1.5), ("Read 0.5 s loose", 0.5), ("at rest", 0.0)]
)
def test_slack_is_read_with_one_touch(words: str, seconds: float, two_houses: Served, booth: Page) -> None:
    """Over and under have a button for each quarter of the reserve."""
    choose(booth, "House 2")
    tap(booth, words)
    expect(answer(booth)).to_contain_text("✓ taken")
    assert [event["seconds"] for event in events(booth, two_houses)] == [seconds]


def test_slack_is_read_as_a_number_too(two_houses: Served, booth: Page) -> None:
    """A number between the buttons is written, and its side chosen."""
    choose(booth, "House 2")
    booth.get_by_label("Another number of seconds").fill("0.7")
    booth.get_by_role("button", name="Under, tight").click()
    expect(answer(booth)).to_contain_text(re.compile("read 0.7 s tight.*taken", re.DOTALL))
    assert [event["seconds"] for event in events(booth, two_houses)] == [-0.7]


def test_trouble_is_reported_with_its_house(two_houses: Served, booth: Page) -> None:
    """A failsafe trip is an event of its station; other trouble is a report of its house."""
    tap(booth, "Film rubs")
    tap(booth, "Out of focus")
    tap(booth, "Failsafe tripped")
    expect(answer(booth)).to_contain_text(re.compile("failsafe tripped.*taken", re.DOTALL))
    told = [
        (event["kind"], event["station"], event.get("what"), event.get("text")) for event in events(booth, two_houses)
    ]
    assert told == [
        ("report", "a", "other", "film rubs"),
        ("report", "a", "out_of_focus", None),
        ("film_trip", "a", None, None),
    ]
