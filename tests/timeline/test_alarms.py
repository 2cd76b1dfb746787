"""The table of alarms and the board: first-outs, acknowledging, shelving, the states of ISA-18.2.

When each kind is raised, held and cleared is in the test_alarms_* beside this.
"""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.drill import scenario_for, simulate
from server.timeline.alarm_kinds import ALARM_KINDS, subjects_of
from server.timeline.alarms import AlarmBoard
from server.timeline.condition import Condition, steady
from server.timeline.engine import Engine
from server.timeline.events import at_us, order_key
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import Level
from server.timeline.wording import OTHERWISE
from tests.adapters.shows import chain_plan
from tests.timeline.story import alarm, alarms_of, event, lamps, live, plan_of, quiet, starts

FIXTURES = Path(__file__).parents[2] / "fixtures"
LOOSE_AND_GONE: tuple[tuple[str, Level], ...] = (("slack_loose:a>b", "watch"), ("slack_forecast:b>c", "act"))
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


def keys(engine: Engine) -> list[str]:
    return [view.key for view in engine.view().alarms]


def turned(key: str, level: Level, *causes: str) -> Condition:
    """A condition that is on from the start."""
    kind, _, subject = key.partition(":")
    steps = steady(0, level)
    return Condition(kind, subject, steps, steps, "", causes)


def golden(kind: str) -> tuple[Plan, list[dict[str, Any]]]:
    """The plan of the recording that is named after a kind, and what was told of that kind as it came on."""
    header = (FIXTURES / "recordings" / "good" / f"{kind}.events.jsonl").read_text("utf-8").partition("\n")[0]
    name = json.loads(header)["plan"]
    account = (FIXTURES / "expected" / f"{kind}.replay.jsonl").read_text("utf-8").splitlines()
    told = [line for line in map(json.loads, account) if line.get("kind") == kind and line["state"] == "raised"]
    return parse_plan((FIXTURES / "plans" / name).read_text("utf-8"), name), told


@pytest.mark.parametrize("kind", ALARM_KINDS)
def test_every_kind_says_who_it_is_about_and_what_is_wrong(kind: str) -> None:
    """As its row of the table has it, and with nothing left to fill in; without a text there it is written anew."""
    row = ALARM_KINDS[kind]
    plan, told = golden(kind)
    subjects = subjects_of(row.subject, plan)
    texts = [row.text, *(text for name, text in OTHERWISE.items() if name.startswith(f"{kind}_"))]
    words = "|".join(".*".join(map(re.escape, re.split(r"{\w+}", text))) or "House .+: .+" for text in texts)
    assert told
    for line in told:
        assert line["subject"].startswith("contact:") if subjects is None else line["subject"] in subjects
        assert re.fullmatch(words, line["text"])
        assert not re.search(r"[{}]|None", line["text"])


def test_every_kind_has_a_test_that_is_named_after_it() -> None:
    """It shows the alarm raised, held and cleared, in the file of its group."""
    files = Path(__file__).parent.glob("test_alarms_*.py")
    named = re.compile(r"^def test_(\w+)_is_raised_held_and_cleared\(", re.MULTILINE)
    found = [kind for file in files for kind in named.findall(file.read_text("utf-8"))]
    assert sorted(found) == sorted(ALARM_KINDS)


def test_a_show_in_which_all_goes_well_raises_nothing() -> None:
    """Motors together, lamps in their windows: no alarm in ten minutes."""
    plan = plan_of()
    assert alarms_of(plan, quiet(plan), 600.0) == []


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


def test_an_alarm_that_went_off_says_when() -> None:
    """Whoever did not see it learns how old the news is, however long it had been on."""
    plan = plan_of(1)
    engine = live(plan, [*starts(plan), *lamps(plan), event(plan, 500.0, "lamp_out", "a")], 4500.0)
    assert [alarm.off_s for alarm in engine.view().alarms] == [None]
    engine.take(event(plan, 4600.0, "lamp_lit", "a"), 4_600_000_000)
    (alarm,) = engine.view().alarms
    assert (alarm.state, alarm.since_s, alarm.off_s) == ("returned", 500.0, 4600.0)


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
