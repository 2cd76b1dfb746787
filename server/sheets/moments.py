"""What is to be done and seen at the projectors of one booth, in the order of the clock.

They are the crew's duties (`server.planning.duties`), with what nobody has to do but everybody has to see.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from server.sheets.times import second_down, second_up
from server.timeline.evidence import BEFORE_PAUSE_S
from server.timeline.plan import Plan, Segment, Station
from server.timeline.schedule import Schedule, StationSchedule


class Moment(NamedTuple):
    """One thing at one house or several: whole seconds after `motors_at`.

    It has to be done `by_s`, None where it is to be done at once; `act` says whether hands are asked for, or eyes.
    `stations` are indices in film order.
    """

    at_s: int
    stations: tuple[int, ...]
    what: str
    act: bool
    by_s: int | None = None


def moments_of(plan: Plan, schedule: Schedule, stations: Sequence[int]) -> tuple[Moment, ...]:
    """Return the moments of these stations, by their indices; what is the same at one time is one moment."""
    moments = [
        moment for k in stations for moment in (_start(plan, k, stations), *_at_station(plan, schedule.stations[k], k))
    ]
    # Of one second: as they come at a station, then by what is said, so that the same stand together.
    ordered = sorted(moments, key=lambda moment: (moment.at_s, moment.by_s or moment.at_s, not moment.act, moment.what))
    grouped = groupby(ordered, key=lambda moment: moment._replace(stations=()))
    return tuple(
        alike._replace(stations=tuple(k for moment in same for k in moment.stations)) for alike, same in grouped
    )


def _start(plan: Plan, k: int, stations: Sequence[int]) -> Moment:
    at_s = round(plan.stations[k].start_offset_s)
    match plan.timing.start:
        case "hands":
            return Moment(at_s, (k,), "Start the motor", act=True)
        case "timers":
            return Moment(at_s, (k,), "Timer start: see it run", act=False)
        case "common":
            if 0 in stations:
                return Moment(at_s, (k,), "Press the common button: see every motor run", act=True)
            return Moment(at_s, (k,), "Common start: see it run", act=False)


def _at_station(plan: Plan, times: StationSchedule, k: int) -> Iterator[Moment]:
    station, passes = plan.stations[k], times.passes
    yield from _light(station, k, passes["head"], "Open the douser", strikes=station.inputs.lamp != "none")
    yield Moment(second_down(passes["head"]), (k,), "HEAD: see it on screen", act=False)
    for mark in plan.planned_marks:
        if mark.say is not None and station.id in mark.stations:
            yield Moment(second_down(passes[mark.id]), (k,), mark.say, act=True)
    for pause, after in plan.intermissions:
        yield from _pause(station, k, pause, passes[pause.id], passes[after.id])
    if plan.credits is not None:
        yield Moment(second_down(passes[plan.credits]), (k,), "Credits begin", act=False)
    yield _end(station, k, passes["end"])
    yield Moment(second_up(times.clear_s), (k,), "Clear: stop the motor", act=True)


def _light(station: Station, k: int, head_s: float, douser: str, *, strikes: bool) -> Iterator[Moment]:
    """Light for a picture that is at the gate at `head_s`: what nobody tells of is to be seen all the same."""
    opens_s, closes_s = second_up(head_s - station.lamp.earliest_s), second_down(head_s - station.lamp.latest_s)
    if strikes:
        yield Moment(opens_s, (k,), "Strike, douser shut", act=True, by_s=closes_s)
    elif station.inputs.lamp == "none":
        yield Moment(closes_s, (k,), "See that the lamp is lit", act=False)
    tells = station.inputs.douser != "none"
    what = douser if tells else douser.replace("Open the douser", "See the douser open")
    yield Moment(closes_s, (k,), what, act=tells, by_s=second_down(head_s))


def _pause(station: Station, k: int, pause: Segment, at_s: float, after_s: float) -> Iterator[Moment]:
    """Light off the screen, and back on; longer than a shut douser bears it the lamp goes out."""
    out = station.inputs.lamp != "none" and pause.length_s > station.lamp.douser_limit_s
    what = f"Intermission: shut the douser{', put the lamp out' if out else ''}, house lights up"
    yield Moment(second_up(at_s - BEFORE_PAUSE_S), (k,), what, act=True, by_s=second_down(at_s))
    yield from _light(station, k, after_s, "Open the douser, house lights down", strikes=out)


def _end(station: Station, k: int, end_s: float) -> Moment:
    if station.inputs.lamp == "none":
        return Moment(second_up(end_s), (k,), "End: see that the light goes", act=False)
    return Moment(second_up(end_s), (k,), "End: douser shut, lamp out", act=True)
