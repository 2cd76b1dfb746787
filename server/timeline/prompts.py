"""The next things to do at each station, with the time left; not alarms.

Prompts follow from the evidence alone and carry their own times, so a desk can count down without being told again.
"""

from collections.abc import Iterator

from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.view import Phase, PromptView


def prompts_of(evidence: Evidence, phases: list[Phase]) -> tuple[PromptView, ...]:
    """Return what is to be done, nearest deadline first."""
    prompts = [prompt for k in range(len(phases)) for prompt in _at_station(evidence, k, phases[k])]
    return tuple(sorted(prompts, key=lambda prompt: (prompt.due_s, prompt.station)))


def _at_station(evidence: Evidence, k: int, phase: Phase) -> Iterator[PromptView]:
    match phase:
        case "threaded":
            yield _start(evidence, k)
        case "rolling" | "showing":
            yield from _before_and_at_head(evidence, k, phase)
        case "tail" | "clear":
            yield from _after_end(evidence, k, phase)
        case "stopped":
            return


def _start(evidence: Evidence, k: int) -> PromptView:
    """To be done on the second and not before: the others start then."""
    station = evidence.plan.stations[k]
    due_s = station.start_offset_s
    return PromptView("start", station.id, due_s, due_s, f"House {station.house}: start the motor")


def _before_and_at_head(evidence: Evidence, k: int, phase: Phase) -> Iterator[PromptView]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    head_us, end_us = evidence.reached_us(k, "head"), evidence.reached_us(k, "end")
    if head_us is None:
        return
    head_s = head_us / US_PER_S
    if not state.lit and station.inputs.lamp != "none":
        yield PromptView(
            "strike", station.id, *_strike_s(evidence, k, head_s), f"House {station.house}: strike the lamp"
        )
    elif state.douser != "open" and station.inputs.douser != "none":
        text = f"House {station.house}: open the douser"
        yield PromptView("open_douser", station.id, head_s - station.lamp.latest_s, head_s, text)
    if phase == "showing" and station.inputs.cue != "none" and not _head_seen(evidence, k):
        text = f"House {station.house}: confirm the head on screen"
        yield PromptView("confirm_head", station.id, head_s, head_s + station.lamp.latest_s, text)
    if phase == "showing" and end_us is not None and station.inputs.lamp != "none":
        text = f"House {station.house}: shut down the lamp after the end"
        yield PromptView("shut_lamp", station.id, end_us / US_PER_S - 60.0, end_us / US_PER_S, text)


def _strike_s(evidence: Evidence, k: int, head_s: float) -> tuple[float, float]:
    """From when and by when to strike: the window, or at once where the lamp went out with the picture on screen."""
    lamp, state = evidence.plan.stations[k].lamp, evidence.stations[k]
    if state.lamp_lost and state.lamp_us is not None:
        return state.lamp_us / US_PER_S, state.lamp_us / US_PER_S
    return head_s - lamp.earliest_s, head_s - lamp.latest_s


def _head_seen(evidence: Evidence, k: int) -> bool:
    return evidence.stations[k].latest_x_s >= evidence.plan.mark("head").x_s


def _after_end(evidence: Evidence, k: int, phase: Phase) -> Iterator[PromptView]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    end_us, out_us = evidence.reached_us(k, "end"), evidence.reached_us(k, "tail_end")
    if state.lit and station.inputs.lamp != "none" and end_us is not None:
        end_s = end_us / US_PER_S
        yield PromptView("shut_lamp", station.id, end_s, end_s, f"House {station.house}: shut down the lamp")
    if phase == "tail" and out_us is not None:
        out_s = out_us / US_PER_S
        yield PromptView(
            "house_clear", station.id, out_s - 60.0, out_s, f"House {station.house}: stop the motor once clear"
        )
