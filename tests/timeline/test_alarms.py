"""Every alarm of the model: when it is raised, when it is cleared, and what follows from it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.drill import scenario_for, simulate
from server.timeline.alarms import AlarmBoard
from server.timeline.condition import Condition, steady
from server.timeline.engine import Engine
from server.timeline.events import Event, at_us, order_key
from server.timeline.plan import Plan
from server.timeline.prospect import Prospect
from server.timeline.slack_conditions import same_motor, to_blame
from server.timeline.suppositions import Supposed
from server.timeline.view import AlarmView, Level
from tests.adapters.shows import chain_plan
from tests.timeline.story import HEAD_S, TRANSIT_S, alarms_of, event, lamps, live, plan_of, played, starts


def alarm(engine: Engine, key: str) -> AlarmView:
    return next(view for view in engine.view().alarms if view.key == key)


def keys(engine: Engine) -> list[str]:
    return [view.key for view in engine.view().alarms]


def quiet(plan: Plan) -> list[Event]:
    return [*starts(plan), *lamps(plan)]


def test_a_show_in_which_all_goes_well_raises_nothing() -> None:
    """Motors together, lamps in their windows: no alarm in ten minutes."""
    plan = plan_of()
    assert alarms_of(plan, quiet(plan), 600.0) == []


def test_a_missing_start_is_told_after_its_grace_with_its_links_under_it() -> None:
    """The motor is due with the others; its two links run out at one second a second, under it."""
    plan = plan_of()
    events = [event(plan, 0.0, "motor_start", "a"), event(plan, 0.0, "motor_start", "c")]
    told = alarms_of(plan, events, 1.9)
    assert told == [
        "0.5 raised act start_missing:b",
        "0.5 raised act slack_forecast:a>b < start_missing:b",
        "0.5 raised act slack_forecast:b>c < start_missing:b",
        "1 raised watch slack_loose:a>b < start_missing:b",
        "1 raised watch slack_tight:b>c < start_missing:b",
        "1.8 level act slack_loose:a>b < start_missing:b",
        "1.8 level act slack_tight:b>c < start_missing:b",
    ]


def test_a_start_that_comes_late_clears_the_missing_start() -> None:
    """It starts, and what stays loose stays open and now stands for itself."""
    plan = plan_of(2)
    engine = live(plan, [event(plan, 0.0, "motor_start", "a")], 1.2)
    assert alarm(engine, "slack_loose:a>b").told is False
    engine.take(event(plan, 1.3, "motor_start", "b"), 1_300_000)
    assert alarm(engine, "start_missing:b").state == "returned"
    loose = alarm(engine, "slack_loose:a>b")
    assert (loose.told, loose.state) == (True, "unacknowledged")


def test_no_start_is_due_before_another_has_started() -> None:
    """Motors that all stand are not missing."""
    plan = plan_of()
    assert alarms_of(plan, [], 3600.0) == []


def test_due_is_the_median_of_what_has_started() -> None:
    """One early motor does not make the others late."""
    plan = plan_of(3)
    events = [event(plan, -0.3, "motor_start", "a"), event(plan, 0.0, "motor_start", "b")]
    assert alarms_of(plan, events, 0.34) == []
    assert alarms_of(plan, events, 0.36)[0] == "0.35 raised act start_missing:c"


def test_a_motor_that_stops_alone_is_lost_from_the_instant_it_stopped() -> None:
    """It is dated to its stop although the grace must pass first, and comes back with its start."""
    plan = plan_of(2)
    events = [*quiet(plan), event(plan, 300.0, "motor_stop", "b"), event(plan, 300.7, "motor_start", "b")]
    assert alarms_of(plan, events, 320.0)[0] == "300 raised act motor_lost:b"
    assert "300.7 cleared act motor_lost:b" in alarms_of(plan, events, 320.0)


def test_links_of_a_lost_motor_come_under_it() -> None:
    """Slack of both its links follows from it."""
    plan = plan_of(3)
    told = alarms_of(plan, [*quiet(plan), event(plan, 300.0, "motor_stop", "b")], 301.9)
    assert "301 raised watch slack_loose:a>b < motor_lost:b" in told
    assert "301 raised watch slack_tight:b>c < motor_lost:b" in told


@pytest.mark.parametrize("said_s", [299.8, 300.4])
def test_motors_that_stop_with_the_chain_are_not_lost(said_s: float) -> None:
    """A chain stop within the grace, before or after, explains every stop."""
    plan = plan_of(3)
    stops = [event(plan, 300.0 + k / 10, "motor_stop", s.id) for k, s in enumerate(plan.stations)]
    told = alarms_of(plan, [*quiet(plan), *stops, event(plan, said_s, "chain_stop")], 400.0)
    assert not [line for line in told if "film_heat" not in line]


def test_all_motors_stopping_together_are_a_stop_of_the_chain() -> None:
    """Nobody has to say so."""
    plan = plan_of(3)
    stops = [event(plan, 300.0 + k / 10, "motor_stop", s.id) for k, s in enumerate(plan.stations)]
    assert not [line for line in alarms_of(plan, [*quiet(plan), *stops], 400.0) if "film_heat" not in line]


def test_a_motor_that_stays_behind_at_a_restart_is_missing() -> None:
    """After a stop of the chain the start is due again with the others."""
    plan = plan_of(3)
    stops = [event(plan, 300.0, "motor_stop", s.id) for s in plan.stations]
    again = [event(plan, 330.0, "motor_start", s) for s in ("a", "b")]
    assert "330.5 raised act start_missing:c" in alarms_of(plan, [*quiet(plan), *stops, *again], 331.0)


def test_a_motor_that_stops_after_its_tail_is_out_is_no_alarm() -> None:
    """The end of the film is no loss."""
    plan = plan_of(2)
    clear_s = plan.mark("tail_end").x_s
    events = [
        *quiet(plan),
        *(
            event(plan, plan.mark("end").x_s + ahead + 5, "lamp_out", s.id)
            for s, ahead in zip(plan.stations, plan.ahead_s, strict=True)
        ),
        event(plan, clear_s + 3.0, "motor_stop", "a"),
        event(plan, clear_s + TRANSIT_S + 3.0, "motor_stop", "b"),
    ]
    assert alarms_of(plan, events, clear_s + 600.0) == []


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


def test_a_lamp_that_goes_out_on_screen_is_lost_until_lit() -> None:
    """Between head and end only."""
    plan = plan_of(1)
    events = [*quiet(plan), event(plan, 500.0, "lamp_out", "a"), event(plan, 530.0, "lamp_lit", "a")]
    assert alarms_of(plan, events, 600.0) == ["500 raised act lamp_lost:a", "530 cleared act lamp_lost:a"]


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


def test_an_alarm_that_went_off_says_when() -> None:
    """Whoever did not see it learns how old the news is, however long it had been on."""
    plan = plan_of(1)
    engine = live(plan, [*starts(plan), *lamps(plan), event(plan, 500.0, "lamp_out", "a")], 4500.0)
    assert [alarm.off_s for alarm in engine.view().alarms] == [None]
    engine.take(event(plan, 4600.0, "lamp_lit", "a"), 4_600_000_000)
    (alarm,) = engine.view().alarms
    assert (alarm.state, alarm.since_s, alarm.off_s) == ("returned", 500.0, 4600.0)


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


def test_a_cue_on_a_contact_that_does_not_come_is_overdue() -> None:
    """5 s and three deviations after its estimate; a later mark that passes settles it."""
    plan = plan_of(1, cue="contact")
    events = [*quiet(plan), event(plan, 40.0, "mark_pass", "a", mark="t1")]
    told = alarms_of(plan, events, 200.0)
    assert len(told) == 1
    assert told[0].endswith("raised watch mark_overdue:a")
    assert 185.0 < float(told[0].split()[0]) < 186.0
    passed = event(plan, 190.2, "mark_pass", "a", mark="t2")
    assert "190.2 cleared watch mark_overdue:a" in alarms_of(plan, [*events, passed])


def test_a_trip_stops_the_motor_and_is_first_out() -> None:
    """The failsafe, the motor, the links: one cause."""
    plan = plan_of(2)
    events = [*quiet(plan), event(plan, 300.0, "film_trip", "b"), event(plan, 300.1, "motor_stop", "b")]
    told = alarms_of(plan, events, 301.2)
    assert told[0] == "300 raised act film_trip:b"
    assert "300.1 raised act motor_lost:b < film_trip:b" in told
    assert "301.1 raised watch slack_loose:a>b < film_trip:b" in told


def test_slack_is_told_at_half_and_nine_tenths_and_let_go_a_tenth_lower() -> None:
    """A start late by 1.0 s uses half of a reserve of 2 s; a reading of less clears it."""
    plan = plan_of(2, timing="contact_sigma_s = 0.001\nstart_grace_s = 3.0")
    late = [event(plan, 0.0, "motor_start", "a"), event(plan, 1.0, "motor_start", "b"), *lamps(plan)]
    assert alarms_of(plan, late, 5.0) == ["1 raised watch slack_loose:a>b"]
    calm = event(plan, 10.0, "slack_read", "b", seconds=0.9, sigma_s=0.001)
    assert "cleared" not in "".join(alarms_of(plan, [*late, calm], 12.0))


def test_a_source_that_falls_silent_is_watched_until_it_is_back() -> None:
    """The subject is the source by its whole name."""
    plan = plan_of(1)
    down = event(plan, 5.0, "feed_down", source="contact:north/3", text="unplugged")
    up = event(plan, 9.0, "feed_up", source="contact:north/3")
    assert alarms_of(plan, [down, up], 20.0) == [
        "5 raised watch feed_silent:contact:north/3",
        "9 cleared watch feed_silent:contact:north/3",
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


def test_a_mark_that_does_not_come_from_a_silent_feed_follows_from_that() -> None:
    """It is one fault."""
    plan = plan_of(1, lamp="none", cue="contact")
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/1")
    down = event(plan, 5.0, "feed_down", source="contact:north")
    told = alarms_of(plan, [start, down], 60.0)
    assert told[-1].endswith("raised watch mark_overdue:a < feed_silent:contact:north")


@pytest.mark.parametrize(
    ("seconds", "told"), [(0.2, []), (-3.0, ["5 raised note clock_step:chain", "65 cleared note clock_step:chain"])]
)
def test_a_clock_that_jumped_is_noted_for_a_minute(seconds: float, told: list[str]) -> None:
    """By more than 0.2 s, either way."""
    plan = plan_of(1)
    assert alarms_of(plan, [event(plan, 5.0, "clock_step", seconds=seconds, source="contact:clock")], 100.0) == told


def test_a_pass_that_does_not_fit_is_noted_and_not_believed() -> None:
    """A wrong tap 60 s early moves nothing."""
    plan = plan_of(1)
    wrong = event(plan, 120.0, "mark_pass", "a", mark="t2", source="tap")
    told = alarms_of(plan, [*quiet(plan), wrong], 200.0)
    assert told == ["119.75 raised note misfit:a", "179.75 cleared note misfit:a"]


def test_an_acknowledged_alarm_that_worsens_wants_to_be_seen_again() -> None:
    """Watch to act: unacknowledged."""
    plan = plan_of(2, timing="start_grace_s = 5.0")
    engine = live(plan, [event(plan, 0.0, "motor_start", "a")], 1.2)
    engine.take(event(plan, 1.3, "ack", alarm="slack_loose:a>b", by="Ines"), 1_300_000)
    seen = alarm(engine, "slack_loose:a>b")
    assert (seen.state, seen.acked_by) == ("acknowledged", "Ines")
    engine.advance(1_900_000)
    worse = alarm(engine, "slack_loose:a>b")
    assert (worse.level, worse.state) == ("act", "unacknowledged")


def test_an_alarm_that_went_unseen_stays_until_it_is_seen() -> None:
    """Returned, then gone."""
    plan = plan_of(1)
    engine = live(plan, [*starts(plan), event(plan, 30.0, "lamp_lit", "a")], 31.0)
    assert alarm(engine, "strike_missed:a").state == "returned"
    engine.take(event(plan, 32.0, "ack", alarm="strike_missed:a"), 32_000_000)
    assert keys(engine) == []


def test_a_shelved_alarm_is_not_told_until_its_time_is_over() -> None:
    """And comes back by itself."""
    plan = plan_of(1)
    engine = live(plan, [*starts(plan), event(plan, 30.0, "shelve", alarm="strike_missed:a", seconds=60.0)], 31.0)
    assert alarm(engine, "strike_missed:a").told is False
    assert engine.next_wake_us() is not None
    engine.advance(91_000_000)
    assert alarm(engine, "strike_missed:a").told is True


def test_a_retracted_event_did_not_happen_from_then_on() -> None:
    """A wrong `lit` is taken back: the strike is missed at that instant, and what was told stays told."""
    plan = plan_of(1)
    lit = event(plan, 20.0, "lamp_lit", "a", id="wrong")
    events = [*starts(plan), lit, event(plan, 30.0, "retract", retracts="wrong")]
    assert alarms_of(plan, events, 31.0) == ["30 raised act strike_missed:a"]


def test_a_retraction_that_is_retracted_changes_nothing() -> None:
    """The event happened after all."""
    plan = plan_of(1)
    events = [
        *starts(plan),
        event(plan, 20.0, "lamp_lit", "a", id="right"),
        event(plan, 30.0, "retract", id="slip", retracts="right"),
        event(plan, 31.0, "retract", retracts="slip"),
    ]
    assert alarms_of(plan, events, 32.0) == ["30 raised act strike_missed:a", "31 cleared act strike_missed:a"]


def test_motors_lost_one_after_another_stay_lost() -> None:
    """Only stops within the grace of one another are a stop of the chain; a link later, they follow from the first."""
    plan = plan_of(3, lamp="none")
    stops = [event(plan, at_s, "motor_stop", s) for at_s, s in ((10.0, "a"), (12.0, "b"), (14.0, "c"))]
    told = [line for line in alarms_of(plan, [*starts(plan), *stops], 30.0) if "motor_lost" in line.split()[3]]
    assert told == [
        "10 raised act motor_lost:a",
        "12 raised act motor_lost:b < motor_lost:a",
        "14 raised act motor_lost:c < motor_lost:a",
    ]


def test_a_recording_that_ends_with_a_stop_tells_of_the_lost_motor() -> None:
    """No stop of the chain can follow where no event can."""
    plan = plan_of(2, lamp="none")
    assert alarms_of(plan, [*starts(plan), event(plan, 10.0, "motor_stop", "b")]) == ["10 raised act motor_lost:b"]


def test_a_douser_told_shut_again_is_as_hot_as_it_was() -> None:
    """A source that repeats itself starts no clock anew."""
    plan = plan_of(1, douser="contact")
    shuts = [event(plan, at_s, "douser_shut", "a") for at_s in (-310.0, -200.0, -150.0)]
    assert alarms_of(plan, [*shuts, event(plan, -300.0, "lamp_lit", "a")], -100.0) == ["-180 raised act douser_heat:a"]


def test_a_start_after_a_trip_clears_it_though_no_stop_was_seen() -> None:
    """The motor starts again: that is all the alarm waits for."""
    plan = plan_of(2, lamp="none")
    events = [*starts(plan), event(plan, 10.0, "film_trip", "b"), event(plan, 60.0, "motor_start", "b")]
    assert alarms_of(plan, events, 90.0)[:2] == ["10 raised act film_trip:b", "60 cleared act film_trip:b"]


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


def test_an_alarm_that_comes_back_is_dated_to_its_return() -> None:
    """A stop of the chain that is taken back: the motor is lost again, from then on."""
    plan = plan_of(2, lamp="none")
    events = [
        *starts(plan),
        event(plan, 100.0, "motor_stop", "b"),
        event(plan, 101.0, "chain_stop", id="slip"),
        event(plan, 120.0, "retract", retracts="slip"),
    ]
    told = [line for line in alarms_of(plan, events, 130.0) if line.split()[3] == "motor_lost:b"]
    assert told == ["100 raised act motor_lost:b", "101 cleared act motor_lost:b", "120 raised act motor_lost:b"]


def test_what_was_told_just_before_its_cause_comes_under_it() -> None:
    """A link so short that it is loose within the grace: one first-out all the same."""
    plan = plan_of(2, lamp="none", timing="reserve_s = 0.6")
    engine = live(plan, [*starts(plan), event(plan, 10.0, "motor_stop", "b")], 10.6)
    assert [view.key for view in engine.view().alarms if view.told] == ["motor_lost:b"]


def test_no_motor_runs_three_times_too_fast() -> None:
    """Two hasty wrong taps agree on nothing that film does."""
    plan = plan_of(1, lamp="none")
    hasty = [event(plan, at_s, "mark_pass", "a", mark=m, source="tap") for at_s, m in ((60.0, "t2"), (100.0, "film"))]
    told = alarms_of(plan, [*starts(plan), *hasty], 101.0)
    assert [line.split(maxsplit=1)[1] for line in told] == [
        "raised note misfit:a",
        "cleared note misfit:a",
        "raised note misfit:a",
    ]


def test_two_marks_at_film_speed_show_a_motor_running_whose_contact_is_dead() -> None:
    """The first is a misfit, the second is believed."""
    plan = plan_of(2, lamp="none")
    at_s = plan.ahead_s[1]
    seen = [event(plan, at_s + x, "mark_pass", "b", mark=m) for x, m in ((40.0, "t1"), (180.0, "t2"))]
    engine = live(plan, [event(plan, 0.0, "motor_start", "a"), *seen], at_s + 181.0)
    view = engine.view().stations[1]
    assert (view.running, view.phase) == (True, "showing")
    assert alarm(engine, "start_missing:b").state == "returned"


def test_offsets_hold_after_a_test_run_before_the_show() -> None:
    """A chain that was stopped before any head had passed starts as planned."""
    plan = plan_of(2, lamp="none")
    late = plan.model_copy(
        update={"stations": (plan.stations[0], plan.stations[1].model_copy(update={"start_offset_s": 20.0}))}
    )
    tried = [event(late, -300.0, "motor_start", s) for s in ("a", "b")]
    stopped = [event(late, -290.0, "motor_stop", s) for s in ("a", "b")]
    events = [*tried, *stopped, event(late, 0.0, "motor_start", "a"), event(late, 20.0, "motor_start", "b")]
    assert not [line for line in alarms_of(late, events, 21.0) if "start_missing" in line]


def test_a_leader_at_its_gate_when_threaded_is_not_awaited() -> None:
    """Its first frame never goes through the first gate."""
    plan = plan_of(1, lamp="none", cue="contact")
    cued = plan.model_copy(update={"print": (plan.print[0].model_copy(update={"cue": True}), *plan.print[1:])})
    assert alarms_of(cued, starts(cued), 30.0) == []


def test_a_stop_that_runs_along_the_chain_is_one_first_out() -> None:
    """Each next projector trips when the link before it has lasted its reserve: all under the first."""
    plan = plan_of(3, lamp="none")
    events = [*starts(plan)]
    for at_s, station in ((100.0, "a"), (102.0, "b"), (104.0, "c")):
        events += [event(plan, at_s, "film_trip", station), event(plan, at_s + 0.02, "motor_stop", station)]
    told = [line for line in alarms_of(plan, events, 110.0) if "raised act" in line]
    assert [line for line in told if "<" not in line] == ["100 raised act film_trip:a"]
    assert all(line.endswith("< film_trip:a") for line in told[1:])


def test_a_trip_that_no_neighbour_explains_is_one_of_its_own() -> None:
    """A motor stops at one end of the chain, a failsafe trips at the other: two faults, two first-outs."""
    plan = plan_of(4, lamp="none")
    events = [*starts(plan), event(plan, 100.0, "motor_stop", "a"), event(plan, 102.0, "film_trip", "d")]
    assert "102 raised act film_trip:d" in alarms_of(plan, events, 110.0)


def test_both_links_of_a_motor_that_runs_off_are_one_first_out_and_so_is_its_trip() -> None:
    """Motor b is fast: a>b tight, b>c loose, b trips. People are told again where it gets worse, and of the trip."""
    plan = plan_of(3, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=slack_s, sigma_s=0.05)
        for at_s, slack_s in ((400.0, 0.6), (800.0, 1.2), (1100.0, 1.75))
        for station, slack_s in (("b", -slack_s), ("c", slack_s))
    ]
    events = [*starts(plan), *reads, event(plan, 1200.0, "film_trip", "b"), event(plan, 1200.1, "motor_stop", "b")]
    engine = live(plan, [e for e in events if e.t < event(plan, 1200.0, "note", text="x").t], 1100.0)
    first = next(alarm for alarm in engine.view().alarms if alarm.cause is None)
    assert {alarm.cause for alarm in engine.view().alarms} == {None, first.key}
    raised = [line for line in alarms_of(plan, events, 1210.0) if "raised" in line]
    assert [line.split()[3] for line in raised if "<" not in line] == [first.key]
    told = {alarm.key for alarm in live(plan, events, 1201.0).view().alarms if alarm.told}
    assert "film_trip:b" in told
    assert "motor_lost:b" not in told


def test_a_motor_that_stops_is_not_put_under_slack_that_was_nowhere_near_its_end() -> None:
    """Half of a reserve used, told long before and still so, explains no stop."""
    plan = plan_of(3, lamp="none")
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 0.0), ("b", 1.2), ("c", 0.0))]
    events = [*late, event(plan, 600.0, "motor_stop", "b")]
    told = [line.split(maxsplit=1)[1] for line in alarms_of(plan, events, 610.0)]
    assert any(line.startswith("raised watch slack_loose:a>b") for line in told)
    assert "cleared watch slack_loose:a>b" not in told
    assert "raised act motor_lost:b" in told


def test_motors_that_stop_one_after_another_within_the_grace_are_a_stop_of_the_chain() -> None:
    """The last stops later than the grace of the first: who stops a chain takes a moment, and nobody is told."""
    plan = plan_of(4, lamp="none", timing="start_grace_s = 0.5")
    stops = [event(plan, 100.0 + 0.3 * k, "motor_stop", station.id) for k, station in enumerate(plan.stations)]
    assert alarms_of(plan, [*starts(plan), *stops], 110.0) == []


@pytest.mark.parametrize(("sigma_s", "follows"), [(0.3, True), (0.05, False)])
def test_a_stop_follows_from_slack_that_may_have_been_at_its_end(sigma_s: float, follows: bool) -> None:
    """Two thirds of a reserve, give or take a good deal, may have been all of it; surely two thirds explain no stop."""
    plan = plan_of(3, lamp="none", timing="path_tolerance_percent = 0.0\nstart_spread_s = 0.0")
    read = event(plan, 600.0, "slack_read", "b", seconds=-1.34, sigma_s=sigma_s)
    late = [event(plan, 0.0 if k else 1.34, "motor_start", s.id, sigma_s=0.6) for k, s in enumerate(plan.stations)]
    told = alarms_of(plan, [*late, read, event(plan, 660.0, "motor_stop", "b")], 661.0)
    assert any("watch slack_tight:a>b" in line for line in told)
    assert ("660 raised act motor_lost:b < slack_tight:a>b" in told) is follows


def test_a_trip_follows_from_slack_that_was_told_of_whatever_reserve_was_planned() -> None:
    """A failsafe that finds too little film at two thirds of the reserve says that the reserve is less than planned."""
    plan = plan_of(3, lamp="none", timing="path_tolerance_percent = 0.0\nstart_spread_s = 0.0")
    late = [event(plan, 0.0 if k else 1.34, "motor_start", s.id) for k, s in enumerate(plan.stations)]
    engine = live(plan, [*late, event(plan, 660.0, "film_trip", "b")], 661.0)
    assert alarm(engine, "film_trip:b").cause == "slack_tight:a>b"
    assert alarm(engine, "film_trip:b").told


def test_a_trip_follows_from_slack_on_the_other_side_of_the_motor_that_is_to_blame() -> None:
    """Motor b is fast, a>b is told of as tight; b>c has not been told of when c runs out of room."""
    plan = plan_of(4, lamp="none", timing="rate_tolerance_ppm = 3000.0\nforecast_horizon_s = 60")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=slack_s, sigma_s=0.05)
        for at_s in (300.0, 600.0)
        for station, slack_s in (("b", -0.002 * at_s), ("c", 0.0015 * at_s))
    ]
    engine = live(plan, [*starts(plan), *reads, event(plan, 610.0, "film_trip", "c")], 611.0)
    assert not [a for a in engine.view().alarms if a.key == "slack_loose:b>c"]
    assert alarm(engine, "film_trip:c").cause == "slack_tight:a>b"


@pytest.mark.parametrize(
    ("after_s", "stopped", "cause"),
    [(20.0, "abc", "film_trip:f"), (200.0, "abc", None), (20.0, "a", None)],
)
def test_motors_that_the_crew_stops_after_a_trip_follow_from_it(
    after_s: float, stopped: str, cause: str | None
) -> None:
    """However often the failsafe tells of it; much later, or while the others run on, it is another fault."""
    plan = plan_of(6, lamp="none")
    trip = [event(plan, 100.0, "film_trip", "f"), event(plan, 100.1, "motor_stop", "f")]
    again = event(plan, 100.2 + after_s, "film_trip", "f")
    stops = [event(plan, 100.0 + after_s + 0.3 * n, "motor_stop", station) for n, station in enumerate(stopped)]
    engine = live(plan, [*starts(plan), *trip, *stops, again], 102.0 + after_s)
    assert alarm(engine, "motor_lost:a").cause == cause


def test_a_reserve_that_will_be_gone_is_told_where_its_slack_was_told_before() -> None:
    """Half of it was used for hours; that the rest goes within the quarter hour wants to be seen."""
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    slack_s = {600.0: 1.05, 1200.0: 1.05, 1800.0: 1.05, 1900.0: 1.2, 2000.0: 1.4}
    reads = [event(plan, at_s, "slack_read", "b", seconds=s, sigma_s=0.03) for at_s, s in slack_s.items()]
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 0.0), ("b", 1.05))]
    engine = live(plan, [*late, *reads], 2100.0)
    assert alarm(engine, "slack_loose:a>b").level == "watch"
    forecast = alarm(engine, "slack_forecast:a>b")
    assert (forecast.cause, forecast.level, forecast.told) == ("slack_loose:a>b", "watch", True)


@pytest.mark.parametrize(("last_s", "stands"), [(1.4, True), (1.32, True), (1.15, False)])
def test_a_forecast_stands_until_the_reserve_is_expected_to_last_until_the_film_is_out(
    last_s: float, stands: bool
) -> None:
    """What was 1800 ppm turns out to be 330: an hour and a half of that is still too much, of next to nothing not."""
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    slack_s = {
        200.0: 0.4,
        400.0: 0.8,
        600.0: 1.08,
        900.0: 1.2,
        1200.0: min(1.3, last_s),
        1500.0: last_s,
        1800.0: last_s,
    }
    reads = [event(plan, at_s, "slack_read", "b", seconds=s, sigma_s=0.03) for at_s, s in slack_s.items()]
    told, fold = played(plan, [*starts(plan), *reads])
    assert any("raised watch slack_forecast:a>b" in line for line in told)
    link, out_us = fold.evidence.outlook.of_link(0), fold.evidence.reached_us(0, "tail_end")
    assert out_us is not None
    assert (link.slack + link.drift * (out_us - fold.at_us) / 1e6 > 0.9 * 2.0) is stands
    assert fold.board.is_on("slack_forecast:a>b") is stands


def test_a_reserve_that_just_lasts_until_the_film_is_out_is_not_forecast() -> None:
    """In 25 minutes it would be gone; the film is out in 17."""
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0\nforecast_horizon_s = 900")
    reads = [
        event(plan, at_s, "slack_read", "b", seconds=2.9e-4 * at_s, sigma_s=0.03) for at_s in range(600, 5600, 300)
    ]
    told, fold = played(plan, [*starts(plan), *reads], 6800.0)
    link, out_us = fold.evidence.outlook.of_link(0), fold.evidence.reached_us(0, "tail_end")
    assert out_us is not None
    assert 0.9 * 2.0 < link.slack + link.drift * (out_us - fold.evidence.outlook.at_us) / 1e6 < 2.0
    assert not [line for line in told if "forecast" in line]


def test_what_is_off_elsewhere_is_not_put_under_what_was_told_of_one_motor() -> None:
    """Motor b is fast: a>b tight, b>c loose. That c>d is tight besides is no work of b's, though it lies beside b>c."""
    plan = plan_of(5, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=slack_s, sigma_s=0.05)
        for at_s, slack_s in ((400.0, 0.6), (800.0, 1.3))
        for station, slack_s in (("b", -slack_s), ("c", slack_s))
    ]
    later = [
        event(plan, at_s, "slack_read", "d", seconds=slack_s, sigma_s=0.05)
        for at_s, slack_s in ((410.0, -0.4), (810.0, -0.8), (1100.0, -1.1))
    ]
    told = alarms_of(plan, [*starts(plan), *reads, *later], 1101.0)
    assert "1013.46 raised watch slack_tight:c>d" in told
    assert sum("slack" in line and "raised" in line and "<" not in line for line in told) == 2


def test_where_either_of_two_motors_may_be_off_the_links_beside_both_follow() -> None:
    """Motor c is fast and d a little slow: b>c tight, c>d loose by both, d>e tight."""
    plan = plan_of(5, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=share * at_s / 1000.0, sigma_s=0.05)
        for at_s in (400.0, 800.0, 1000.0)
        for station, share in (("c", -1.05), ("d", 1.9), ("e", -1.2))
    ]
    told = alarms_of(plan, [*starts(plan), *reads], 1001.0)
    raised = [line for line in told if "raised" in line]
    assert {line.split()[3].partition(":")[2] for line in raised} >= {"b>c", "c>d", "d>e"}
    assert len([line for line in raised if "<" not in line]) == 1


def test_a_forecast_by_itself_is_told_at_the_desk() -> None:
    """It follows from nothing, least of all from itself."""
    plan = plan_of(3, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [event(plan, at_s, "slack_read", "b", seconds=0.002 * at_s, sigma_s=0.03) for at_s in (200.0, 400.0)]
    forecast = alarm(live(plan, [*starts(plan), *reads], 480.0), "slack_forecast:a>b")
    assert (forecast.cause, forecast.told, forecast.state) == (None, True, "unacknowledged")


def turned(key: str, level: Level, *causes: str) -> Condition:
    """A condition that is on from the start."""
    kind, _, subject = key.partition(":")
    steps = steady(0, level)
    return Condition(kind, subject, steps, steps, "", causes)


LOOSE_AND_GONE: tuple[tuple[str, Level], ...] = (("slack_loose:a>b", "watch"), ("slack_forecast:b>c", "act"))


def test_a_trip_goes_on_calling_when_the_slack_that_it_follows_from_has_cleared() -> None:
    """What that slack was under stands, and the trip is worse than that as well."""
    board = AlarmBoard()
    tight = turned("slack_tight:a>b", "watch")
    loose = turned("slack_loose:b>c", "watch", "slack_tight:a>b")
    trip = turned("film_trip:c", "act", "slack_loose:b>c")
    for at_s, conditions in enumerate([[tight], [tight, loose], [trip, tight, loose], [trip, tight]], 1):
        board.step(conditions, at_s * 1_000_000)
    found = board.alarms["film_trip:c"]
    assert (found.cause, found.follows) == ("slack_tight:a>b", "slack_tight:a>b")
    assert not board.is_acked(found)


def test_what_comes_on_together_is_recorded_under_its_first_out_in_whatever_order() -> None:
    """The record says what desks are shown."""
    first, second = turned("slack_forecast:a>b", "watch"), turned("slack_forecast:b>c", "watch", "slack_forecast:a>b")
    for conditions in ([first, second], [second, first]):
        records = AlarmBoard().step(conditions, 1_000_000)
        assert {(one.key, one.cause, one.told) for one in records} == {
            (first.key, None, True),
            (second.key, first.key, False),
        }


def test_what_comes_on_as_its_cause_goes_off_is_recorded_under_it() -> None:
    """It was told of by that; from then on it calls by itself, and that is recorded too."""
    board = AlarmBoard()
    forecast = turned("slack_forecast:a>b", "watch")
    board.step([forecast], 1_000_000)
    records = board.step([turned("slack_tight:a>b", "watch", forecast.key)], 2_000_000)
    assert [(one.state, one.cause, one.told) for one in records if one.key == "slack_tight:a>b"] == [
        ("raised", forecast.key, False),
        ("level", None, True),
    ]


def test_of_what_was_under_an_alarm_that_clears_the_worst_calls_and_the_rest_is_under_that() -> None:
    """One call for one fault."""
    board = AlarmBoard()
    stop = turned("motor_lost:b", "act")
    slack, forecast = (turned(key, level, stop.key) for key, level in LOOSE_AND_GONE)
    board.step([stop, slack, forecast], 1_000_000)
    records = board.step([slack, forecast], 2_000_000)
    assert [(one.key, one.state, one.told) for one in records] == [
        (stop.key, "cleared", True),
        (forecast.key, "level", True),
    ]
    assert {one.key: (one.cause, board.is_acked(one)) for one in board.alarms.values() if one.on} == {
        forecast.key: (None, False),
        slack.key: (forecast.key, True),
    }


def test_what_a_first_out_leaves_calls_though_it_was_seen_when_it_was_less() -> None:
    """An alarm that got worse under another wants to be seen once that is gone."""
    board = AlarmBoard()
    stop, dark = turned("motor_lost:b", "act"), turned("dark_gate:b", "watch", "motor_lost:b")
    board.step([stop, dark], 1_000_000)
    board.acknowledge(dark.key, "Ada", "a1", 1_500_000)
    board.step([stop, turned("dark_gate:b", "act", "motor_lost:b")], 2_000_000)
    board.step([turned("dark_gate:b", "act", "motor_lost:b")], 3_000_000)
    assert not board.is_acked(board.alarms[dark.key])


def test_what_clears_together_leaves_nothing_to_acknowledge_but_its_first_out() -> None:
    """In whatever order it came on."""
    for first, second in (("film_trip:b", "motor_lost:b"), ("motor_lost:b", "film_trip:b")):
        board = AlarmBoard()
        lost = turned("motor_lost:b", "act", "film_trip:b")
        trip = turned("film_trip:b", "act")
        both = {one.key: one for one in (lost, trip)}
        board.step([both[first]], 1_000_000)
        board.step([both[first], both[second]], 2_000_000)
        root = next(one.key for one in board.alarms.values() if one.cause is None)
        board.acknowledge(root, "Ada", "a1", 2_500_000)
        board.step([], 3_000_000)
        assert board.alarms == {}


_KEYS = (
    "film_trip:b",
    "motor_lost:b",
    "slack_tight:a>b",
    "slack_loose:b>c",
    "slack_forecast:a>b",
    "slack_forecast:b>c",
    "dark_gate:b",
)
_CONDITIONS = st.lists(
    st.builds(
        lambda key, level, causes: turned(key, level, *causes),
        st.sampled_from(_KEYS),
        st.sampled_from(("watch", "act")),
        st.lists(st.sampled_from(_KEYS), max_size=3, unique=True),
    ),
    max_size=6,
    unique_by=lambda one: one.key,
)


@given(st.lists(st.tuples(_CONDITIONS, st.none() | st.sampled_from(_KEYS)), max_size=12))
def test_every_group_has_one_first_out_and_something_that_calls_until_it_was_seen(
    steps: list[tuple[list[Condition], str | None]],
) -> None:
    """Whatever comes on and goes off, in whatever order, and whatever anybody acknowledges meanwhile."""
    board = AlarmBoard()
    for at_s, (conditions, seen) in enumerate(steps, 1):
        board.step(conditions, at_s * 1_000_000)
        if seen in board.alarms:
            board.acknowledge(seen, "Ada", f"a{at_s}", at_s * 1_000_000)
        for one in board.alarms.values():
            if one.on and one.cause is not None:
                cause, follows = board.alarms[one.cause], board.alarms[one.follows or ""]
                assert (cause.on, cause.cause) == (True, None)
                assert follows.on
                assert follows.key != one.key
                assert one.cause in {follows.key, follows.cause}
            assert board.is_told(one) or board.is_acked(one)
            assert one.acked_by is not None or one.cause is not None or not board.is_acked(one)


def test_a_stop_goes_on_calling_when_slack_of_its_link_is_told_a_moment_later() -> None:
    """It cannot follow from that."""
    board = AlarmBoard()
    trip, tight = turned("film_trip:c", "act", "slack_tight:b>c"), turned("slack_tight:b>c", "watch")
    board.step([trip], 1_000_000)
    board.step([trip, tight], 2_000_000)
    assert (board.alarms[trip.key].cause, board.is_acked(board.alarms[trip.key])) == (None, False)


def test_what_follows_goes_along_when_its_first_out_is_put_under_another() -> None:
    """So a group has one first-out, and what moves up in that step is recorded as desks show it."""
    board = AlarmBoard()
    slack, gone = (
        turned("slack_loose:b>c", "watch", "motor_lost:b"),
        turned("slack_forecast:c>d", "watch", "slack_loose:b>c"),
    )
    board.step([slack, gone], 1_000_000)
    stop = turned("motor_lost:b", "act")
    records = board.step([slack._replace(on=steady(0, "act")), gone, stop], 1_500_000)
    assert {one.cause for one in board.alarms.values()} == {None, stop.key}
    assert [(one.key, one.cause, one.told) for one in records] == [
        (slack.key, stop.key, False),
        (stop.key, None, True),
    ]


def test_a_reserve_that_will_be_gone_is_told_where_only_slack_was_told_beside_it() -> None:
    """Once for each motor: what is forecast of its other link after that is not."""
    board = AlarmBoard()
    tight = turned("slack_tight:a>b", "watch")
    first = turned("slack_forecast:b>c", "watch", "slack_forecast:a>b", tight.key)
    second = turned("slack_forecast:a>b", "watch", first.key, tight.key)
    for at_s, conditions in enumerate([[tight], [tight, first], [tight, first, second]], 1):
        board.step(conditions, at_s * 1_000_000)
    assert [board.is_told(board.alarms[one.key]) for one in (tight, first, second)] == [True, True, False]
    assert {alarm.cause for alarm in board.alarms.values()} == {None, tight.key}


def test_a_forecast_follows_from_its_neighbours_before_it_follows_from_slack() -> None:
    """Motor a started late, and b runs fast: a>b is told of as tight, then its end is forecast, then that of b>c."""
    plan = plan_of(3, lamp="none", timing="rate_tolerance_ppm = 3000.0\nforecast_horizon_s = 500")
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 1.05), ("b", 0.0), ("c", 0.0))]
    reads = [
        event(plan, at_s, "slack_read", station, seconds=seconds, sigma_s=0.03)
        for at_s in (60.0, 120.0, 240.0)
        for station, seconds in (("b", -1.05 - 0.002 * at_s), ("c", 0.0025 * at_s))
    ]
    engine = live(plan, [*late, *reads], 380.0)
    assert alarm(engine, "slack_forecast:a>b").told
    beside = alarm(engine, "slack_forecast:b>c")
    assert (beside.cause, beside.told) == ("slack_tight:a>b", False)


@pytest.mark.parametrize("scenario", ["tight_link", "trip", "motor_lost", "stop_and_restart"])
@pytest.mark.parametrize("inputs", [("contact",) * 4, ("contact", "contact", "tap", "tap"), ("tap",) * 4])
def test_what_an_alarm_is_under_is_another_that_is_on(scenario: str, inputs: tuple[str, str, str, str]) -> None:
    """At every event of a whole show: so whether people are told of it has an answer."""
    plan = chain_plan(5, inputs=inputs)
    engine = Engine(plan)
    for one in sorted(simulate(plan, scenario_for(scenario, plan, 3), 3).events, key=lambda one: order_key(one, plan)):
        engine.take(one, at_us(one, plan))
        views = {view.key: view for view in engine.view().alarms}
        for view in views.values():
            assert view.cause is None or (view.cause != view.key and view.cause in views)
            assert view.told or view.cause is not None
            calls = view.told and view.acked_by is None
            if view.state != "returned":
                assert view.state == ("unacknowledged" if calls else "acknowledged")


@pytest.mark.parametrize("outer", [0.05, -0.05])
def test_two_links_that_run_the_same_way_are_no_work_of_one_motor(outer: float) -> None:
    """However the links beyond them happen to lie."""
    plan = plan_of(5, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=share * at_s / 1000.0, sigma_s=0.03)
        for at_s in (200.0, 400.0)
        for station, share in (("b", outer), ("c", 2.0), ("d", 1.6), ("e", outer))
    ]
    _, fold = played(plan, [*starts(plan), *reads])
    assert same_motor(fold.evidence, 1) != 2
    assert same_motor(fold.evidence, 2) != 1


def test_a_motor_that_the_film_has_left_is_not_to_blame() -> None:
    """Motor a stops behind its tail, and b goes on: it is still c that b>c and c>d are off by."""
    plan = plan_of(4, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=share * at_s / 6400.0, sigma_s=0.03)
        for at_s in (3000.0, 6000.0, 6430.0)
        for station, share in (("b", 0.0), ("c", 1.5), ("d", -0.9))
    ]
    out = [event(plan, 6420.0, "mark_pass", "a", mark="tail_end"), event(plan, 6422.0, "motor_stop", "a")]
    _, fold = played(plan, [*starts(plan), *reads, *out])
    assert same_motor(fold.evidence, 1) == 2


@pytest.mark.parametrize(("more_s", "blamed"), [(0.05, (2, 1)), (2.5, (1,))])
def test_a_motor_is_blamed_alone_for_what_is_supposed_of_it_where_that_explains_most_of_its_link(
    monkeypatch: pytest.MonkeyPatch, more_s: float, blamed: tuple[int, ...]
) -> None:
    """Motor c is slow, by both its links; `more_s` is what b>c would hold more by what is supposed of b."""
    plan = plan_of(4, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=share * at_s / 1000.0, sigma_s=0.03)
        for at_s in (200.0, 400.0)
        for station, share in (("b", 0.0), ("c", 2.0), ("d", -1.8))
    ]
    _, fold = played(plan, [*starts(plan), *reads])
    link = fold.evidence.outlook.of_link(1)
    supposed = Supposed(1, 3.1, strong=True, link=link._replace(slack=link.slack + more_s))
    monkeypatch.setattr(Prospect, "supposed", {1: supposed})
    assert to_blame(fold.evidence, 1) == blamed


def test_what_is_supposed_is_told_and_called_so_though_the_reserve_does_not_last_anyhow() -> None:
    """300 ppm spend it within two hours; a pass that is 0.8 s later than that may mean much less."""
    plan = chain_plan(3, minutes=120)
    late_s = [300e-6 * 600.0 * n for n in range(5)] + [300e-6 * 3000.0 + 0.8]
    passes = [
        event(plan, 40.0 + plan.ahead_s[k] + 600.0 * n + (late if k == 1 else 0.0), "mark_pass", s.id, mark=f"r{n}")
        for k, s in enumerate(plan.stations)
        for n, late in enumerate(late_s)
    ]
    engine = live(plan, [*starts(plan), *passes], 3200.0)
    assert alarm(engine, "slack_forecast:s0>s1").text.endswith("(if what was seen last is true)")


@pytest.mark.parametrize("order", ["abcd", "acdb", "dacb"])
def test_in_whatever_order_a_chain_is_stopped_no_motor_is_lost_and_nothing_is_forecast(order: str) -> None:
    """Slack that truly came of it may be told; nothing has to be done."""
    plan = plan_of(4, lamp="none")
    stops = [event(plan, 600.0 + 0.4 * n, "motor_stop", station) for n, station in enumerate(order)]
    told = alarms_of(plan, [*starts(plan), *stops], 610.0)
    assert not [line for line in told if " act " in line or "forecast" in line]


def test_a_stop_follows_from_slack_as_it_has_become_since_it_was_read() -> None:
    """Half of a reserve when it was last read, all of it a quarter of an hour later."""
    timing = "path_tolerance_percent = 0.0\nstart_spread_s = 0.0\nrate_tolerance_ppm = 3000.0\nforecast_horizon_s = 60"
    plan = plan_of(3, lamp="none", timing=timing)
    reads = [
        event(plan, at_s, "slack_read", "b", seconds=-at_s / 1000.0, sigma_s=0.02)
        for at_s in (300.0, 600.0, 900.0, 1000.0)
    ]
    for stop_s, cause in ((1150.0, ""), (1850.0, " < slack_tight:a>b")):
        told = alarms_of(plan, [*starts(plan), *reads, event(plan, stop_s, "motor_stop", "b")], stop_s + 1.0)
        assert f"{stop_s:g} raised act motor_lost:b{cause}" in told


def test_slack_of_a_motor_that_has_just_stopped_is_told_with_its_stop() -> None:
    """Half of the reserve is used before it is known that the motor is lost; it is told then, and under that."""
    plan = plan_of(3, lamp="none")
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 0.0), ("b", 0.9), ("c", 0.0))]
    told = alarms_of(plan, [*late, event(plan, 600.0, "motor_stop", "b")], 605.0)
    assert [line for line in told if "raised" in line and "slack_loose:a>b" in line] == [
        "600.5 raised watch slack_loose:a>b < motor_lost:b"
    ]


@pytest.mark.parametrize(("motor", "follows"), [("tap", True), ("contact", False)])
def test_people_may_tell_of_a_stop_before_those_that_led_to_it(motor: str, follows: bool) -> None:
    """A link is at its end, and two houses on a trip is told of: by contacts it would be another fault."""
    plan = plan_of(4, lamp="none", motor=motor, timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", "b", seconds=slack_s, sigma_s=0.05)
        for at_s, slack_s in ((400.0, -0.7), (800.0, -1.3), (1100.0, -1.8))
    ]
    told = alarms_of(plan, [*starts(plan), *reads, event(plan, 1150.0, "film_trip", "d")], 1151.0)
    (trip,) = (line for line in told if "film_trip" in line)
    assert (" < slack_" in trip and trip.endswith(":a>b")) is follows


def test_a_motor_that_its_failsafe_stopped_stays_under_the_trip_when_the_reserve_goes() -> None:
    """What replaces their first-out takes its place, and nothing else changes."""
    plan = plan_of(2, motor="tap", lamp="none")
    events = [event(plan, 1.5, "motor_start", "a"), event(plan, 2.8, "motor_start", "b")]
    events.append(event(plan, 3.5, "film_trip", "b", source="tap"))
    view = live(plan, events, 6.0).view()
    told = {alarm.key for alarm in view.alarms if alarm.told and alarm.state != "returned"}
    assert told == {"film_trip:b", "reserve_spent:a>b"}
