"""All shows of one kind in one wiring together, and which of them miss what is asked."""

from collections.abc import Iterator, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from tests.bench.single_faults.measures import Outcome, kinds_of
from tests.bench.truth.shows import WIRED
from tests.bench.truth.summary import share

MOST_RATIO = 1.1
LEAST_NAMED = 0.90
# chosen: so many shows behind each miss are listed, the worst first
_LISTED = 5


class Row(NamedTuple):
    """What came of the shows of one kind in one wiring; a share or median of nothing is NaN.

    `rms_s` and `best_rms_s` are of slack, the engine's and the best's, from when the fault shows, `ratio` the first by
    the second, `found_ratio` the same from when it was found; `within` is the share within two stated deviations.
    False acts and watches, and what was named wrongly, are a show. `knowable` is of how many shows the fault could be
    known; of these are the shares of what follows and the medians, in seconds after that: of those in which people were
    told of anything at its places, were told its name by then, and were told its name at all.
    """

    kind: str
    wired: str
    shows: int
    rms_s: float
    best_rms_s: float
    ratio: float
    found_ratio: float
    within: float
    false_acts: float
    false_watches: float
    false_kinds: dict[str, int]
    knowable: int
    told: float
    told_after_s: float
    named_in_time: float
    named: float
    named_after_s: float
    wrong: float

    @property
    def missed(self) -> tuple[str, ...]:
        """Which targets it misses; that a fault is named is asked by contacts only."""
        slack = ("slack",) if self.ratio > MOST_RATIO else ()
        asked = self.wired == "contacts" and self.knowable > 0
        return (*slack, "named") if asked and not self.named_in_time >= LEAST_NAMED else slack


def rows(outcomes: Sequence[Outcome]) -> list[Row]:
    """One for each kind and wiring, in their order."""
    pairs = dict.fromkeys((outcome.show.scenario, outcome.show.wired) for outcome in outcomes)
    return [_row([one for one in outcomes if (one.show.scenario, one.show.wired) == pair]) for pair in pairs]


def _row(outcomes: Sequence[Outcome]) -> Row:
    show, number = outcomes[0].show, len(outcomes)
    mine_s, best_s = rms_s([outcome.errors_s for outcome in outcomes])
    found_s, best_found_s = rms_s([outcome.found_errors_s for outcome in outcomes])
    false = list(chain.from_iterable(outcome.false for outcome in outcomes))
    knowable = [outcome for outcome in outcomes if outcome.known_s is not None]
    return Row(
        show.scenario,
        show.wired,
        number,
        mine_s,
        best_s,
        mine_s / best_s,
        found_s / best_found_s,
        share(outcome.within for outcome in outcomes).value,
        sum(telling.level == "act" for telling in false) / number,
        sum(telling.level == "watch" for telling in false) / number,
        kinds_of(false),
        len(knowable),
        _of([outcome.told_s is not None for outcome in knowable]),
        _median_s([(outcome.told_s, outcome.known_s) for outcome in knowable]),
        _of([outcome.named_in_time for outcome in knowable]),
        _of([outcome.named_s is not None for outcome in knowable]),
        _median_s([(outcome.named_s, outcome.known_s) for outcome in knowable]),
        sum(len(outcome.wrong) for outcome in outcomes) / number,
    )


def rms_s(shows: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float]:
    """The engine's and the best's RMS error of slack, of the errors of some shows."""
    errors_s = np.array(list(chain.from_iterable(shows))).reshape(-1, 2)
    mine_s, best_s = np.sqrt((errors_s**2).mean(axis=0)).tolist() if len(errors_s) else (np.nan, np.nan)
    return mine_s, best_s


def _of(so: Sequence[bool]) -> float:
    return sum(so) / len(so) if so else np.nan


def _median_s(pairs: Sequence[tuple[float | None, float | None]]) -> float:
    after_s = [at_s - known_s for at_s, known_s in pairs if at_s is not None and known_s is not None]
    return float(np.median(after_s)) if after_s else np.nan


def worst(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """The shows behind each miss, the worst first."""
    for row in rows(outcomes):
        these = [one for one in outcomes if (one.show.scenario, one.show.wired) == (row.kind, row.wired)]
        yield from _slack_worst(row, these)
        yield from _false_worst(these)
        yield from _unnamed(these)


def _slack_worst(row: Row, outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Those that add most to the error of slack, where that is too large; then from when they were found."""
    if row.ratio > MOST_RATIO:
        yield from _off([(outcome, outcome.errors_s) for outcome in outcomes], "slack off")
    if row.found_ratio > MOST_RATIO:
        yield from _off([(outcome, outcome.found_errors_s) for outcome in outcomes], "once found slack off")


def _off(shows: Sequence[tuple[Outcome, Sequence[tuple[float, float]]]], what: str) -> Iterator[str]:
    found = [(*_sums(errors_s), *rms_s([errors_s]), outcome) for outcome, errors_s in shows if errors_s]
    for mine, best, mine_s, best_s, outcome in sorted(found, key=lambda one: one[1] - one[0])[:_LISTED]:
        if mine > MOST_RATIO**2 * best:
            since = "" if outcome.found_s is None else f" (found at {outcome.found_s:.0f} s)"
            yield f"{_line(outcome)}: {what} by {mine_s:.2f} s, the best by {best_s:.2f} s{since}"


def _sums(errors_s: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """What one show adds to the sum of squares, the engine's and the best's."""
    mine, best = (np.array(errors_s) ** 2).sum(axis=0).tolist()
    return mine, best


def _false_worst(outcomes: Sequence[Outcome]) -> Iterator[str]:
    found = sorted((outcome for outcome in outcomes if outcome.false), key=lambda outcome: -len(outcome.false))
    for outcome in found[:_LISTED]:
        told = [f"{telling.level} {telling.key} at {telling.at_s:.0f} s" for telling in outcome.false]
        rest = f" and {len(told) - _LISTED} more" if len(told) > _LISTED else ""
        yield f"{_line(outcome)}: false {', '.join(told[:_LISTED])}{rest}"


def _unnamed(outcomes: Sequence[Outcome]) -> Iterator[str]:
    found = [outcome for outcome in outcomes if outcome.known_s is not None and not outcome.named_in_time]
    for outcome in found[:_LISTED]:
        told = "nothing told" if outcome.told_s is None else f"first told at {outcome.told_s:.0f} s"
        name = "never named" if outcome.named_s is None else f"named at {outcome.named_s:.0f} s"
        also = "".join(f", named {wrong.kind} {wrong.subject}" for wrong in sorted(outcome.wrong))
        yield f"{_line(outcome)}: could be known at {outcome.known_s or 0.0:.0f} s, {told}, {name}{also}"


def _line(outcome: Outcome) -> str:
    show = outcome.show
    size = f" {outcome.size:+.5g}" if outcome.size else ""
    fault = f"{outcome.right.kind} {outcome.right.subject}{size} from {outcome.since_s:.0f} s"
    return f"{show.wired} {show.scenario} {show.seed} ({', '.join(WIRED[show.wired])}; {fault})"
