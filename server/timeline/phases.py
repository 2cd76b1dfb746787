"""Which part of the show a station is in, as a function of time until the next event."""

from server.timeline.evidence import Evidence
from server.timeline.steps import ALWAYS_US
from server.timeline.view import Phase

PhaseSteps = tuple[tuple[int, Phase], ...]


def phase_steps(evidence: Evidence, station: int) -> PhaseSteps:
    """Return the phases to come, each with the instant it begins; a mark that was seen decides, else its estimate."""
    state = evidence.stations[station]
    if not state.running:
        return ((ALWAYS_US, _standing(evidence, station)),)
    steps: list[tuple[int, Phase]] = [(ALWAYS_US, "rolling")]
    marks: tuple[tuple[str, Phase], ...] = (("head", "showing"), ("end", "tail"), ("tail_end", "clear"))
    for mark, phase in marks:
        reached_us = _reached_us(evidence, station, mark)
        if reached_us is not None:
            steps.append((max(reached_us, steps[-1][0]), phase))
    return tuple(steps)


def _standing(evidence: Evidence, station: int) -> Phase:
    if evidence.stations[station].started_us is None:
        return "threaded"
    return "clear" if evidence.is_out(station, "tail_end") else "stopped"


def _reached_us(evidence: Evidence, station: int, mark: str) -> int | None:
    """As `Evidence.reached_us`, but a later mark that was seen has brought the earlier ones with it."""
    if evidence.stations[station].latest_x_s >= evidence.plan.mark(mark).x_s:
        return evidence.stations[station].passes.get(mark, ALWAYS_US)
    return evidence.reached_us(station, mark)


def phase_at(steps: PhaseSteps, at_us: int) -> Phase:
    """Return the phase that holds at an instant."""
    return [phase for since_us, phase in steps if since_us <= at_us][-1]
