"""What people do in a show, as duties: where, from when, by when, and for how long.

They are the prompts of a show that goes by its plan (`server.timeline.prompts`), laid out before it. So they are starts
by hand or by the common button, strikes, dousers, the head, changes at marks, intermissions, shut-downs and stops. A
motor with a timer of its own is nobody's duty. Seconds are after `motors_at`.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

from server.timeline.evidence import BEFORE_PAUSE_S
from server.timeline.plan import Plan, Segment, Station
from server.timeline.schedule import Schedule

# How long somebody is at the projector for each. All chosen.
START_S: Final = 3.0
STRIKE_S: Final = 10.0
DOUSER_S: Final = 3.0
HEAD_S: Final = 5.0
MARK_S: Final = 5.0
PAUSE_S: Final = 5.0
SHUT_DOWN_S: Final = 10.0
STOP_S: Final = 5.0

LATE_END_S: Final = 60.0
"""A lamp is put out before the film's end is through, or so long after the last picture if that is later. Chosen."""
LATE_STOP_S: Final = 180.0
"""How long after the film's end a motor that its failsafe has stopped may wait for somebody. Chosen."""


class Duty(NamedTuple):
    """One thing to do at a house: begun no earlier than `from_s` and no later than `by_s`, done after `takes_s`.

    `what` is said to whoever does it: "strike the lamp".
    """

    house: str
    booth: str | None
    what: str
    from_s: float
    by_s: float
    takes_s: float


def duties_of(plan: Plan, schedule: Schedule, shift_s: float = 0.0) -> tuple[Duty, ...]:
    """Return every duty of a show, the first that has to be begun first; all are `shift_s` later than the schedule."""
    duties = [*_starts(plan)]
    for k, station in enumerate(plan.stations):
        duties += _at_station(plan, station, schedule.stations[k].passes)
    moved = [duty._replace(from_s=duty.from_s + shift_s, by_s=duty.by_s + shift_s) for duty in duties]
    return tuple(sorted(moved, key=lambda duty: duty.by_s))


def _duty(station: Station, what: str, from_s: float, by_s: float, takes_s: float) -> Duty:
    return Duty(station.house, station.booth, what, from_s, max(from_s, by_s), takes_s)


def _starts(plan: Plan) -> Iterator[Duty]:
    if plan.timing.start == "common":
        yield _duty(plan.stations[0], "start all motors by the common button", 0.0, 0.0, START_S)
    if plan.timing.start == "hands":
        for station in plan.stations:
            at_s = station.start_offset_s
            yield _duty(station, "start the motor", at_s, at_s, START_S)


def _at_station(plan: Plan, station: Station, passes: dict[str, float]) -> Iterator[Duty]:
    lamp, inputs = station.lamp, station.inputs
    head_s, end_s, out_s = passes["head"], passes["end"], passes["tail_end"]
    yield from _light(station, head_s, strikes=inputs.lamp != "none")
    if inputs.cue != "none":
        yield _duty(station, "see the head on screen", head_s, head_s + lamp.latest_s, HEAD_S)
    for mark in plan.planned_marks:
        if mark.say is not None and station.id in mark.stations:
            yield _duty(station, mark.say, passes[mark.id], passes[mark.id], MARK_S)
    for pause, after in plan.intermissions:
        yield from _pause(station, pause, passes[pause.id], passes[after.id])
    if inputs.lamp != "none":
        yield _duty(station, "shut down the lamp", end_s, max(end_s + LATE_END_S, out_s - SHUT_DOWN_S), SHUT_DOWN_S)
    yield _duty(station, "stop the motor once clear", out_s, out_s + LATE_STOP_S, STOP_S)


def _light(station: Station, at_s: float, *, strikes: bool) -> Iterator[Duty]:
    """Strike, and open the douser, before a picture that is at the gate at `at_s`."""
    lamp = station.lamp
    if strikes:
        # Lit by the window's end: begun so much earlier.
        by_s = at_s - lamp.latest_s - STRIKE_S
        yield _duty(station, "strike the lamp", min(at_s - lamp.earliest_s, by_s), by_s, STRIKE_S)
    if station.inputs.douser != "none":
        yield _duty(station, "open the douser", at_s - lamp.latest_s, at_s - DOUSER_S, DOUSER_S)


def _pause(station: Station, pause: Segment, at_s: float, after_s: float) -> Iterator[Duty]:
    """Light off the screen at an intermission, and back on; longer than a shut douser bears it the lamp goes out."""
    out = station.inputs.lamp != "none" and pause.length_s > station.lamp.douser_limit_s
    what = "shut the douser, put the lamp out, house lights up" if out else "shut the douser, house lights up"
    yield _duty(station, what, at_s - BEFORE_PAUSE_S, at_s, PAUSE_S)
    yield from _light(station, after_s, strikes=out)
