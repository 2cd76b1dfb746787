"""A print that was spliced otherwise than planned is off alike at every gate, and no link holds more or less for it."""

import numpy as np
import pytest

from server.timeline.events import Event
from server.timeline.outlook import variance_at
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan
from tests.bench.truth.batch import Batch
from tests.timeline.story import event, played, starts

PLAN = chain_plan(3, minutes=120)


def passes(plan: Plan, marks: int, spliced: dict[int, float], jumped: dict[tuple[str, int], float]) -> list[Event]:
    """Every cue at every gate: from reel `n` on later by `spliced[n]`, and at a house by `jumped[house, n]`."""
    return [
        event(
            plan,
            40.0 + plan.ahead_s[k] + 600.0 * n + _late_s(station.id, n, spliced, jumped),
            "mark_pass",
            station.id,
            mark=f"r{n}",
        )
        for k, station in enumerate(plan.stations)
        for n in range(marks)
    ]


def _late_s(house: str, reel: int, spliced: dict[int, float], jumped: dict[tuple[str, int], float]) -> float:
    off = [late_s for first, late_s in spliced.items() if reel >= first]
    return sum(off) + sum(late_s for (where, first), late_s in jumped.items() if where == house and reel >= first)


@pytest.mark.parametrize("by_s", [-1.9, -0.5, 0.5, 1.9])
def test_a_reel_that_was_spliced_otherwise_is_named_and_is_no_slack(by_s: float) -> None:
    """The second house settles it; every mark behind the splice, and the film's end, is expected that much later."""
    told, fold = played(PLAN, [*starts(PLAN), *passes(PLAN, 6, {3: by_s}, {})])
    named = [record for record in fold.board.alarms.values() if "the print has" in record.text]
    assert not [line for line in told if " act " in line and ("slack" in line or "reserve" in line)]
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.1)
    assert len([line for line in told if "raised note misfit" in line]) == 2
    film = f"{abs(by_s):.1f} s of film {'more' if by_s > 0.0 else 'less'}"
    assert [film in alarm.text and "Cue r3" in alarm.text for alarm in named] in ([], [True])
    for mark in ("r8", "tail_end"):
        planned_us = (PLAN.mark(mark).x_s + PLAN.ahead_s[2]) * 1e6
        assert fold.evidence.reached_us(2, mark) == pytest.approx(planned_us + by_s * 1e6, abs=0.3e6)


def test_film_that_jumped_at_one_house_is_no_splice() -> None:
    """The next houses see the same marks where they were: it is slack, and nothing is said of the print."""
    told, fold = played(PLAN, [*starts(PLAN), *passes(PLAN, 6, {}, {("s0", 3): 1.0})])
    assert fold.evidence.outlook.slack[0] == pytest.approx(-1.0, abs=0.1)
    assert not [text for text in (alarm.text for alarm in fold.board.alarms.values()) if "the print has" in text]
    assert [line for line in told if "slack_tight:s0>s1" in line]


def test_until_a_second_house_has_seen_it_either_may_be_so() -> None:
    """Two reels early at the first house alone: half a second of slack is as likely as none, and is known no better."""
    seen = [one for one in passes(PLAN, 5, {3: -0.6}, {}) if one.station == "s0" or one.mark in {"r0", "r1", "r2"}]
    _, fold = played(PLAN, [*starts(PLAN), *seen])
    link = fold.evidence.outlook.of_link(0)
    assert 0.05 < link.slack < 0.5
    assert variance_at(link.slack_var, 0.0) ** 0.5 > 0.2


def test_two_splices_are_known_as_two() -> None:
    """A second that undoes the first leaves what lies behind both where the plan has it."""
    _, fold = played(PLAN, [*starts(PLAN), *passes(PLAN, 8, {3: 1.0, 6: -1.0}, {})])
    outlook = fold.evidence.outlook
    back_s = [outlook.further_back_s(PLAN.mark(mark).x_s) for mark in ("r2", "r4", "r7")]
    assert back_s == pytest.approx([0.0, 1.0, 0.0], abs=0.1)


def test_a_splice_is_known_as_the_batch_solution_knows_it() -> None:
    """Told where the print is spliced, and not how much, it has the same slack and the same standard deviation."""
    events = [*starts(PLAN), *passes(PLAN, 6, {3: -0.8}, {})]
    _, fold = played(PLAN, events)
    outlook, at_s = fold.evidence.outlook, fold.evidence.outlook.at_us / 1e6
    best = Batch(PLAN, sorted(events, key=lambda one: one.t), spliced_s=PLAN.mark("r3").x_s).outlook(at_s)
    assert np.array(outlook.slack) == pytest.approx(np.array(best.slack), abs=0.05)
    sd_s, best_sd_s = ([variance_at(var, 0.0) ** 0.5 for var in one.slack_var] for one in (outlook, best))
    assert sd_s == pytest.approx(best_sd_s, rel=0.15)
