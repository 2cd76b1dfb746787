"""The next things to do at each station, with the time left; not alarms.

Prompts follow from the evidence alone and carry their own times, so a desk can count down without being told again.
"""

from collections.abc import Iterator

from server.timeline.estimate import US_PER_S
from server.timeline.evidence import BEFORE_PAUSE_S, Evidence
from server.timeline.naming import house_of
from server.timeline.plan import StartKind
from server.timeline.restart import lamp_known_out
from server.timeline.stops import heated_us, stands_us
from server.timeline.view import Phase, PromptKind, PromptView

STAYS_S = 60
"""What was to be done as film went by is asked for so long after, and then no more. Chosen."""

_MOST_CHANGES = 3  # of a station are on a desk at once. Chosen

_STARTS: dict[StartKind, str] = {
    "common": "its motor starts with the others, by the common button",
    "timers": "see that its timer starts the motor",
    "hands": "start the motor",
}


def prompts_of(evidence: Evidence, phases: list[Phase]) -> tuple[PromptView, ...]:
    """Return what is to be done, nearest deadline first; of one deadline in film order."""
    prompts = [prompt for k in range(len(phases)) for prompt in _at_station(evidence, k, phases[k])]
    return tuple(sorted(prompts, key=lambda prompt: prompt.due_s))


def _at_station(evidence: Evidence, k: int, phase: Phase) -> Iterator[PromptView]:
    match phase:
        case "threaded":
            yield from _start(evidence, k)
        case "rolling" | "showing":
            yield from _before_and_at_head(evidence, k, phase)
            yield from _pauses(evidence, k)
            yield from _changes(evidence, k)
        case "tail" | "clear":
            yield from _after_end(evidence, k, phase)
            yield from _changes(evidence, k)
        case "stopped":
            yield from _while_it_stands(evidence, k)


def _start(evidence: Evidence, k: int) -> Iterator[PromptView]:
    """To be done on the second and not before: the others start then. In a chain that was stopped, once that is set."""
    station = evidence.plan.stations[k]
    has_run = any(state.started_us is not None for state in evidence.stations)
    due_s: float | None = evidence.hold_s + station.start_offset_s
    if has_run and not evidence.any_runs(evidence.outlook.at_us):
        due_s = evidence.restart_s
    if due_s is not None:
        yield PromptView("start", station.id, due_s, due_s, _start_in_words(evidence, k))


def _start_in_words(evidence: Evidence, k: int) -> str:
    return f"{house_of(evidence.plan, k)}: {_STARTS[evidence.plan.timing.start]}"


def _while_it_stands(evidence: Evidence, k: int) -> Iterator[PromptView]:
    """Light off the film first; then the lamp, which a shut douser bears for so long; then the start, once set."""
    station, state, house = evidence.plan.stations[k], evidence.stations[k], house_of(evidence.plan, k)
    light_us = heated_us(evidence, k)
    if light_us is None and _may_burn(evidence, k):
        light_us = stands_us(evidence, k)
    if light_us is not None:
        light_s = light_us / US_PER_S
        due_s = light_s + station.lamp.gate_limit_s
        yield PromptView("shut_douser", station.id, light_s, due_s, f"{house}: shut the douser")
    elif state.lit and state.lamp_us is not None and station.inputs.lamp != "none":
        shut_s = max(state.lamp_us, state.douser_us or state.lamp_us) / US_PER_S
        text = f"{house}: shut down the lamp, unless the film goes on by then"
        yield PromptView("shut_lamp", station.id, shut_s, shut_s + station.lamp.douser_limit_s, text)
    if evidence.restart_s is not None:
        yield PromptView("start", station.id, evidence.restart_s, evidence.restart_s, _start_in_words(evidence, k))


def _may_burn(evidence: Evidence, k: int) -> bool:
    """Whether a picture stands in the gate of a lamp that only people tell of, and nobody has, nor of its douser."""
    unknown = evidence.plan.stations[k].inputs.lamp == "tap" and evidence.stations[k].douser != "shut"
    return (
        unknown and not lamp_known_out(evidence, k) and not evidence.stations[k].lit and not evidence.is_out(k, "end")
    )


def _before_and_at_head(evidence: Evidence, k: int, phase: Phase) -> Iterator[PromptView]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    mark = evidence.picture_mark(k, evidence.told_us(k))
    head_us, end_us = evidence.reached_us(k, mark), evidence.reached_us(k, "end")
    if head_us is None:
        return
    # A picture that stood in the gate has come to it with the start.
    head_s = max(head_us, state.started_us or head_us) / US_PER_S
    if not state.lit and station.inputs.lamp != "none":
        yield PromptView(
            "strike", station.id, *_strike_s(evidence, k, head_s), f"House {station.house}: strike the lamp"
        )
    elif state.douser != "open" and (station.inputs.douser != "none" or state.to_open):
        text = f"House {station.house}: open the douser{'' if mark == 'head' else ', and house lights down'}"
        yield PromptView("open_douser", station.id, head_s - station.lamp.latest_s, head_s, text)
    if phase == "showing" and mark == "head" and station.inputs.cue != "none" and not _head_seen(evidence, k):
        text = f"House {station.house}: confirm that the picture is on screen"
        seen_s = head_us / US_PER_S
        due_s = seen_s + station.lamp.latest_s
        yield PromptView("confirm_head", station.id, seen_s, due_s, text, until_s=due_s + STAYS_S)
    if phase == "showing" and end_us is not None and station.inputs.lamp != "none":
        text = f"House {station.house}: shut down the lamp after the end"
        yield PromptView("shut_lamp", station.id, end_us / US_PER_S - 60.0, end_us / US_PER_S, text)


def _pauses(evidence: Evidence, k: int) -> Iterator[PromptView]:
    """Light off the screen at an intermission: the film in it is dark, and the house wants its lights."""
    station, state = evidence.plan.stations[k], evidence.stations[k]
    for pause, _ in evidence.plan.intermissions:
        at_us = evidence.reached_us(k, pause.id)
        if at_us is None or (station.inputs.lamp != "none" and not state.lit and state.lamp_us is not None):
            continue
        shut = state.douser == "shut" and (state.douser_us or 0) >= at_us - BEFORE_PAUSE_S * US_PER_S
        # Longer than a shut douser bears it, the lamp goes out as well.
        long = pause.length_s > station.lamp.douser_limit_s and station.inputs.lamp != "none"
        todo = [*(["shut the douser"] if not shut else []), *(["put the lamp out"] if long else [])]
        if todo:
            text = f"House {station.house}: intermission: {', '.join(todo)}, house lights up"
            yield _passing("intermission", station.id, at_us, BEFORE_PAUSE_S, text)


def _changes(evidence: Evidence, k: int) -> Iterator[PromptView]:
    """What is to be done as a mark goes by a gate, of the next few; whoever taps that mark has done it."""
    station, seen, now_us = evidence.plan.stations[k], evidence.stations[k].seen, evidence.outlook.at_us
    asked = 0
    for mark in sorted(evidence.plan.planned_marks, key=lambda mark: mark.x_s):
        if mark.say is None or station.id not in mark.stations or mark.id in seen or asked == _MOST_CHANGES:
            continue
        at_us = evidence.reached_us(k, mark.id)
        if at_us is not None and at_us + STAYS_S * US_PER_S >= now_us:
            asked += 1
            text = f"House {station.house}: {mark.say}"
            yield _passing("change", station.id, at_us, mark.notice_s, text)._replace(mark=mark.id)


def _passing(kind: PromptKind, station: str, at_us: int, notice_s: float, text: str) -> PromptView:
    """What is asked for as film goes by, and no more a while after."""
    at_s = at_us / US_PER_S
    return PromptView(kind, station, at_s - notice_s, at_s, text, until_s=at_s + STAYS_S)


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
