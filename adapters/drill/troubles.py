"""What was to go wrong in a drill, said afterwards in plain words, with when it began."""

from math import inf
from typing import NamedTuple

from adapters.drill.scenario import (
    ChainStop,
    DouserForgotten,
    Fault,
    FeedLost,
    FoilMissing,
    HardLamp,
    LampOut,
    LateMotor,
    LateStrike,
    MotorStop,
    NoFailsafe,
    NoFireDouser,
    PrintOff,
    RateFault,
    TailOff,
    TripAt,
    WrongTap,
)
from adapters.drill.sights import house_of, link_of, mark_of
from adapters.drill.truth import Truth

_JUMP_PPM = 1e5  # chosen: a motor that is off by a tenth has jumped, not drifted
_PPM = 1e-6


class Trouble(NamedTuple):
    """One fault: when it began (seconds after `motors_at`; None: it was so all along, or never came), and what it was.

    `came` is false for what had not begun when the drill ended, or was left to the person to do better.
    """

    began_s: float | None
    text: str
    came: bool


def troubles_of(truth: Truth, yours: frozenset[str], ended_s: float) -> list[Trouble]:
    """Every fault of a drill, in order of time; `yours` are the stations whose lamps were the person's to strike."""
    found = [_trouble(fault, truth, yours, ended_s) for fault in truth.scenario.faults]
    return sorted(found, key=lambda trouble: (not trouble.came, -inf if trouble.began_s is None else trouble.began_s))


def _trouble(fault: Fault, truth: Truth, yours: frozenset[str], ended_s: float) -> Trouble:
    began_s, text = _told(fault, truth)
    if isinstance(fault, LateStrike) and fault.station in yours:
        return Trouble(None, f"{text}: but this lamp was yours to strike", came=False)
    all_along = isinstance(fault, TripAt | HardLamp | NoFailsafe | NoFireDouser)
    return Trouble(began_s, text, came=all_along or (began_s is not None and began_s <= ended_s))


def _told(fault: Fault, truth: Truth) -> tuple[float | None, str]:
    """When a fault began, and what it was."""
    place = getattr(fault, "station", None)
    house = house_of(place, truth.plan)
    match fault:
        case RateFault():
            return fault.at_s, _told_rate(fault, "All motors" if place is None else f"{house}'s motor")
        case MotorStop():
            return fault.at_s, f"{house}'s motor stopped by itself"
        case ChainStop():
            again = "" if fault.for_s is None else f", for {_length(fault.for_s)}"
            return fault.at_s, f"all motors were stopped together{again}"
        case LateMotor():
            late = "did not start" if fault.late_s is None else f"was to start {fault.late_s:.1f} s late"
            return _due_s(fault, truth), f"{house}'s motor {late}"
        case LateStrike() | DouserForgotten():
            return _told_late(fault, truth, house)
        case TailOff() | FoilMissing() | PrintOff() | WrongTap():
            return _told_of_print(fault, truth, house)
        case _:
            return _told_small(fault, truth, house)


def _told_small(
    fault: TripAt | HardLamp | LampOut | FeedLost | NoFailsafe | NoFireDouser, truth: Truth, house: str
) -> tuple[float | None, str]:
    match fault:
        case TripAt():
            link = link_of(fault.link, truth.plan)
            return None, f"the failsafe at {link} trips at {fault.slack_s:.1f} s of slack, whatever the plan says"
        case HardLamp():
            return None, f"{house}'s lamp needed {fault.strikes} strikes"
        case LampOut():
            return fault.at_s, f"{house}'s lamp went out"
        case FeedLost():
            booth = "all contacts" if fault.booth is None else f"the contacts of {fault.booth}"
            return fault.at_s, f"{booth} were not seen for {_length(fault.for_s)}"
        case NoFailsafe():
            return None, f"{_whose(fault.station, house)} no failsafe"
        case NoFireDouser():
            return None, f"{_whose(fault.station, house)} no douser that shuts when film stops"


def _whose(station: str | None, house: str) -> str:
    return "the projectors had" if station is None else f"{house}'s projector had"


def _told_of_print(
    fault: TailOff | FoilMissing | PrintOff | WrongTap, truth: Truth, house: str
) -> tuple[float | None, str]:
    match fault:
        case TailOff():
            off_s = truth.course.film_end_s - truth.plan.print_s
            off = f"{abs(off_s):.0f} s {'longer' if off_s > 0.0 else 'shorter'}"
            return _tail_off_s(truth), f"the tail was {off} than planned"
        case FoilMissing():
            return _unseen_s(fault, truth), f"the foil of {mark_of(fault.mark, truth.plan)} was off the print"
        case PrintOff():
            off = f"{abs(fault.by_s):.1f} s {'longer' if fault.by_s > 0.0 else 'shorter'}"
            first = truth.pass_s(truth.plan.stations[0].id, fault.mark)
            return first, f"the film before {mark_of(fault.mark, truth.plan)} was {off} than planned"
        case WrongTap():
            mark = mark_of(fault.mark, truth.plan)
            return truth.pass_s(fault.station, fault.mark), f"{mark} at {house} was to be tapped wrongly"


def _tail_off_s(truth: Truth) -> float | None:
    """When the first gate has lost the film too early, or has it still though it should not."""
    end_s = min(truth.course.film_end_s, truth.plan.print_s)
    return truth.course.curves[0].time_at(end_s + truth.course.ahead_s[0])


def _unseen_s(fault: FoilMissing, truth: Truth) -> float | None:
    """When the first detector did not see it."""
    detectors = [station.id for station in truth.plan.stations if station.inputs.cue == "contact"]
    passes_s = [truth.pass_s(station, fault.mark) for station in detectors]
    return min((at_s for at_s in passes_s if at_s is not None), default=None)


def _told_rate(fault: RateFault, motor: str) -> str:
    if abs(fault.ppm) > _JUMP_PPM:
        film_s = abs(fault.ppm) * _PPM * ((fault.until_s or fault.at_s) - fault.at_s)
        return f"{motor}: the film jumped {film_s:.1f} s {'ahead' if fault.ppm > 0.0 else 'behind'}"
    every = _length(1.0 / (abs(fault.ppm) * _PPM))
    return f"{motor} ran {'fast' if fault.ppm > 0.0 else 'slow'}: by one second of film every {every}"


def _told_late(fault: LateStrike | DouserForgotten, truth: Truth, house: str) -> tuple[float | None, str]:
    head_s = truth.pass_s(fault.station, "head")
    station = truth.plan.stations[truth.plan.station_index[fault.station]]
    if isinstance(fault, DouserForgotten):
        return head_s, f"{house}'s douser was opened {fault.late_s:.0f} s after the picture"
    struck_s = fault.late_s - station.lamp.latest_s
    began_s = None if head_s is None else head_s + min(struck_s, -station.lamp.latest_s)
    after = f"{abs(struck_s):.0f} s {'after' if struck_s > 0.0 else 'before'} the picture"
    return began_s, f"{house}'s lamp was struck {after}"


def _due_s(fault: LateMotor, truth: Truth) -> float | None:
    """When the others started, or were to: the offsets of the plan are from there."""
    starts_s = [
        start_s - truth.plan.stations[truth.plan.station_index[name]].start_offset_s
        for name, start_s in truth.starts_s.items()
        if start_s is not None and name != fault.station
    ]
    if not starts_s:
        return None
    return min(starts_s) + truth.plan.stations[truth.plan.station_index[fault.station]].start_offset_s


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
