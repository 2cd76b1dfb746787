"""Which part of the show a station is in, as a function of time until the next event."""

from server.timeline.evidence import Evidence
from server.timeline.steps import ALWAYS_US
from server.timeline.view import Phase

PhaseSteps = tuple[tuple[int, Phase], ...]

_BEGINS: tuple[tuple[str, Phase], ...] = (("head", "showing"), ("end", "tail"), ("tail_end", "clear"))


def phase_steps(evidence: Evidence) -> list[PhaseSteps]:
    """Return, for each station, the phases to come, each with the instant it begins.

    A mark that was seen decides, else its estimate.
    """
    begins = [(phase, mark, evidence.plan.mark(mark).x_s, evidence.all_reached_us(mark)) for mark, phase in _BEGINS]
    found: list[PhaseSteps] = []
    for k, state in enumerate(evidence.stations):
        if not state.running:
            found.append(((ALWAYS_US, _standing(evidence, k)),))
            continue
        since_us, latest_x_s = ALWAYS_US, state.latest_x_s
        steps: list[tuple[int, Phase]] = [(since_us, "rolling")]
        for phase, mark, x_s, all_reached_us in begins:
            # A later mark that was seen has brought the earlier ones with it.
            reached_us = state.passes.get(mark, ALWAYS_US) if latest_x_s >= x_s else all_reached_us[k]
            if reached_us is not None:
                since_us = max(since_us, reached_us)
                steps.append((since_us, phase))
        found.append(tuple(steps))
    return found


def _standing(evidence: Evidence, station: int) -> Phase:
    if evidence.stations[station].started_us is None:
        return "threaded"
    return "clear" if evidence.is_out(station, "tail_end") else "stopped"


def phase_at(steps: PhaseSteps, at_us: int) -> Phase:
    """Return the phase that holds at an instant."""
    held = steps[0][1]
    for since_us, phase in steps:
        if since_us > at_us:
            break
        held = phase
    return held
