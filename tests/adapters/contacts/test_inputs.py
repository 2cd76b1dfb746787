"""The inputs of one feed: readings in, events out; at the start, after a gap and after a restart by rule."""

from datetime import timedelta
from math import hypot, isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.base import ExpectedPass
from tests.adapters.contacts.wired import MS, PLAN, WIRES, Box, Facts, S, wiring
from tests.adapters.shows import ZERO

OWN_S = PLAN.timing.contact_sigma_s
MOTOR = "contact:north/1"


@pytest.mark.parametrize(
    ("place", "on", "off"),
    [
        ("1", "motor_start", "motor_stop"),
        ("2", "lamp_lit", "lamp_out"),
        ("3", "douser_open", "douser_shut"),
        ("5", "film_trip", None),
    ],
    ids=["motor", "lamp", "douser", "failsafe"],
)
def test_a_contact_that_goes_over_is_its_event_at_its_first_edge(place: str, on: str, off: str | None) -> None:
    """On and off are told as what they mean, with the plan's own uncertainty of a contact."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.told()
    box.change(place, 3 * S, closed=True)
    box.change(place, 8 * S, closed=False)
    assert box.told() == [(on, 3.0, None), *([(off, 8.0, None)] if off else [])]


def test_a_contact_that_is_normally_closed_says_the_same_by_opening() -> None:
    """A failsafe is mostly wired so that a broken wire trips it."""
    box = Box(made=wiring(more='normally = "closed"').feeds[0])
    box.levels(-10 * S, "11111")
    box.told()
    box.change("5", 3 * S, closed=False)
    assert box.told() == [("film_trip", 3.0, None)]


def test_a_polled_edge_is_in_the_middle_of_its_poll_and_as_unsure_as_that() -> None:
    """Uniform over the time between two readings: its standard deviation is that time over the root of 12."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.told()
    box.bank.read("2", 1_000 * MS, 1_050 * MS, closed=True)
    box.bank.read("2", 1_050 * MS, 1_100 * MS, closed=True)
    ((kind, at_s, sigma_s),) = box.told()
    assert (kind, at_s) == ("lamp_lit", 1.025)
    assert sigma_s is not None
    assert isclose(sigma_s, hypot(OWN_S, 0.05 / 12**0.5))


def test_contacts_at_rest_at_the_start_are_no_events() -> None:
    """A show that has not begun has nothing to tell, but whether a douser is shut."""
    box = Box()
    box.levels(-600 * S, "00000")
    assert box.told() == [("douser_shut", -600.0, None)]


def test_a_motor_that_runs_when_it_is_first_seen_is_not_lost() -> None:
    """Before the planned start: it has run for a minute at most, for all that is known. It is said so."""
    box = Box()
    box.levels(-600 * S, "10000")
    events = list(box.bank.events)
    assert [(e.kind, (e.t - ZERO).total_seconds()) for e in events[:1]] == [("motor_start", -630.0)]
    assert events[0].sigma_s is not None
    assert isclose(events[0].sigma_s, hypot(OWN_S, 30.0))
    assert events[1].text is not None
    found = "The motor of House 0 (north/1) was found closed at 23:40:00; nobody saw it change."
    assert events[1].text.startswith(found)


def test_a_motor_found_running_in_mid_show_started_since_it_was_planned_to() -> None:
    """A server that is put in late takes the time from the planned start on."""
    box = Box()
    box.levels(200 * S, "10000")
    assert [(kind, at_s) for kind, at_s, _ in box.told()] == [
        ("motor_start", 100.0),
        ("douser_shut", 200.0),
    ]


def test_a_motor_found_running_started_along_with_the_others() -> None:
    """Where others are known to run, the plan's zero, an hour off, says nothing: it came on since their first start."""
    facts = Facts()
    facts.say("motor_start", 3600.0, station="s1")
    box = Box(facts)
    box.levels(3700 * S, "10000")
    kind, at_s, sigma_s = box.told()[0]
    assert (kind, at_s) == ("motor_start", 3649.0)
    assert sigma_s is not None
    assert isclose(sigma_s, hypot(OWN_S, 51.0))


def test_since_when_a_lamp_has_been_lit_that_was_found_so_is_not_known() -> None:
    """It has burnt for a minute at most, for all that is known; a douser that is open likewise."""
    box = Box()
    box.levels(-100 * S, "01100")
    assert [(kind, at_s, round(sigma_s or 0.0)) for kind, at_s, sigma_s in box.told()] == [
        ("lamp_lit", -130.0, 30),
        ("douser_open", -130.0, 30),
    ]


def test_a_part_is_back_once_what_was_found_of_it_is_told() -> None:
    """Its motor ran on meanwhile or not: that comes first. Of a part that says no more it is told after a while."""
    made = wiring('id = "north"\nkind = "modbus"\nport = "tcp://127.0.0.1:1"', [("1/coil/0", "s0", "motor")]).feeds[0]
    box = Box(made=made)
    box.bank.silence("1", "unit 1 does not answer", 10 * S)
    box.bank.silence("1", None, 20 * S)
    box.bank.come_back(20 * S, 2 * S)
    for at_us in (20 * S, 20 * S + 50 * MS):
        box.bank.read("1/coil/0", at_us, at_us, closed=True)
    box.bank.come_back(20 * S + 50 * MS, 2 * S)
    assert [kind for kind, _, _ in box.told()] == ["feed_down", "motor_start", "feed_up"]
    box.bank.silence("1", "unit 1 does not answer", 30 * S)
    box.bank.silence("1", None, 40 * S)
    box.bank.come_back(42 * S, 2 * S)
    assert [kind for kind, _, _ in box.told()] == ["feed_down", "feed_up"]


def restarted(signs: str, at_s: int = 500, heard_s: float = 440.0) -> Box:
    """A server that was heard until `heard_s`, with a motor started and a lamp lit by contact before, and is back."""
    facts = Facts()
    facts.say("motor_start", 0.0, source=MOTOR)
    facts.say("lamp_lit", 1.0, source="contact:north/2")
    facts.say("douser_shut", 1.0, source="contact:north/3")
    facts.heard = ZERO + timedelta(seconds=heard_s)
    box = Box(facts)
    box.levels(at_s * S, signs)
    return box


def test_a_restart_posts_nothing_that_the_log_has() -> None:
    """A motor that was running before a restart, and runs after it, did not start again."""
    assert restarted("11000").both() == ([], [])


def test_a_restart_posts_what_changed_while_nobody_looked() -> None:
    """In the middle of the time in which it happened, give or take half of it, and it is said."""
    box = restarted("01100")
    events = [event for event in box.bank.events if event.kind != "note"]
    assert [(e.kind, (e.t - ZERO).total_seconds()) for e in events] == [("motor_stop", 470.0), ("douser_open", 470.0)]
    assert all(e.sigma_s is not None and isclose(e.sigma_s, hypot(OWN_S, 30.0)) for e in events)
    assert len(box.notes()) == 2


def test_what_a_person_reported_in_the_meantime_is_not_posted_again() -> None:
    """Somebody tapped the stop that the contact could not tell."""
    facts = Facts()
    facts.say("motor_start", 0.0, source=MOTOR)
    facts.say("motor_stop", 460.0)
    box = Box(facts)
    box.levels(500 * S, "00000")
    assert "motor_stop" not in box.both()[0]


def test_a_contact_that_never_came_on_stops_no_motor() -> None:
    """A wire that was never fitted must not take back what somebody saw."""
    facts = Facts()
    facts.say("motor_start", 0.0)
    box = Box(facts)
    box.levels(500 * S, "00000")
    assert "motor_stop" not in box.both()[0]


def test_an_unplugged_feed_that_comes_back_posts_what_differs() -> None:
    """Unplugged at 20 s, back at 60 s: the lamp was lit in between, and the motor just went on."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.change("1", 0, closed=True)
    box.levels(20 * S, "10000")
    box.told()
    box.bank.begin()
    box.levels(60 * S, "11000")
    ((kind, at_s, sigma_s),) = box.told()
    assert (kind, at_s) == ("lamp_lit", 40.025)
    assert sigma_s is not None
    assert isclose(sigma_s, hypot(OWN_S, 19.975))


def test_an_edge_that_had_not_settled_when_the_wire_was_lost_is_within_the_gap() -> None:
    """The last thing that is sure is the level before that edge."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.told()
    box.bank.read("2", 5 * S, 5 * S, closed=True)
    box.bank.begin()
    box.levels(15 * S, "01000")
    assert [(kind, at_s) for kind, at_s, _ in box.told()] == [("lamp_lit", 10.0)]


def test_an_unknown_level_is_never_open() -> None:
    """A line of which a port says nothing stops no motor."""
    box = Box()
    box.levels(-10 * S, "10000")
    box.told()
    box.levels(20 * S, "-0000")
    assert box.told() == []
    assert box.bank.wires["1"].on is None


def test_a_failsafe_found_tripped_counts_where_film_runs_and_is_noted_where_none_does() -> None:
    """Before threading every failsafe is tripped: that is no alarm."""
    box = Box()
    box.levels(-600 * S, "00001")
    kinds, notes = box.both()
    assert "film_trip" not in kinds
    assert notes == ["The failsafe of House 0 (north/5) was tripped when first seen."]
    running = Facts()
    running.running = True
    box = Box(running)
    box.levels(60 * S, "00001")
    assert "film_trip" in box.both()[0]


def expecting(*marks: tuple[str, float]) -> Box:
    facts = Facts()
    facts.expected = [ExpectedPass(mark, True, round(at_s * S), 0.1) for mark, at_s in marks]
    box = Box(facts)
    box.levels(-10 * S, "00000")
    box.told()
    return box


def test_a_foil_is_the_mark_that_is_due() -> None:
    """The detector only says that a foil went by: the run's estimate says which."""
    box = expecting(("r0", 40.0), ("r1", 640.0))
    for at_s in (41, 42, 639):
        box.bank.read("4", at_s * S, at_s * S, closed=True)
        box.bank.read("4", at_s * S + 100 * MS, at_s * S + 100 * MS, closed=False)
        box.bank.settle(at_s * S + 200 * MS)
    passes = [(event.mark, (event.t - ZERO).total_seconds()) for event in box.bank.events]
    assert passes == [("r0", 41.0), ("r1", 639.0)]


def test_a_foil_that_no_mark_explains_is_written_down() -> None:
    """Nothing that was seen is dropped, and no mark is made up for it."""
    box = expecting(("r0", 40.0))
    box.change("4", 300 * S, closed=True)
    assert box.both() == ([], ["The cue of House 0 (north/4) saw a foil where no cue mark is expected."])


def test_a_detector_knows_after_a_restart_which_marks_it_has_had() -> None:
    """A foil before the restart is not the same foil after it."""
    box = expecting(("r0", 40.0), ("r1", 640.0))
    facts = box.facts
    facts.say("mark_pass", 41.0, source="contact:north/4", mark="r0")
    again = Box(facts)
    again.levels(42 * S, "00000")
    again.told()
    again.change("4", 43 * S, closed=True)
    assert again.told() == []


def tried() -> Box:
    """All contacts were open, a roll call is on, and the first was closed in it."""
    box = Box()
    box.levels(-900 * S, "00000")
    box.told()
    box.roll.begin(-800 * S)
    box.change("1", -700 * S, closed=True)
    return box


def test_while_a_roll_call_is_on_contacts_are_no_events_and_then_what_stayed_otherwise_is() -> None:
    """Closing contacts to try them starts no show; a motor that was left running does."""
    box = tried()
    box.change("2", -690 * S, closed=True)
    box.change("2", -680 * S, closed=False)
    assert box.both() == ([], [])
    box.roll.end()
    box.bank.reconcile(-800 * S, -580 * S)
    assert box.told() == [("motor_start", -700.0, None)]


def test_what_was_reported_after_an_edge_in_a_roll_call_is_not_dated_before_that() -> None:
    """Somebody tapped the stop, and the contact is on: it came on again after the tap, nobody saw when."""
    box = tried()
    box.facts.say("motor_stop", -640.0)
    box.roll.end()
    box.bank.reconcile(-800 * S, -600 * S)
    assert [(kind, at_s) for kind, at_s, _ in box.told()] == [("motor_start", -620.0)]


def test_a_change_that_was_long_on_its_way_says_so() -> None:
    """Lines were lost: the next one with all levels tells of a change that nobody heard of."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.told()
    box.bank.read("2", 1 * S, 5 * S, closed=True)
    box.bank.settle(6 * S)
    kinds, notes = box.both()
    assert kinds == ["lamp_lit"]
    changed = "The lamp of House 0 (north/2) changed between 23:50:01 and 23:50:05"
    assert notes == [f"{changed}; nothing was heard of it then."]


def test_no_id_is_given_twice_over_feeds_and_restarts() -> None:
    """Two lives of one feed, and its wires, have their own ids."""
    boxes = [Box(), Box()]
    for box in boxes:
        box.levels(0, "1" * len(WIRES))
    ids = [event.id for event in boxes[0].bank.events]
    assert len(set(ids)) == len(ids)


STEPS = st.tuples(
    st.sampled_from(["1", "2", "3", "4", "5"]), st.sampled_from([True, False, None, "lost"]), st.integers(1, 400)
)


@given(st.lists(STEPS, max_size=40))
def test_whatever_the_contacts_do_the_log_ends_where_they_are(steps: list[tuple[str, bool | str | None, int]]) -> None:
    """Bounces, gaps, losses and returns in any order: no reading raises, and the log says of each what it is."""
    box = Box()
    box.levels(-10 * S, "00000")
    box.told()
    now_us = 0
    for place, closed, after_ms in steps:
        now_us += after_ms * MS
        if closed == "lost":
            box.bank.begin()
        elif not isinstance(closed, str):
            box.bank.read(place, now_us, now_us, closed=closed)
        box.told()
    # The last edge may be the one by which a contact is known to flicker: it counts once it has been steady after that.
    for late_us in (now_us + S, now_us + 15 * S, now_us + 30 * S):
        box.bank.look(late_us)
        for place, wire in box.bank.wires.items():
            box.bank.read(place, late_us, late_us, closed=bool(wire.settling.closed))
        box.told()
    for wire in list(box.bank.wires.values())[:3]:
        known = box.bank.known(wire)
        assert known.on is wire.on or (known.on is None and wire.on is False)
    at_us = [box.bank.us(event.t) for event in box.facts.events]
    assert all(at <= now_us + 30 * S for at in at_us)


def test_a_gateway_that_looks_seldom_tells_of_a_change_in_the_middle_of_its_tick() -> None:
    """Told at 5.0 s by a gateway that looks once a second: at 4.5 s, as sure as a second spread evenly."""
    made = wiring('id = "north"\nkind = "text"\nport = "/dev/ttyS0"\nsampling_ms = 1000').feeds[0]
    box = Box(made=made)
    box.levels(-10 * S, "00000")
    box.told()
    box.change("2", 5 * S, closed=True)
    ((kind, at_s, sigma_s),) = box.told()
    assert (kind, at_s) == ("lamp_lit", 4.5)
    assert sigma_s == pytest.approx((0.02**2 + 1.0 / 12.0) ** 0.5)


def test_foils_that_were_due_while_their_detector_was_away_are_told_when_it_is_back() -> None:
    """Of three foils one had gone by before, one while the feed was away, and one is to come."""
    box = expecting(("r0", 40.0), ("r1", 640.0), ("r2", 900.0))
    box.facts.running = True
    box.change("4", 41 * S, closed=True)
    box.change("4", 41 * S + 200 * MS, closed=False)
    box.both()
    box.bank.begin()
    box.levels(700 * S, "00000")
    away = "from 23:50:41 to 00:01:40"
    notes = [note for note in box.notes() if "foil" in note]
    assert notes == [f"The cue of House 0 (north/4) was not heard {away}: the foil of r1 was due then."]


def test_a_lamp_that_was_put_out_while_nobody_looked_went_out_after_the_end() -> None:
    """Seen lit at 100 s and found out at 9,000 s, the end at 7,000 s, give or take one: no lamp is lost in mid-show."""
    box = expecting(("end", 7_000.0))
    box.levels(50 * S, "01000")
    box.facts.expected = [ExpectedPass("end", False, 7_000 * S, 1.0)]
    box.told()
    box.bank.begin()
    box.levels(9_000 * S, "00000")
    assert [(kind, at_s) for kind, at_s, _ in box.told() if kind == "lamp_out"] == [("lamp_out", 7_998.5)]
