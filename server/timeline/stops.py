"""Film that stands: where, since when, in whose light, and what is to be done about it in the order of harm."""

from collections.abc import Iterator

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.condition import Condition, steady, us_from_s
from server.timeline.evidence import Evidence
from server.timeline.naming import house_of, houses_of, numbers_of
from server.timeline.observed import StationState
from server.timeline.plan import Plan
from server.timeline.view import Level
from server.timeline.wording import text_of

# chosen: past so many names a list is slower to act on than "the chain"
_MOST_NAMES = 8


def stopped_us(state: StationState) -> int | None:
    """Return since when film does not go on at a station: its motor stopped, or its failsafe tripped before that."""
    if state.running and state.trip_us is None:
        return None
    stops_us = [us for us in (state.trip_us, None if state.running else state.stopped_us) if us is not None]
    return min(stops_us, default=None)


def is_clear(evidence: Evidence, k: int) -> bool:
    """Whether the film's end has left a gate by the latest event that moved the estimate."""
    state = evidence.stations[k]
    if not state.running:
        return evidence.is_out(k, "tail_end")
    if state.trip_us is not None:
        return False
    out_us = evidence.reached_us(k, "tail_end")
    return out_us is not None and out_us <= evidence.outlook.at_us


def stands_us(evidence: Evidence, k: int) -> int | None:
    """Return since when film stands in a gate; None where it runs, has not started, or is out."""
    since_us = stopped_us(evidence.stations[k])
    return None if since_us is None or _has_left(evidence, k) else since_us


def _has_left(evidence: Evidence, k: int) -> bool:
    """Whether no film is left in a gate to be harmed; a motor stopped before the end was due may have left some."""
    state = evidence.stations[k]
    return is_clear(evidence, k) and not (state.lit and state.may_hold_film)


def heated_us(evidence: Evidence, k: int) -> int | None:
    """Return since when film has stood in the light; None where it does not.

    Before its picture has come a douser of which nobody has told is shut.
    """
    state, inputs = evidence.stations[k], evidence.plan.stations[k].inputs
    if not state.lit or state.douser == "shut" or inputs.lamp == "none":
        return None
    since_us = stands_us(evidence, k)
    if since_us is None:
        return None
    if state.douser == "unknown" and not evidence.is_out(k, "head"):
        return None
    open_us = state.douser_us if state.douser == "open" else None
    return max(us for us in (since_us, state.lamp_us, open_us) if us is not None)


def film_heat(evidence: Evidence) -> Iterator[Condition]:
    """Film that has stood in the light for longer than it can bear."""
    for k, station in enumerate(evidence.plan.stations):
        since_us = heated_us(evidence, k)
        if since_us is None:
            continue
        known = station.inputs.lamp == "contact" and station.inputs.douser == "contact"
        level: Level = "act" if known and not is_clear(evidence, k) else "watch"
        steps = steady(since_us + us_from_s(station.lamp.gate_limit_s), level)
        causes = (f"film_trip:{station.id}", f"motor_lost:{station.id}")
        text = text_of("film_heat", house_of(evidence.plan, k), _light_in_words(evidence, k))
        yield Condition("film_heat", station.id, steps, steps, text, causes)


def _light_in_words(evidence: Evidence, k: int) -> str:
    if evidence.stations[k].douser == "open":
        return "the lamp is lit and the douser open"
    return "the lamp is lit, and nobody has told of its douser"


def stop_todo(evidence: Evidence, kind: str, at: tuple[int, ...]) -> str:
    """Return what to do about a stop at these stations, in the order of harm.

    Light off the film; stop what still runs, by name; then look. Nobody starts a motor again within a reserve.
    """
    first = (*_light_off(evidence), *_stop_the_rest(evidence, at))
    look = ALARM_KINDS[kind].look
    return " ".join((*first, f"Then {look}")) if first else look[0].upper() + look[1:]


def _light_off(evidence: Evidence) -> Iterator[str]:
    heated = [k for k in range(len(evidence.stations)) if heated_us(evidence, k) is not None]
    if heated:
        yield f"Shut the douser{'s' if len(heated) > 1 else ''} of {houses_of(evidence.plan, heated)}."


def _stop_the_rest(evidence: Evidence, at: tuple[int, ...]) -> Iterator[str]:
    """What still has film and runs, by name, beside what stands; `at` is where the alarm is."""
    plan, states = evidence.plan, evidence.stations
    with_film = [k for k in range(len(states)) if not is_clear(evidence, k)]
    running = [k for k in with_film if states[k].running and states[k].trip_us is None]
    stand = [k for k in with_film if k not in running and (states[k].started_us is not None or k in at)]
    stands = f"{_named(plan, stand)} stand{'s' if len(stand) == 1 else ''}"
    if len(running) > _MOST_NAMES:
        yield f"Stop the chain: {stands}, all others run." if stand else "Stop the chain: all motors run."
    elif running and set(stand) <= set(at):
        yield f"Stop the chain: {_named(plan, running)} still run{'s' if len(running) == 1 else ''}."
    elif running:
        yield f"Stop {_named(plan, running)}; {stands}."


def _named(plan: Plan, stations: list[int]) -> str:
    """One house by its name; of several the names alone, as people call them out."""
    return house_of(plan, stations[0]) if len(stations) == 1 else numbers_of(plan, stations)
