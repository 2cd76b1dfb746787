"""Heads against advertised times, and the start that would meet them best."""

import math
from collections.abc import Iterator
from typing import NamedTuple

from server.planning.findings import THE_CHAIN, Finding, clock_text, span_text
from server.timeline.naming import house_of
from server.timeline.plan import Plan
from server.timeline.schedule import EARLY_S, Schedule, advertised_s, house_clock

_SAME_S = 1e-6  # chosen, as of the schedule's own warnings: a microsecond is no difference


class BestStart(NamedTuple):
    """The whole second at which the motors had best start, as `shift_s` after the plan's own (negative: before).

    With it the latest head is `late_s` after its advertised time, and the earliest `early_s` before; either is 0 where
    there is none. `now_late_s` and `now_early_s` are the same for the plan's own start.
    """

    shift_s: int
    late_s: float
    early_s: float
    now_late_s: float
    now_early_s: float


class Head(NamedTuple):
    """When the head of one station, by its index, is at the gate, and how long after its advertised time."""

    station: int
    at_s: float
    late_s: float
    advertised: str


def heads_of(plan: Plan, schedule: Schedule) -> tuple[Head, ...]:
    """Return the heads that have an advertised time, in film order."""
    heads = []
    for k, station in enumerate(plan.stations):
        if station.advertised is not None:
            at_s = schedule.stations[k].passes["head"]
            late_s = at_s - advertised_s(plan, station.advertised, at_s)
            heads.append(Head(k, at_s, late_s, station.advertised))
    return tuple(heads)


def best_start(heads: tuple[Head, ...]) -> BestStart | None:
    """Return the start with the least of the greatest miss; None where nothing is advertised.

    A miss is a head after its advertised time, or over a minute before it. Where some starts have none at all it is
    the latest of them: the picture then comes as little early as can be.
    """
    if not heads:
        return None
    first, last = min(head.late_s for head in heads), max(head.late_s for head in heads)
    shift_s = -last if last - first <= EARLY_S else -(first + last + EARLY_S) / 2.0
    whole_s = math.floor(shift_s + _SAME_S)
    return BestStart(whole_s, *_misses(first + whole_s, last + whole_s), *_misses(first, last))


def _misses(first_s: float, last_s: float) -> tuple[float, float]:
    return max(0.0, last_s), max(0.0, -first_s)


def time_findings(plan: Plan, schedule: Schedule) -> Iterator[Finding]:
    """Say which heads are late or early, why, and what start or what advertised time would do."""
    heads = heads_of(plan, schedule)
    best = best_start(heads)
    if best is None:
        return
    missed = [head for head in heads if head.late_s > _SAME_S or head.late_s < -EARLY_S - _SAME_S]
    texts = {(warning.code, warning.station): warning.text for warning in schedule.warnings}
    for head in missed:
        yield _missed(plan, head, best, texts)
    if missed and best.shift_s:
        yield _start_finding(plan, heads, best)


def _missed(plan: Plan, head: Head, best: BestStart, texts: dict[tuple[str, str | None], str]) -> Finding:
    station = plan.stations[head.station]
    late = head.late_s > 0.0
    code = "late_for_advertised" if late else "early_for_advertised"
    film_s = plan.mark("head").x_s
    cause = f"The head leader takes {span_text(film_s)} to this gate's picture"
    if head.station:
        cause += f", and the paths before it {span_text(plan.ahead_s[head.station])}"
    return Finding(
        code,
        "warning" if late else "note",
        house_of(plan, head.station),
        (station.id,),
        f"{texts[code, station.id]}.",
        f"{cause}.",
        _remedy(plan, head, best),
    )


def _remedy(plan: Plan, head: Head, best: BestStart) -> str:
    """The best start, where it mends this house; else what this house had better be advertised for."""
    if best.shift_s and -EARLY_S - _SAME_S <= head.late_s + best.shift_s <= _SAME_S:
        return f"Start the motors at {clock_text(plan, best.shift_s)}."
    past_s = _second_of(plan)
    minute_s = 60.0 * math.ceil((head.at_s + past_s - _SAME_S) / 60.0) - past_s
    return (
        f"No start meets every time: advertise this house for {house_clock(plan, minute_s):%H:%M}, "
        f"or change its place in the chain."
    )


def _second_of(plan: Plan) -> float:
    """How far past a whole minute of the house's clock the motors are to start."""
    zero = house_clock(plan, 0.0)
    return zero.second + zero.microsecond / 1e6


def _start_finding(plan: Plan, heads: tuple[Head, ...], best: BestStart) -> Finding:
    moved = f"{span_text(abs(best.shift_s))} {'later' if best.shift_s > 0 else 'earlier'}"
    return Finding(
        "start_meets_best",
        "note",
        THE_CHAIN,
        tuple(plan.stations[head.station].id for head in heads),
        f"Motors at {clock_text(plan, best.shift_s)}, {moved}, would meet the advertised times best.",
        f"The worst is then {_worst(best.late_s, best.early_s)}; "
        f"by the plan it is {_worst(best.now_late_s, best.now_early_s)}.",
        f"Write motors_at = {house_clock(plan, best.shift_s).isoformat()} in the plan.",
    )


def _worst(late_s: float, early_s: float) -> str:
    late = f"{span_text(late_s)} late" if late_s > _SAME_S else ""
    early = f"{span_text(early_s)} early" if early_s > _SAME_S else ""
    return " and ".join(part for part in (late, early) if part) or "on the second"
