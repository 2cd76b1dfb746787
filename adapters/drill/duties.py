"""Who does what in a rehearsal: what is left to the person at the desks, and what the simulated crew sees to."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from adapters.drill.scenario import (
    DouserForgotten,
    Fault,
    FoilMissing,
    HardLamp,
    LampOut,
    LateStrike,
    NoFailsafe,
    NoFireDouser,
    PrintOff,
    Scenario,
    TailOff,
    TripAt,
    WrongTap,
)
from server.timeline.plan import Plan, Station

CrewKind: TypeAlias = Literal["contacts", "all", "none"]
Thing: TypeAlias = Literal["motor", "lamp", "douser", "cue"]


@dataclass(frozen=True)
class Duties:
    """`crew` is what the simulated crew does.

    `contacts`: everything but what the plan knows by taps, and nobody stops the film in trouble. `all`: everything;
    whoever is at the desks may step in. `none`: nothing that a desk asks for, contacts only report what the person
    does. A lamp or a douser without an input is asked of nobody, and the crew sees to it.
    """

    plan: Plan
    crew: CrewKind = "contacts"

    @property
    def stops(self) -> bool:
        """Whether stopping the film in trouble is the person's."""
        return self.crew != "all"

    @property
    def motors(self) -> bool:
        """Whether the start of the chain is the person's: of all motors or of none, for one button starts them."""
        return any(self.yours(station, "motor") for station in self.plan.stations)

    def yours(self, station: Station, thing: Thing) -> bool:
        """Whether one thing at one station is left to the person. Passes that contacts see are nobody's."""
        way = getattr(station.inputs, thing)
        if thing == "cue":
            return self.crew != "all" and way == "tap"
        if thing != "motor" and way == "none":
            return False
        return self.crew == "none" or (self.crew == "contacts" and way == "tap")

    def passes(self, station: Station) -> frozenset[str]:
        """The marks whose passes at one station a desk asks the person for: its first picture, and where it changes."""
        if not self.yours(station, "cue"):
            return frozenset()
        changes = (mark.id for mark in self.plan.planned_marks if mark.say is not None and station.id in mark.stations)
        return frozenset({"head", *changes})

    def comes_about(self, scenario: Scenario) -> bool:
        """Whether anything of a scenario's trouble happens at all: a mistake that nobody is there to make does not."""
        return any(self._comes_about(fault) for fault in scenario.faults)

    def _comes_about(self, fault: Fault) -> bool:
        if isinstance(fault, LateStrike):
            return not self.yours(self._station(fault.station), "lamp")
        if isinstance(fault, DouserForgotten):
            return not self.yours(self._station(fault.station), "douser")
        if isinstance(fault, WrongTap):
            return not self.yours(self._station(fault.station), "cue")
        if isinstance(fault, HardLamp | LampOut):
            return self._station(fault.station).inputs.lamp != "none"
        if isinstance(fault, FoilMissing):
            return any(station.inputs.cue == "contact" for station in self.plan.stations)
        if isinstance(fault, PrintOff):
            return any(station.inputs.cue != "none" for station in self.plan.stations)
        if isinstance(fault, TailOff):
            return self.plan.tail_s > 0.0
        return not isinstance(fault, TripAt | NoFailsafe | NoFireDouser)

    def _station(self, station: str) -> Station:
        return self.plan.stations[self.plan.station_index[station]]
