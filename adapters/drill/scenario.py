"""What is to go wrong in a drill, and how well its crew and its machines do otherwise.

All times are seconds after `motors_at`; rates are parts per million of the nominal film speed. Everything here is
frozen and plain, so a scenario can be printed, compared and kept beside the truth it led to.
"""

from dataclasses import dataclass, field
from typing import TypeAlias, TypeVar


@dataclass(frozen=True)
class LateMotor:
    """One motor does not start with the others: `late_s` later, or not before a restart (None)."""

    station: str
    late_s: float | None = None


@dataclass(frozen=True)
class RateFault:
    """One motor, or with `station` None all of them, runs off by `ppm` from `at_s` on, until `until_s`."""

    station: str | None
    at_s: float
    ppm: float
    until_s: float | None = None


@dataclass(frozen=True)
class MotorStop:
    """One motor stops by itself at `at_s`, and is started again `for_s` later (None: not at all)."""

    station: str
    at_s: float
    for_s: float | None = None


@dataclass(frozen=True)
class ChainStop:
    """All motors are stopped together at `at_s`, and started again `for_s` later (None: not at all)."""

    at_s: float
    for_s: float | None = None


@dataclass(frozen=True)
class TripAt:
    """A link's failsafe trips at that much slack either way, whatever reserve the plan says."""

    link: str
    slack_s: float


@dataclass(frozen=True)
class LateStrike:
    """One lamp is lit `late_s` after its window closed; below 0, before."""

    station: str
    late_s: float


@dataclass(frozen=True)
class HardLamp:
    """One lamp needs that many strikes."""

    station: str
    strikes: int


@dataclass(frozen=True)
class LampOut:
    """One lamp goes out at `at_s`; it is lit again `for_s` later (None: not at all)."""

    station: str
    at_s: float
    for_s: float | None = None


@dataclass(frozen=True)
class DouserForgotten:
    """Nobody opens one douser until `late_s` after the head."""

    station: str
    late_s: float


@dataclass(frozen=True)
class FeedLost:
    """The contacts of one booth (None: of every booth) are not seen from `at_s` for `for_s`."""

    booth: str | None
    at_s: float
    for_s: float


@dataclass(frozen=True)
class WrongTap:
    """What somebody does wrong with the tap for one mark at one station.

    `as_station`: taps this one instead. `late_s`: taps that much later. `twice`: taps again a little later. `missed`:
    does not tap. `takes_back_s`: notices, and retracts the wrong tap that much later.
    """

    station: str
    mark: str
    as_station: str | None = None
    late_s: float = 0.0
    twice: bool = False
    missed: bool = False
    takes_back_s: float | None = None


@dataclass(frozen=True)
class TailOff:
    """The tail is longer than the plan's by `by_s` (below 0 shorter) beside what nature does; the same for all houses.

    A plan without a tail has none that could be off.
    """

    by_s: float


@dataclass(frozen=True)
class NoFailsafe:
    """One projector (None: every one) has no failsafe: neither taut film nor the film's end stops its motor."""

    station: str | None = None


@dataclass(frozen=True)
class NoFireDouser:
    """One projector (None: every one) has no douser that shuts by itself when its film stops."""

    station: str | None = None


@dataclass(frozen=True)
class FoilMissing:
    """The foil of one mark is off the print: no detector sees it. Whoever taps passes sees the picture all the same."""

    mark: str


@dataclass(frozen=True)
class PrintOff:
    """From one mark on the film lies `by_s` further from its first frame than planned (below 0 nearer), all of it.

    What was spliced in before the mark is longer or shorter than the plan says.
    """

    mark: str
    by_s: float


_Kind = TypeVar("_Kind")
_QUICKEST_RETHREAD_S = 60.0

Fault: TypeAlias = (
    LateMotor
    | RateFault
    | MotorStop
    | ChainStop
    | TripAt
    | LateStrike
    | HardLamp
    | LampOut
    | DouserForgotten
    | FeedLost
    | WrongTap
    | TailOff
    | NoFailsafe
    | NoFireDouser
    | FoilMissing
    | PrintOff
)


@dataclass(frozen=True)
class Nature:
    """How much of each of the plan's tolerances is really there: 1.0 all of it, 0.0 none."""

    rate: float = 1.0
    line: float = 1.0
    walk: float = 1.0
    path: float = 1.0
    start: float = 1.0
    runup: float = 1.0
    tail: float = 1.0


EXACT = Nature(rate=0.0, line=0.0, walk=0.0, path=0.0, start=0.0, runup=0.0, tail=0.0)
"""A chain that does exactly what the plan says."""


@dataclass(frozen=True)
class Crew:
    """How people do (every figure chosen, unless it names a source).

    `exact`: people and contacts that see everything at once and do everything on the second. `missed`, `late`, `twice`
    and `wrong_house` are shares of all taps, `takes_back` of the wrong houses; the truth says which they were.
    `attention_sd_s` comes on top of the reaction to a light; together they are a plan's default `tap_sigma_s`.
    `reads_every_s`: how often somebody walks the chain and reads every link (None: never), each to `read_sd_s`.
    `strike_fails`: share of strikes that do not catch. `strike_after_s` and `stops_after_s`: how long after the window
    opened a lamp is usually struck, and after the first trouble the chain is usually stopped. `shuts_after_s`: how long
    after film stopped a douser that does not shut by itself is usually shut.
    """

    exact: bool = False
    attention_sd_s: float = 0.28
    missed: float = 0.02
    late: float = 0.0
    twice: float = 0.0
    wrong_house: float = 0.0
    takes_back: float = 0.5
    reads_every_s: float | None = None
    read_sd_s: float = 0.15
    strike_fails: float = 0.08
    strike_after_s: float = 15.0
    stops_after_s: float = 6.0
    shuts_after_s: float = 4.0


@dataclass(frozen=True)
class Scenario:
    """One drill: its name, a sentence that says what will be seen, and all that makes it so.

    `late_s`: how long after `motors_at` the chain is started. `restart_after_s`: where a reserve is spent the crew
    stops the chain, takes up by hand what hangs loose, and starts again that much later, 60 or more (None: the film
    stays where it is).
    """

    name: str
    text: str
    faults: tuple[Fault, ...] = ()
    nature: Nature = field(default_factory=Nature)
    crew: Crew = field(default_factory=Crew)
    late_s: float = 0.0
    restart_after_s: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be done by hand in the time."""
        if self.restart_after_s is not None and self.restart_after_s < _QUICKEST_RETHREAD_S:
            raise ValueError(f"restart_after_s: found {self.restart_after_s:g}; accepted 60 or more")

    def of(self, kind: type[_Kind]) -> tuple[_Kind, ...]:
        """The faults of one kind, as written."""
        return tuple(fault for fault in self.faults if isinstance(fault, kind))

    def lacks(self, kind: type[NoFailsafe] | type[NoFireDouser], station: str) -> bool:
        """Whether a station is without that safeguard."""
        return any(fault.station in (None, station) for fault in self.of(kind))
