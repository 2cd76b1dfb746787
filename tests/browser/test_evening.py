"""A whole evening's talk: two booth tablets, a lobby screen and a phone at once, one of them away for a while."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.served import PLAN, Served, served
from tests.browser.test_reports import PHONE, READ_MS, RETURN_MS, answer, events, lobby, touch
from tests.browser.test_talk import acknowledge, booth_of, call, later, ringing

pytestmark = [pytest.mark.slow, pytest.mark.long]

AWAY_S = 20
"""By then a desk without a connection waits as long as it ever does between two tries (`web/js/live/connection.js`)."""
HELD_S = 300


@pytest.fixture
def evening(tmp_path: Path) -> Iterator[Served]:
    """Two houses, each in a booth of its own, whose motors start in ten minutes."""
    text = PLAN.format(title="A Long Evening", now=datetime.now(UTC) + timedelta(minutes=10))
    for house, booth in (("1", "North"), ("2", "South")):
        text = text.replace(f'house = "{house}"', f'house = "{house}"\nbooth = "{booth}"')
    path = tmp_path / "evening.plan.toml"
    path.write_text(text, encoding="utf-8")
    with served("serve", str(path), "--port", "0", "--host", "0.0.0.0", "--data", str(tmp_path / "log")) as server:
        yield server


@pytest.fixture
def devices(browser: Browser) -> Iterator[dict[str, BrowserContext]]:
    """Two tablets, a television and a phone, each with a jar of its own."""
    sizes: dict[str, Any] = {
        "north": {"viewport": {"width": 1024, "height": 768}, "has_touch": True},
        "south": {"viewport": {"width": 1024, "height": 768}, "has_touch": True},
        "screen": {"viewport": {"width": 1920, "height": 1080}},
        "phone": {"viewport": PHONE, "has_touch": True, "is_mobile": True},
    }
    contexts = {
        name: browser.new_context(service_workers="block", locale="en-US", **size) for name, size in sizes.items()
    }
    yield contexts
    for context in contexts.values():
        context.close()


def of_kind(page: Page, house: Served, *kinds: str) -> list[dict[str, Any]]:
    return [event for event in events(page, house) if event["kind"] in kinds]


def notes(page: Page, house: Served) -> list[str]:
    """What the debrief has of who said what, a line each: the clock, who, and what."""
    tables = page.request.get(f"{house.base}/api/debriefs/{house.runs[0]}/tables").json()["tables"]
    (found,) = (table for table in tables if table["id"] == "notes")
    return [" ".join(str(cell) for cell in row) for row in found["rows"]]


def test_an_evening_of_four_devices_loses_doubles_and_repeats_nothing(
    evening: Served, page: Page, devices: dict[str, BrowserContext]
) -> None:
    """Ready, a hold, calls and reports; South is away for a while, and the debrief has who said what, once each.

    Both booths confirm the hold that the usher asks for, South without a connection: the start is held once.
    """
    screen = lobby(devices["screen"], evening, page, "Hall", "look")
    phone = lobby(devices["phone"], evening, page, "Otto", "report")
    north = booth_of(devices["north"], evening, "North", by="Ines")
    south = booth_of(devices["south"], evening, "South", by="Odile")

    north.get_by_role("button", name="House 1: ready").tap()
    expect(south.get_by_text("Not ready: House 2", exact=True)).to_be_visible(timeout=READ_MS)
    call(north, "South", "Ready?")
    acknowledge(south, "Call to booth South: Ready?")
    touch(phone, "1", "No sound")
    expect(ringing(north, "House 1: no sound, reported by Otto")).to_have_count(1, timeout=READ_MS)

    phone.get_by_role("button", name="Ask to hold the start").tap()
    holds = [
        booth.get_by_role("button", name=re.compile("^Hold 5 min: .*Please hold the start")) for booth in (north, south)
    ]
    expect(holds[1]).to_be_visible(timeout=READ_MS)

    devices["south"].set_offline(True)
    expect(south.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
    south.get_by_role("button", name="House 2: ready").tap()
    for hold in holds:
        hold.tap(timeout=READ_MS)
    expect(screen.get_by_text("Held 5 minutes")).to_be_visible(timeout=READ_MS)
    expect(answer(phone)).to_contain_text("The start: Please hold the start 5 minutes ✓ answered at", timeout=READ_MS)
    call(south, "North", "Come to the doorway")
    call(north, "South", "Stand by to start")
    touch(phone, "2", "Trouble among the people")
    north.get_by_role("button", name="I have it: House 1: no sound, reported by Otto").tap(timeout=RETURN_MS)
    expect(answer(phone)).to_be_visible()
    for _ in range(2):
        later(north, AWAY_S / 2)
    assert len(of_kind(page, evening, "call")) == 2
    devices["south"].set_offline(False)

    acknowledge(north, "Call to booth North: Come to the doorway (Odile)")
    acknowledge(south, "Call to booth South: Stand by to start")
    expect(ringing(south, "House 2: trouble among the people")).to_have_count(1, timeout=RETURN_MS)
    south.get_by_role("button", name="I have it: House 2: trouble among the people, reported by Otto").tap()
    expect(screen.get_by_text("Odile has it")).to_be_visible(timeout=READ_MS)
    south.get_by_role("button", name="Seen to: House 2: trouble among the people, reported by Otto").tap()
    expect(screen.get_by_text(re.compile("seen to"))).to_be_visible(timeout=RETURN_MS)

    later(north, 5)
    run = page.request.get(f"{evening.base}/api/runs/{evening.runs[0]}").json()
    assert (run["view"]["hold_s"], run["view"]["restart"]["stations"][1]["ready_by"]) == (HELD_S, "Odile")
    for desk in (north, south):
        expect(desk.get_by_text("Held 5 minutes")).to_be_visible()
        expect(desk.get_by_text("Not ready")).to_have_count(0)
    said = of_kind(page, evening, "call", "report", "report_over")
    assert sorted(f"{event.get('text') or event.get('what')} {event['by']}" for event in said) == [
        "Come to the doorway Odile",
        "Please hold the start 5 minutes Otto",
        "Ready? Ines",
        "Stand by to start Ines",
        "no_sound Otto",
        "people Odile",
        "people Otto",
    ]
    for desk in (north, south):
        expect(ringing(desk, "Call to")).to_have_count(0)
    told = " | ".join(notes(page, evening))
    for who, what in (
        ("Ines", "House 1: ready to start"),
        ("Odile", "House 2: ready to start"),
        ("Otto", "the lobby: Please hold the start 5 minutes"),
        ("Odile", "call: Come to the doorway"),
        ("Ines", "call: Ready?"),
        ("Ines", "call: Stand by to start"),
        ("Otto", "reported no sound"),
        ("Otto", "reported trouble among the people"),
        ("Odile", "trouble among the people, seen to"),
    ):
        assert told.count(what) == 1, told
        assert re.search(rf"{who}[^|]*{re.escape(what)}|{re.escape(what)}[^|]*{who}", told), told
