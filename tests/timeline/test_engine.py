"""What holds of the engine whatever happens: order, ticks, copies and prefixes make no difference."""

import random
from datetime import timedelta
from unittest.mock import patch

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from server.timeline import fold as fold_module
from server.timeline.engine import Engine, replay
from server.timeline.events import Event, at_us, order_key
from server.timeline.plan import Plan
from server.timeline.view import RunView
from tests.timeline.story import alarms_of, event, line_of, live, plan_of, played, starts


def _short_plan() -> Plan:
    """A show of three houses from the first motor to the last tail in 334 s, two motors wired to stop together."""
    plan = plan_of(3, motor="contact", lamp="contact", douser="contact", cue="contact")
    lengths_s, x_s, segments = (40.0, 30.0, 30.0, 60.0, 40.0), 0.0, []
    for segment, length_s in zip(plan.print, lengths_s, strict=True):
        segments.append(segment.model_copy(update={"x_s": x_s, "length_s": length_s}))
        x_s += length_s
    return plan.model_copy(update={"print": tuple(segments), "stop_groups": (("a", "b"),)})


PLAN = _short_plan()
END_S = 420.0
STATIONS = st.sampled_from([station.id for station in PLAN.stations])
STATIONS_WITH_LINK = st.sampled_from([station.id for station in PLAN.stations[1:]])
TIMES = st.integers(-40_000, 400_000).map(lambda ms: ms / 1000.0)
SOURCES = st.sampled_from(["contact", "tap", "recording"])


@st.composite
def one_event(draw: st.DrawFn) -> Event:
    """Any event of the story plan, near enough to the show to matter."""
    kind = draw(
        st.sampled_from(["motor_start", "motor_stop", "lamp_lit", "lamp_out", "douser_open", "douser_shut"])
        | st.sampled_from(["mark_pass", "slack_read", "film_trip", "chain_start", "chain_stop", "feed_up", "feed_down"])
        | st.sampled_from(["ack", "ready", "relaced", "hold"])
    )
    at_s, source = draw(TIMES), draw(SOURCES)
    if kind in {"chain_start", "chain_stop", "feed_up", "feed_down"}:
        return event(PLAN, at_s, kind, source=source)
    if kind == "ack":
        alarm = draw(st.sampled_from(["start_missing:b", "strike_missed:a", "slack_tight:a>b"]))
        return event(PLAN, at_s, kind, alarm=alarm, source=source)
    if kind == "hold":
        return event(PLAN, at_s, kind, seconds=draw(st.floats(-60.0, 400.0)), source=source)
    station = draw(STATIONS_WITH_LINK if kind in {"slack_read", "relaced"} else STATIONS)
    mark = draw(st.sampled_from(["head", "t1", "t2", "film", "end", "tail_end"])) if kind == "mark_pass" else None
    seconds = draw(st.floats(-2.0, 2.0)) if kind in {"slack_read", "relaced"} else None
    return event(PLAN, at_s, kind, station, mark=mark, seconds=seconds, source=source)


@st.composite
def shows(draw: st.DrawFn) -> list[Event]:
    """A show with the motors started and up to a dozen events, some of them taken back."""
    told = {one.id: one for one in [*starts(PLAN), *draw(st.lists(one_event(), max_size=12))]}
    for target in draw(st.lists(st.sampled_from(sorted(told)), max_size=2, unique=True)):
        back = event(PLAN, draw(TIMES), "retract", retracts=target)
        told[back.id] = back
    return list(told.values())


def final(events: list[Event]) -> RunView:
    return live(PLAN, events, END_S).view()


@settings(max_examples=40, deadline=None)
@given(shows(), st.randoms(use_true_random=False))
def test_taken_all_at_once_they_are_as_taken_one_by_one(events: list[Event], chance: random.Random) -> None:
    """A run rebuilt from its log in one go shows what the live one did, whenever each event had come."""
    chance.shuffle(events)
    one_by_one, at_once = Engine(PLAN), Engine(PLAN)
    taken = []
    for one in events:
        if one_by_one.refusal(one) is None:
            one_by_one.take(one, 0)
            taken.append(one)
    one_by_one.advance(round(END_S * 1e6))
    refused = at_once.take_all(events, round(END_S * 1e6))
    assert [event for event in events if event not in [one for one, _ in refused]] == taken
    assert at_once.view() == one_by_one.view()


@settings(max_examples=40, deadline=None)
@given(shows(), st.randoms(use_true_random=False), st.lists(st.integers(0, 4), min_size=1, max_size=20))
def test_taken_a_little_at_a_time_they_are_as_taken_at_once(
    events: list[Event], chance: random.Random, works: list[int]
) -> None:
    """However often others have their turn while an event is worked in, and whatever comes meanwhile."""
    chance.shuffle(events)
    bit_by_bit, at_once = Engine(PLAN), Engine(PLAN)
    at_once.take_all(events, round(END_S * 1e6))
    for number, one in enumerate(events):
        if bit_by_bit.refusal(one) is None:
            bit_by_bit.put(one)
        for _ in range(works[number % len(works)]):
            bit_by_bit.work(0)
    while not bit_by_bit.work(round(END_S * 1e6)):
        pass
    assert bit_by_bit.view() == at_once.view()


@settings(max_examples=25, deadline=None)
@given(shows(), st.randoms(use_true_random=False))
def test_the_order_of_arrival_makes_no_difference(events: list[Event], chance: object) -> None:
    """The same set of events gives the same view, to the last figure."""
    shuffled = sorted(events, key=lambda _: chance.random())  # type: ignore[attr-defined]
    ordered = sorted(events, key=lambda one: order_key(one, PLAN))
    assert final(shuffled) == final(ordered)


@settings(max_examples=25, deadline=None)
@given(shows(), st.lists(TIMES, max_size=8))
def test_when_the_time_is_given_makes_no_difference(events: list[Event], ticks: list[float]) -> None:
    """An engine that is asked at any instants in between ends as one that is asked at the end."""
    ordered = sorted(events, key=lambda one: order_key(one, PLAN))
    engine = Engine(PLAN)
    moments = sorted(
        [*((at_us(one, PLAN), one) for one in ordered), *((round(t * 1e6), None) for t in ticks)], key=lambda m: m[0]
    )
    for moment_us, one in moments:
        if one is None:
            engine.advance(moment_us)
        else:
            engine.take(one, moment_us)
    engine.advance(round(END_S * 1e6))
    assert engine.view() == final(ordered)


@settings(max_examples=25, deadline=None)
@given(shows())
def test_a_caller_that_comes_when_asked_misses_nothing(events: list[Event]) -> None:
    """Between two wake-ups the phases and alarms stand still."""
    engine = live(PLAN, events, 0.0)
    for _ in range(200):
        wake_us = engine.next_wake_us()
        if wake_us is None or wake_us > END_S * 1e6:
            break
        before = engine.view()
        engine.advance(wake_us - 1)
        after = engine.view()
        assert ([s.phase for s in after.stations], after.alarms) == ([s.phase for s in before.stations], before.alarms)
        engine.advance(wake_us)
    else:
        raise AssertionError("the engine never came to rest")


@settings(max_examples=25, deadline=None)
@given(shows())
def test_a_replay_goes_forward_and_every_alarm_is_cleared_or_open(events: list[Event]) -> None:
    """Instants never go back; raised and cleared alternate for each alarm; what is open was raised and not cleared."""
    lines, fold = played(PLAN, events, END_S)
    instants = [float(line.split()[0]) for line in lines]
    assert instants == sorted(instants)
    on: set[str] = set()
    for line in lines:
        _, what, _, key, *_ = line.split()
        if what == "raised":
            assert key not in on
            on.add(key)
        elif what == "cleared":
            on.remove(key)
    assert on == set(fold.board.open_keys())


LAMP_OUT_IN_THE_PICTURE = [*starts(PLAN), event(PLAN, 0.0, "lamp_lit", "a"), event(PLAN, 40.0, "lamp_out", "a")]


@settings(max_examples=25, deadline=None)
@given(shows())
@example(LAMP_OUT_IN_THE_PICTURE)
def test_a_replay_ends_as_the_live_run_did(events: list[Event]) -> None:
    """Live and recording are the same code: same alarms, same phases, same estimate."""
    _, fold = played(PLAN, events, END_S)
    view = final([one for one in events if at_us(one, PLAN) <= END_S * 1e6])
    assert fold.board.open_keys() == [alarm.key for alarm in view.alarms if alarm.state != "returned"] or set(
        fold.board.open_keys()
    ) == {alarm.key for alarm in view.alarms if alarm.state != "returned"}
    assert fold.phases == [station.phase for station in view.stations]
    for slack_s, link in zip(fold.evidence.outlook.slack, view.links, strict=True):
        assert link.slack_s in {None, slack_s}


@settings(max_examples=25, deadline=None)
@given(shows())
def test_how_far_ahead_conditions_are_read_makes_no_difference(events: list[Event]) -> None:
    """Reading on every second and reading once tell the same changes, to a hundredth of a second."""
    ordered = sorted(events, key=lambda one: order_key(one, PLAN))
    told = []
    for sight_s in (1, 100_000):
        with patch.object(fold_module, "_SIGHT_US", sight_s * 1_000_000):
            told.append(replay(PLAN, ordered, round(END_S * 1e6))[0])
    near, far = told
    assert [record[1:] for record in near] == [record[1:] for record in far]
    assert [record.at_us for record in near] == pytest.approx([record.at_us for record in far], abs=10_000)


def test_a_word_at_the_end_of_what_was_read_ahead_stops_nothing() -> None:
    """An acknowledgement in the very microsecond in which conditions are read again."""
    events = [*starts(PLAN), event(PLAN, 30.0, "ack", alarm="start_missing:b")]
    records, _ = replay(PLAN, events, 90_000_000)
    assert "strike_missed:a" in {record[1] for record in records}


def test_a_copy_of_an_event_is_taken_once() -> None:
    """The same id and contents again change nothing; other contents are refused."""
    engine = live(PLAN, starts(PLAN), 1.0)
    before = engine.view()
    copy = starts(PLAN)[0]
    assert engine.refusal(copy) is None
    engine.take(copy, 1_000_000)
    assert engine.view() == before
    other = copy.model_copy(update={"t": copy.t + timedelta(seconds=1)})
    assert "other contents" in (engine.refusal(other) or "")


def test_an_engine_that_refuses_is_unchanged() -> None:
    """An unknown station or an unknown event to retract: a reason, and the same view and wake-up as before."""
    engine = live(PLAN, starts(PLAN), 1.0)
    before, wake_us = engine.view(), engine.next_wake_us()
    stranger = event(plan_of(5), 1.0, "motor_stop", "e")
    assert "accepted a, b or c" in (engine.refusal(stranger) or "")
    assert "unknown event" in (engine.refusal(event(PLAN, 1.0, "retract", retracts="nothing")) or "")
    assert (engine.view(), engine.next_wake_us()) == (before, wake_us)


def test_a_tap_counts_a_quarter_second_earlier_than_it_was_made() -> None:
    """In the order, in alarms and in `--until`."""
    plan = plan_of(2, motor="tap")
    events = [event(plan, 10.25, "motor_start", "a", source="tap:north"), event(plan, 10.0, "motor_start", "b")]
    lines, fold = played(plan, events, 10.0)
    assert lines == ["10 a is rolling", "10 b is rolling"]
    assert fold.evidence.outlook.slack[0] == 0.0


def test_phases_follow_the_film_through_a_house() -> None:
    """Threaded, rolling, showing, tail, clear, at the instants of the schedule."""
    plan = plan_of(1, lamp="none")
    lines, _ = played(plan, starts(plan), 7000.0)
    assert lines == ["0 a is rolling", "40 a is showing", "6320 a is tail", "6420 a is clear"]


def test_a_stop_before_clear_is_stopped_and_a_restart_goes_on_where_it_was() -> None:
    """The head that was seen stays seen; the end comes later by as long as the motor stood."""
    plan = plan_of(1, lamp="none")
    events = [*starts(plan), event(plan, 100.0, "motor_stop", "a"), event(plan, 130.0, "motor_start", "a")]
    lines, _ = played(plan, events, 6400.0)
    phases = [line for line in lines if " is " in line]
    assert phases == ["0 a is rolling", "40 a is showing", "100 a is stopped", "130 a is showing", "6350 a is tail"]


def test_a_pass_finds_a_motor_running_that_nobody_reported() -> None:
    """Where the motor is only tapped, the film that goes by shows that it runs."""
    plan = plan_of(2, motor="tap", lamp="none")
    told = played(
        plan, [event(plan, 0.0, "motor_start", "a"), event(plan, 41.0 + plan.ahead_s[1], "mark_pass", "b", mark="t1")]
    )[0]
    assert any(line.endswith("b is showing") for line in told)


def test_marks_at_one_point_of_the_film_are_one_pass() -> None:
    """A cue at the first trailer is the head."""
    plan = plan_of(1)
    _, fold = played(plan, [*starts(plan), event(plan, 40.0, "mark_pass", "a", mark="t1")])
    assert fold.evidence.stations[0].passes == {"t1": 40_000_000, "head": 40_000_000}


def test_lines_of_records_name_what_changed() -> None:
    """The test's own shorthand says instant, change, level and key."""
    plan = plan_of(2)
    engine = live(plan, [event(plan, 0.0, "motor_start", "a")], 0.2)
    assert next(line_of(record) for record in engine.advance(600_000)) == "0.5 raised act start_missing:b"
    assert alarms_of(plan, [], 1.0) == []
