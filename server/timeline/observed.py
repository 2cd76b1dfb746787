"""The latest that was observed of each station and each source."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from statistics import median
from typing import Literal

from server.timeline.plan import Plan


@dataclass(slots=True)
class StationState:
    """One station: the latest of everything, in microseconds after `motors_at`; None where nothing was seen.

    `latest_x_s` is the furthest mark believed seen; `seen` holds every mark with a pass, believed or not.
    `gone_by` is when the head, the end and the tail's end were estimated to pass before the latest stop.
    `closed_again` is how many seconds after a mark's pass its contact told of it again; never changed in place.
    `to_open` is whether a douser was said to be shut while the film stood, and nobody has told of it since the start.
    `may_hold_film` is whether a motor that stopped about when its film ran out may have stopped just before.
    `contacts` is which source last told by a contact of each thing: the first word of a kind of event.
    `ready` is when and by whom a station was said to be ready, until its motor starts; `link_known` how and when the
    link that feeds it was last read or laced anew.
    `lamp_sigma_s` is how sure `lamp_us` is.
    `misfit_todo` is empty where it is what any misfit asks for.
    `turn_base` is the count and variance that the latest start or stop began from, `turn_sigma_s` how sure its time is.
    """

    running: bool = False
    started_us: int | None = None
    stopped_us: int | None = None
    turn_base: tuple[float, float] = (0.0, 0.0)
    turn_sigma_s: float = 0.0
    lit: bool = False
    lamp_us: int | None = None
    lamp_sigma_s: float = 0.0
    lamp_lost: bool = False
    douser: Literal["open", "shut", "unknown"] = "unknown"
    douser_us: int | None = None
    to_open: bool = False
    passes: dict[str, int] = field(default_factory=dict)
    passed_by: dict[str, str] = field(default_factory=dict)
    gone_by: dict[str, int] = field(default_factory=dict)
    closed_again: dict[str, float] = field(default_factory=dict)
    latest_x_s: float = -math.inf
    seen: frozenset[str] = frozenset()
    trip_us: int | None = None
    may_hold_film: bool = False
    contacts: dict[str, str] = field(default_factory=dict)
    ready: tuple[int, str | None] | None = None
    link_known: tuple[Literal["read", "relaced"], int] | None = None
    misfit_us: int | None = None
    misfit_text: str = ""
    misfit_todo: str = ""

    def copy(self) -> "StationState":
        """Return an independent copy."""
        twin = object.__new__(StationState)
        for name in _NAMES:
            setattr(twin, name, getattr(self, name))
        twin.passes, twin.passed_by = self.passes.copy(), self.passed_by.copy()
        return twin


_NAMES = tuple(one.name for one in fields(StationState))


@dataclass(slots=True)
class SourceState:
    """Whether a source is alive, since when, what it said of it, and the only station it is of, if it said so."""

    up: bool
    since_us: int
    text: str
    station: str | None


def together_us(plan: Plan, states: Sequence[StationState], halt_us: int | None, *, first: bool) -> int | None:
    """Return when the motors that started did so, as the first of the chain: the median; None where none has.

    Their planned offsets are taken off at the `first` start. Starts before `halt_us`, a stop of the chain, are over.
    """
    starts = [
        state.started_us - (round(station.start_offset_s * 1e6) if first else 0)
        for station, state in zip(plan.stations, states, strict=True)
        if state.started_us is not None and (halt_us is None or state.started_us > halt_us)
    ]
    return round(median(starts)) if starts else None
