"""What is wrong with the contacts themselves is told once, and that it has ended."""

import pytest

from adapters.base import ExpectedPass
from adapters.contacts.watch import CHATTER_EDGES, Watch
from tests.adapters.contacts.wired import MS, Box, S, wiring


def watched(at_s: int = -10) -> tuple[Box, Watch]:
    box = Box()
    box.levels(at_s * S, "00000")
    box.told()
    return box, Watch(box.bank, box.facts)


@pytest.mark.parametrize("from_s", [0, -3600], ids=["in the show", "before it"])
def test_a_contact_that_chatters_is_told_once_and_when_it_stops(from_s: int) -> None:
    """A minute of bounces is one line, not hundreds."""
    box, watch = watched(from_s - 10)
    watch.look(from_s * S)
    for n in range(from_s, from_s + 40):
        for edge_us in (0, 3 * MS):
            at_us = n * S + edge_us
            box.bank.read("2", at_us, at_us, closed=edge_us == 0)
        box.bank.settle(n * S + 500 * MS)
        watch.look(n * S + 500 * MS)
    mend = " See to its contact and wire."
    assert box.notes() == [f"The lamp of House 0 (north/2) bounces: {CHATTER_EDGES} edges too many in a minute.{mend}"]
    watch.look((from_s + 61) * S)
    watch.look((from_s + 122) * S)
    assert box.notes() == ["The lamp of House 0 (north/2) stopped bouncing, after 80 edges too many in all."]


def test_a_cue_contact_that_stays_closed_is_stuck() -> None:
    """A foil goes by in a frame or two."""
    box, watch = watched()
    box.change("4", 0, closed=True)
    box.both()
    watch.look(9 * S)
    assert box.notes() == []
    for now_us in (11 * S, 12 * S):
        watch.look(now_us)
    assert box.notes() == [
        "The cue of House 0 (north/4) is stuck, or was left on: it stays closed and its foil has not gone by."
    ]


def test_a_motor_that_never_opens_is_stuck_or_left_on() -> None:
    """A quarter of an hour after its tail is out, a motor has been forgotten or its contact is stuck."""
    box, watch = watched()
    box.facts.expected = [ExpectedPass("tail_end", False, 100 * S, 1.0)]
    box.change("1", 0, closed=True)
    box.told()
    watch.look(999 * S)
    assert box.notes() == []
    watch.look(1_001 * S)
    assert box.notes() == [
        "The motor of House 0 (north/1) is stuck, or was left on: it stays closed and its tail is long out."
    ]


def test_a_contact_that_does_not_follow_a_tap_is_told() -> None:
    """Somebody saw the motor start and the contact did not: one of the two is wrong."""
    box, watch = watched()
    box.facts.say("motor_start", 3.0)
    watch.look(7 * S)
    assert box.notes() == []
    for now_us in (9 * S, 10 * S):
        watch.look(now_us)
    assert box.notes() == ["The motor of House 0 (north/1) is open, though tap:pad said motor_start at 23:50:03."]
    box.change("1", 12 * S, closed=True)
    box.told()
    watch.look(20 * S)
    assert box.notes() == []


def test_what_a_contact_said_itself_does_not_contradict_it() -> None:
    """The lamp went out and that is not on the log yet: nobody else says otherwise."""
    box, watch = watched()
    box.change("2", 0, closed=True)
    box.told()
    box.bank.read("2", 3 * S, 3 * S, closed=False)
    box.bank.settle(4 * S)
    watch.look(20 * S)
    assert box.both() == (["lamp_out"], [])


def test_a_gateway_that_looks_at_its_inputs_less_often_than_the_wiring_says_is_told_once() -> None:
    """Two dozen changes on a tick of half a second: what to write in the file is said."""
    for more, told in (("", True), ("sampling_ms = 500", False)):
        box = Box(made=wiring(f'id = "north"\nkind = "text"\nport = "/dev/ttyS0"\n{more}').feeds[0])
        watch = Watch(box.bank, box.facts)
        box.levels(-10 * S, "00000")
        for n in range(24):
            box.change(str(n % 3 + 1), n * 1250 * MS + n % 2 * 250 * MS, closed=n // 3 % 2 == 0)
            watch.look((n + 1) * 2 * S)
        notes = [note for note in box.notes() if "tick" in note]
        says = "the wiring file does not say so. Their times are less sure than they are taken to be"
        assert notes == told * [
            f"north: its contacts change on a tick of about 500 ms, and {says}. Write sampling_ms = 500."
        ]
