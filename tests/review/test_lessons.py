"""What runs say of the plan they went by."""

import random
from collections.abc import Sequence

import numpy as np
import pytest

from server.review.account import Account, Observed
from server.review.lessons import LessonFault, Lessons, Taught, lessons_from_runs, transits
from server.review.reading import Reading
from server.timeline.events import at_us
from server.timeline.plan import Plan, parse_plan
from tests.timeline.story import event

MARKS = ("t1", "t2", "film", "tail")
SIGMA_S = 0.02
TRUE_ERRORS_S = {"b": 0.55, "c": -0.40}
STATIONS = "abc"


def text(*, walk: float = 0.0, paths: tuple[str, str] = ("path_ft = 100", "path_m = 30.48")) -> str:
    """A chain of three whose motors start on contacts of their own."""
    head = (
        '# The crew\'s own words.\nformat = "festoon-plan/1"\ntitle = "Story"\n[timing]\n'
        f"motors_at = 2026-03-14T23:50:00Z\nrate_walk_ppm_per_sqrt_hour = {walk}\n"
    )
    prints = "".join(
        f'[[print]]\nid = "{id_}"\nkind = "{kind}"\nduration = "{length}"\n'
        for id_, kind, length in (
            ("leader", "leader", "0:40"),
            ("t1", "trailer", "2:20"),
            ("t2", "trailer", "2:20"),
            ("film", "feature", "1:40:00"),
            ("tail", "tail", "1:40"),
        )
    )
    first = '[[stations]]\nid = "a"\nhouse = "1"\n'
    rest = "".join(
        f'[[stations]]\nid = "{id_}"\nhouse = "{id_}"\n{path}   # measured by Ida\nreserve_s = 3.0\n'
        for id_, path in zip("bc", paths, strict=True)
    )
    return head + prints + first + rest


def observed(
    plan: Plan, chance: random.Random, rates: dict[str, float], longer_s: float | None = None
) -> list[Observed]:
    """A show whose paths are wrong by TRUE_ERRORS_S and whose motors are off by `rates`, seen by contacts.

    `longer_s` is how much longer than planned its tail was, as failsafes saw it; None where none is wired.
    """
    events, ahead_s = [], 0.0
    for k, station in enumerate(STATIONS):
        ahead_s += (plan.links[k - 1].transit_s + TRUE_ERRORS_S[station]) if k else 0.0
        events.append(event(plan, 0.0, "motor_start", station))
        for mark in MARKS:
            at_s = (plan.mark(mark).x_s + ahead_s) / (1.0 + rates[station]) + chance.gauss(0.0, SIGMA_S)
            events.append(event(plan, at_s, "mark_pass", station, mark=mark))
        if longer_s is not None:
            out_s = (plan.print_s + longer_s + ahead_s) / (1.0 + rates[station]) + chance.gauss(0.0, SIGMA_S)
            events.append(event(plan, out_s, "film_trip", station))
            events.append(event(plan, out_s + 2.0, "motor_stop", station))
    return [Observed(n, one, at_us(one, plan)) for n, one in enumerate(events, 1)]


def taught(seed: int, plan_text: str | None = None, longer_s: float | None = None) -> Taught:
    given = plan_text or text()
    plan = parse_plan(given, "story.plan.toml")
    chance = random.Random(seed)
    rates = {station: 4e-4 + chance.gauss(0.0, 3e-5) for station in STATIONS}
    return Taught(
        f"run-{seed}", Reading(Account(plan, observed(plan, chance, rates, longer_s))), "story.plan.toml", given
    )


def batch(runs: Sequence[Taught]) -> tuple[list[float], np.ndarray]:
    """The same by one least-squares solution of all runs at once: shared paths; rates and start errors of each run."""
    plan = runs[0].reading.plan
    timing, n = plan.timing, len(STATIONS)
    own = 2 * n + 1  # of one run: start errors, own rates, the common rate
    size = n - 1 + own * len(runs)
    prior_sd = [link.transit_s * timing.path_tolerance_percent / 100.0 for link in plan.links]
    for _ in runs:
        prior_sd += [timing.contact_sigma_s] * n + [timing.rate_tolerance_ppm * 1e-6] * n
        prior_sd += [timing.line_tolerance_ppm * 1e-6]
    information, weighed = np.diag(1.0 / np.asarray(prior_sd) ** 2), np.zeros(size)
    for r, run in enumerate(runs):
        first = n - 1 + own * r
        for one in run.reading.account.observed:
            if one.event.kind == "mark_pass":
                k = STATIONS.index(one.event.station or "")
                t_s = at_us(one.event, plan) / 1e6
                row = np.zeros(size)
                row[:k] = -1.0
                row[first + k] = 1.0
                row[[first + n + k, first + 2 * n]] = t_s
                residual = plan.mark(one.event.mark or "").x_s + plan.ahead_s[k] - t_s
                information += np.outer(row, row) / timing.contact_sigma_s**2
                weighed += row * residual / timing.contact_sigma_s**2
    covariance = np.linalg.inv(information)
    errors = covariance @ weighed
    planned = np.asarray([link.transit_s for link in plan.links])
    return (planned + errors[: n - 1]).tolist(), covariance[: n - 1, : n - 1]


@pytest.mark.parametrize("seeds", [(1,), (1, 2), (3, 4, 5)])
def test_runs_together_are_one_least_squares_solution(seeds: tuple[int, ...]) -> None:
    """What is learned run by run and put together is what all the evidence says at once (a batch solution)."""
    runs = [taught(seed) for seed in seeds]
    found, covariance = transits([run.reading for run in runs], runs[-1].reading.plan)
    expected, expected_cov = batch(runs)
    assert found.tolist() == pytest.approx(expected, abs=1e-6)
    assert covariance == pytest.approx(expected_cov, rel=1e-4, abs=1e-9)


def test_the_true_paths_are_found() -> None:
    """A simulated show with known errors gives them back within three standard deviations, most of the error gone."""
    learned = lessons_from_runs([taught(seed) for seed in (11, 12, 13)])
    for one in learned.paths:
        error_s = one.new_transit_s - one.old_transit_s - TRUE_ERRORS_S[one.station]
        assert abs(error_s) < 3.0 * one.sd_s
        assert one.sd_s < 0.05
        assert one.changed


def test_more_runs_say_it_more_surely() -> None:
    """Each run takes from the uncertainty, and the first of all from the plan's."""
    sds = [lessons_from_runs([taught(seed) for seed in range(n)]).paths[0].sd_s for n in (1, 2, 4)]
    assert sds[0] > sds[1] > sds[2]
    assert sds[0] < lessons_from_runs([taught(1)]).paths[0].old_transit_s * 0.01


@pytest.mark.parametrize("longer_s", [-7.5, 0.0, 7.5])
def test_a_tail_of_another_length_is_no_path(longer_s: float) -> None:
    """Film that runs out early or late at every house alike says nothing else of the paths than what the marks said."""
    runs = [taught(seed, longer_s=longer_s) for seed in (11, 12, 13)]
    assert all("tail_end" in state.passes for run in runs for state in run.reading.walk.final.evidence.stations)
    for one in lessons_from_runs(runs).paths:
        truth_s = one.old_transit_s + TRUE_ERRORS_S[one.station]
        assert abs(one.new_transit_s - truth_s) < 3.0 * one.sd_s
        assert abs(one.new_transit_s - truth_s) < 0.1


def test_a_run_by_the_corrected_plan_is_learned_from_with_the_others() -> None:
    """Runs of one chain by different plans are put together as they are: what they say is the film, not the error."""
    first = lessons_from_runs([taught(1)])
    plan = parse_plan(first.text, "next.plan.toml")
    ahead = {"b": first.paths[0], "c": first.paths[1]}
    rest = {one: TRUE_ERRORS_S[one] - (ahead[one].new_transit_s - ahead[one].old_transit_s) for one in ahead}
    assert max(map(abs, rest.values())) < 0.1
    second = taught(2)
    reading = Reading(Account(plan, second.reading.account.observed))
    both = lessons_from_runs([taught(1), Taught("second", reading, "next.plan.toml", first.text)])
    for one in both.paths:
        truth_s = second.reading.plan.links[STATIONS.index(one.station) - 1].transit_s + TRUE_ERRORS_S[one.station]
        assert abs(one.new_transit_s - truth_s) < 3.0 * one.sd_s


def corrected() -> Lessons:
    return lessons_from_runs([taught(seed) for seed in (21, 22)])


def test_only_paths_are_changed_and_every_comment_stays() -> None:
    """The new plan differs from the old in the paths' own figures, and in a line that says where they come from."""
    learned = corrected()
    before, after = text().split("\n"), learned.text.split("\n")
    assert after[0] == "# Paths of b, c corrected from what was seen in run-21, run-22."
    changed = [(old, new) for old, new in zip(before, after[1:], strict=True) if old != new]
    new = {one.station: one.new for one in learned.paths}
    assert changed == [
        ("path_ft = 100   # measured by Ida", f"path_ft = {new['b']}   # measured by Ida"),
        ("path_m = 30.48   # measured by Ida", f"path_m = {new['c']}   # measured by Ida"),
    ]


def test_what_would_have_been_different_is_what_the_schedules_say() -> None:
    """With the corrected plan the heads are planned where they were seen."""
    learned = corrected()
    moved = {one.station: one.moved_s for one in learned.differences}
    assert moved["a"] == 0.0
    assert moved["b"] == pytest.approx(TRUE_ERRORS_S["b"], abs=0.1)
    assert moved["c"] == pytest.approx(TRUE_ERRORS_S["b"] + TRUE_ERRORS_S["c"], abs=0.1)
    for one in learned.differences[1:]:
        assert one.lets_out_new_s - one.lets_out_old_s == pytest.approx(one.moved_s)
        assert one.seen_off_old_s is not None
        assert one.seen_off_new_s is not None
        assert one.seen_off_old_s - one.seen_off_new_s == pytest.approx(one.moved_s)
        assert abs(one.seen_off_new_s) < 0.15


def test_rates_are_each_runs_own() -> None:
    """The rate of every motor is given for each run, near what the show was made with."""
    learned = corrected()
    assert [(one.run, one.station) for one in learned.rates] == [
        (run, station) for run in ("run-21", "run-22") for station in STATIONS
    ]
    assert all(abs(one.whole_ppm - 400.0) < 150.0 for one in learned.rates)
    assert all(0.0 < one.whole_sd_ppm < 30.0 for one in learned.rates)


def test_a_run_in_which_nothing_was_seen_changes_nothing() -> None:
    """Without evidence the plan stands, letter for letter."""
    given = text()
    empty = Taught("empty", Reading(Account(parse_plan(given, "p"), [])), "p", given)
    learned = lessons_from_runs([empty])
    assert (learned.text, [one.changed for one in learned.paths]) == (given, [False, False])
    assert [one.new_sd for one in learned.paths] == pytest.approx([one.old_sd for one in learned.paths])


def test_a_path_without_uncertainty_is_left_as_it_is() -> None:
    """A plan that says it knows its paths is believed."""
    given = text().replace("[timing]\n", "[timing]\npath_tolerance_percent = 0\n")
    assert [one.changed for one in lessons_from_runs([taught(1, given)]).paths] == [False, False]


def stranger(old: str, new: str) -> Taught:
    """A run by a plan that differs in this from that of the others."""
    other = text().replace(old, new)
    assert other != text()
    return Taught("stranger", Reading(Account(parse_plan(other, "p"), [])), "p", other)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'id = "c"\nhouse = "c"',
            'id = "z"\nhouse = "9"',
            "stranger ran through Houses 1, b and 9 and run-1 through Houses 1, b and c",
        ),
        (
            'id = "c"\n',
            'id = "z"\n',
            "stranger ran through the stations a, b and z and run-1 through the stations a, b and c",
        ),
        ("[timing]", '[film]\ngauge = "70mm"\n[timing]', "stranger ran through projectors with 70mm at 24 frames/s"),
    ],
)
def test_runs_of_two_chains_are_not_put_together(old: str, new: str, said: str) -> None:
    """One sentence says what each ran through: houses, where they differ, else what else does."""
    with pytest.raises(LessonFault, match=f"^{said}.*: learn from runs of one chain and one gauge together.$"):
        lessons_from_runs([stranger(old, new), taught(1)])
