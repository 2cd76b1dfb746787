"""Taps on the pad, and the wall that shows them."""

import re

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.served import Served

pytestmark = pytest.mark.slow

NOTICE_MS = 10_000
RETURN_MS = 15_000


@pytest.fixture
def pad(two_houses: Served, context: BrowserContext) -> Page:
    """The pad, its taps about house 1."""
    page = context.new_page()
    page.goto(two_houses.desk("pad"))
    choose(page, "House 1")
    return page


def choose(pad: Page, words: str) -> None:
    pad.get_by_role("button", name=re.compile(rf"^{words}\b")).click()


def tap(pad: Page, words: str) -> None:
    pad.get_by_role("button", name=re.compile(f"^{words}")).click()


def test_starting_the_chain_starts_every_house(wall: Page, pad: Page) -> None:
    """One tap for all the motors."""
    expect(wall.get_by_text("Start two motors together")).to_be_visible()
    choose(pad, "All the chain")
    tap(pad, "All motors started")
    for house in ("House 1", "House 2"):
        expect(wall.get_by_role("article", name=house)).to_contain_text("rolling")
    expect(wall.get_by_text("Nothing wrong: two motors running").last).to_be_visible()


def test_a_tap_without_a_connection_waits_and_is_sent_once_it_is_back(
    two_houses: Served, wall: Page, pad: Page
) -> None:
    """No tap is lost, and none is taken twice."""
    latest = pad.get_by_role("status", name="Latest tap")
    two_houses.stall()
    tap(pad, "Lamp lit")
    expect(latest).to_contain_text("waiting to be sent")
    expect(pad.get_by_text("No word from the server")).to_be_visible(timeout=NOTICE_MS)
    two_houses.go_on()
    expect(latest).to_contain_text("✓ taken", timeout=RETURN_MS)
    expect(wall.get_by_role("article", name="House 1")).to_contain_text("lamp lit")
    events = pad.request.get(f"{two_houses.base}/api/runs/{two_houses.runs[0]}").json()["events"]
    assert [event["kind"] for event in events] == ["lamp_lit"]


def test_a_refused_tap_says_why(two_houses: Served, context: BrowserContext) -> None:
    """A tap that the server does not take is not shown as taken; the one after it is not held up."""
    pad = context.new_page()

    def mislead(text: str | bytes) -> str | bytes:
        return text.replace('"lamp_lit"', '"lamp_bright"') if isinstance(text, str) else text

    def between(socket: object) -> None:
        server = socket.connect_to_server()  # type: ignore[attr-defined]
        socket.on_message(lambda text: server.send(mislead(text)))  # type: ignore[attr-defined]

    pad.route_web_socket(re.compile("/live"), between)
    pad.goto(two_houses.desk("pad"))
    choose(pad, "House 1")
    tap(pad, "Lamp lit")
    latest = pad.get_by_role("status", name="Latest tap")
    expect(latest).to_contain_text(re.compile("refused: .*lamp_bright"))
    tap(pad, "Douser open")
    expect(latest).to_contain_text(re.compile("House 1: douser open .*taken", re.DOTALL))


def test_an_alarm_is_acknowledged_on_the_pad(wall: Page, pad: Page) -> None:
    """Who sees to an alarm says so, and the wall knows."""
    name = pad.get_by_label("Your name, if you like")
    name.fill("Ines")
    name.blur()
    choose(pad, "All the chain")
    tap(pad, "All motors started")
    expect(wall.get_by_role("article", name="House 1")).to_contain_text("rolling")
    choose(pad, "House 2")
    tap(pad, "Motor stopped")
    expect(wall.get_by_text(re.compile("^Act now · since")).first).to_be_visible()
    pad.get_by_role("button", name=re.compile("^Acknowledge")).first.click()
    expect(wall.get_by_text(re.compile("acknowledged by Ines"))).to_be_visible()
