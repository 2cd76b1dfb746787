"""All shows together: each measure beside its target, for each way of being wired."""

from collections.abc import Callable, Iterable, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from tests.bench.truth.endings import IN_TIME_S, TOLERATED_SD, is_of_slack
from tests.bench.truth.measures import Found, Interval, Result
from tests.bench.truth.shows import ORDINARY, PRINT_OFF, SINGLE, plan_of
from tests.bench.truth.tellings import OWN, at_once, calls, kind_of

# ISA-18.2-2016, 16.4 (quoted second hand): about 6 alarms an hour; a flood is over 10 in 10 minutes.
_FLOOD, _FLOOD_S = 10, 600.0


class Line(NamedTuple):
    """One row of the table: what was measured, over how many, the target in words, and whether it is met.

    `error` is the standard error of the value, as far as the shows differ; NaN where it is not known. `so` is how many
    of the number a share is, where that is to be read.
    """

    wired: str
    what: str
    value: float
    number: int
    target: str
    met: bool
    error: float = float("nan")
    so: int | None = None

    @property
    def told(self) -> str:
        if self.number == 0:
            return "nothing to measure"
        counted = "" if self.so is None else f" ({self.so})"
        return f"{self.value:.3f}" + ("" if np.isnan(self.error) else f" ± {self.error:.3f}") + counted


def summary(results: Sequence[Result]) -> list[Line]:
    """Every measure; one without anything to measure is not met."""
    by_wired = {wired: [r for r in results if r.show.wired == wired] for wired in {r.show.wired for r in results}}
    return list(chain.from_iterable(_lines(wired, by_wired[wired]) for wired in sorted(by_wired)))


def rms_ratio(results: Iterable[Result]) -> tuple[float, int]:
    """The engine's error of slack over that of the exact solution of the same evidence."""
    errors_s = np.array([pair for result in results for pair in result.errors_s]).reshape(-1, 2)
    mine, best = np.sqrt((errors_s**2).mean(axis=0)) if len(errors_s) else (np.nan, np.nan)
    return float(mine / best), len(errors_s)


class Share(NamedTuple):
    """The share that is so, of how many, and its standard error where those of one group are as good as one."""

    value: float
    number: int
    error: float


def share(groups: Iterable[Sequence[bool]]) -> Share:
    """What share is so, of what was asked of each show.

    The error is that of a ratio of two sums over independent shows (Cochran, Sampling Techniques, 2.11; from memory).
    Shows that are all alike say nothing of it.
    """
    so = np.array([(sum(group), len(group)) for group in groups if group], dtype=np.float64).reshape(-1, 2)
    shows, number = len(so), so[:, 1].sum()
    if not shows:
        return Share(float("nan"), 0, float("nan"))
    value = so[:, 0].sum() / number
    off = ((so[:, 0] - value * so[:, 1]) ** 2).sum()
    error = np.sqrt(off * shows / (shows - 1)) / number if off > 0.0 else np.nan
    return Share(float(value), int(number), float(error))


def possible(results: Iterable[Result]) -> list[Found]:
    """The rate faults that the best could tell of before the reserve was spent."""
    return [r.found for r in results if r.found is not None and r.found.best_s is not None]


def most_in_ten_minutes(result: Result) -> int:
    """The most tellings within any ten minutes."""
    at_s = np.array(sorted(telling.at_s for telling in calls(result.told)))
    return max((int(np.sum((at_s >= t) & (at_s < t + _FLOOD_S))) for t in at_s), default=0)


def _lines(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    ratio, number = rms_ratio(result for result in results if result.show.scenario in ORDINARY)
    yield Line(wired, "slack: RMS error over the best's", ratio, number, "at most 1.05", ratio <= 1.05)
    yield from _spliced(wired, [result for result in results if result.show.scenario == PRINT_OFF])
    left_out = sum(result.left_out for result in results)
    share_out = left_out / (left_out + number) if number else float("nan")
    yield Line(wired, "slack: left out, a motor wrongly told of", share_out, left_out + number, "", met=False)
    intervals: dict[str, Callable[[Result], list[Interval]]] = {
        "slack": lambda r: r.slack,
        "passes to come": lambda r: r.passes,
        "end of the reserve": lambda r: r.gone,
    }
    for name, of in intervals.items():
        held = share([interval.holds for interval in of(result)] for result in results)
        yield _of(wired, f"{name}: held by 90 % intervals", held, "0.85 to 0.95", met=0.85 <= held.value <= 0.95)
    faults = possible(results)
    least = 0.99 if wired == "contacts" else 0.90
    told = share([found.told_s is not None] for found in faults)
    yield _of(wired, "rate faults found in time", told, f"at least {least:.2f}", met=told.value >= least)
    yield from _leads(wired, [found for found in faults if found.told_s is not None])
    yield from _alarms(wired, results)
    yield from _endings(wired, results)
    yield from _cautions(wired, results)


def _spliced(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    """A print that is not as planned: what links hold, and that nobody is sent to one on account of it."""
    ratio, number = rms_ratio(results)
    yield Line(wired, "slack, spliced otherwise: RMS error over the best's", ratio, number, "at most 1.1", ratio <= 1.1)
    false = share([any(is_of_slack(t.key) and not t.true for t in result.told)] for result in results)
    yield _of(wired, "shows spliced otherwise with slack told falsely", false, "", met=False)


def _of(wired: str, what: str, so: Share, target: str, *, met: bool) -> Line:
    return Line(wired, what, so.value, so.number, target, met, so.error)


def _leads(wired: str, faults: Sequence[Found]) -> Iterable[Line]:
    for what, lead in (
        ("median lead, minutes", [found.gone_s - (found.told_s or 0.0) for found in faults]),
        ("the best's median lead, minutes", [found.gone_s - (found.best_s or 0.0) for found in faults]),
    ):
        yield Line(wired, what, float(np.median(lead)) / 60.0 if lead else float("nan"), len(faults), "", bool(lead))


def _alarms(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    clean = [result for result in results if result.show.scenario == "clean"]
    acts = share([any(t.level == "act" and not t.true for t in result.told)] for result in clean)
    yield _of(wired, "clean shows with a false act", acts, "under 0.01", met=acts.value < 0.01)
    hours = sum(result.hours for result in results)
    told = sum(len(calls(result.told)) for result in results) / hours if hours else float("nan")
    yield Line(wired, "tellings an hour", told, len(results), "at most 6", told <= 6.0)
    false = sum(not t.true for result in results for t in calls(result.told)) / hours if hours else float("nan")
    yield Line(wired, "of them false", false, len(results), "", met=False)
    single = [result for result in results if result.show.scenario in SINGLE]
    one = share([len(at_once(result.first_outs)) <= 1] for result in single)
    yield _of(wired, "single faults with one first-out at a time", one, "1", met=one.value >= 1.0)
    again = share([len(result.first_outs) > len(at_once(result.first_outs))] for result in single)
    yield _of(wired, "of them told of anew once all had cleared", again, "", met=False)
    floods = share([most_in_ten_minutes(result) > _FLOOD] for result in single)
    yield _of(wired, "single faults with a flood", floods, "0", met=floods.value <= 0.0)


def _endings(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    """What was made of the film's end: the tail is uncertain, and a trip in it is mostly that."""
    least_s = -TOLERATED_SD * plan_of(wired).timing.tail_sigma_s
    acts = [[end.at_act for end in result.run_outs if end.longer_s >= least_s] for result in results]
    told = share(acts)
    yield _counted(wired, "run-outs told as an act", told, "0", met=told.value <= 0.0)
    short = share([result.short_tail] for result in results if result.short_tail is not None)
    what = "tails too short: an act at the first house at most"
    yield _counted(wired, what, short, "1", met=short.value >= 1.0)


def _cautions(wired: str, results: Sequence[Result]) -> Iterable[Line]:
    """What asks for something of its own: whether it was told where it was to be, and how much of it was right."""
    if wired == "contacts":
        late_s = [[light.late_s for light in result.lights] for result in results]
        in_time = share([[late <= IN_TIME_S for late in each] for each in late_s])
        yield _counted(wired, "light on standing film told in time", in_time, "1", met=in_time.value >= 1.0)
        worst_s = max((late for each in late_s for late in each), default=float("nan"))
        yield Line(wired, "the latest of them, s", worst_s, in_time.number, "at most 1", worst_s <= IN_TIME_S)
    past = share([[spent.past for spent in result.to_come] for result in results])
    yield _counted(wired, "slack told as to come of a reserve long spent", past, "0", met=past.value <= 0.0)
    for kind in sorted(OWN):
        right = share([[t.true for t in result.told if kind_of(t) == kind] for result in results])
        yield _counted(wired, f"{kind} that is right", right, "", met=False)


def _counted(wired: str, what: str, so: Share, target: str, *, met: bool) -> Line:
    number = round(so.value * so.number) if so.number else 0
    return _of(wired, what, so, target, met=met)._replace(so=number)
