"""The bench of single faults: each kind does to events and truth what it says, and nothing else."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from adapters.drill import Truth, scenario_for, simulate
from server.timeline.events import Event, at_us
from tests.bench.single_faults.best import KNOWN_SD, RAMP_S, Effect, FaultBatch
from tests.bench.single_faults.cases import CLOCK_OFF_S, CONTACT_LATE_S, KINDS, Case, case_of, shows_of, single_of
from tests.bench.single_faults.measures import Outcome, measure
from tests.bench.single_faults.naming import FAULT_KINDS, Named
from tests.bench.single_faults.summary import rows, worst
from tests.bench.truth.shows import Show, plan_of
from tests.bench.truth.tellings import Telling

SEED = 5
SIZED = [name for name in KINDS if name not in {"foil_missing", "foil_doubled", "taps_swapped", "tail_off"}]


@cache
def case(kind: str, wired: str = "contacts", seed: int = SEED) -> Case:
    return case_of(Show(wired, kind, seed))


@cache
def clean(seed: int = SEED) -> Truth:
    plan = plan_of("contacts")
    return simulate(plan, scenario_for("clean", plan, seed), seed).truth


def moved_s(kind: str, mark: str) -> list[float]:
    """By how much later than in the clean show of the same nature each gate has a mark."""
    truth = case(kind).truth
    return [truth.passes[station][mark] - passes[mark] for station, passes in clean().passes.items()]


def told_s(events: list[Event], mark: str) -> dict[str, list[float]]:
    """When a mark was told of at each station."""
    plan = plan_of("contacts")
    found: dict[str, list[float]] = {}
    for event in events:
        if event.kind == "mark_pass" and event.mark == mark:
            found.setdefault(event.station or "", []).append(at_us(event, plan) / 1e6)
    return found


def fed_more_s(kind: str, at_s: float) -> dict[str, float]:
    """By how much more film each station has fed than in the clean show of the same nature."""
    truth = case(kind).truth
    then = np.array(at_s)
    return {s.id: float(truth.count_s(s.id, then) - clean().count_s(s.id, then)) for s in truth.plan.stations}


@pytest.mark.parametrize("kind", SIZED)
def test_who_is_told_the_fault_finds_its_size_within_its_error(kind: str) -> None:
    """And learns of it what the evidence holds."""
    found = case(kind)
    last = found.best.sizes()[-1]
    assert abs(last.mean - found.single.size) <= 4.0 * last.sd
    assert last.sd < 0.5 * found.single.effect.sigma


def test_a_fault_is_known_once_its_size_is_four_deviations_from_none() -> None:
    """Not before, and not before it is there."""
    found = case("film_lost")
    before, first = ([s for s in found.best.sizes() if (s.at_s < (found.known_s or 0.0)) is b] for b in (True, False))
    assert abs(first[0].mean) >= KNOWN_SD * first[0].sd
    assert all(abs(size.mean) < KNOWN_SD * size.sd for size in before)
    assert (found.known_s or 0.0) > found.since_s


def test_nobody_is_asked_for_the_size_of_what_has_none() -> None:
    """It is our own mistake."""
    with pytest.raises(ValueError, match="without a size"):
        FaultBatch(plan_of("contacts"), [], Effect()).known_s(0.0)


def test_one_clock_moves_all_that_its_booths_contacts_tell_and_nothing_else() -> None:
    """By a second and a half, from some moment on in this show and from the start in the next."""
    for seed in (SEED, SEED + 1):
        found = case("clock_off", seed=seed)
        true = {event.id: event for event in simulate(found.plan, found.truth.scenario, seed).events}
        by_s = {event.id: (event.t - true[event.id].t).total_seconds() for event in found.events}
        source, from_s = found.single.right.subject, found.single.effect.at_s - found.single.size
        late = {id_ for id_, one in true.items() if one.source == source and at_us(one, found.plan) / 1e6 >= from_s}
        assert {id_ for id_, moved in by_s.items() if moved} == late
        assert {abs(by_s[id_]) for id_ in late} == {CLOCK_OFF_S}
        assert any(true[id_].kind == "mark_pass" for id_ in late)


def test_one_late_contact_is_that_of_the_cues_of_one_station() -> None:
    """What else its booth tells is as it was."""
    found = case("late_contact")
    true = {event.id: event for event in simulate(found.plan, found.truth.scenario, SEED).events}
    moved = [event for event in found.events if event.t != true[event.id].t]
    assert {(event.station, event.kind) for event in moved} == {(found.single.right.subject, "mark_pass")}
    assert {(event.t - true[event.id].t).total_seconds() for event in moved} == {CONTACT_LATE_S}
    assert min(at_us(event, found.plan) for event in moved) / 1e6 >= found.single.effect.at_s


def test_a_missing_foil_is_told_at_no_gate_and_every_other_at_all() -> None:
    """By contacts nobody sees the picture."""
    found = case("foil_missing")
    told = {mark.id: len(told_s(found.events, mark.id)) for mark in found.plan.marks if mark.cue}
    assert told.pop(found.single.right.subject) == 0
    assert set(told.values()) == {9}


def test_a_stray_foil_is_told_at_every_gate_after_the_first() -> None:
    """By as much film as lies between them; every other mark once."""
    found = case("foil_doubled")
    stray = found.single.stray
    assert stray is not None
    pairs = told_s(found.events, stray.mark)
    assert [len(pair) for pair in pairs.values()] == [2] * 9
    assert [pair[1] - pair[0] for pair in pairs.values()] == pytest.approx([stray.film_s] * 9, abs=0.15)
    assert {len(at_s) for at_s in told_s(found.events, "r11" if stray.mark != "r11" else "r10").values()} == {1}


@pytest.mark.parametrize("wired", ["taps", "hands"])
def test_swapped_taps_are_each_told_for_the_other_house(wired: str) -> None:
    """At the time at which the film was where it was."""
    found = case("taps_swapped", wired)
    swapped = found.single.swapped
    assert swapped is not None
    first, second = swapped.stations
    at_s = told_s(found.events, swapped.mark)
    assert at_s[second] == pytest.approx([found.truth.passes[first][swapped.mark]], abs=2.0)
    assert at_s[first] == pytest.approx([found.truth.passes[second][swapped.mark]], abs=2.0)


def test_one_path_is_wrong_by_three_in_a_hundred_and_the_others_are_as_they_were() -> None:
    """Exactly so much of what was planned, nature included."""
    found = case("path_wrong")
    link = next(link for link in found.plan.links if link.id == found.single.right.subject)
    true_s, natural_s = found.truth.transit_s, clean().transit_s
    assert abs(true_s[link.id] / link.transit_s - 1.0) == pytest.approx(0.03)
    assert {id_ for id_ in true_s if true_s[id_] != pytest.approx(natural_s[id_])} == {link.id}


def test_a_wrong_leader_makes_every_mark_late_or_early_alike() -> None:
    """Five counter feet are eighty frames."""
    by_s = case("leader_wrong").single.size
    assert abs(by_s) == pytest.approx(80 / 24)
    for mark in ("t0", "r0", "r11"):
        assert moved_s("leader_wrong", mark) == pytest.approx([by_s] * 9, rel=0.005)


def test_a_splice_moves_the_marks_behind_it() -> None:
    """Those before it are where they were."""
    found = case("spliced")
    from_s = found.plan.mark(found.single.right.subject).x_s
    for mark in found.plan.marks:
        by_s = found.single.size if mark.x_s >= from_s else 0.0
        if mark.cue:
            assert moved_s("spliced", mark.id) == pytest.approx([by_s] * 9, abs=0.005)


def test_a_tail_is_off_by_more_than_three_of_its_deviations() -> None:
    """In every show; no mark is elsewhere."""
    for seed in range(SEED, SEED + 4):
        truth = case("tail_off", seed=seed).truth
        assert abs(truth.course.film_end_s - truth.plan.print_s) > 3.0 * truth.plan.timing.tail_sigma_s
    assert moved_s("tail_off", "r11") == [0.0] * 9


@pytest.mark.parametrize(("kind", "film_s"), [("runs_off", 600.0), ("slows", 150.0)])
def test_one_motor_is_off_by_its_rate(kind: str, film_s: float) -> None:
    """After ten minutes by as much film as that makes: a rate that rises to it over twenty makes a quarter."""
    found = case(kind)
    more_s = fed_more_s(kind, found.single.effect.at_s + 0.5 * RAMP_S)
    assert more_s.pop(found.single.right.subject) == pytest.approx(found.single.size * film_s, rel=0.01)
    assert set(more_s.values()) == {0.0}


def test_a_motor_that_slows_goes_on_as_slow_as_it_has_become() -> None:
    """Once the twenty minutes are over."""
    found = case("slows")
    at_s, station = found.single.effect.at_s + RAMP_S, found.single.right.subject
    more_s = fed_more_s("slows", at_s + 100.0)[station] - fed_more_s("slows", at_s)[station]
    assert more_s == pytest.approx(100.0 * found.single.size, rel=0.01)
    assert found.single.size < 0.0


def test_all_motors_together_change_no_slack() -> None:
    """Each has fed as much more film."""
    found = case("mains")
    more_s = fed_more_s("mains", found.single.effect.at_s + 1000.0)
    assert list(more_s.values()) == pytest.approx([1000.0 * found.single.size] * 9)


def test_film_is_lost_once_and_at_one_station() -> None:
    """Before it nothing is otherwise, and after it no more comes to it."""
    found = case("film_lost")
    at_s, station = found.single.effect.at_s, found.single.right.subject
    assert set(fed_more_s("film_lost", at_s).values()) == {0.0}
    for later_s in (2.0, 3000.0):
        more_s = fed_more_s("film_lost", at_s + later_s)
        assert more_s.pop(station) == pytest.approx(found.single.size, abs=0.01)
        assert set(more_s.values()) == {0.0}


def test_every_kind_is_named_by_a_word_of_its_own_and_has_its_shows() -> None:
    """In each wiring in which it makes sense; what is told of a motor that runs off is told of one that slows."""
    shows = shows_of(2, 1)
    assert {(show.scenario, show.wired) for show in shows} == {(n, w) for n, kind in KINDS.items() for w in kind.wired}
    rights = {single_of(show, plan_of(show.wired)).right.kind for show in shows}
    assert rights == set(FAULT_KINDS)
    assert shows_of(1, 2, "mains", "taps") == [show for show in shows if show == Show("taps", "mains", 2)]


def test_a_splice_that_is_told_as_one_is_named() -> None:
    """Once it is, and not while it may be a wrong tap or film that jumped, which is a note and asks for nobody."""
    outcome = measure(Show("contacts", "spliced", 3))
    assert outcome.told_s == outcome.known_s
    assert (outcome.named_s or 0.0) > (outcome.told_s or 0.0)
    assert outcome.named_in_time


def test_a_show_is_given_again_by_its_line() -> None:
    """Its kind, its wiring and its seed."""
    again, found = case_of(Show("contacts", "film_lost", SEED)), case("film_lost")
    assert again.events == found.events
    assert again.best.sizes() == found.best.sizes()


OUTCOME = Outcome(
    show=Show("contacts", "spliced", 1),
    right=Named("splice", "r1"),
    size=0.5,
    since_s=100.0,
    known_s=110.0,
    told_s=105.0,
    alarmed_s=110.0,
    named_s=110.0,
)


def test_a_fault_is_named_in_time_with_the_first_that_asks_for_somebody() -> None:
    """Or before; what asked first without its name is too late."""
    assert OUTCOME.named_in_time
    assert replace(OUTCOME, alarmed_s=None).named_in_time
    assert not replace(OUTCOME, named_s=120.0).named_in_time
    assert not replace(OUTCOME, named_s=None, alarmed_s=None).named_in_time


def test_slack_is_held_to_the_best_again_from_when_the_fault_was_found() -> None:
    """Believed or named, whichever came first; where neither, from when it could be known, and else never."""
    errors = replace(OUTCOME, errors_s=[(0.9, 0.1), (0.4, 0.2), (0.2, 0.2)], error_at_s=[101.0, 107.0, 120.0])
    assert errors.found_errors_s == [(0.2, 0.2)]
    assert replace(errors, believed_s=105.0).found_errors_s == [(0.4, 0.2), (0.2, 0.2)]
    assert replace(errors, named_s=None, known_s=107.0).found_s == 107.0
    assert replace(errors, named_s=None, known_s=None).found_errors_s == []
    (row,) = rows([replace(errors, believed_s=105.0)])
    assert row.found_ratio == pytest.approx(np.sqrt(0.20 / 0.08))
    (line, *_) = [line for line in worst([replace(errors, believed_s=105.0)]) if "once found" in line]
    assert line.endswith("once found slack off by 0.32 s, the best by 0.20 s (found at 105 s)")


@pytest.mark.parametrize(("kind", "seed"), [("film_lost", SEED), ("spliced", SEED), ("clock_off", 1), ("mains", SEED)])
def test_a_fault_is_believed_once_it_shows_and_no_later_than_it_is_named(kind: str, seed: int) -> None:
    """Of whatever subject it is."""
    outcome = measure(Show("contacts", kind, seed))
    assert outcome.believed_s is not None
    assert outcome.since_s <= outcome.believed_s <= (outcome.named_s or np.inf)
    assert len(outcome.error_at_s) == len(outcome.errors_s)


def test_a_row_says_what_came_of_its_shows() -> None:
    """Shares are of those in which the fault could be known; what could not is asked of nobody."""
    act = Telling(5.0, "reserve_spent:s0>s1", "act", first_out=True, true=False)
    (row,) = rows(
        [
            replace(OUTCOME, errors_s=[(0.3, 0.1)], error_at_s=[105.0], within=[True, False], false=[act]),
            replace(OUTCOME, named_s=130.0, wrong=frozenset({Named("tail", "print")})),
            replace(OUTCOME, known_s=None, named_s=None),
        ]
    )
    assert (row.shows, row.knowable, row.named_in_time, row.named, row.named_after_s) == (3, 2, 0.5, 1.0, 10.0)
    assert (row.within, row.false_kinds) == (0.5, {"reserve_spent": 1})
    assert [row.ratio, row.false_acts, row.false_watches, row.wrong] == pytest.approx([3.0, 1 / 3, 0.0, 1 / 3])
    assert row.missed == ("slack", "named")


def test_the_shows_behind_a_miss_are_named_with_their_fault() -> None:
    """Of slack, of false alarms and of names; a row that meets all has none."""
    good = replace(OUTCOME, errors_s=[(0.1, 0.1)], error_at_s=[105.0], within=[True])
    assert list(worst([good])) == []
    assert rows([good])[0].missed == ()
    lines = list(worst([replace(good, errors_s=[(0.3, 0.1)], named_s=None)]))
    line = "contacts spliced 1 (contact, contact, contact, contact; splice r1 +0.5 from 100 s)"
    assert lines == [
        f"{line}: slack off by 0.30 s, the best by 0.10 s (found at 110 s)",
        f"{line}: could be known at 110 s, first told at 105 s, never named",
    ]
