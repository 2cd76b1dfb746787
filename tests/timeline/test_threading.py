"""Threading: stretches, leader and what pulls and rolls come to, against handbook figures."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.timeline.plan import Plan, parse_plan
from server.timeline.threading import pull_left, pullable, roll_length, threading_from_plan

# What a path is made of: feet, and rollers.
Path = tuple[float, int]


def plan_of(paths: list[Path], rules: str = "") -> Plan:
    """A chain of these paths, from station s0 on; nothing but threading is of interest."""
    stations = '[[stations]]\nid = "s0"\nhouse = "0"\nrollers = 50\n' + "".join(
        f'[[stations]]\nid = "s{index}"\nhouse = "{index}"\npath_ft = {feet!r}\nrollers = {rollers}\n'
        for index, (feet, rollers) in enumerate(paths, 1)
    )
    return parse_plan(
        'format = "festoon-plan/1"\ntitle = "Chain"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n'
        f"[threading]\n{rules}\n"
        '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n[[print]]\nid = "f"\nkind = "feature"\nfeet = 1000\n'
        + stations,
        "chain.plan.toml",
    )


def ends_of(paths: list[Path], rules: str = "") -> list[tuple[str, str]]:
    return [(stretch.first, stretch.last) for stretch in threading_from_plan(plan_of(paths, rules)).stretches]


@pytest.mark.parametrize(
    ("paths", "ends"),
    [
        ([], []),
        ([(100.0, 10)], [("s0", "s1")]),
        ([(200.0, 0)] * 4, [("s0", "s4")]),  # 800 ft are just pulled
        ([(200.0, 0)] * 4 + [(0.5, 0)], [("s0", "s4"), ("s4", "s5")]),
        ([(1.0, 40)] * 4, [("s0", "s2"), ("s2", "s4")]),  # 80 rollers are just pulled
        ([(500.0, 1), (400.0, 1), (300.0, 1)], [("s0", "s1"), ("s1", "s3")]),
        ([(10.0, 1), (900.0, 1), (10.0, 1)], [("s0", "s1"), ("s1", "s2"), ("s2", "s3")]),
        ([(0.1, 81), (0.1, 0)], [("s0", "s1"), ("s1", "s2")]),
    ],
)
def test_stretches(paths: list[Path], ends: list[tuple[str, str]]) -> None:
    """Stretches are as long as can be pulled, are joined at stations, and a path too long stays by itself."""
    assert ends_of(paths) == ends


def test_the_limits_are_the_plans() -> None:
    """What can be pulled as one stretch is what the plan says."""
    paths = [(100.0, 10)] * 3
    assert ends_of(paths, "stretch_ft = 200") == [("s0", "s2"), ("s2", "s3")]
    assert ends_of(paths, "stretch_rollers = 20") == [("s0", "s2"), ("s2", "s3")]
    assert ends_of(paths, "stretch_ft = 0") == [("s0", "s1"), ("s1", "s2"), ("s2", "s3")]


def test_a_stretch_has_the_rollers_of_the_paths_in_it() -> None:
    """Feet and rollers of a stretch are those between its stations; those before the first gate are not."""
    (stretch,) = threading_from_plan(plan_of([(100.0, 10), (50.5, 7)])).stretches
    assert (stretch.first, stretch.last, stretch.rollers) == ("s0", "s2", 17)
    assert stretch.path_ft == pytest.approx(150.5)


def test_leader_and_minutes() -> None:
    """Leader is the paths with their spare, and the ends; minutes go by stations."""
    threading = threading_from_plan(plan_of([(100.0, 0), (200.0, 0)], "ends_ft = 150\nspare_percent = 20"))
    assert threading.leader_ft == pytest.approx(300 * 1.2 + 150)
    assert threading.minutes == pytest.approx(3 * 2.8)


def test_a_chain_of_common_practice() -> None:
    """About 2,200 ft of leader, 210 rollers, 20 minutes and a little, three stretches, 45 minutes to thread.

    Common practice, no source. The chain is even, of no place: only the sums are looked at.
    """
    plan = plan_of([(122.5, 14)] * 15)
    threading = threading_from_plan(plan)
    assert threading.leader_ft == pytest.approx(2200, abs=5)
    assert sum(station.rollers for station in plan.stations[1:]) == 210
    assert 20 * 60 < plan.ahead_s[-1] < 21 * 60
    assert len(threading.stretches) == 3
    assert threading.minutes == pytest.approx(45, abs=0.5)


def fewest(paths: list[Path]) -> int:
    """The fewest stretches by trying every way to join paths that can each be pulled."""
    best = [0]
    for end in range(1, len(paths) + 1):
        starts = [
            start
            for start in range(end)
            if sum(feet for feet, _ in paths[start:end]) <= 800 and sum(rolls for _, rolls in paths[start:end]) <= 80
        ]
        best.append(1 + min(best[start] for start in starts))
    return best[-1]


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 800).map(float), st.integers(0, 80)), max_size=12))
def test_no_fewer_stretches_would_do(paths: list[Path]) -> None:
    """Stretches cover the chain end to end, each can be pulled, and there is no way with fewer."""
    plan = plan_of(paths)
    stretches = threading_from_plan(plan).stretches
    assert len(stretches) == fewest(paths)
    assert all(pullable(stretch, plan) for stretch in stretches)
    assert all(before.last == after.first for before, after in pairwise(stretches))
    if paths:
        assert (stretches[0].first, stretches[-1].last) == ("s0", f"s{len(paths)}")


def test_pull_past_free_rollers() -> None:
    """Ten rollers that take 2 % each leave 0.98^10 = 0.81707 of the pull (exact arithmetic)."""
    assert pull_left(10, 0.02) == pytest.approx(0.81707, abs=5e-6)
    assert pull_left(0, 0.02) == 1.0


def test_length_of_a_roll() -> None:
    """D 5 in, d 2 in, t 0.011 in: 1499.40 in (handbook example, read)."""
    assert roll_length(5, 2, 0.011) == pytest.approx(1499.40, abs=5e-3)
