"""Lacing: leader to the foot, stretches and their pull, the steps in their order, minutes and people."""

import math
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.planning.lacing import NO_MOTOR, PLATFORM, READY_MIN, WAY_OUT, Lacing, lacing_findings, lacing_of
from server.planning.leader import END_FT, WRAPS, leader_parts, past_first_gate_ft, pulls_of
from server.planning.loops import sag_from_length
from server.planning.pull import MOST_N, pull_n
from server.planning.site_model import Site
from server.planning.workers import Work, begun
from server.timeline.plan import Plan, ThreadingRules
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import METRES_A_FOOT, chain, house, path, site

# A chain of no place: what each house is from the one before, in feet and rollers.
SIXTEEN = [
    *((96.0, 12), (71.0, 9), (88.0, 11), (214.0, 22), (64.0, 8), (103.0, 13), (79.0, 10), (187.0, 20)),
    *((92.0, 11), (118.0, 14), (237.0, 24), (83.0, 10), (141.0, 16), (76.0, 9), (176.0, 19)),
]


def test_a_very_long_chain() -> None:
    """Leader near 2,200 ft, rollers over 200, last head a little over 20 minutes after, 45 minutes, three stretches.

    Totals that common practice tells of a chain of sixteen (no source); the order and booths are of no place.
    """
    plan = chain(*SIXTEEN, head_ft=90)
    lacing, schedule = lacing_of(plan, None, 2), schedule_from_plan(plan)
    assert lacing.leader_ft == pytest.approx(2200, rel=0.03)
    assert 200 < sum(station.rollers for station in plan.stations[1:]) < 220
    heads_s = [station.passes["head"] for station in schedule.stations]
    assert 20 * 60 < heads_s[-1] - heads_s[0] < 22 * 60
    assert lacing.minutes == pytest.approx(45, abs=2.0)
    assert len(lacing.stretches) == 3
    assert pull_n(sum(rollers for _, rollers in SIXTEEN), 0.0) > 4 * MOST_N, "as one stretch nobody draws it"
    assert all(pull.effort == "easy" for pull in lacing.stretches)


def test_the_parts_of_the_leader() -> None:
    """Head leader, paths, spare, the way to the take-up and wraps on its core, each worked out, make the whole."""
    plan = chain((100.0, 8), (200.0, 16), head_ft=90, rules="spare_percent = 20")
    decks = site(houses=[house(11), house(12), house(13, core_mm=400.0, roll_mm=1300.0)])
    head_ft = 90 * 16 * 19.0 / 304.8  # 90 counter feet of 16 frames of 19 mm, along a tape
    wraps_ft = WRAPS * math.pi * 400.0 / 304.8
    assert [part.feet for part in leader_parts(plan, decks)] == pytest.approx([head_ft, 300.0, 60.0, END_FT, wraps_ft])
    lacing = lacing_of(plan, decks)
    assert lacing.leader_ft == pytest.approx(head_ft + 360.0 + END_FT + wraps_ft)
    assert lacing.chain_ft == past_first_gate_ft(plan, decks) == pytest.approx(360.0 + END_FT + wraps_ft)


def test_ends_that_were_measured_are_taken() -> None:
    """A plan with its own ends_ft has as much leader as its schedule says."""
    plan = chain((100.0, 8), (200.0, 16), rules="ends_ft = 131")
    assert lacing_of(plan, None).leader_ft == pytest.approx(schedule_from_plan(plan).threading.leader_ft)
    assert lacing_of(plan, None).leader_ft == pytest.approx(330.0 + 131.0)


def test_a_plan_that_says_nothing_goes_by_its_site() -> None:
    """The site's threading holds where the plan has none of its own, and no more where it has."""
    place = site().model_copy(update={"threading": ThreadingRules(stretch_ft=150.0, ends_ft=100.0)})
    paths = [(100.0, 8), (100.0, 8)]
    assert len(lacing_of(chain(*paths), place).stretches) == 2
    assert lacing_of(chain(*paths), place).leader_ft == pytest.approx(220.0 + 100.0)
    own = lacing_of(chain(*paths, rules="spare_percent = 11"), place)
    assert len(own.stretches) == 1
    assert own.leader_ft > 222.0 + 100.0


def test_fixed_guides_cut_a_stretch_in_two() -> None:
    """What rollers alone leave as one stretch is cut where the turns of two paths together are too much."""
    plan = chain((100.0, 20), (100.0, 20))
    straight = site(path(11, 12, 100.0), path(12, 13, 100.0))
    turned = site(path(11, 12, 100.0, turns_deg=270.0), path(12, 13, 100.0, turns_deg=270.0))
    assert [(pull.from_house, pull.to_house) for pull in pulls_of(plan, straight)] == [("11", "13")]
    first, second = pulls_of(plan, turned)
    assert (first.to_house, second.from_house) == ("12", "12")
    assert first.turns_deg == 270.0
    assert first.pull_n == pytest.approx(pull_n(20, 270.0))
    assert first.effort == "hard"
    assert pull_n(40, 540.0) > MOST_N


def test_a_path_that_is_too_hard_is_told() -> None:
    """A single path that nobody pulls alone stays one stretch, asks for three people, and is told."""
    plan = chain((100.0, 20))
    lacing = lacing_of(plan, site(path(11, 12, 100.0, turns_deg=540.0)), 3)
    (finding,) = lacing_findings(lacing)
    assert (finding.code, finding.level, finding.about) == ("pull_too_hard", "warning", "House 11 to 12")
    assert "too hard for one pair of hands" in finding.text
    assert lacing.steps[0].people == 3
    caution = lacing_of(plan, site(path(11, 12, 100.0, turns_deg=540.0)), 2).steps[0].caution
    assert caution is not None
    assert caution.startswith("Too few hands: it takes 3.")
    assert list(lacing_findings(lacing_of(plan, None))) == []


def fewest(paths: list[tuple[float, int]]) -> tuple[int, float]:
    """The fewest stretches, and of those ways the least of the hardest pulls, by trying every way to cut."""

    def fits(start: int, end: int) -> bool:
        feet, rollers = (sum(part) for part in zip(*paths[start:end], strict=True))
        return feet <= 800 and rollers <= 80 and pull_n(int(rollers), 0.0) <= MOST_N

    @cache
    def ways(end: int) -> tuple[tuple[int, float], ...]:
        if not end:
            return ((0, 0.0),)
        return tuple(
            (count + 1, max(hardest, pull_n(sum(rollers for _, rollers in paths[start:end]), 0.0)))
            for start in range(end)
            if end - start == 1 or fits(start, end)
            for count, hardest in ways(start)
        )

    return min(ways(len(paths)))


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(10, 700).map(float), st.integers(1, 90)), min_size=1, max_size=8))
def test_no_other_cut_is_better(paths: list[tuple[float, int]]) -> None:
    """Stretches cover the chain end to end, are as few as can be, and of those the hardest is as easy as can be."""
    plan = chain(*paths)
    pulls = pulls_of(plan, None)
    count, hardest = fewest(paths)
    assert len(pulls) == count
    assert max(pull.pull_n for pull in pulls) == pytest.approx(hardest)
    assert all(one.last == other.first for one, other in pairwise(pulls))
    assert (pulls[0].first, pulls[-1].last) == ("st0", f"st{len(paths)}")


def where(lacing: Lacing, word: str) -> list[str]:
    return [step.where for step in lacing.steps if step.what.startswith(word)]


def test_the_order_to_lace() -> None:
    """Stretches come from the last house back, then machines from the last to the first, then the print."""
    plan = chain(*[(300.0, 30)] * 4)
    lacing = lacing_of(plan, None)
    assert where(lacing, "Lace 6") == ["House 13 to 15", "House 11 to 13"]
    assert where(lacing, "Lace the machine") == [f"House {number}" for number in (15, 14, 13, 12, 11)]
    assert where(lacing, "Splice the two") == ["House 13"]
    kinds = [" ".join(step.what.split()[:3]) for step in lacing.steps]
    assert [*dict.fromkeys(kinds)] == [
        "Lace 600 ft",
        "Wind the leader's",
        "Splice the two",
        "Lace the machine",
        "Splice the print's",
        "Tape mark on",
        "Walk the whole",
    ]
    assert [step.number for step in lacing.steps] == [*range(1, len(lacing.steps) + 1)]
    assert all(one.begins_min <= other.begins_min for one, other in pairwise(lacing.steps))


def test_cautions_stand_where_they_belong() -> None:
    """Height, ways out and motors are each cautioned of where they are, and only there."""
    plan = chain((100.0, 8), (100.0, 8), rules="stretch_ft = 100")
    place = site(path(11, 12, 100.0, height_m=1.5), path(12, 13, 100.0, height_m=3.0, doorways=1))
    second, first = lacing_of(plan, place).steps[:2]
    assert first.caution is None
    assert second.caution == f"{PLATFORM} {WAY_OUT}"
    assert lacing_of(plan, None).steps[0].caution == PLATFORM, "where nobody measured the height"
    machines = [step for step in lacing_of(plan, place).steps if step.what.startswith("Lace the machine")]
    assert {step.caution for step in machines} == {NO_MOTOR}


def test_a_loop_is_hung_as_far_as_its_reserve_asks() -> None:
    """Where the loop was measured the step says how far it hangs at rest."""
    plan = chain((100.0, 8))
    place: Site = site(path(11, 12, 100.0, loop_span_m=1.2, loop_drop_m=2.0))
    (step,) = [step for step in lacing_of(plan, place).steps if "loop before it" in step.what]
    assert step.where == "House 12"
    assert f"hang {sag_from_length(1.2, 1.2 + 0.912):.2f} m at rest" in step.what


def lacing_minutes(plan: Plan, crew: int) -> float:
    return lacing_of(plan, None, crew).minutes


def test_more_people_are_quicker_and_a_slow_plan_slower() -> None:
    """Each person more makes it no longer, two are about twice as quick as one, and the plan's own pace counts."""
    plan = chain(*SIXTEEN)
    minutes = [lacing_minutes(plan, crew) for crew in range(1, 7)]
    assert minutes == sorted(minutes, reverse=True)
    assert minutes[0] / minutes[1] == pytest.approx(2.0, rel=0.1)
    slow = chain(*SIXTEEN, rules="minutes_per_station = 5.6")
    assert lacing_minutes(slow, 2) == pytest.approx(2.0 * minutes[1])


def test_when_to_begin() -> None:
    """The lacing ends with a quarter of an hour to spare before the motors start."""
    lacing = lacing_of(chain((100.0, 8)), None)
    assert lacing.ready_s == -READY_MIN * 60.0
    assert lacing.begin_s + lacing.minutes * 60.0 == pytest.approx(lacing.ready_s)
    assert lacing.minutes == pytest.approx(max(step.begins_min + step.minutes for step in lacing.steps))


def test_one_house_is_laced_too() -> None:
    """A single machine has no stretch, and still its steps."""
    lacing = lacing_of(chain(), None)
    assert lacing.stretches == ()
    assert all(part.feet > 0.0 for part in leader_parts(chain(), None))
    assert where(lacing, "Lace") == ["House 11"]
    assert lacing.leader_ft == pytest.approx(60 * 304.0 / 304.8 + END_FT + WRAPS * math.pi * 0.6 / METRES_A_FOOT)


def test_work_is_given_to_whoever_is_free() -> None:
    """Pieces begin in their order as soon as enough people are free, and together they share it."""
    works = [
        Work("", "", 10.0, 2, None),
        Work("", "", 4.0, 1, None),
        Work("", "", 6.0, 1, None),
        Work("", "", 2.0, 2, None),
    ]
    assert begun(works, 2, 1.0) == [1.0, 6.0, 6.0, 12.0]
    assert begun([Work("", "", 3.0, 1, None)] * 3, 1, 0.0) == [0.0, 3.0, 6.0]
