"""Each fault is told once as what it is, with its size, and a show without one is told of nothing."""

import random
import re

import pytest

from server.timeline.diagnosis import Fault, jumped
from server.timeline.events import Event
from server.timeline.fold import Fold
from server.timeline.track import Track
from tests.adapters.shows import chain_plan
from tests.timeline.story import event, plan_of, played, starts

PLAN = chain_plan(4, minutes=120)
REELS = 10


def passes(late_s: dict[tuple[int, int], float], *, without: int | None = None, sigma_s: float = 0.0) -> list[Event]:
    """Every cue at every gate, later by `late_s` of (station, reel), but that of the reel that is off the print."""
    chance = random.Random(3)
    return [
        event(
            PLAN,
            40.0 + PLAN.ahead_s[k] + 600.0 * n + late_s.get((k, n), 0.0) + chance.gauss(0.0, sigma_s),
            "mark_pass",
            station.id,
            mark=f"r{n}",
        )
        for k, station in enumerate(PLAN.stations)
        for n in range(REELS)
        if n != without
    ]


def told_of(events: list[Event]) -> tuple[list[str], Fold]:
    """What was told as what it is, in the order in which it was, and what became of the show."""
    told: list[str] = []
    track = Track(PLAN)
    for one in sorted(events, key=lambda one: one.t):
        before = track.tip.evidence.told_faults
        track.insert(one)
        evidence = track.tip.evidence
        if evidence.told_faults != before:
            told += [state.misfit_text for state in evidence.stations if state.misfit_us == track.tip.at_us]
    return told, track.tip


def test_a_show_without_a_fault_is_told_of_nothing() -> None:
    """With the errors of contacts."""
    _, fold = played(PLAN, [*starts(PLAN), *passes({}, sigma_s=0.02)])
    assert fold.evidence.faults == frozenset()


@pytest.mark.parametrize("by_s", [-2.4, 2.4])
def test_a_path_is_told_by_the_first_pass_over_it(by_s: float) -> None:
    """Three in a hundred of it are over two seconds; every gate from there on is as late."""
    told, fold = told_of([*starts(PLAN), *passes({(k, n): by_s for k in (2, 3) for n in range(REELS)})])
    assert fold.evidence.faults == {Fault("path", "s1>s2")}
    assert told[0].startswith(f"House 1 to 2: the path is {abs(by_s):.1f} s of film (")
    assert ("longer" if by_s > 0.0 else "shorter") in told[0]
    assert fold.evidence.outlook.slack == pytest.approx([0.0] * 3, abs=0.1)


@pytest.mark.parametrize("by_s", [-1.2, 1.2])
def test_film_that_jumped_is_told_apart_from_a_motor_that_runs_off(by_s: float) -> None:
    """By its second pass, with whose it was and how much; the alarm of its slack says so too."""
    late = {(1, n): by_s for n in range(3, REELS)}
    told, fold = told_of([*starts(PLAN), *passes(late)])
    assert fold.evidence.faults == {Fault("film_jumped", "s1")}
    film = f"1.2 s of film too {'little' if by_s > 0.0 else 'much'} went by"
    assert told == [f"House 1: the film jumped: {film}, once; the motor runs as before"]
    kind = "slack_loose" if by_s > 0.0 else "slack_tight"
    assert fold.evidence.outlook.slack[:2] == pytest.approx([by_s, -by_s], abs=0.1)
    assert fold.board.alarms[f"{kind}:s0>s1"].text.endswith("(film jumped in House 1)")


def test_a_motor_that_runs_off_is_no_film_that_jumped() -> None:
    """It is late by more at every reel."""
    late = {(1, n): 0.0006 * 600.0 * (n - 2) for n in range(3, REELS)}
    seen = [one for one in passes(late) if (one.mark or "") < "r7"]
    _, fold = played(PLAN, [*starts(PLAN), *seen])
    assert fold.evidence.faults == frozenset()
    assert [alarm for alarm in fold.board.alarms.values() if "House 1's motor runs slow" in alarm.text]


@pytest.mark.parametrize("rate", [-0.002, 0.002])
def test_the_mains_are_told_as_all_motors(rate: float) -> None:
    """From a moment on all run faster or slower, and no link holds more for it."""
    begins_s = 2500.0
    late = {}
    for k in range(len(PLAN.stations)):
        for n in range(REELS):
            since_s = 40.0 + PLAN.ahead_s[k] + 600.0 * n - begins_s
            late[k, n] = -rate * max(since_s, 0.0)
    told, fold = told_of([*starts(PLAN), *passes(late)])
    assert fold.evidence.faults == {Fault("all_rates", "chain")}
    assert re.fullmatch(r"All motors: they run 0\.(19|20) % (\w+) than before; that is no slack", told[0])
    assert ("faster" if rate > 0.0 else "slower") in told[0]
    assert fold.evidence.outlook.slack == pytest.approx([0.0] * 3, abs=0.1)


def test_a_foil_that_two_gates_have_not_seen_is_off_the_print() -> None:
    """One gate may have missed it; the second is told so as it is overdue there too."""
    alone = [one for one in passes({}) if (one.station, one.mark) != ("s0", "r4")]
    _, fold = played(PLAN, [*starts(PLAN), *alone])
    assert fold.evidence.faults == frozenset()
    told, fold = told_of([*starts(PLAN), *passes({}, without=4)])
    assert fold.evidence.faults == {Fault("foil_missing", "r4")}
    assert told == ["House 1: no house has seen r4: its foil is off the print"]


def test_a_foil_that_is_there_twice_is_told_at_the_second_gate() -> None:
    """As far apart at both; one contact that closes again by itself is no foil."""
    again = [event(PLAN, 40.0 + PLAN.ahead_s[k] + 1204.2, "mark_pass", f"s{k}", mark="r2") for k in (0, 1)]
    _, fold = played(PLAN, [*starts(PLAN), *passes({}), again[0]])
    assert fold.evidence.faults == frozenset()
    told, fold = told_of([*starts(PLAN), *passes({}), *again])
    assert fold.evidence.faults == {Fault("foil_doubled", "r2")}
    assert told == ["House 1: r2 has two foils, 4.2 s apart"]


@pytest.mark.parametrize("by_s", [-2.0, -1.6, 1.6, 2.0])
def test_film_that_jumped_at_the_first_gate_is_no_splice(by_s: float) -> None:
    """Up to a whole reserve: the next house sees the mark where it was, and the link's slack is what jumped."""
    _, fold = played(PLAN, [*starts(PLAN), *passes({(0, n): by_s for n in range(3, REELS)})])
    assert fold.evidence.faults == {Fault("film_jumped", "s0")}
    assert fold.evidence.outlook.slack == pytest.approx([-by_s, 0.0, 0.0], abs=0.1)


@pytest.mark.parametrize("by_s", [-1.6, 1.2])
def test_film_that_jumped_at_one_house_is_no_clock_of_its_feed(by_s: float) -> None:
    """The other house of the feed tells its passes when they were due."""
    shown = [
        event(PLAN, (one.t - PLAN.zero).total_seconds(), "mark_pass", one.station, mark=one.mark, source=source)
        for one in passes({(2, n): by_s for n in range(3, REELS)})
        for source in ["contact:b/1" if one.station in {"s0", "s2"} else "contact:a/1"]
    ]
    _, fold = played(PLAN, [*starts(PLAN), *shown])
    assert fold.evidence.faults == {Fault("film_jumped", "s2")}
    assert fold.evidence.outlook.slack[1:] == pytest.approx([by_s, -by_s], abs=0.1)


def test_each_jump_is_told() -> None:
    """A second one at the same house asks for another look."""
    late = {(1, n): 1.2 if n < 7 else -0.3 for n in range(3, REELS)}
    told, _ = told_of([*starts(PLAN), *passes(late)])
    assert [text.partition(" of film")[0] for text in told] == [
        "House 1: the film jumped: 1.2 s",
        "House 1: the film jumped: 1.5 s",
    ]


def test_of_the_only_house_nothing_is_told_that_only_a_second_would_show() -> None:
    """Film that jumped and a splice look alike there."""
    plan = chain_plan(1, minutes=100)
    seen = [event(plan, 40.0 + 600.0 * n + (2.0 if n > 2 else 0.0), "mark_pass", "s0", mark=f"r{n}") for n in range(9)]
    _, fold = played(plan, [*starts(plan), *seen])
    assert fold.evidence.faults == frozenset()


def test_a_foil_is_not_off_where_nobody_was_there_to_see_it() -> None:
    """Not while contacts are away, not before they came, and not where only fingers tell."""
    away = [
        event(PLAN, 2300.0, "feed_down", text="its cable is out"),
        event(PLAN, 2900.0, "feed_up"),
    ]
    late = [one for one in passes({}) if (one.mark or "") >= "r5"]
    taps = [
        event(PLAN, 40.0 + PLAN.ahead_s[k] + 600.0 * n, "mark_pass", f"s{k}", mark=f"r{n}", source="tap:x")
        for k in range(4)
        for n in (0, 3, 4)
    ]
    for seen in ([*away, *passes({}, without=4)], late, taps):
        _, fold = played(PLAN, [*starts(PLAN), *seen])
        assert fold.evidence.faults == frozenset()


def test_a_foil_that_another_house_saw_is_on_the_print() -> None:
    """Its own detector missed it, and the next one's: it is overdue there too, and that is all."""
    plan = plan_of(5, lamp="none", cue="contact")
    seen = [
        event(plan, mark.x_s + ahead_s, "mark_pass", station.id, mark=mark.id)
        for station, ahead_s in zip(plan.stations, plan.ahead_s, strict=True)
        for mark in (plan.mark("t1"), plan.mark("t2"))
        if (station.id, mark.id) not in {("d", "t2"), ("e", "t2")}
    ]
    _, fold = played(plan, [*starts(plan), *seen], 460.0)
    texts = [alarm.text for alarm in fold.board.alarms.values() if "t2 is overdue" in alarm.text]
    assert texts
    assert not [text for text in texts if "off the print" in text]


def test_what_is_told_changes_no_state_that_was_kept() -> None:
    """A clock is told of at a house whose pass did not show it: taken back, all is as if it had not been."""
    plan = chain_plan(6, minutes=120)
    seen = [
        event(
            plan,
            40.0 + plan.ahead_s[k] + 600.0 * n + (3.0 if k < 3 and n > 3 else 0.0),
            "mark_pass",
            f"s{k}",
            mark=f"r{n}",
            source=f"contact:box{k // 3}/{k}",
        )
        for k in range(6)
        for n in range(8)
    ]
    track, kept = Track(plan), []
    for one in sorted([*starts(plan), *seen], key=lambda one: one.t):
        track.insert(one)
        evidence = track.tip.evidence
        kept.append((evidence, [(state.misfit_us, state.misfit_text) for state in evidence.stations]))
    assert Fault("clock", "contact:box0") in track.tip.evidence.faults
    for evidence, then in kept:
        assert [(state.misfit_us, state.misfit_text) for state in evidence.stations] == then


def test_film_that_was_laced_anew_has_not_jumped() -> None:
    """What it had left on a link is gone, and is no reason any more."""
    late = {(1, n): 1.2 for n in range(3, 5)}
    seen = [one for one in passes(late) if (one.mark or "") < "r5"]
    stops = [event(PLAN, 2900.0, "motor_stop", station.id) for station in PLAN.stations]
    laced = [event(PLAN, 2950.0, "relaced", station.id, source="tap:x") for station in PLAN.stations[1:]]
    _, fold = played(PLAN, [*starts(PLAN), *seen, *stops, *laced])
    assert Fault("film_jumped", "s1") in fold.evidence.faults
    assert jumped(fold.evidence) is None
