"""Alarms of links: slack that is tight or loose, a reserve that will be gone, and one that is."""

import pytest

from server.timeline.blame import same_motor, to_blame
from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.prospect import Prospect
from server.timeline.suppositions import Supposed
from server.timeline.view import Level
from tests.adapters.shows import chain_plan
from tests.timeline.story import alarm, alarms_of, event, lamps, levels, live, plan_of, played, starts


def read_at_rest(plan: Plan, *slack_s: float) -> list[Event]:
    """Readings of the first link, ten seconds apart from -100 s on, while no motor runs: each is how it is."""
    return [
        event(plan, -100.0 + 10.0 * n, "slack_read", "b", seconds=seconds, sigma_s=0.001)
        for n, seconds in enumerate(slack_s)
    ]


@pytest.mark.parametrize(
    ("shares", "found"),
    [((0.55, 0.42, 0.38), [None, "watch", "watch", None]), ((0.95, 0.82, 0.78), [None, "act", "act", "watch"])],
)
def test_slack_loose_is_raised_held_and_cleared(shares: tuple[float, ...], found: list[Level | None]) -> None:
    """At a share of the reserve; it stays a tenth of the reserve lower, and no further."""
    plan = plan_of(2)
    events = read_at_rest(plan, *(share * plan.links[0].reserve_s for share in shares))
    assert levels(plan, events, "slack_loose:a>b", -100.1, -99.0, -89.0, -79.0) == found


@pytest.mark.parametrize(
    ("shares", "found"),
    [((0.55, 0.42, 0.38), [None, "watch", "watch", None]), ((0.95, 0.82, 0.78), [None, "act", "act", "watch"])],
)
def test_slack_tight_is_raised_held_and_cleared(shares: tuple[float, ...], found: list[Level | None]) -> None:
    """The same the other way."""
    plan = plan_of(2)
    events = read_at_rest(plan, *(-share * plan.links[0].reserve_s for share in shares))
    assert levels(plan, events, "slack_tight:a>b", -100.1, -99.0, -89.0, -79.0) == found


def test_reserve_spent_is_raised_held_and_cleared() -> None:
    """Past the reserve, and until a tenth of it is left."""
    plan = plan_of(2)
    events = read_at_rest(plan, *(share * plan.links[0].reserve_s for share in (1.05, 0.92, 0.88)))
    found = levels(plan, events, "reserve_spent:a>b", -100.1, -99.0, -89.0, -79.0)
    assert found == [None, "act", "act", None]


def test_slack_forecast_is_raised_held_and_cleared() -> None:
    """Motor b is slow by 2000 ppm, then by less, then not at all: two readings of that, and the film will not run out.

    By the first it is still expected to.
    """
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    slack_s = {200.0: 0.4, 400.0: 0.8, 500.0: 0.95, 600.0: 1.05, 700.0: 1.1, 800.0: 1.1}
    reads = [event(plan, at_s, "slack_read", "b", seconds=s, sigma_s=0.03) for at_s, s in slack_s.items()]
    found = levels(plan, [*starts(plan), *reads], "slack_forecast:a>b", 450.0, 470.0, 700.0, 800.0)
    assert found == [None, "watch", "watch", None]


def test_slack_is_told_at_half_and_nine_tenths_and_let_go_a_tenth_lower() -> None:
    """A start late by 1.0 s uses half of a reserve of 2 s; a reading of less clears it."""
    plan = plan_of(2, timing="contact_sigma_s = 0.001\nstart_grace_s = 3.0")
    late = [event(plan, 0.0, "motor_start", "a"), event(plan, 1.0, "motor_start", "b"), *lamps(plan)]
    assert alarms_of(plan, late, 5.0) == ["1 raised watch slack_loose:a>b"]
    calm = event(plan, 10.0, "slack_read", "b", seconds=0.9, sigma_s=0.001)
    assert "cleared" not in "".join(alarms_of(plan, [*late, calm], 12.0))


def test_slack_of_a_motor_that_has_just_stopped_is_told_with_its_stop() -> None:
    """Half of the reserve is used before it is known that the motor is lost; it is told then, and under that."""
    plan = plan_of(3, lamp="none")
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 0.0), ("b", 0.9), ("c", 0.0))]
    told = alarms_of(plan, [*late, event(plan, 600.0, "motor_stop", "b")], 605.0)
    assert [line for line in told if "raised" in line and "slack_loose:a>b" in line] == [
        "600.5 raised watch slack_loose:a>b < motor_lost:b"
    ]


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


def test_a_forecast_by_itself_is_told_at_the_desk() -> None:
    """It follows from nothing, least of all from itself."""
    plan = plan_of(3, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [event(plan, at_s, "slack_read", "b", seconds=0.002 * at_s, sigma_s=0.03) for at_s in (200.0, 400.0)]
    forecast = alarm(live(plan, [*starts(plan), *reads], 480.0), "slack_forecast:a>b")
    assert (forecast.cause, forecast.told, forecast.state) == (None, True, "unacknowledged")


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
