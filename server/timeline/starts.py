"""When motors are due to start, and of which nobody can tell whether they did."""

from collections.abc import Mapping

from server.timeline.condition import us_from_s
from server.timeline.evidence import Evidence
from server.timeline.observed import together_us


def starts_due(evidence: Evidence) -> dict[int, int]:
    """When each motor that is on a contact, and stands though it should not, was due to start; by station."""
    states, stations = evidence.stations, evidence.plan.stations
    if all(state.running for state in states):
        return {}
    first = not evidence.halted_mid_show
    since_us = together_us(evidence.plan, states, evidence.halt_us, first=first)
    if since_us is None:
        return {}
    return {
        k: since_us + (us_from_s(station.start_offset_s) if first else 0)
        for k, station in enumerate(stations)
        if station.inputs.motor == "contact" and _awaits_start(evidence, k)
    }


def _awaits_start(evidence: Evidence, station: int) -> bool:
    state = evidence.stations[station]
    if state.running or evidence.is_out(station, "tail_end"):
        return False
    if state.started_us is None:
        return True
    return stopped_with_chain(evidence, station)


def stopped_with_chain(evidence: Evidence, station: int) -> bool:
    """Whether a motor's stop belongs to a stop of the whole chain, or the chain has been stopped since."""
    stopped_us = evidence.stations[station].stopped_us
    if stopped_us is None or evidence.halt_us is None:
        return False
    return evidence.halt_us >= stopped_us - us_from_s(evidence.plan.timing.start_grace_s)


def unseen_starts(evidence: Evidence, due_us: Mapping[int, int]) -> dict[int, str]:
    """Which of the motors that are due may have started unseen: their silent source, by station.

    It was known to be silent before the start was missed; what was missed before that is missing.
    """
    grace_us, unseen = us_from_s(evidence.plan.timing.start_grace_s), {}
    for k, due in due_us.items():
        silent = evidence.silence(k, "motor")
        if silent is not None and silent.since_us <= due + grace_us:
            unseen[k] = silent.source
    return unseen
