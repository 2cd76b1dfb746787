"""The named scenarios and the demonstration: each does what its sentence says, for every seed tried."""

from collections import Counter

import numpy as np
import pytest

from adapters.drill import Truth, simulate
from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.demo import demo_events, demo_scenario
from server.timeline.engine import replay
from server.timeline.events import order_key, refusal
from server.timeline.plan import Plan
from server.timeline.view import AlarmRecord
from tests.adapters.shows import chain_plan, larkspur

PLAN = larkspur()
SEEDS = range(3)


def truths(name: str) -> list[Truth]:
    return [simulate(PLAN, scenario_for(name, PLAN, seed), seed).truth for seed in SEEDS]


@pytest.mark.parametrize("name", CATALOGUE)
def test_every_scenario_runs_on_any_plan(name: str) -> None:
    """Events belong to the plan and have ids of their own, on nine houses, on two, and with taps alone."""
    for plan in (PLAN, chain_plan(2), chain_plan(2, inputs=("tap",) * 4)):
        scenario = scenario_for(name, plan, 1)
        events = simulate(plan, scenario, 1).events
        assert (scenario.name, scenario.text) == (name, CATALOGUE[name].text)
        assert [refusal(event, plan) for event in events if refusal(event, plan)] == []
        assert len({event.id for event in events}) == len(events)


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_scenario_is_given_again_by_its_name_and_seed(name: str) -> None:
    """The same name and seed are the same scenario."""
    assert scenario_for(name, PLAN, 5) == scenario_for(name, PLAN, 5)


@pytest.mark.parametrize(
    "name",
    [
        *("clean", "careless", "reading", "late_strike", "lamp_out", "late_motor", "mains_change", "no_failsafe"),
        *("short_tail", "long_tail", "foil_missing"),
    ],
)
def test_what_is_no_trouble_for_the_film_spends_no_reserve(name: str) -> None:
    """The show runs to its end at every gate."""
    for truth in truths(name):
        assert truth.spent == ()
        assert all("tail_end" in passes for passes in truth.passes.values())


@pytest.mark.parametrize("name", ["trip", "motor_lost", "short_reserve", "stop_group"])
def test_what_spends_a_reserve_ends_the_show(name: str) -> None:
    """A failsafe trips, and the crew stops the chain."""
    for truth in truths(name):
        assert truth.trips
        assert len(truth.course.chain_stops) == 1


def test_a_short_reserve_trips_before_the_planned_one_is_spent() -> None:
    """At six tenths of what the plan says."""
    for truth in truths("short_reserve"):
        reserve_s = next(link.reserve_s for link in PLAN.links if link.id == truth.spent[0].link)
        assert abs(truth.spent[0].slack_s) == pytest.approx(0.6 * reserve_s, abs=1e-6)


def test_a_tight_link_is_past_half_its_reserve_and_comes_back() -> None:
    """The crew trims the motor in time."""
    for truth in truths("tight_link"):
        t_s = np.linspace(0.0, truth.end_s, 3000)
        worst = max(np.nanmax(np.abs(truth.slack_s(link.id, t_s))) / link.reserve_s for link in PLAN.links)
        assert worst > 0.7


def test_a_film_jump_moves_the_two_links_of_one_gate() -> None:
    """Film that one gate gains or loses is lost or gained by the next link."""
    for truth in truths("film_jump"):
        (jump,) = truth.scenario.faults
        at_s = getattr(jump, "at_s", 0.0)
        around_s = np.array([at_s - 1.0, at_s + 4.0])
        changes_s = {link.id: float(np.diff(truth.slack_s(link.id, around_s))[0]) for link in PLAN.links}
        moved = [change_s for change_s in changes_s.values() if abs(change_s) > 0.1]
        assert len(moved) in {1, 2}
        assert abs(sum(moved)) < 0.1 or len(moved) == 1


def test_a_stuck_motor_is_started_with_the_chain_again() -> None:
    """The print is rethreaded and the show goes to its end."""
    for truth in truths("stuck_motor"):
        assert truth.trips or truth.spent
        assert all("tail_end" in passes for passes in truth.passes.values())


@pytest.mark.parametrize(("name", "sign"), [("short_tail", -1.0), ("long_tail", 1.0)])
def test_a_tail_that_is_much_off_is_more_so_than_a_plan_takes_for_possible(name: str, sign: float) -> None:
    """By more than three of its standard deviations, and the film's end is still behind the last picture."""
    for truth in truths(name):
        off_s = truth.course.film_end_s - PLAN.print_s
        assert sign * off_s > 3.0 * PLAN.timing.tail_sigma_s
        assert all(passes["end"] < passes["tail_end"] for passes in truth.passes.values())


def test_a_chain_that_stops_with_light_burns_film_in_every_picture() -> None:
    """Every house whose picture was on: for longer than its film can bear, and not for a minute."""
    for truth in truths("stop_with_light"):
        ((stopped_s, _), *_) = truth.course.chain_stops
        for station in PLAN.stations:
            spans = [span for span in truth.in_the_light[station.id] if span.from_s < stopped_s + 5.0]
            burned_s = [span.until_s - span.from_s for span in spans]
            assert [station.lamp.gate_limit_s < seconds < 60.0 for seconds in burned_s] == [True]


@pytest.mark.parametrize("groups", [(), (("h5", "h4", "h6"),), (("h3", "h1"), ("h8", "h7"))])
def test_motors_that_stop_together_leave_a_rest_that_runs_on(groups: tuple[tuple[str, ...], ...]) -> None:
    """Those of one of the plan's groups; without any, two neighbours. The rest runs until it is stopped."""
    plan = Plan.model_validate({name: getattr(PLAN, name) for name in Plan.model_fields} | {"stop_groups": groups})
    for seed in SEEDS:
        truth = simulate(plan, scenario_for("stop_group", plan, seed), seed).truth
        stops_s = {station.id: truth.course.spells[k][0].off_s for k, station in enumerate(plan.stations)}
        first_s = min(stops_s.values())
        together = {station for station, at_s in stops_s.items() if at_s - first_s < 0.5}
        neighbours = {(link.upstream, link.downstream) for link in plan.links}
        assert together in [set(group) for group in groups or neighbours]


def test_a_slow_crew_spends_the_reserve_and_laces_the_film_anew() -> None:
    """It stops the chain late, says what it did before the restart, and the show goes to its end."""
    for seed in SEEDS:
        drill = simulate(PLAN, scenario_for("slow_crew", PLAN, seed), seed)
        ((stopped_s, started_s), *_) = drill.truth.course.chain_stops
        assert drill.truth.spent[0].at_s < stopped_s - 3.0
        said = Counter(event.kind for event in drill.events)
        assert said["relaced"] >= 1
        assert said["relaced"] + said["slack_read"] == len(PLAN.links)
        assert (said["ready"], said["hold"]) == (len(PLAN.stations), 1)
        assert started_s is not None
        assert all("tail_end" in passes for passes in drill.truth.passes.values())


def test_a_foil_that_is_missing_is_told_of_by_no_detector() -> None:
    """The others are, at every station that has one."""
    for seed in SEEDS:
        drill = simulate(PLAN, scenario_for("foil_missing", PLAN, seed), seed)
        (fault,) = drill.truth.scenario.faults
        seen = Counter(event.mark for event in drill.events if event.source.startswith("contact"))
        detectors = sum(station.inputs.cue == "contact" for station in PLAN.stations)
        assert seen[getattr(fault, "mark", "")] == 0
        assert {count for mark, count in seen.items() if mark is not None} == {detectors}


def test_missing_inputs_are_missing() -> None:
    """A booth's contacts go and come back."""
    events = simulate(PLAN, scenario_for("missing_inputs", PLAN, 1), 1).events
    kinds = Counter(event.kind for event in events)
    assert kinds["feed_down"] == 1
    assert kinds["feed_up"] == 1 + len({station.booth for station in PLAN.stations})


@pytest.mark.parametrize("seed", range(4))
def test_the_demonstration_goes_wrong_in_two_places_only(seed: int) -> None:
    """One lamp is late; one link is half spent before 45 minutes, nine tenths spent before 70, and comes back."""
    truth = simulate(PLAN, demo_scenario(PLAN), seed).truth
    assert truth.trips == ()
    t_s = np.linspace(0.0, 6800.0, 6801)
    used = {link.id: np.abs(truth.slack_s(link.id, t_s)) / link.reserve_s for link in PLAN.links}
    tight = used.pop("h8>h7")
    assert t_s[np.argmax(tight > 0.5)] < 45 * 60
    assert 45 * 60 < t_s[np.argmax(tight > 0.9)] < 70 * 60
    assert tight[-1] < 0.4
    assert max(np.max(share) for share in used.values()) < 0.4
    late = [
        station.id
        for station, picture in zip(PLAN.stations, truth.pictures, strict=True)
        if picture.lit[-1].from_s > truth.passes[station.id]["head"] - station.lamp.latest_s
    ]
    assert late == ["h5"]


@pytest.mark.parametrize("seed", range(2))
def test_the_demonstration_is_told_as_it_goes(seed: int) -> None:
    """The engine tells of the late strike and of the tight link, watch and then act, and of nothing else to act on."""
    events = sorted(demo_events(PLAN, seed), key=lambda event: order_key(event, PLAN))
    alarms = [record for record in replay(PLAN, events)[0] if isinstance(record, AlarmRecord)]
    acts = {alarm.key for alarm in alarms if alarm.level == "act"}
    assert acts - {"slack_forecast:h8>h7"} == {"strike_missed:h5", "dark_gate:h5", "slack_tight:h8>h7"}
    first = {(alarm.key, alarm.level): alarm.at_us / 1e6 for alarm in reversed(alarms)}
    assert first["slack_tight:h8>h7", "watch"] < 60 * 60
    assert first["slack_tight:h8>h7", "watch"] < first["slack_tight:h8>h7", "act"] < 75 * 60
