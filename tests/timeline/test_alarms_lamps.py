"""Alarms of lamps and dousers: a strike that is missed or unconfirmed, a dark gate, a lamp lost, a lamp too hot."""

import pytest

from tests.timeline.story import HEAD_S, alarms_of, event, lamps, levels, live, plan_of, played, quiet, starts


def test_strike_missed_is_raised_held_and_cleared() -> None:
    """From the end of the window to the lamp; that its feed was silent meanwhile takes nothing back."""
    plan = plan_of(1)
    box = {"source": "contact:north/1"}
    events = [
        event(plan, 0.0, "motor_start", "a", **box),
        event(plan, 28.0, "feed_down", source="contact:north"),
        event(plan, 45.0, "lamp_lit", "a", **box),
    ]
    assert levels(plan, events, "strike_missed:a", 24.9, 25.1, 44.9, 45.0) == [None, "act", "act", None]


def test_strike_unconfirmed_is_raised_held_and_cleared() -> None:
    """From the end of the window to the tap; that the picture is at the gate by then is an alarm of its own."""
    plan = plan_of(1, lamp="tap")
    events = [*starts(plan), event(plan, 45.0 + plan.timing.tap_lag_s, "lamp_lit", "a", source="tap")]
    assert levels(plan, events, "strike_unconfirmed:a", 24.9, 25.1, 44.9, 45.0) == [None, "watch", "watch", None]


def test_dark_gate_is_raised_held_and_cleared() -> None:
    """From the head at the gate to the lamp; a feed that is silent meanwhile ends nothing."""
    plan = plan_of(1)
    events = [
        *starts(plan),
        event(plan, 40.01, "mark_pass", "a", mark="head"),
        event(plan, 50.0, "feed_down", source="contact"),
        event(plan, 60.0, "lamp_lit", "a"),
    ]
    assert levels(plan, events, "dark_gate:a", 40.0, 40.02, 59.9, 60.0) == [None, "act", "act", None]


def test_lamp_lost_is_raised_held_and_cleared() -> None:
    """From two seconds after it went out to its light; a contact that tells the same again begins nothing anew."""
    plan = plan_of(1)
    turns = ((500.0, "lamp_out"), (510.0, "lamp_out"), (530.0, "lamp_lit"))
    events = [*quiet(plan), *(event(plan, at_s, kind, "a") for at_s, kind in turns)]
    found = levels(plan, events, "lamp_lost:a", 501.9, 502.1, 510.1, 529.9, 530.0)
    assert found == [None, "act", "act", "act", None]


def test_douser_heat_is_raised_held_and_cleared() -> None:
    """From two minutes after the lamp was lit to the open douser, however often the lamp is told."""
    plan = plan_of(1, douser="contact")
    turns = ((-200.0, "lamp_lit"), (-60.0, "lamp_lit"), (-50.0, "douser_open"))
    events = [event(plan, at_s, kind, "a") for at_s, kind in turns]
    found = levels(plan, events, "douser_heat:a", -80.1, -79.9, -59.9, -50.1, -50.0)
    assert found == [None, "act", "act", "act", None]


def test_a_strike_is_missed_when_its_window_closes_and_the_dark_gate_follows() -> None:
    """The window closes 15 s before the head; the head by its estimate and two deviations; lit clears both."""
    plan = plan_of(1)
    told = alarms_of(plan, [*starts(plan), event(plan, 45.0, "lamp_lit", "a")], 60.0)
    assert told[0] == "25 raised act strike_missed:a"
    assert told[1].endswith("raised act dark_gate:a < strike_missed:a")
    assert HEAD_S < float(told[1].split()[0]) < HEAD_S + 0.5
    assert told[2:] == ["45 cleared act dark_gate:a < strike_missed:a", "45 cleared act strike_missed:a"]


def test_a_lamp_lit_at_the_very_end_of_its_window_is_not_missed() -> None:
    """The window includes its last instant."""
    plan = plan_of(1)
    assert alarms_of(plan, [*starts(plan), event(plan, 25.0, "lamp_lit", "a")], 60.0) == []


def test_a_tapped_lamp_is_unconfirmed_and_watched() -> None:
    """Nobody can be blamed for a tap that was not made."""
    plan = plan_of(1, lamp="tap")
    told = alarms_of(plan, starts(plan), 60.0)
    assert [line.split(maxsplit=1)[1] for line in told] == [
        "raised watch strike_unconfirmed:a",
        "raised watch dark_gate:a < strike_unconfirmed:a",
    ]


def test_a_station_whose_lamp_nobody_tells_of_has_no_lamp_alarms() -> None:
    """`lamp = "none"` turns them off."""
    plan = plan_of(1, lamp="none")
    assert alarms_of(plan, starts(plan), 600.0) == []


def test_a_head_that_is_seen_at_a_dark_gate_is_told_at_once() -> None:
    """A pass decides, not the estimate."""
    plan = plan_of(1)
    told = alarms_of(plan, [*starts(plan), event(plan, 40.01, "mark_pass", "a", mark="head")], 41.0)
    assert "40.01 raised act dark_gate:a < strike_missed:a" in told


def test_a_missed_strike_stays_so_though_the_head_comes_later_than_expected() -> None:
    """The window closed at 25 s; that the feed goes silent, and then the head is late, takes nothing back."""
    plan = plan_of(1)
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/1")
    down = event(plan, 25.3, "feed_down", source="contact:north")
    head = event(plan, HEAD_S + 0.9, "mark_pass", "a", mark="head", source="tap")
    told = [line for line in alarms_of(plan, [start, down, head], 60.0) if "strike" in line]
    assert [line.split(maxsplit=1)[1].split(" <")[0] for line in told] == [
        "raised act strike_missed:a",
        "raised act dark_gate:a",
    ]


@pytest.mark.parametrize(
    "silent", [{"source": "contact:north"}, {"source": "contact:north/1"}, {"source": "contact:x", "station": "a"}]
)
def test_a_lamp_whose_contact_is_known_to_be_silent_is_unconfirmed(silent: dict[str, str]) -> None:
    """Whole feed, part of it, or the station that it names: nobody can tell whether it burns. Once back it can."""
    plan = plan_of(1)
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/1")
    down, up = event(plan, 5.0, "feed_down", **silent), event(plan, 30.0, "feed_up", **silent)
    told = [line.split(maxsplit=1)[1] for line in alarms_of(plan, [start, down, up], 35.0) if "feed" not in line]
    assert told == [
        "raised watch strike_unconfirmed:a",
        "raised act strike_missed:a",
        "cleared watch strike_unconfirmed:a",
    ]


def test_a_strike_that_was_seen_to_be_missed_stays_so_when_the_feed_goes_silent() -> None:
    """What was known before is not taken back."""
    plan = plan_of(1)
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/1")
    down = event(plan, 28.0, "feed_down", source="contact:north")
    told = [line.split(maxsplit=1)[1] for line in alarms_of(plan, [start, down], 60.0) if "feed" not in line]
    assert told == ["raised act strike_missed:a", "raised act dark_gate:a < strike_missed:a"]


def test_a_lamp_on_a_feed_of_its_own_is_asked_of_that_one() -> None:
    """It was lit by another box before the chain was stopped; that the motor's box is silent says nothing of it."""
    plan = plan_of(1)
    motor, lamp = {"source": "contact:north/1"}, {"source": "contact:lamps/1"}
    events = [
        event(plan, 0.0, "motor_start", "a", **motor),
        event(plan, 5.0, "lamp_lit", "a", **lamp),
        event(plan, 6.0, "lamp_out", "a", **lamp),
    ]
    for silent, kind in (("contact:north", "strike_missed"), ("contact:lamps", "strike_unconfirmed")):
        down = event(plan, 8.0, "feed_down", source=silent)
        told = alarms_of(plan, [*events, down], 30.0)
        assert told[-1].endswith(f"{kind}:a")


def test_a_part_that_fell_silent_stays_so_when_its_whole_feed_does() -> None:
    """The lamp was not to be seen from 10 s on; that more is gone later, or told again, makes it no missed strike."""
    plan = plan_of(1)
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/2")
    downs = [
        event(plan, at_s, "feed_down", source=source)
        for at_s, source in ((10.0, "contact:north/2"), (26.0, "contact:north"), (27.0, "contact:north/2"))
    ]
    told = [line.split(maxsplit=1)[1] for line in alarms_of(plan, [start, *downs], 35.0) if "feed" not in line]
    assert told == ["raised watch strike_unconfirmed:a"]


def test_another_source_that_names_the_house_says_nothing_of_a_lamp_that_has_its_own() -> None:
    """A camera of the same house went silent; the lamp's contact is well."""
    plan = plan_of(1)
    lamp = {"source": "contact:north/2"}
    events = [event(plan, 5.0, "lamp_lit", "a", **lamp), event(plan, 6.0, "lamp_out", "a", **lamp)]
    down = event(plan, 8.0, "feed_down", "a", source="contact:camera")
    assert any("act strike_missed:a" in line for line in alarms_of(plan, [*starts(plan), *events, down], 30.0))


def test_a_lamp_is_missed_though_another_source_is_silent() -> None:
    """One whose name only begins alike is another."""
    plan = plan_of(1)
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/10")
    down = event(plan, 5.0, "feed_down", source="contact:north/1")
    assert any("act strike_missed:a" in line for line in alarms_of(plan, [start, down], 30.0))


def test_a_lamp_contact_that_is_off_for_a_moment_as_the_window_closes_is_no_missed_strike() -> None:
    """It was lit, and is lit again: nobody is sent to strike it."""
    plan = plan_of(1)
    out_s = HEAD_S - plan.stations[0].lamp.latest_s - 0.5
    events = [
        *starts(plan),
        *lamps(plan),
        event(plan, out_s, "lamp_out", "a"),
        event(plan, out_s + 1.5, "lamp_lit", "a"),
    ]
    assert alarms_of(plan, events, HEAD_S) == []


def test_a_lamp_put_out_while_the_chain_stands_missed_no_strike() -> None:
    """At the restart the gate is dark, and that is all."""
    plan = plan_of(1)
    events = [
        *quiet(plan),
        event(plan, 300.0, "motor_stop", "a"),
        event(plan, 300.0, "chain_stop"),
        event(plan, 310.0, "lamp_out", "a"),
        event(plan, 1000.0, "motor_start", "a"),
    ]
    told = alarms_of(plan, events, 1001.0)
    assert told == ["301 raised watch film_heat:a", "310 cleared watch film_heat:a", "1000 raised act dark_gate:a"]


def test_a_lamp_that_goes_out_on_screen_is_lost_until_lit() -> None:
    """Between head and end only."""
    plan = plan_of(1)
    events = [*quiet(plan), event(plan, 500.0, "lamp_out", "a"), event(plan, 530.0, "lamp_lit", "a")]
    assert alarms_of(plan, events, 600.0) == ["500 raised act lamp_lost:a", "530 cleared act lamp_lost:a"]


@pytest.mark.parametrize(
    ("until_s", "told"),
    [
        (501.0, ["500 raised act lamp_lost:a"]),
        (6500.0, ["500 raised act lamp_lost:a", "6420 cleared act lamp_lost:a"]),
    ],
)
def test_a_lost_lamp_is_not_told_again_at_the_end_of_a_replay(until_s: float, told: list[str]) -> None:
    """Where no event can follow it is told before its wait is over; once the film is out it is over, there too."""
    plan = plan_of(1)
    events = [*quiet(plan), event(plan, 500.0, "lamp_out", "a")]
    events += [event(plan, at_s, "mark_pass", "a", mark=mark) for at_s, mark in ((40.0, "t1"), (180.0, "t2"))]
    events.append(event(plan, 320.0, "mark_pass", "a", mark="film"))
    lines, fold = played(plan, events, until_s)
    assert [line for line in lines if "lamp_lost" in line] == told
    assert ("lamp_lost:a" in fold.board.open_keys()) is (len(told) == 1)


@pytest.mark.parametrize(("back_s", "told"), [(1.9, False), (2.1, True)])
def test_a_lamp_that_is_back_at_once_was_its_contact(back_s: float, told: bool) -> None:
    """No xenon lamp lights again by itself; the alarm is dated when the lamp went out, and told two seconds later."""
    plan = plan_of(1)
    events = [
        *starts(plan),
        *lamps(plan),
        event(plan, 500.0, "lamp_out", "a"),
        event(plan, 500.0 + back_s, "lamp_lit", "a"),
    ]
    assert ("500 raised act lamp_lost:a" in alarms_of(plan, events, 600.0)) is told
    engine = live(plan, events[:-1], 501.9)
    assert not engine.view().alarms
    engine.advance(502_100_000)
    assert [alarm.kind for alarm in engine.view().alarms] == ["lamp_lost"]


@pytest.mark.parametrize(("sigma_s", "told_s"), [(0.02, 2.03), (0.29, 5.5), (2.0, 8.46)])
def test_a_lamp_whose_contact_is_looked_at_seldom_is_lost_after_five_looks(sigma_s: float, told_s: float) -> None:
    """Behind a gateway that looks once a second, a flicker of four seconds may be off in every look."""
    plan = plan_of(1)
    out = event(plan, 500.0, "lamp_out", "a", sigma_s=sigma_s)
    engine = live(plan, [*starts(plan), *lamps(plan), out], 500.0)
    engine.advance(round((500.0 + told_s) * 1e6) - 30_000)
    assert not engine.view().alarms
    engine.advance(round((500.0 + told_s) * 1e6) + 30_000)
    assert [alarm.kind for alarm in engine.view().alarms] == ["lamp_lost"]


def test_a_lamp_put_out_after_the_end_is_no_alarm() -> None:
    """The show is over."""
    plan = plan_of(1)
    events = [*quiet(plan), event(plan, plan.mark("end").x_s + 1, "lamp_out", "a")]
    assert alarms_of(plan, events, plan.mark("end").x_s + 50) == []


def test_a_lamp_against_a_shut_douser_gets_too_hot() -> None:
    """120 s after it was lit, until the douser opens; also while the motor stands."""
    plan = plan_of(1, douser="contact")
    events = [event(plan, -200.0, "lamp_lit", "a"), event(plan, -50.0, "douser_open", "a")]
    assert alarms_of(plan, events, 0.0) == ["-80 raised act douser_heat:a", "-50 cleared act douser_heat:a"]


def test_a_douser_told_shut_again_is_as_hot_as_it_was() -> None:
    """A source that repeats itself starts no clock anew."""
    plan = plan_of(1, douser="contact")
    shuts = [event(plan, at_s, "douser_shut", "a") for at_s in (-310.0, -200.0, -150.0)]
    assert alarms_of(plan, [*shuts, event(plan, -300.0, "lamp_lit", "a")], -100.0) == ["-180 raised act douser_heat:a"]
