"""How a chain truly ran: what its motors were made to do, and what befell them."""

from dataclasses import dataclass, field
from math import inf
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from adapters.drill.facts import Fact
from adapters.drill.motion import Curve
from adapters.drill.motors import Inch, Motor, Spell

OrderAct: TypeAlias = Literal["start", "stop", "rethread", "relace", "read", "ready", "hold"]


class Spent(NamedTuple):
    """A link whose failsafe reserve is spent: when, and the slack then (over +, under -)."""

    link: str
    at_s: float
    slack_s: float


class Trip(NamedTuple):
    """A projector whose failsafe tripped, because of one of its links."""

    station: str
    at_s: float
    link: str


class Order(NamedTuple):
    """Something that is done to motors and film, or said of them; `stations` None is all of them.

    `read` and `relace` are of the link that feeds each station; a link is laced to `seconds` of slack. `seconds` of a
    hold is when the chain is to start. `alone`: a motor that stops by itself, and that nobody is about to start again.
    """

    at_s: float
    act: OrderAct
    stations: tuple[int, ...] | None = None
    seconds: float = 0.0
    surprise: bool = False
    alone: bool = False


@dataclass
class Drive:
    """One station's motor with all that was done to it so far."""

    motor: Motor
    rng: np.random.Generator
    spells: list[Spell] = field(default_factory=list)
    inches: list[Inch] = field(default_factory=list)

    @property
    def running(self) -> bool:
        return bool(self.spells) and self.spells[-1].off_s == inf

    @property
    def start_from_s(self) -> float:
        """From when on the motor can be started, as far as it is known to stop and to be left alone."""
        ends_s = [*(spell.off_s for spell in self.spells[-1:]), *(inch.until_s for inch in self.inches[-1:])]
        return max(ends_s, default=-inf)

    @property
    def still_from_s(self) -> float:
        """From when on its film can be taken through by hand: until then it coasts."""
        return max([self.start_from_s, *(spell.off_s + 2.0 * spell.coast_s for spell in self.spells[-1:])])

    def curve(self, until_s: float) -> Curve:
        return self.motor.curve(self.spells, self.inches, until_s)


@dataclass(frozen=True)
class Course:
    """How the chain truly ran: curves by station, and everything that was done or happened to the motors.

    `ahead_s` is the film between the first gate and each by the true paths, `film_end_s` that between the leader's
    first frame and the film's true end. `spells` are each motor's times of running. `tail_out_s` is when each gate lost
    the film, None where it never did. `chain_stops` are (when, started again or None). `print_shifts_s` are (place by
    the plan, by how much all from there on lies further from the first frame).
    """

    curves: tuple[Curve, ...]
    ahead_s: tuple[float, ...]
    film_end_s: float
    facts: tuple[Fact, ...]
    spent: tuple[Spent, ...]
    trips: tuple[Trip, ...]
    spells: tuple[tuple[Spell, ...], ...]
    tail_out_s: tuple[float | None, ...]
    chain_stops: tuple[tuple[float, float | None], ...]
    print_shifts_s: tuple[tuple[float, float], ...] = ()

    def place_s(self, x_s: float) -> float:
        """How far what the plan has `x_s` behind the first frame truly lies behind it."""
        return x_s + sum(by_s for from_s, by_s in self.print_shifts_s if from_s <= x_s)
