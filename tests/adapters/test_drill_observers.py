"""People and contacts in the drill, held against what is published about people and contacts."""

from collections import Counter

import numpy as np
import pytest

from adapters.drill import Scenario, simulate
from adapters.drill.bounce import BOUNCE_MEAN_S, BOUNCE_USUAL_S, BOUNCE_WORST_S, SAMPLE_S, bounce_s, changes, edges_s
from adapters.drill.people import REACTION_MEAN_S, reaction_s, tap_after_s
from adapters.drill.scenario import Crew, FeedLost, LampOut, WrongTap
from server.timeline.events import Event, at_us
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan

TAPPED = ("tap", "tap", "tap", "tap")
SURE = Crew(missed=0.0, strike_fails=0.0)


def of_kind(events: list[Event], kind: str) -> list[Event]:
    return [event for event in events if event.kind == kind]


def errors_s(plan: Plan, crew: Crew, seeds: int) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """How far every pass counts from when it truly was."""
    found = []
    for seed in range(seeds):
        drill = simulate(plan, Scenario("d", "", crew=crew), seed)
        for event in of_kind(drill.events, "mark_pass"):
            true_s = drill.truth.pass_s(event.station or "", event.mark or "")
            assert true_s is not None
            found.append(at_us(event, plan) / 1e6 - true_s)
    return np.array(found)


def test_reactions_have_the_published_mean() -> None:
    """Woods et al. 2015, Front. Hum. Neurosci. 9:131 (read): 231 ms, the apparatus included; four standard errors."""
    rng = np.random.default_rng(1)
    times_s = np.array([reaction_s(rng) for _ in range(20_000)])
    assert times_s.mean() == pytest.approx(0.231, abs=4 * times_s.std() / 20_000**0.5)
    assert REACTION_MEAN_S == 0.231
    assert times_s.min() >= 0.1  # chosen: nobody who waits for it is faster
    assert np.median(times_s) < times_s.mean()  # the tail is to the right


def test_taps_come_as_late_and_as_spread_as_a_plan_takes_them_for() -> None:
    """formats.md: `tap_lag_s` 0.25 and `tap_sigma_s` 0.30 by default; the crew's own spread is chosen to be near."""
    rng = np.random.default_rng(2)
    lags_s = np.array([tap_after_s(rng, 0.28, surprise=False) for _ in range(20_000)])
    assert lags_s.mean() == pytest.approx(0.25, abs=0.01)
    assert lags_s.std() == pytest.approx(0.30, abs=0.02)


def test_nobody_taps_a_surprise_at_once() -> None:
    """What nobody watches for is noticed seconds later."""
    rng = np.random.default_rng(3)
    late_s = np.array([tap_after_s(rng, 0.0, surprise=True) for _ in range(2000)])
    assert late_s.mean() > 1.5


def test_contacts_bounce_as_published() -> None:
    """J. Ganssle, A guide to debouncing (quoted second hand): mean 1.557 ms, usual 6.2 ms at most, worst 157 ms."""
    rng = np.random.default_rng(4)
    times_s = np.array([bounce_s(rng) for _ in range(40_000)])
    usual_s = times_s[times_s <= 0.0062]
    assert usual_s.mean() == pytest.approx(0.001557, rel=0.03)
    assert set(times_s[times_s > 0.0062].tolist()) == {0.157}
    assert (BOUNCE_MEAN_S, BOUNCE_USUAL_S, BOUNCE_WORST_S) == (0.001557, 0.0062, 0.157)


def test_a_contact_ends_changed_after_an_odd_number_of_edges() -> None:
    """However it bounces, a contact that closed is closed."""
    rng = np.random.default_rng(5)
    for _ in range(500):
        edges = edges_s(rng, 10.0)
        assert len(edges) % 2 == 1
        assert edges == sorted(edges)
        assert edges[0] == 10.0


@pytest.mark.parametrize("closed", [True, False])
def test_a_debounced_contact_says_one_thing_near_the_truth(closed: bool) -> None:
    """Sampled twenty times a second and seen twice, a change is dated within half a sample and its bounce."""
    rng = np.random.default_rng(6)
    found = [changes(rng, 100.0, closed=closed) for _ in range(3000)]
    last = np.array([seen[-1].at_s for seen in found]) - 100.0
    assert all(seen[-1].closed is closed for seen in found)
    assert sum(len(seen) > 1 for seen in found) <= 6  # only a bounce of 157 ms, one in 2000, can be seen twice
    ordinary = np.array([seen[0].at_s for seen in found if len(seen) == 1]) - 100.0
    assert np.quantile(np.abs(ordinary), 0.99) <= SAMPLE_S / 2 + BOUNCE_USUAL_S
    assert last.std() < 0.025


def test_passes_by_contact_are_as_good_as_a_plan_takes_them_for() -> None:
    """formats.md: `contact_sigma_s` 0.02 by default; what is seen is no worse and not systematically late."""
    found = errors_s(chain_plan(), SURE, 10)
    assert found.std() < 0.02
    assert abs(found.mean()) < 0.005


def test_passes_by_tap_are_as_good_as_a_plan_takes_them_for() -> None:
    """formats.md: a tap counts at `t` less 0.25 s, to 0.30 s."""
    found = errors_s(chain_plan(inputs=TAPPED), SURE, 20)
    assert found.std() == pytest.approx(0.29, abs=0.03)
    assert abs(found.mean()) < 0.04


def test_an_exact_crew_sees_everything_when_it_is() -> None:
    """With no errors anywhere every event counts at its true time, taps and contacts alike, to a microsecond."""
    for inputs in (TAPPED, ()):
        assert np.max(np.abs(errors_s(chain_plan(inputs=inputs), Crew(exact=True, missed=0.0), 1))) <= 1e-6


@pytest.mark.parametrize("way", ["contact", "tap", "none"])
def test_what_is_seen_follows_each_input(way: str) -> None:
    """formats.md: contact, tap or none, for motor, lamp, douser and cue."""
    events = simulate(chain_plan(inputs=(way,) * 4), Scenario("d", "", crew=SURE), 1).events
    kinds = {event.kind for event in events}
    sources = {event.source.partition(":")[0] for event in events}
    seen = {"lamp_lit", "lamp_out", "douser_open", "douser_shut", "mark_pass", "motor_stop", "film_trip"}
    if way == "none":
        assert kinds == {"chain_start"}  # one person starts the chain, and says so
        return
    assert sources == {way}
    assert kinds == seen | ({"motor_start", "feed_up"} if way == "contact" else {"chain_start"})


def test_a_chain_start_stands_in_for_motors_that_are_on_no_contact() -> None:
    """Where every motor is on a contact nobody has to say that the chain was started."""
    tapped = simulate(chain_plan(inputs=("tap", "none", "none", "none")), Scenario("d", ""), 1).events
    on_contact = simulate(chain_plan(inputs=("contact", "none", "none", "none")), Scenario("d", ""), 1).events
    assert len(of_kind(tapped, "chain_start")) == 1
    assert of_kind(tapped, "motor_start") == []
    assert of_kind(on_contact, "chain_start") == []
    assert len(of_kind(on_contact, "motor_start")) == 3


def test_taps_go_wrong_as_often_as_the_crew_makes_them() -> None:
    """Shares of all taps, and every one of them is in the truth."""
    crew = Crew(missed=0.1, late=0.1, twice=0.1, wrong_house=0.1)
    counts: Counter[str] = Counter()
    passes = 0
    for seed in range(40):
        drill = simulate(chain_plan(5, inputs=("none", "none", "none", "tap")), Scenario("d", "", crew=crew), seed)
        passes += sum(fact.kind == "mark_pass" for fact in drill.truth.facts)
        counts.update(mistake.text.split(" ")[-1] for mistake in drill.truth.mistakes)
        ids = {event.id for event in drill.events}
        assert {mistake.event_id for mistake in drill.truth.mistakes} - {None} <= ids
    assert counts["tapped"] / passes == pytest.approx(0.1, abs=0.03)  # was not tapped
    assert counts["late"] / passes == pytest.approx(0.08, abs=0.03)
    assert counts["twice"] / passes / 2 == pytest.approx(0.08, abs=0.03)


def test_a_wrong_tap_is_where_the_scenario_puts_it_and_is_taken_back() -> None:
    """The pass is told for another station, and the retraction names that tap."""
    slip = WrongTap("s1", "r2", as_station="s2", takes_back_s=8.0)
    drill = simulate(chain_plan(inputs=TAPPED), Scenario("d", "", (slip,), crew=SURE), 1)
    at_s2 = [event for event in of_kind(drill.events, "mark_pass") if (event.station, event.mark) == ("s2", "r2")]
    assert len(at_s2) == 2
    assert not any((event.station, event.mark) == ("s1", "r2") for event in drill.events)
    (retract,) = of_kind(drill.events, "retract")
    assert retract.retracts in {event.id for event in at_s2}
    assert [mistake.event_id for mistake in drill.truth.mistakes] == [retract.retracts]


def test_a_lost_contact_box_sees_nothing_and_then_what_has_changed() -> None:
    """Between feed_down and feed_up nothing is dated by it but what it finds changed, with all the doubt of the gap."""
    lost = FeedLost("North", 1000.0, 600.0)
    out = LampOut("s1", 1200.0)
    drill = simulate(chain_plan(), Scenario("d", "", (lost, out), crew=SURE), 1)
    kinds = [event.kind for event in drill.events]
    assert kinds.count("feed_down") == 1
    assert kinds.count("feed_up") == 2
    inside = [event for event in drill.events if 1000e6 <= at_us(event, drill.truth.plan) < 1600e6]
    assert [event.kind for event in inside if event.kind != "feed_down"] == ["lamp_out"]
    (found,) = [event for event in inside if event.kind == "lamp_out"]
    assert found.sigma_s == pytest.approx(600.0 / 12.0**0.5)
