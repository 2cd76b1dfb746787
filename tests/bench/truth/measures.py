"""What one simulated show says of the engine: its estimate against the truth and against the best, and its alarms."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from adapters.drill import Drill, Truth, simulate
from adapters.drill.scenario import RateFault
from server.timeline.alarms import ADOPT_S
from server.timeline.engine import replay
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event, order_key
from server.timeline.evidence import Evidence
from server.timeline.fold import Fold
from server.timeline.forecast import gone_after_s
from server.timeline.outlook import Outlook, Slacks, variance_at
from server.timeline.plan import Plan
from server.timeline.prospect import HORIZONS
from server.timeline.track import Track
from server.timeline.view import AlarmRecord, Record
from server.timeline.viewing import view_of
from tests.bench.truth.batch import Batch, Told
from tests.bench.truth.endings import (
    Light,
    RunOut,
    Spent,
    cleared_of,
    is_of_slack,
    is_past,
    lights_of,
    run_outs_of,
    sds_s,
    short_tail_told,
)
from tests.bench.truth.shows import GROUPED, ORDINARY, PRINT_OFF, RUNS_OFF, SINGLE, Show, plan_of, scenario_of
from tests.bench.truth.tellings import OWN, Telling, kind_of, tellings_of

# One standard deviation either side holds 68 %, this many 90 % (normal tables).
SD_90 = 1.6449
# This many are passed with a probability of 90 % (the same).
_SURE_SD = 1.2816
SAMPLES = 12
# chosen: while a motor runs off its links are looked at this often
EVERY_S = 60.0
_MOST_PASSES = 2
# A stop is dated to when it was, and told of after the plan's start_grace_s.
_GRACE_S = 1.0
_TELLS_OF_MOTOR = frozenset({"motor_start", "motor_stop", "mark_pass"})
# chosen: slack that differs by less is the same
_SAME_SLACK_S = 0.05


class Interval(NamedTuple):
    """One 90 % interval, and what it should hold: the truth's distance from its middle, in its half widths."""

    off: float

    @property
    def holds(self) -> bool:
        return abs(self.off) <= 1.0


class Mistold(NamedTuple):
    """A motor of which somebody told in the wrong house that it starts or stops: which, and for how long so."""

    station: int
    from_s: float
    until_s: float


class Found(NamedTuple):
    """A rate fault that spends a reserve: when, when it was told of, and when it could have been (None: not before).

    All are seconds after the fault began.
    """

    gone_s: float
    told_s: float | None
    best_s: float | None


@dataclass
class Result:
    """All that was measured in one show; errors of slack are the engine's and the best's of the same instants.

    `left_out` is of how many the error is not asked, because somebody told wrongly that a motor of the link stopped or
    started: that has to be believed, and what is in the link is then known to nobody. `short_tail` is whether a tail
    that is too short was told of as it should be, None where it is not too short. `to_come` are tellings of slack.
    """

    show: Show
    hours: float
    errors_s: list[tuple[float, float]] = field(default_factory=list)
    left_out: int = 0
    run_outs: list[RunOut] = field(default_factory=list)
    short_tail: bool | None = None
    lights: list[Light] = field(default_factory=list)
    to_come: list[Spent] = field(default_factory=list)
    slack: list[Interval] = field(default_factory=list)
    passes: list[Interval] = field(default_factory=list)
    gone: list[Interval] = field(default_factory=list)
    found: Found | None = None
    told: list[Telling] = field(default_factory=list)
    first_outs: list[Telling] = field(default_factory=list)


@dataclass(frozen=True)
class Sheet:
    """What the engine's answers are held to."""

    truth: Truth
    best: Batch
    fault: Told | None
    mistold: Sequence[Mistold]


def measure(show: Show) -> Result:
    """Simulate one show, let the engine see it, and hold what it says to the truth."""
    plan = plan_of(show.wired, grouped=show.scenario == GROUPED)
    drill = simulate(plan, scenario_of(show, plan), show.seed)
    events = sorted(drill.events, key=lambda event: order_key(event, plan))
    result = Result(show, drill.truth.end_s / 3600.0)
    fault = _fault(drill.truth)
    best = Batch(plan, true_events(drill, events), fault, _spliced_s(drill.truth))
    sheet = Sheet(drill.truth, best, fault, _mistold(drill, events))
    instants_s = _instants_s(drill.truth, show, fault)
    records: list[Record] = []
    known: _Known = {}
    track = Track(plan)
    for event in events:
        at_s = order_key(event, plan)[0] / US_PER_S
        while instants_s and instants_s[0] < at_s:
            _look(result, track.tip, sheet, instants_s.pop(0))
        before = track.tip.evidence
        told = track.insert(event)
        _keep_known(known, told, before, track.tip.evidence, at_s)
        records += told
    fold = track.tip.copy()
    told = fold.advance(round(drill.truth.end_s * US_PER_S))
    _keep_known(known, told, fold.evidence, fold.evidence, drill.truth.end_s)
    records += told
    result.told = tellings_of(records, drill.truth)
    result.run_outs = run_outs_of(drill.truth, result.told)
    result.short_tail = short_tail_told(drill.truth, result.told, cleared_of(records))
    result.lights = lights_of(drill.truth, show.wired, result.told)
    slacks = [telling for telling in result.told if is_of_slack(telling.key)]
    result.to_come = [Spent(t, is_past(t, drill.truth, known[t.at_s, t.key])) for t in slacks]
    if fault is not None:
        result.found = _found(plan, drill.truth, best, fault, result.told)
    if show.scenario in SINGLE:
        result.first_outs = _first_outs_of_fault(plan, drill.truth, result.told)
    return result


_Known = dict[tuple[float, str], list[float]]


def _keep_known(known: _Known, told: Sequence[Record], before: Evidence, after: Evidence, at_s: float) -> None:
    """Keep how well slack was known when it was told of: what an event brings, by that, and all before it, without."""
    for record in told:
        if isinstance(record, AlarmRecord) and is_of_slack(record.key):
            told_s = record.at_us / US_PER_S
            known[told_s, record.key] = sds_s((before if told_s < at_s else after).outlook, told_s)


def _first_outs_of_fault(plan: Plan, truth: Truth, told: Sequence[Telling]) -> list[Telling]:
    """The first-outs above a note that a fault brings, until the crew acts on it.

    Those are left out that the same show without its fault, to the last draw of chance, has as well; and false watches
    of what the fault does not touch, which are counted with the false ones. Slack that is told of in the moment before
    a stop that explains it is put under that. What asks for something of its own is told beside what it follows from:
    it is no other first-out of the same fault.
    """
    plain = simulate(plan, replace(truth.scenario, faults=(), restart_after_s=None), truth.seed)
    events = sorted(plain.events, key=lambda event: order_key(event, plan))
    records = replay(plan, events, round(plain.truth.end_s * US_PER_S))[0]
    anyhow = {telling.key for telling in tellings_of(records, plain.truth)}
    touched, until_s = _touched(truth), _acted_on_s(truth)
    found = [
        t
        for t in told
        if t.first_out
        and kind_of(t) not in OWN
        and t.level != "note"
        and t.at_s < until_s
        and t.key not in anyhow
        and (t.true or t.level == "act" or t.key.partition(":")[2] in touched)
        and not _is_so_anyhow(t, truth, plain.truth)
    ]
    stops_s = [t.at_s for t in found if not t.key.startswith("slack_")]
    return [
        t for t in found if not (t.key.startswith("slack_") and any(-_GRACE_S < s - t.at_s <= ADOPT_S for s in stops_s))
    ]


def _touched(truth: Truth) -> set[str]:
    """The stations of a fault and the links beside them; all of them where it is of the whole chain."""
    stations = {station.id for station in truth.plan.stations}
    told = (getattr(fault, "station", None) for fault in truth.scenario.faults)
    touched = {station for station in told if isinstance(station, str)} or stations
    return touched | {link.id for link in truth.plan.links if touched & set(link.id.split(">"))}


def _acted_on_s(truth: Truth) -> float:
    """When the crew did something about it: trimmed the motor the other way, or had the whole chain stand."""
    trims_s = [fault.at_s for fault in truth.scenario.of(RateFault)[1:]]
    spells = sorted(spell for spells in truth.course.spells for spell in spells)
    stood_s = spells[0].off_s
    for spell in spells:
        if spell.on_s > stood_s:
            break
        stood_s = max(stood_s, spell.off_s)
    return min([*trims_s, stood_s])


def _is_so_anyhow(telling: Telling, truth: Truth, plain: Truth) -> bool:
    """Whether it tells of slack that truly is there, and is the same without the fault."""
    kind, _, link = telling.key.partition(":")
    if kind not in {"slack_tight", "slack_loose"} or not telling.true:
        return False
    at_s = np.array(telling.at_s)
    return abs(float(truth.slack_s(link, at_s) - plain.slack_s(link, at_s))) < _SAME_SLACK_S


def _fault(truth: Truth) -> Told | None:
    faults = [fault for fault in truth.scenario.of(RateFault) if fault.station is not None]
    if truth.scenario.name not in {RUNS_OFF, "trip"}:
        return None
    (fault,) = faults
    return Told(truth.plan.station_index[fault.station or ""], fault.at_s)


def _spliced_s(truth: Truth) -> float:
    return min((from_s for from_s, _ in truth.course.print_shifts_s), default=np.inf)


def true_events(drill: Drill, events: Sequence[Event]) -> list[Event]:
    """The evidence as it truly is: without what was tapped wrong, and with one tap of each pair."""
    wrong = {m.event_id for m in drill.truth.mistakes if m.text != "tapped twice"}
    wrong |= {event.retracts for event in events if event.kind == "retract"}
    seen: set[tuple[str | None, str | None, str]] = set()
    kept = []
    for event in events:
        once = (event.station, event.mark, event.source)
        if event.id in wrong or (event.kind == "mark_pass" and once in seen):
            continue
        if event.kind == "mark_pass":
            seen.add(once)
        kept.append(event)
    return kept


def _mistold(drill: Drill, events: Sequence[Event]) -> list[Mistold]:
    """Each is over with the next that is seen of that motor, or once the tap is taken back."""
    plan, wrong = drill.truth.plan, {m.event_id: m for m in drill.truth.mistakes if m.text.startswith("tapped at ")}
    found = []
    for n, event in enumerate(events):
        if event.id in wrong and event.kind in {"motor_start", "motor_stop"}:
            ends = (
                order_key(later, plan)[0] / US_PER_S
                for later in events[n + 1 :]
                if later.retracts == event.id
                or later.kind in {"chain_start", "chain_stop"}
                or (later.id not in wrong and later.station == event.station and later.kind in _TELLS_OF_MOTOR)
            )
            at_s = order_key(event, plan)[0] / US_PER_S
            found.append(Mistold(plan.station_index[event.station or ""], at_s, next(ends, np.inf)))
    return found


def _instants_s(truth: Truth, show: Show, fault: Told | None) -> list[float]:
    rng = np.random.default_rng([show.seed, 7])
    first_s = min((at_s for at_s in truth.starts_s.values() if at_s is not None), default=0.0) + 1.0
    found = rng.uniform(first_s, truth.end_s, SAMPLES).tolist()
    gone_s = _first_gone_s(truth)
    if fault is not None and gone_s is not None:
        found += np.arange(fault.at_s + EVERY_S, gone_s, EVERY_S).tolist()
    return sorted(found)


def _first_gone_s(truth: Truth) -> float | None:
    return min((at_s for at_s in truth.gone_s.values() if at_s is not None), default=None)


def _look(result: Result, fold: Fold, sheet: Sheet, at_s: float) -> None:
    """Hold the estimate at one instant to the truth."""
    evidence = fold.evidence
    if sheet.fault is None:
        if result.show.scenario in (*ORDINARY, PRINT_OFF):
            hold_slack(result, fold, sheet, at_s)
        result.passes += _passes(evidence, sheet.truth, at_s)
    elif at_s > sheet.fault.at_s:
        result.gone += _gone(evidence, sheet.truth, at_s, sheet.fault)


def hold_slack(result: Result, fold: Fold, sheet: Sheet, at_s: float) -> None:
    """A link whose film has a free end has no slack, by the truth or by what desks are told."""
    outlook, then = fold.evidence.outlook, fold.copy()
    then.advance(round(at_s * US_PER_S))
    free = {i for i, link in enumerate(view_of(then).links) if link.slack_s is None}
    after_s = at_s - outlook.at_us / US_PER_S if any(outlook.rate) else 0.0
    ideal = sheet.best.outlook(at_s)
    unknown = {one.station for one in sheet.mistold if one.from_s <= at_s < one.until_s}
    for i, link in enumerate(sheet.truth.plan.links):
        true_s = float(sheet.truth.slack_s(link.id, np.array(at_s)))
        sd_s = variance_at(outlook.slack_var[i], after_s) ** 0.5
        if np.isnan(true_s) or sd_s <= 0.0 or i in free:
            continue
        if unknown & {i, i + 1}:
            result.left_out += 1
            continue
        error_s = outlook.slack[i] + outlook.drift[i] * after_s - true_s
        result.errors_s.append((error_s, ideal.slack[i] - true_s))
        result.slack.append(Interval(error_s / (SD_90 * sd_s)))


def _passes(evidence: Evidence, truth: Truth, at_s: float) -> list[Interval]:
    """The next passes at every gate whose motor runs on until then."""
    found = []
    for k, station in enumerate(truth.plan.stations):
        to_come = sorted((t, mark) for mark, t in truth.passes[station.id].items() if t > at_s)[:_MOST_PASSES]
        spells = [spell for spell in truth.course.spells[k] if spell.on_s <= at_s < spell.off_s]
        for true_s, mark in to_come:
            eta = evidence.prospect.eta_us(k, truth.plan.mark(mark).x_s)
            if eta is not None and eta[1] > 0.0 and spells and true_s < spells[0].off_s:
                found.append(Interval((eta[0] / US_PER_S - true_s) / (SD_90 * eta[1])))
    return found


def _gone(evidence: Evidence, truth: Truth, at_s: float, fault: Told) -> list[Interval]:
    """The end of the reserve that the motor that runs off spends first, where desks are given both its limits.

    What is gone after that is gone because film has stopped there.
    """
    horizon_s = truth.plan.timing.forecast_horizon_s
    reserves_s = np.array([link.reserve_s for link in truth.plan.links])
    now, first_s = _moved_to(evidence.outlook, at_s), _first_gone_s(truth)
    early_late = gone_after_s(_slacks(now), reserves_s, (0.05, 0.95), HORIZONS * horizon_s)
    for link in now.links_beside(fault.station):
        low, high = early_late[link.link]
        if truth.gone_s[truth.plan.links[link.link].id] != first_s or first_s is None or first_s <= at_s:
            continue
        if low is not None and high is not None and high > low:
            middle = at_s + 0.5 * (low + high)
            return [Interval((first_s - middle) / (0.5 * (high - low)))]
    return []


def _moved_to(outlook: Outlook, at_s: float) -> Outlook:
    """The same estimate, as of later."""
    d = at_s - outlook.at_us / US_PER_S
    var = [
        (a + d * (b + d * (c + d * w)), b + d * (2.0 * c + 3.0 * d * w), c + 3.0 * d * w, w)
        for a, b, c, w in outlook.slack_var
    ]
    slack = [s + d * v for s, v in zip(outlook.slack, outlook.drift, strict=True)]
    return outlook._replace(at_us=round(at_s * US_PER_S), slack=slack, slack_var=var)


def _found(plan: Plan, truth: Truth, best: Batch, fault: Told, told: Sequence[Telling]) -> Found | None:
    links = [plan.links[i] for i in (fault.station - 1, fault.station) if 0 <= i < len(plan.links)]
    gone = [at_s for link in links if (at_s := truth.gone_s[link.id]) is not None]
    if not gone or min(gone) < fault.at_s:
        return None
    gone_s = min(gone)
    keys = {f"{kind}:{link.id}" for kind in ("slack_tight", "slack_loose", "slack_forecast") for link in links}
    alarms = [one.at_s for one in told if one.key in keys and fault.at_s < one.at_s < gone_s]
    best_s = _best_s(plan, best, fault, [plan.links.index(link) for link in links], gone_s)
    told_s = alarms[0] - fault.at_s if alarms else None
    return Found(gone_s - fault.at_s, told_s, None if best_s is None else best_s - fault.at_s)


def _best_s(plan: Plan, best: Batch, fault: Told, links: Sequence[int], gone_s: float) -> float | None:
    """When the alarms of slack would first have been raised by the best that can be known."""
    seen_s: list[float] = [t for t in best.at_s.tolist() if fault.at_s < t < gone_s]
    reserves_s = np.array([link.reserve_s for link in plan.links])
    horizon_s = plan.timing.forecast_horizon_s
    for at_s, next_s in zip(seen_s, [*seen_s[1:], gone_s], strict=True):
        outlook = best.outlook(at_s)
        gone_in = gone_after_s(_slacks(outlook), reserves_s, (0.9,), 4.0 * horizon_s)
        for i in links:
            sure = abs(outlook.slack[i]) - _SURE_SD * outlook.slack_var[i][0] ** 0.5 >= 0.5 * reserves_s[i]
            ahead = gone_in[i][0]
            waits = [*([0.0] if sure else []), *([] if ahead is None else [max(ahead - horizon_s, 0.0)])]
            if waits and at_s + min(waits) < next_s:
                return at_s + min(waits)
    return None


def _slacks(outlook: Outlook) -> Slacks:
    return Slacks(*map(np.asarray, (outlook.slack, outlook.drift, outlook.slack_var)))
