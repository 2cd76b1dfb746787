"""All shows together: each measure beside its target, for each way of being wired."""

from collections.abc import Callable, Iterable, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from tests.bench.truth.measures import Found, Interval, Result
from tests.bench.truth.shows import SINGLE

# ISA-18.2-2016, 16.4 (quoted second hand): about 6 alarms an hour; a flood is over 10 in 10 minutes.
_FLOOD, _FLOOD_S = 10, 600.0


class Line(NamedTuple):
    """One row of the table: what was measured, over how many, the target in words, and whether it is met."""

    wired: str
    what: str
    value: float
    number: int
    target: str
    met: bool

    @property
    def told(self) -> str:
        return "nothing to measure" if self.number == 0 else f"{self.value:.3f}"


def summary(results: Sequence[Result]) -> list[Line]:
    """Every measure; one without anything to measure is not met."""
    by_wired = {wired: [r for r in results if r.show.wired == wired] for wired in {r.show.wired for r in results}}
    return list(chain.from_iterable(_lines(wired, by_wired[wired]) for wired in sorted(by_wired)))


def rms_ratio(results: Iterable[Result]) -> tuple[float, int]:
    """The engine's error of slack over that of the exact solution of the same evidence."""
    errors_s = np.array([pair for result in results for pair in result.errors_s]).reshape(-1, 2)
    mine, best = np.sqrt((errors_s**2).mean(axis=0)) if len(errors_s) else (np.nan, np.nan)
    return float(mine / best), len(errors_s)


def share(found: Sequence[bool]) -> tuple[float, int]:
    """The share that is so, and of how many."""
    return (float(np.mean(found)) if found else float("nan")), len(found)


def possible(results: Iterable[Result]) -> list[Found]:
    """The rate faults that the best could tell of before the reserve was spent."""
    return [r.found for r in results if r.found is not None and r.found.best_s is not None]


def most_in_ten_minutes(result: Result) -> int:
    """The most tellings within any ten minutes."""
    at_s = np.array(sorted(telling.at_s for telling in result.told))
    return max((int(np.sum((at_s >= t) & (at_s < t + _FLOOD_S))) for t in at_s), default=0)


def _lines(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    ratio, number = rms_ratio(results)
    yield Line(wired, "slack: RMS error over the best's", ratio, number, "at most 1.05", ratio <= 1.05)
    intervals: dict[str, Callable[[Result], list[Interval]]] = {
        "slack": lambda r: r.slack,
        "passes to come": lambda r: r.passes,
        "end of the reserve": lambda r: r.gone,
    }
    for name, of in intervals.items():
        value, number = share([interval.holds for result in results for interval in of(result)])
        yield Line(wired, f"{name}: held by 90 % intervals", value, number, "0.85 to 0.95", 0.85 <= value <= 0.95)
    faults = possible(results)
    least = 0.99 if wired == "contacts" else 0.90
    value, number = share([found.told_s is not None for found in faults])
    yield Line(wired, "rate faults found in time", value, number, f"at least {least:.2f}", value >= least)
    yield from _leads(wired, [found for found in faults if found.told_s is not None])
    yield from _alarms(wired, results)


def _leads(wired: str, faults: Sequence[Found]) -> Iterable[Line]:
    for what, lead in (
        ("median lead, minutes", [found.gone_s - (found.told_s or 0.0) for found in faults]),
        ("the best's median lead, minutes", [found.gone_s - (found.best_s or 0.0) for found in faults]),
    ):
        yield Line(wired, what, float(np.median(lead)) / 60.0 if lead else float("nan"), len(faults), "", bool(lead))


def _alarms(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    clean = [result for result in results if result.show.scenario == "clean"]
    value, number = share([any(t.level == "act" and not t.true for t in result.told) for result in clean])
    yield Line(wired, "clean shows with a false act", value, number, "under 0.01", value < 0.01)
    hours = sum(result.hours for result in results)
    told = sum(len(result.told) for result in results) / hours if hours else float("nan")
    yield Line(wired, "tellings an hour", told, len(results), "at most 6", told <= 6.0)
    false = sum(not t.true for result in results for t in result.told) / hours if hours else float("nan")
    yield Line(wired, "of them false", false, len(results), "", met=False)
    single = [result for result in results if result.show.scenario in SINGLE]
    value, number = share([len(result.first_outs) <= 1 for result in single])
    yield Line(wired, "single faults with one first-out at most", value, number, "1", value >= 1.0)
    value, number = share([most_in_ten_minutes(result) > _FLOOD for result in single])
    yield Line(wired, "single faults with a flood", value, number, "0", value <= 0.0)
