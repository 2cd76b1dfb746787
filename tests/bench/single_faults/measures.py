"""What one show with a single fault says of the engine: its slack, what it told falsely, whether it named the fault."""

from dataclasses import dataclass, field

import numpy as np

from adapters.drill import Truth
from server.timeline.alarm_kinds import OF_LINKS
from server.timeline.estimate import US_PER_S
from server.timeline.events import order_key
from server.timeline.track import Track
from server.timeline.view import Record
from tests.bench.single_faults.belief import Belief
from tests.bench.single_faults.cases import Case, case_of
from tests.bench.single_faults.naming import Named, named
from tests.bench.truth.measures import SAMPLES, SD_90, Result, Sheet, hold_slack
from tests.bench.truth.shows import Show
from tests.bench.truth.tellings import Telling, kind_of, tellings_of

_SDS = 2.0
# What may be told on account of one of these faults; lamps and dousers are told of for reasons of their own.
_OF_FAULTS = OF_LINKS | {"misfit", "mark_overdue", "film_trip", "motor_lost", "start_missing"}
# chosen: a mark is told to be overdue seconds after it was due
_OVERDUE_S = 60.0
# A clock that is early dates what it tells of by so much before the fault.
_EARLY_S = 2.0


@dataclass(frozen=True)
class Outcome:
    """All that was measured in one show; times are seconds after `motors_at`, None where it never came to that.

    `errors_s` are the engine's and the best's error of slack at the same instants, each at its one of `error_at_s`,
    `within` whether the engine's was within two of its standard deviations. `told_s` is when people were first told of
    anything at the fault's places, `alarmed_s` when of anything that asks for somebody, which a note does not,
    `named_s` when the fault was named, `believed_s` when the state took it for what it is, told or not, `known_s` when
    it could be known; `wrong` is what else was named, and `false` the acts and watches that the truth does not bear
    out.
    """

    show: Show
    right: Named
    size: float
    since_s: float
    known_s: float | None
    told_s: float | None
    alarmed_s: float | None
    named_s: float | None
    believed_s: float | None = None
    errors_s: list[tuple[float, float]] = field(default_factory=list)
    error_at_s: list[float] = field(default_factory=list)
    within: list[bool] = field(default_factory=list)
    false: list[Telling] = field(default_factory=list)
    wrong: frozenset[Named] = frozenset()
    told: list[Telling] = field(default_factory=list)

    @property
    def named_in_time(self) -> bool:
        """Whether the fault was named no later than anything that asks for somebody was told of it."""
        return self.named_s is not None and (self.alarmed_s is None or self.named_s <= self.alarmed_s)

    @property
    def found_s(self) -> float | None:
        """When the engine found the fault: believed or named it; where it did neither, when it could be known."""
        found_s = [at_s for at_s in (self.believed_s, self.named_s) if at_s is not None]
        return min(found_s, default=self.known_s)

    @property
    def found_errors_s(self) -> list[tuple[float, float]]:
        """The errors from then on: what they have over the best's is the estimate's own, and no delay of finding it."""
        if self.found_s is None:
            return []
        pairs = zip(self.error_at_s, self.errors_s, strict=True)
        return [errors_s for at_s, errors_s in pairs if at_s >= self.found_s]


def measure(show: Show) -> Outcome:
    """Simulate one show, let the engine see it, and hold what it says to the truth."""
    case = case_of(show)
    slack = Result(show, case.truth.end_s / 3600.0)
    sheet, instants_s = Sheet(case.truth, case.best, None, ()), _instants_s(case, show)
    records: list[Record] = []
    names: dict[Named, float] = {}
    error_at_s: list[float] = []
    track, belief = Track(case.plan), Belief(case)
    for event in case.events:
        at_s = order_key(event, case.plan)[0] / US_PER_S
        while instants_s and instants_s[0] < at_s:
            hold_slack(slack, track.tip, sheet, instants_s[0])
            error_at_s += [instants_s.pop(0)] * (len(slack.errors_s) - len(error_at_s))
        records += track.insert(event)
        belief.see(track.tip, at_s)
        for name in named(track.tip):
            names.setdefault(name, at_s)
    records += track.tip.copy().advance(round(case.truth.end_s * US_PER_S))
    told = [t._replace(true=_is_true(t, case)) for t in tellings_of(records, case.truth)]
    of_fault = [t for t in told if _is_of_fault(t, case)]
    return Outcome(
        show,
        case.single.right,
        case.single.size,
        case.since_s,
        case.known_s,
        min((t.at_s for t in of_fault), default=None),
        min((t.at_s for t in of_fault if t.level != "note"), default=None),
        names.get(case.single.right),
        belief.at_s,
        slack.errors_s,
        error_at_s,
        [abs(interval.off) <= _SDS / SD_90 for interval in slack.slack],
        [t for t in told if t.level != "note" and not t.true],
        frozenset(names) - {case.single.right} - case.by_nature,
        told,
    )


def _instants_s(case: Case, show: Show) -> list[float]:
    """From when the fault shows until a reserve is spent, if that comes first: then film stands."""
    ends_s = [case.truth.end_s, *(spent.at_s for spent in case.truth.spent)]
    found = np.random.default_rng([show.seed, 7]).uniform(case.since_s, min(ends_s), SAMPLES)
    return sorted(found.tolist())


def _is_of_fault(telling: Telling, case: Case) -> bool:
    """Whether it is told at the fault's places once that shows; slack that is truly there is of what moves film."""
    kind, _, subject = telling.key.partition(":")
    by_nature = kind in OF_LINKS and telling.true and not case.single.effect.moves_slack
    at_places = subject in case.single.places and telling.at_s >= case.since_s - _EARLY_S
    return kind in _OF_FAULTS and at_places and not by_nature


def _is_true(telling: Telling, case: Case) -> bool:
    kind, _, subject = telling.key.partition(":")
    if kind == "start_missing":
        return _is_late(subject, case.truth)
    if kind == "mark_overdue":
        return _is_overdue(subject, case, telling.at_s)
    return telling.true


def _is_late(station: str, truth: Truth) -> bool:
    """Whether a motor truly started later than it may, or not at all."""
    planned_s = truth.plan.stations[truth.plan.station_index[station]].start_offset_s
    started_s = truth.starts_s[station]
    return started_s is None or started_s > planned_s + truth.plan.timing.start_grace_s


def _is_overdue(station: str, case: Case, at_s: float) -> bool:
    """Whether a mark has just gone by without its foil, or the film stands."""
    spells = case.truth.course.spells[case.plan.station_index[station]]
    if not any(spell.on_s <= at_s < spell.off_s for spell in spells):
        return True
    gone_s = case.truth.passes[station].get(case.single.right.subject)
    missing = case.single.right.kind == "foil_missing"
    return missing and gone_s is not None and gone_s <= at_s <= gone_s + _OVERDUE_S


def kinds_of(told: list[Telling]) -> dict[str, int]:
    """How often each kind of alarm is among these."""
    kinds = [kind_of(telling) for telling in told]
    return {kind: kinds.count(kind) for kind in sorted(set(kinds))}
