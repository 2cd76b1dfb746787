"""A contact that changes more often than what it is wired to can is told once, and held."""

import pytest

from adapters.base import ExpectedPass
from adapters.contacts.flicker import LIMITS
from tests.adapters.contacts.wired import MS, Box, S

PLACES = {"motor": "1", "lamp": "2", "douser": "3"}


def flickering(what: str, seconds: int = 60, *, on_first: bool = False) -> Box:
    """A contact that has been steady, and then goes over every 25 ms."""
    box, place = Box(), PLACES[what]
    box.levels(-100 * S, "00000")
    if on_first:
        box.change(place, -60 * S, closed=True)
    box.told()
    for n in range(seconds * 40):
        box.bank.read(place, n * 25 * MS, n * 25 * MS, closed=(n % 2 == 0) is not on_first)
        if n % 40 == 0:
            box.bank.look(n * 25 * MS)
    return box


@pytest.mark.parametrize("what", list(PLACES))
@pytest.mark.parametrize("on_first", [False, True], ids=["was off", "was on"])
def test_a_minute_of_flicker_is_a_handful_of_events_and_leaves_the_last_steady_level(what: str, on_first: bool) -> None:
    """Slower than its debounce, 2,400 edges: two changes there and back, and that it flickers."""
    box = flickering(what, on_first=on_first)
    events = list(box.bank.events)
    assert len(events) == LIMITS["lamp"].changes + 1
    assert box.bank.known(box.bank.wires[PLACES[what]]).on in {on_first, None}
    box.told()
    assert box.bank.known(box.bank.wires[PLACES[what]]).on is on_first
    last = events[-1]
    assert (last.kind, last.source, last.station) == ("feed_down", f"contact:north/{PLACES[what]}", "s0")
    held = "on" if on_first else "off"
    words = f"the {what} of House 0 (north/{PLACES[what]}) flickers: 5 changes in 0.1 s"
    assert last.text == f"{words}; it is held {held} until it is steady"


def test_a_contact_that_is_steady_again_counts_and_what_changed_meanwhile_is_told() -> None:
    """It stays closed after the flicker: lit at some time since it began, and the contact is back."""
    box = flickering("lamp", seconds=4)
    box.told()
    box.bank.read("2", 4 * S, 4 * S, closed=True)
    box.bank.settle(5 * S)
    box.bank.look(13 * S)
    assert box.told() == []
    box.bank.look(15 * S)
    lit, note, back = box.bank.events
    assert (lit.kind, back.kind) == ("lamp_lit", "feed_up")
    assert "changed between" in (note.text or "")
    box.told()
    box.change("2", 60 * S, closed=False)
    assert [kind for kind, _, _ in box.told()] == ["lamp_out"]


def test_a_lamp_that_went_out_at_the_end_while_its_contact_was_held_went_out_no_earlier() -> None:
    """Else the picture is said to have lost its lamp: the change lies anywhere from the flicker to the last edge."""
    box = flickering("lamp", seconds=2, on_first=True)
    box.facts.expected = [ExpectedPass("end", False, 6 * S, 0.1)]
    box.bank.read("2", 2 * S, 2 * S, closed=True)
    box.bank.settle(3 * S)
    box.bank.read("2", 7 * S, 7 * S, closed=False)
    box.bank.settle(8 * S)
    box.told()
    box.bank.look(20 * S)
    out = next(event for event in box.bank.events if event.kind == "lamp_out")
    assert 5.7 * S < box.bank.us(out.t) < 7 * S


def test_what_is_as_it_was_after_a_flicker_is_no_event() -> None:
    """Only that the contact is back."""
    box = flickering("lamp", seconds=4)
    box.told()
    box.bank.read("2", 4 * S, 4 * S, closed=False)
    box.bank.look(20 * S)
    assert [event.kind for event in box.bank.events] == ["feed_up"]


def test_a_lamp_that_is_struck_twice_does_not_flicker() -> None:
    """Lit, out and lit again within ten seconds is what a bad igniter does."""
    box = Box()
    box.levels(-100 * S, "00000")
    box.told()
    for at_s, closed in ((0, True), (3, False), (6, True), (9, False), (14, True)):
        box.change("2", at_s * S, closed=closed)
    assert [kind for kind, _, _ in box.told()] == ["lamp_lit", "lamp_out", "lamp_lit", "lamp_out", "lamp_lit"]


def test_a_detector_that_flickers_makes_no_foils() -> None:
    """A minute of pulses: at most the one foil that was expected."""
    box = Box()
    box.levels(-100 * S, "00000")
    box.told()
    for n in range(600):
        box.change("4", n * 100 * MS, closed=n % 2 == 0)
    assert len([event for event in box.bank.events if event.kind != "note"]) == 1
    assert "not heeded" in (box.bank.events[-1].text or "")


def test_a_contact_that_flickered_when_the_server_stopped_is_back_when_it_is_read_again() -> None:
    """Its silence stood in the log, and nothing else would end it."""
    again = Box()
    again.facts.down = ["contact:north/2", "contact:south/1", "contact:north"]
    again.bank.begin()
    again.bank._parts = type(again.bank._parts)("contact:north", again.bank._ids.new, again.facts.down)
    again.levels(0, "00000")
    assert [(event.kind, event.source) for event in again.bank.events if event.kind == "feed_up"] == [
        ("feed_up", "contact:north/2")
    ]


def test_a_contact_that_flickers_in_a_roll_call_is_held_when_it_ends() -> None:
    """It makes no event in the roll call, and none after it but that it is not to be heard."""
    box = Box()
    box.levels(-900 * S, "00000")
    box.told()
    box.roll.begin(-800 * S)
    for n in range(40):
        box.bank.read("2", -700 * S + n * 100 * MS, -700 * S + n * 100 * MS, closed=n % 2 == 0)
        box.bank.settle(-700 * S + n * 100 * MS + 50 * MS)
    assert list(box.bank.events) == []
    box.roll.end()
    box.bank.reconcile(-800 * S, -696 * S)
    assert [event.kind for event in box.bank.events] == ["feed_down"]
