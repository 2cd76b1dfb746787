"""Named scenarios, each made for a plan with a place, a time and a size of its own for every seed."""

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple, TypeAlias

import numpy as np

from adapters.drill.chance import Chance
from adapters.drill.scenario import (
    ChainStop,
    Crew,
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
    Scenario,
    TailOff,
    TripAt,
    WrongTap,
)
from server.timeline.plan import InputKind, Plan, Station

_PPM = 1e6


class _Setting:
    """A plan and the chance to choose places, times and sizes in it."""

    def __init__(self, plan: Plan, rng: np.random.Generator) -> None:
        self.plan = plan
        self.rng = rng

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def station(self, *wanted: InputKind, first: int = 0, of: str = "lamp") -> Station:
        """Any station from `first` on, if it can be one whose input `of` is wanted."""
        stations = self.plan.stations[first:] or self.plan.stations
        fitting = [station for station in stations if getattr(station.inputs, of) in wanted] or list(stations)
        return fitting[int(self.rng.integers(len(fitting)))]

    def during(self, low: float, high: float) -> float:
        """A time between two shares of the print's running time."""
        return self.between(low, high) * self.plan.print_s

    def cues(self) -> list[str]:
        """The cues after the head, if there are any, else all that there are."""
        cues = [mark for mark in self.plan.marks if mark.cue]
        later = [mark for mark in cues if mark.x_s > self.plan.mark("head").x_s]
        return [mark.id for mark in later or cues]

    def sign(self) -> float:
        return float(self.rng.choice((-1.0, 1.0)))

    def least_reserve_s(self, station: Station) -> float:
        """The smaller reserve of a station's links."""
        own = [link.reserve_s for link in self.plan.links if station.id in (link.upstream, link.downstream)]
        return min(own, default=self.plan.timing.reserve_s)

    def rate_fault(self, at_s: float, gone_in_s: float) -> RateFault:
        """A motor that spends the smaller reserve of its links in that time."""
        station = self.station()
        return RateFault(station.id, at_s, self.sign() * self.least_reserve_s(station) / gone_in_s * _PPM)


_Made: TypeAlias = tuple[Fault, ...] | Scenario
_Make: TypeAlias = Callable[[_Setting], _Made]


class Entry(NamedTuple):
    """One scenario of the library: a sentence for whoever chooses, and how it is made."""

    text: str
    make: _Make


def scenario_for(name: str, plan: Plan, seed: int) -> Scenario:
    """The named scenario of CATALOGUE for a plan; KeyError where there is none of that name."""
    entry = CATALOGUE[name]
    made = entry.make(_Setting(plan, Chance(seed).stream("scenario", name)))
    if isinstance(made, tuple):
        return Scenario(name, entry.text, made)
    return replace(made, name=name, text=entry.text)


def _careless(_: _Setting) -> _Made:
    return Scenario("", "", crew=Crew(missed=0.1, late=0.03, twice=0.03, wrong_house=0.03))


def _reading(setting: _Setting) -> _Made:
    return Scenario("", "", crew=Crew(reads_every_s=setting.between(600.0, 1200.0)))


def _late_strike(setting: _Setting) -> _Made:
    return (LateStrike(setting.station("contact").id, setting.between(20.0, 120.0)),)


def _early_strike(setting: _Setting) -> _Made:
    station = setting.station("contact")
    lamp = station.lamp
    return (LateStrike(station.id, -(lamp.douser_limit_s - lamp.latest_s + setting.between(15.0, 60.0))),)


def _hard_lamp(setting: _Setting) -> _Made:
    return (HardLamp(setting.station("contact").id, int(setting.rng.integers(4, 9))),)


def _lamp_out(setting: _Setting) -> _Made:
    return (LampOut(setting.station("contact").id, setting.during(0.35, 0.9), setting.between(20.0, 90.0)),)


def _late_motor(setting: _Setting) -> _Made:
    station = setting.station("contact", of="motor", first=1)
    return (LateMotor(station.id, setting.between(0.4, 0.8) * setting.least_reserve_s(station)),)


def _stuck_motor(setting: _Setting) -> _Made:
    stuck = LateMotor(setting.station("contact", of="motor", first=1).id)
    return Scenario("", "", (stuck,), restart_after_s=setting.between(180.0, 420.0))


def _motor_lost(setting: _Setting) -> _Made:
    return (MotorStop(setting.station("contact", of="motor").id, setting.during(0.1, 0.8)),)


def _stop_and_restart(setting: _Setting) -> _Made:
    return (ChainStop(setting.during(0.1, 0.8), setting.between(60.0, 420.0)),)


def _tight_link(setting: _Setting) -> _Made:
    """Trimmed back at 92 % of what the fault alone spends, the other way and half as fast again, to where it was."""
    gone_in_s = setting.between(1800.0, 3600.0)
    fault = setting.rate_fault(setting.during(0.05, 0.3), gone_in_s)
    trimmed_s = fault.at_s + 0.92 * gone_in_s
    back = RateFault(fault.station, trimmed_s, -1.5 * fault.ppm, trimmed_s + 0.92 * gone_in_s / 1.5)
    return Scenario("", "", (replace(fault, until_s=trimmed_s), back), crew=Crew(reads_every_s=600.0))


def _trip(setting: _Setting) -> _Made:
    return (setting.rate_fault(setting.during(0.1, 0.6), setting.between(600.0, 1800.0)),)


def _short_reserve(setting: _Setting) -> _Made:
    fault = setting.rate_fault(setting.during(0.1, 0.3), setting.between(1200.0, 2400.0))
    faults = [TripAt(link.id, 0.6 * link.reserve_s) for link in setting.plan.links]
    return (fault, *(short for short in faults if (fault.station or "") in short.link.split(">")))


def _speed_change(setting: _Setting) -> _Made:
    at_s = setting.during(0.1, 0.5)
    return (setting.rate_fault(at_s, (setting.plan.print_s - at_s) / setting.between(0.55, 0.75)),)


def _mains_change(setting: _Setting) -> _Made:
    at_s = setting.during(0.1, 0.6)
    return (
        RateFault(None, at_s, setting.sign() * setting.between(1000.0, 4000.0), at_s + setting.between(300.0, 2400.0)),
    )


def _film_jump(setting: _Setting) -> _Made:
    """Film that the sprockets gain or lose at once: no other way to feed at twice the speed, or not at all."""
    station, at_s = setting.station(), setting.during(0.05, 0.6)
    jump_s = setting.between(0.3, 0.7) * setting.least_reserve_s(station)
    return (RateFault(station.id, at_s, setting.sign() * _PPM, at_s + jump_s),)


def _wrong_taps(setting: _Setting) -> _Made:
    cues = setting.cues()
    if not cues:
        return Scenario("", "", crew=Crew(wrong_house=0.1, late=0.1, twice=0.05))
    stations = [setting.station("tap", of="cue") for _ in range(3)]
    marks = [cues[int(setting.rng.integers(len(cues)))] for _ in stations]
    other = setting.station(first=1).id
    slips = (
        WrongTap(stations[0].id, marks[0], as_station=other, takes_back_s=setting.between(4.0, 20.0)),
        WrongTap(stations[1].id, marks[1], late_s=setting.between(4.0, 15.0)),
        WrongTap(stations[2].id, marks[2], as_station=other),
    )
    return Scenario("", "", slips, crew=Crew(twice=0.05))


def _missing_inputs(setting: _Setting) -> _Made:
    lost = FeedLost(setting.station("contact").booth, setting.during(0.02, 0.3), setting.between(300.0, 1800.0))
    return Scenario("", "", (lost,), crew=Crew(missed=0.3))


def _no_failsafe(_: _Setting) -> _Made:
    return (NoFailsafe(),)


def _short_tail(setting: _Setting) -> _Made:
    """By far more than what nature does."""
    return (TailOff(-setting.between(0.4, 0.8) * setting.plan.tail_s),)


def _long_tail(setting: _Setting) -> _Made:
    return (TailOff(setting.between(0.4, 0.8) * setting.plan.tail_s),)


def _stop_with_light(setting: _Setting) -> _Made:
    halt = ChainStop(setting.during(0.15, 0.8), setting.between(90.0, 300.0))
    return Scenario("", "", (halt, NoFireDouser()), crew=Crew(shuts_after_s=setting.between(4.0, 15.0)))


def _stop_group(setting: _Setting) -> _Made:
    """Where the plan has no group that leaves a rest, two neighbours stop at once as if they were one."""
    stations, at_s = setting.plan.stations, setting.during(0.1, 0.8)
    groups = [group for group in setting.plan.stop_groups if len(group) < len(stations)]
    if groups:
        group = groups[int(setting.rng.integers(len(groups)))]
        return (MotorStop(group[int(setting.rng.integers(len(group)))], at_s),)
    together = 2 if len(stations) > 2 else 1
    k = int(setting.rng.integers(len(stations) - together + 1))
    apart_s = setting.plan.timing.start_spread_s
    return tuple(MotorStop(stations[k + n].id, at_s + n * apart_s) for n in range(together))


def _slow_crew(setting: _Setting) -> _Made:
    stop = MotorStop(setting.station("contact", of="motor").id, setting.during(0.1, 0.8))
    slow = Crew(stops_after_s=setting.between(15.0, 30.0), shuts_after_s=setting.between(8.0, 20.0))
    return Scenario("", "", (stop, NoFireDouser()), crew=slow, restart_after_s=setting.between(180.0, 420.0))


def _foil_missing(setting: _Setting) -> _Made:
    cues = setting.cues()
    return (FoilMissing(cues[int(setting.rng.integers(len(cues)))]),) if cues else ()


def _print_off(setting: _Setting) -> _Made:
    """A reel spliced short, or a piece put in: by six frames to two seconds of film."""
    cues = setting.cues()
    by_s = setting.sign() * setting.between(0.25, 2.0)
    return (PrintOff(cues[int(setting.rng.integers(len(cues)))], by_s),) if cues else ()


CATALOGUE: dict[str, Entry] = {
    "clean": Entry("Nothing goes wrong.", lambda _: ()),
    "careless": Entry("Nothing goes wrong but the taps: late, twice, at the wrong house, or not at all.", _careless),
    "reading": Entry("Nothing goes wrong, and somebody walks the chain to read every link.", _reading),
    "late_strike": Entry("One lamp is lit after its window closed.", _late_strike),
    "early_strike": Entry("One lamp is lit so early that its shut douser gets hot.", _early_strike),
    "hard_lamp": Entry("One lamp needs many strikes.", _hard_lamp),
    "lamp_out": Entry("One lamp goes out in the picture and is lit again.", _lamp_out),
    "late_motor": Entry("One motor starts a second or two after the others.", _late_motor),
    "stuck_motor": Entry("One motor does not start; the chain is rethreaded and started again.", _stuck_motor),
    "motor_lost": Entry("One motor stops in the show, and its neighbours' failsafes trip.", _motor_lost),
    "stop_and_restart": Entry("The whole chain is stopped and started again.", _stop_and_restart),
    "tight_link": Entry(
        "One motor runs off, its links go tight and loose, and the crew trims it in time.", _tight_link
    ),
    "trip": Entry("One motor runs off until a failsafe trips.", _trip),
    "short_reserve": Entry(
        "One motor runs off, and a failsafe trips well before the planned reserve is spent.", _short_reserve
    ),
    "speed_change": Entry("One motor changes its speed a little, and its links hold out to the end.", _speed_change),
    "mains_change": Entry("The mains change, and all motors with them.", _mains_change),
    "film_jump": Entry("The film jumps its sprockets at one gate.", _film_jump),
    "wrong_taps": Entry("Passes are tapped late and at the wrong house.", _wrong_taps),
    "missing_inputs": Entry("One booth's contacts are lost for a while, and many taps are missing.", _missing_inputs),
    "no_failsafe": Entry("No projector has a failsafe: motors are stopped by hand once the film is out.", _no_failsafe),
    "short_tail": Entry("The tail is much shorter than planned, and the film runs out early.", _short_tail),
    "long_tail": Entry("The tail is much longer than planned, and the film runs out late.", _long_tail),
    "stop_with_light": Entry(
        "The whole chain is stopped, and film stands in the light until somebody shuts the dousers.", _stop_with_light
    ),
    "stop_group": Entry("Motors that stop together stop by themselves, and the rest has to be stopped.", _stop_group),
    "slow_crew": Entry(
        "One motor stops, the rest is stopped late, and film is laced anew before the restart.",
        _slow_crew,
    ),
    "print_off": Entry("The film was spliced shorter or longer at one place than planned.", _print_off),
    "foil_missing": Entry("One foil is off the print, and no detector sees its cue.", _foil_missing),
}
"""Every scenario that `scenario_for` makes, by name."""
