"""What has to be so before a chain that stands may start, or start again: the restart card. It stops nobody."""

from collections.abc import Iterator

from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.stops import is_clear
from server.timeline.view import LinkReady, Missing, RestartCard, StationReady


def restart_card(evidence: Evidence) -> RestartCard | None:
    """Return the card of a chain of which no motor runs that has film; None while one does, or none has any left."""
    states, now_us = evidence.stations, evidence.outlook.at_us
    if evidence.any_runs(now_us):
        return None
    again = any(state.started_us is not None for state in states)
    left = [k for k in range(len(states)) if not again or not is_clear(evidence, k)]
    if not left:
        return None
    stations = tuple(_station(evidence, k) for k in left)
    links = tuple(_link(evidence, k) for k in left if again and k < len(states) - 1)
    ready = all(not one.missing for one in stations) and all(one.known != "none" and not one.spent for one in links)
    return RestartCard("restart" if again else "start", ready, _start_s(evidence, again=again), stations, links)


def _start_s(evidence: Evidence, *, again: bool) -> float | None:
    if again:
        return evidence.restart_s
    return evidence.hold_s + min(station.start_offset_s for station in evidence.plan.stations)


def _station(evidence: Evidence, k: int) -> StationReady:
    ready = evidence.stations[k].ready
    ready_s, ready_by = (None, None) if ready is None else (ready[0] / US_PER_S, ready[1])
    return StationReady(evidence.plan.stations[k].id, ready_s, ready_by, tuple(_missing(evidence, k)))


def _missing(evidence: Evidence, k: int) -> Iterator[Missing]:
    state, inputs = evidence.stations[k], evidence.plan.stations[k].inputs
    if state.ready is None:
        yield "ready"
    # Before the first start a lamp that is out shines on nothing; after a stop it will be lit behind its douser.
    untold = inputs.douser == "none" and state.started_us is None
    if state.douser != "shut" and not (untold and lamp_known_out(evidence, k)):
        yield "douser_shut"
    if inputs.lamp == "none":
        return
    if _in_picture(evidence, k):
        if not state.lit:
            yield "lamp_lit"
    elif state.lit and not _head_is_near(evidence, k):
        yield "lamp_out"


def lamp_known_out(evidence: Evidence, k: int) -> bool:
    """Whether a lamp is known not to burn: its contact or somebody says so, or the picture has not come yet."""
    state, inputs = evidence.stations[k], evidence.plan.stations[k].inputs
    told = inputs.lamp == "contact" or state.lamp_us is not None
    return not state.lit and (told or not evidence.is_out(k, "head"))


def _in_picture(evidence: Evidence, k: int) -> bool:
    """Whether a picture stands in the gate: it comes on as soon as the motor starts and the douser opens."""
    return evidence.stations[k].started_us is not None and evidence.is_out(k, "head") and not evidence.is_out(k, "end")


def _head_is_near(evidence: Evidence, k: int) -> bool:
    """Whether the strike window opens as soon as the motor starts, so that the lamp may burn already."""
    left_s = evidence.prospect.left_s(k, evidence.plan.mark("head").x_s)
    return 0.0 <= left_s <= evidence.plan.stations[k].lamp.earliest_s


def _link(evidence: Evidence, i: int) -> LinkReady:
    """How a link is known since the later of its two motors stopped; what was seen before that says nothing of it."""
    below = evidence.stations[i + 1]
    stops_us = [evidence.stations[k].stopped_us for k in (i, i + 1)]
    since_us = max((us for us in stops_us if us is not None), default=None)
    slack_s, link = evidence.outlook.slack[i], evidence.plan.links[i]
    spent = abs(slack_s) > link.reserve_s > 0.0
    if below.link_known is None or (since_us is not None and below.link_known[1] < since_us):
        return LinkReady(link.id, "none", slack_s, spent)
    return LinkReady(link.id, below.link_known[0], slack_s, spent)
