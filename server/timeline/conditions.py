"""Which alarms the evidence calls for, as levels over the time to come. The table in DEVELOPERS.md says it in words."""

import math
from collections.abc import Iterator
from statistics import median
from typing import NamedTuple

from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.plan import Plan
from server.timeline.steps import ALWAYS_US, Steps, delayed, level_at, steps_of_line, until
from server.timeline.view import Level
from server.timeline.wording import text_of

RANK: dict[Level, int] = {"note": 0, "watch": 1, "act": 2}

TIGHT_RAISE: tuple[tuple[float, Level], ...] = ((0.5, "watch"), (0.9, "act"))
TIGHT_HOLD: tuple[tuple[float, Level], ...] = ((0.4, "watch"), (0.8, "act"))
FORECAST_ACT_S = 60.0
OVERDUE_S, OVERDUE_SD = 5.0, 3.0
DARK_SD = 2.0
NOTE_S = 60.0
CLOCK_STEP_S = 0.2
# chosen deadbands: an estimate that moves by less than this does not put an alarm out that it raised
_ESTIMATE_BAND_S = 5.0
_FORECAST_BAND_S = 30.0
# chosen: contacts of one fault may close in any order, and somebody notices a stop seconds late
_TOLD_LATE_S = 5.0


class Condition(NamedTuple):
    """One alarm that may be on now or later.

    It turns on, or rises, to the level of `on`; it stays on, or falls, by the level of `stay`. `causes` are the keys
    that it would follow from, the deepest first; `blocked_by` keys keep it from turning on while they are at `act`.
    `since_us` dates the alarm where its condition is older than its being known.
    """

    kind: str
    subject: str
    on: Steps
    stay: Steps
    text: str
    causes: tuple[str, ...] = ()
    blocked_by: tuple[str, ...] = ()
    since_us: int | None = None

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.subject}"


def conditions_of(evidence: Evidence, until_us: int) -> tuple[Condition, ...]:
    """Read the conditions off the evidence, those that others follow from first.

    They are valid until the next event, or `until_us` if that comes first: what cannot turn before then is left out.
    """
    due_us = _starts_due(evidence)
    return (
        *_trips(evidence),
        *_starts_missing(evidence, due_us),
        *_motors_lost(evidence),
        *_lamps(evidence, until_us),
        *_marks_overdue(evidence, until_us),
        *_links(evidence, due_us, until_us),
        *_misfits(evidence),
        *_sources(evidence),
        *_clock(evidence),
    )


def _us(seconds: float) -> int:
    return round(seconds * US_PER_S)


def _steady(at_us: int, level: Level) -> Steps:
    return ((at_us, level),)


def _same(kind: str, subject: str, steps: Steps, text: str, **more: int) -> Condition:
    return Condition(kind, subject, steps, steps, text, since_us=more.get("since_us"))


def _trips(evidence: Evidence) -> Iterator[Condition]:
    for k, (station, state) in enumerate(zip(evidence.plan.stations, evidence.stations, strict=True)):
        if state.trip_us is not None:
            steps = _steady(state.trip_us, "act")
            causes = (*_stops_beside(evidence, k, state.trip_us), *_slack_beside(evidence.plan, k))
            yield Condition("film_trip", station.id, steps, steps, text_of("film_trip", station.house), causes)


def _stops_beside(evidence: Evidence, k: int, at_us: int) -> tuple[str, ...]:
    """What stopped a neighbour so shortly before that this stop may follow from it.

    A link beside a motor that stands fills or empties at a second a second, so from one end of its reserve to the
    other it lasts for twice the reserve.
    """
    causes: tuple[str, ...] = ()
    for j in (k - 1, k + 1):
        if 0 <= j < len(evidence.stations) and not evidence.stations[j].running:
            link, station = evidence.plan.links[min(j, k)], evidence.plan.stations[j].id
            since_us = evidence.stations[j].stopped_us
            lasts_us = _us(2.0 * link.reserve_s + _TOLD_LATE_S)
            if since_us is None or -_us(_TOLD_LATE_S) <= at_us - since_us <= lasts_us:
                causes += (f"film_trip:{station}", f"motor_lost:{station}", f"start_missing:{station}")
    return causes


def _slack_beside(plan: Plan, k: int) -> tuple[str, ...]:
    """What is told of the two links of a station before their reserve is gone."""
    return tuple(
        f"{kind}:{link.id}"
        for link in plan.links[max(k - 1, 0) : k + 1]
        for kind in ("slack_tight", "slack_loose", "slack_forecast")
    )


def _starts_due(evidence: Evidence) -> dict[int, int]:
    """When each motor that is on a contact, and stands though it should not, was due to start; by station."""
    halt_us = evidence.halt_us
    states, stations = evidence.stations, evidence.plan.stations
    first = not evidence.halted_mid_show
    starts = [
        state.started_us - (_us(station.start_offset_s) if first else 0)
        for station, state in zip(stations, states, strict=True)
        if state.started_us is not None and (halt_us is None or state.started_us > halt_us)
    ]
    if not starts:
        return {}
    together_us = round(median(starts))
    return {
        k: together_us + (_us(station.start_offset_s) if first else 0)
        for k, station in enumerate(stations)
        if station.inputs.motor == "contact" and _awaits_start(evidence, k)
    }


def _awaits_start(evidence: Evidence, station: int) -> bool:
    state = evidence.stations[station]
    if state.running or evidence.is_out(station, "tail_end"):
        return False
    if state.started_us is None:
        return True
    return _stopped_with_chain(evidence, station)


def _stopped_with_chain(evidence: Evidence, station: int) -> bool:
    """Whether a motor's stop belongs to a stop of the whole chain, or the chain has been stopped since."""
    stopped_us = evidence.stations[station].stopped_us
    if stopped_us is None or evidence.halt_us is None:
        return False
    return evidence.halt_us >= stopped_us - _us(evidence.plan.timing.start_grace_s)


def _starts_missing(evidence: Evidence, due_us: dict[int, int]) -> Iterator[Condition]:
    grace_us = _us(evidence.plan.timing.start_grace_s)
    for k, due in due_us.items():
        station = evidence.plan.stations[k]
        text = text_of("start_missing", station.house)
        yield Condition("start_missing", station.id, _steady(due + grace_us, "act"), _steady(due, "act"), text)


def _motors_lost(evidence: Evidence) -> Iterator[Condition]:
    grace_us = _us(evidence.plan.timing.start_grace_s)
    for k, (station, state) in enumerate(zip(evidence.plan.stations, evidence.stations, strict=True)):
        if state.running or state.stopped_us is None or evidence.is_out(k, "tail_end"):
            continue
        if not _stopped_with_chain(evidence, k):
            # Told only once the grace is over: until then it may turn out to be a stop of the chain.
            steps = _steady(state.stopped_us + grace_us, "act")
            text = text_of("motor_lost", station.house)
            beside = _stops_beside(evidence, k, state.stopped_us)
            causes = (f"film_trip:{station.id}", *beside, *_slack_beside(evidence.plan, k))
            yield Condition("motor_lost", station.id, steps, steps, text, causes, since_us=state.stopped_us)


def _lamps(evidence: Evidence, until_us: int) -> Iterator[Condition]:
    for k, station in enumerate(evidence.plan.stations):
        if station.inputs.lamp != "none":
            yield from _strikes(evidence, k, until_us)
            yield from _lamp_lost(evidence, k)
            yield from _douser_heat(evidence, k)


def _strikes(evidence: Evidence, k: int, until_us: int) -> Iterator[Condition]:
    """A missed strike and the dark gate that follows from it; neither while the motor stands."""
    station, state = evidence.plan.stations[k], evidence.stations[k]
    head_us = evidence.reached_us(k, "head")
    if state.lit or state.lamp_lost or not state.running or head_us is None:
        return
    if head_us - _us(station.lamp.latest_s + _ESTIMATE_BAND_S) > until_us:
        return
    end_us = evidence.reached_us(k, "end")
    by_contact = station.inputs.lamp == "contact"
    missed = "strike_missed" if by_contact else "strike_unconfirmed"
    level: Level = "act" if by_contact else "watch"
    if state.lamp_us is None or state.lamp_us <= head_us:
        closes_us = head_us - _us(station.lamp.latest_s)
        yield _by_estimate(missed, station.id, closes_us, end_us, level, text_of(missed, station.house), ())
    dark_us = head_us
    if "head" not in state.passes and state.latest_x_s < evidence.plan.mark("head").x_s:
        eta = evidence.eta_us(k, evidence.plan.mark("head").x_s)
        dark_us += _us(DARK_SD * eta[1]) if eta is not None else 0
    causes = (f"{missed}:{station.id}",)
    yield _by_estimate("dark_gate", station.id, dark_us, end_us, level, text_of("dark_gate", station.house), causes)


def _by_estimate(
    kind: str, subject: str, on_us: int, end_us: int | None, level: Level, text: str, causes: tuple[str, ...]
) -> Condition:
    on, stay = _steady(on_us, level), _steady(on_us - _us(_ESTIMATE_BAND_S), level)
    return Condition(kind, subject, until(on, end_us), stay, text, causes)


def _lamp_lost(evidence: Evidence, k: int) -> Iterator[Condition]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    if state.lamp_lost and state.lamp_us is not None:
        steps = until(_steady(state.lamp_us, "act"), _clear_us(evidence, k))
        yield _same("lamp_lost", station.id, steps, text_of("lamp_lost", station.house))


def _clear_us(evidence: Evidence, k: int) -> int | None:
    """When a station's tail is out: seen, estimated, or long ago if it stopped with its tail out; else None."""
    out_us = evidence.reached_us(k, "tail_end")
    if out_us is None and not evidence.stations[k].running and evidence.is_out(k, "tail_end"):
        return ALWAYS_US
    return out_us


def _douser_heat(evidence: Evidence, k: int) -> Iterator[Condition]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    if not state.lit or state.douser == "open" or state.lamp_us is None:
        return
    if not state.running and evidence.is_out(k, "head") and state.started_us is not None:
        return
    shut_us = max(state.lamp_us, state.douser_us if state.douser_us is not None else state.lamp_us)
    steps = _steady(shut_us + _us(station.lamp.douser_limit_s), "act")
    yield _same(
        "douser_heat", station.id, until(steps, evidence.reached_us(k, "head")), text_of("douser_heat", station.house)
    )


def _marks_overdue(evidence: Evidence, until_us: int) -> Iterator[Condition]:
    for k, station in enumerate(evidence.plan.stations):
        if station.inputs.cue != "contact":
            continue
        mark = evidence.next_cue(k)
        due_us = evidence.arrival_us(k, mark.x_s) if mark is not None else None
        if mark is None or due_us is None or due_us > until_us:
            continue
        eta = evidence.eta_us(k, mark.x_s)
        late_us = due_us + _us(OVERDUE_S + OVERDUE_SD * (eta[1] if eta is not None else 0.0))
        text = text_of("mark_overdue", station.house, mark.id)
        yield Condition("mark_overdue", station.id, _steady(late_us, "watch"), _steady(due_us, "watch"), text)


def _links(evidence: Evidence, due_us: dict[int, int], until_us: int) -> Iterator[Condition]:
    plan, outlook = evidence.plan, evidence.outlook
    # Where no motor runs slack stands still, and any span will do.
    span_s = (until_us - outlook.at_us) / US_PER_S if any(outlook.rate) else 0.0
    gone_us = evidence.gone_us(span_s)
    for i, link in enumerate(plan.links):
        clear_us = _clear_us(evidence, i)
        # A plan is warned of a link without any reserve; nothing could be watched on it.
        if link.reserve_s <= 0.0 or (clear_us is not None and clear_us <= outlook.at_us):
            continue
        for kind, sign in (("slack_tight", -1.0), ("slack_loose", 1.0)):
            value, slope = sign * outlook.slack[i] / link.reserve_s, sign * outlook.drift[i] / link.reserve_s
            if max(value, value + slope * span_s) < TIGHT_HOLD[0][0]:
                continue
            on = steps_of_line(value, slope, outlook.at_us, TIGHT_RAISE, reached=True)
            stay = steps_of_line(value, slope, outlook.at_us, TIGHT_HOLD, reached=False)
            text, causes = text_of(kind, link.id), _link_causes(plan, i, sign)
            yield Condition(kind, link.id, until(on, clear_us), until(stay, clear_us), text, causes)
        yield from _forecast(evidence, i, gone_us[i], clear_us, due_us)


def _link_causes(plan: Plan, link: int, sign: float) -> tuple[str, ...]:
    """What a link that runs loose (`sign` 1.0) or tight (-1.0) may follow from, the deepest first.

    A stop at either end; what was forecast of it; and the neighbour that runs the other way because of the same motor.
    """
    ends = (plan.stations[link].id, plan.stations[link + 1].id)
    stops = tuple(f"{kind}:{end}" for kind in ("film_trip", "motor_lost", "start_missing") for end in ends)
    other = "slack_tight" if sign > 0.0 else "slack_loose"
    beside = [plan.links[i].id for i in (link - 1, link + 1) if 0 <= i < len(plan.links)]
    forecasts = (f"slack_forecast:{id_}" for id_ in (plan.links[link].id, *beside))
    return (*stops, *(f"{other}:{id_}" for id_ in beside), *forecasts)


def _forecast(
    evidence: Evidence, i: int, gone_us: dict[float, int | None], clear_us: int | None, due_us: dict[int, int]
) -> Iterator[Condition]:
    link, horizon_us = evidence.plan.links[i], _us(evidence.plan.timing.forecast_horizon_s)
    half_us, most_us = gone_us[0.50], gone_us[0.90]
    if half_us is None or (clear_us is not None and half_us > clear_us):
        return
    act_us = half_us - _us(FORECAST_ACT_S)
    stay: Steps = ((half_us - horizon_us, "watch"), (act_us - _us(_FORECAST_BAND_S), "act"))
    on: Steps = ()
    settled_us = _settled_us(evidence, i, due_us)
    if most_us is not None and settled_us is not None:
        known_us = most_us - horizon_us
        on = delayed(_rising((known_us, "watch"), (max(known_us, act_us), "act")), settled_us)
    blocked_by = (f"slack_tight:{link.id}", f"slack_loose:{link.id}")
    text = text_of("slack_forecast", link.id)
    drift, slack = evidence.outlook.drift[i], evidence.outlook.slack[i]
    causes = _link_causes(evidence.plan, i, math.copysign(1.0, drift or slack))
    yield Condition("slack_forecast", link.id, until(on, clear_us), until(stay, clear_us), text, causes, blocked_by)


def _rising(first: tuple[int, Level], second: tuple[int, Level]) -> Steps:
    return (second,) if second[0] <= first[0] else (first, second)


def _settled_us(evidence: Evidence, i: int, due_us: dict[int, int]) -> int | None:
    """From when on a drift between two motors is a drift, and not one of them starting or stopping just behind.

    None where one of them stands and nothing but a tap would tell of its start.
    """
    grace_us = _us(evidence.plan.timing.start_grace_s)
    turns_us = [ALWAYS_US]
    for k in (i, i + 1):
        state = evidence.stations[k]
        if not state.running and state.stopped_us is None:
            if evidence.plan.stations[k].inputs.motor != "contact":
                return None
            turns_us.append(due_us.get(k, ALWAYS_US))
        turns_us.extend(us for us in (state.started_us, state.stopped_us) if us is not None)
    return max(turns_us) + grace_us if len(turns_us) > 1 else None


def _misfits(evidence: Evidence) -> Iterator[Condition]:
    for station, state in zip(evidence.plan.stations, evidence.stations, strict=True):
        if state.misfit_us is not None:
            steps: Steps = ((state.misfit_us, "note"), (state.misfit_us + _us(NOTE_S), None))
            yield _same("misfit", station.id, steps, state.misfit_text, since_us=state.misfit_us)


def _sources(evidence: Evidence) -> Iterator[Condition]:
    for source, state in sorted(evidence.sources.items()):
        if not state.up:
            text = text_of("feed_silent", source, state.text)
            yield _same("feed_silent", source, _steady(state.since_us, "watch"), text)


def _clock(evidence: Evidence) -> Iterator[Condition]:
    if evidence.clock_step is not None and math.fabs(evidence.clock_step[1]) > CLOCK_STEP_S:
        at_us, step_s = evidence.clock_step
        steps: Steps = ((at_us, "note"), (at_us + _us(NOTE_S), None))
        yield _same("clock_step", "chain", steps, text_of("clock_step", f"{step_s:+.1f} s"), since_us=at_us)


def edges_of(conditions: tuple[Condition, ...]) -> Iterator[int]:
    """The instants at which any condition may change of itself."""
    for condition in conditions:
        for steps in (condition.on, condition.stay):
            yield from (at_us for at_us, _ in steps)


def wanted_level(condition: Condition, current: Level | None, at_us: int, *, blocked: bool) -> Level | None:
    """Return the level an alarm goes to: as high as the condition turns on, or as high as it is still held."""
    on = None if blocked and current is None else level_at(condition.on, at_us)
    stay = level_at(condition.stay, at_us)
    return max(on, min(current, stay, key=_rank), key=_rank)


def _rank(level: Level | None) -> int:
    return -1 if level is None else RANK[level]
