"""A plan: the chain, the print and the timing rules of one show, as one frozen value.

Import these names from `server.timeline.plan`, which also makes a `Plan` of the text of a file.
Everything along the film is in seconds of film at nominal rate.
"""

from datetime import UTC, datetime
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Final, Literal, NamedTuple
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict

from server.timeline.film import Film

SegmentKind = Literal["leader", "trailer", "feature", "credits", "intermission", "tail"]
InputKind = Literal["contact", "tap", "none"]
MotorKind = Literal["synchronous", "induction"]
StartKind = Literal["common", "timers", "hands"]

RESERVED_MARKS: Final = ("head", "end", "tail_end")
RATE_TOLERANCE_PPM: Final[dict[MotorKind, float]] = {"synchronous": 50.0, "induction": 3000.0}
# chosen: how far apart motors start by one button, each by a timer of its own, and each by a hand
START_SPREAD_S: Final[dict[StartKind, float]] = {"common": 0.05, "timers": 0.1, "hands": 0.6}


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Mark(NamedTuple):
    """A point of the print; `x_s` seconds of film lie between it and the first gate at threading.

    `cue` says that a foil cue sits there; of two marks at one point only the segment's own has it.
    """

    id: str
    x_s: float
    cue: bool
    title: str


class Link(NamedTuple):
    """Two neighbouring stations and the path between them; `id` is `upstream>downstream`."""

    id: str
    upstream: str
    downstream: str
    path_m: float
    transit_s: float
    reserve_s: float


class Timing(_Frozen):
    """The timing rules, each under its own name in the plan; the defaults are those of the format."""

    motors_at: datetime
    reserve_s: float = 2.0
    start_grace_s: float = 0.5
    runup_loss_s: float = 0.0
    runup_sigma_s: float = 0.0
    coast_s: float = 0.0
    start: StartKind = "timers"
    start_spread_s: float = START_SPREAD_S["timers"]
    path_tolerance_percent: float = 1.0
    motors: MotorKind = "synchronous"
    rate_tolerance_ppm: float = RATE_TOLERANCE_PPM["synchronous"]
    line_tolerance_ppm: float = 1000.0
    rate_walk_ppm_per_sqrt_hour: float = 20.0
    tap_sigma_s: float = 0.30
    tap_lag_s: float = 0.25
    contact_sigma_s: float = 0.02
    forecast_horizon_s: float = 600.0
    tail_sigma_s: float = 3.0


class ThreadingRules(_Frozen):
    """How leader is laced through the chain before the show; feet are tape-measure feet."""

    ends_ft: float = 180.0
    spare_percent: float = 10.0
    minutes_per_station: float = 2.8
    stretch_ft: float = 800.0
    stretch_rollers: int = 80


class Lamp(_Frozen):
    """When a lamp is lit, in seconds before the picture reaches its gate, and how long against a shut douser.

    `gate_limit_s` is how long film may stand in the light. The lamphouse's maker says what each really may be.
    """

    earliest_s: float = 90.0
    latest_s: float = 15.0
    douser_limit_s: float = 120.0
    gate_limit_s: float = 1.0


class Inputs(_Frozen):
    """How each thing at a station is known: by a contact, by somebody's tap, or not at all."""

    motor: InputKind = "contact"
    lamp: InputKind = "contact"
    douser: InputKind = "none"
    cue: InputKind = "tap"


class Segment(_Frozen):
    """One piece of the print; `title` is its id where the plan gives none.

    `x_s` is the film ahead of its first frame, from the leader's first frame on; `length_s` its running time.
    """

    id: str
    kind: SegmentKind
    title: str
    cue: bool
    length_s: float
    x_s: float


class PlannedMark(_Frozen):
    """Any other point of the print than the start of a segment.

    `x_s` is the film ahead of it, from the leader's first frame on. `say` is what is to be done as it goes by, None
    where nothing is; it is asked for `notice_s` before, at the gates of `stations`.
    """

    id: str
    x_s: float
    cue: bool
    say: str | None
    notice_s: float
    stations: tuple[str, ...]


class Station(_Frozen):
    """One projector of the chain, with the numbers that hold for it after every override.

    `path_m` and `reserve_s` are those of the link that feeds it, and mean nothing at the first station. `advertised`
    is `HH:MM` on the house's clock. `booth` and `advertised` are None where the plan does not say.
    """

    id: str
    house: str
    booth: str | None = None
    path_m: float = 0.0
    rollers: int = 0
    start_offset_s: float = 0.0
    reserve_s: float
    advertised: str | None = None
    inputs: Inputs = Inputs()
    lamp: Lamp = Lamp()


class Plan(_Frozen):
    """One show as planned; stations and print are in film order.

    `stop_groups` are the ids of stations whose motors are wired to stop together, each in film order; `planned_marks`
    are those points of the print that are the start of no segment.
    """

    title: str
    site: str | None = None
    timezone: str = "UTC"
    film: Film = Film()
    timing: Timing
    lamp: Lamp = Lamp()
    threading: ThreadingRules = ThreadingRules()
    print: tuple[Segment, ...]
    stations: tuple[Station, ...]
    stop_groups: tuple[tuple[str, ...], ...] = ()
    planned_marks: tuple[PlannedMark, ...] = ()

    @cached_property
    def zero(self) -> datetime:
        """The instant that every offset counts from: `motors_at`, in UTC."""
        return self.timing.motors_at.astimezone(UTC)

    @cached_property
    def zone(self) -> ZoneInfo:
        """The zone of the house's clock."""
        return ZoneInfo(self.timezone)

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """Every mark in film order; where two are at one point, the segment's own comes first."""
        marks = [Mark(segment.id, segment.x_s, segment.cue, segment.title) for segment in self.print]
        marks += [Mark(mark.id, mark.x_s, mark.cue, mark.say or mark.id) for mark in self.planned_marks]
        marks += [
            Mark("head", self._programme_start_s, False, "Head"),
            Mark("end", self._programme_end_s, False, "End"),
            Mark("tail_end", self.print_s, False, "End of the tail"),
        ]
        return tuple(sorted(marks, key=lambda mark: mark.x_s))

    @cached_property
    def marks_by_id(self) -> dict[str, Mark]:
        """The marks by their ids."""
        return {mark.id: mark for mark in self.marks}

    def mark(self, mark_id: str) -> Mark:
        """The mark of that id; KeyError where the print has none."""
        return self.marks_by_id[mark_id]

    @cached_property
    def booths(self) -> tuple[str, ...]:
        """The booths that the stations name, in film order."""
        return tuple(dict.fromkeys(station.booth for station in self.stations if station.booth is not None))

    @cached_property
    def station_index(self) -> dict[str, int]:
        """Where in film order each station is, from 0."""
        return {station.id: index for index, station in enumerate(self.stations)}

    @cached_property
    def stopped_with(self) -> tuple[tuple[int, ...], ...]:
        """For each station, which others stop with it because their motors are wired to."""
        groups = [[self.station_index[station] for station in group] for group in self.stop_groups]
        return tuple(
            tuple(other for group in groups if k in group for other in group if other != k)
            for k in range(len(self.stations))
        )

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """The links in film order, one fewer than the stations."""
        return tuple(self._link(*pair) for pair in pairwise(self.stations))

    @cached_property
    def ahead_s(self) -> tuple[float, ...]:
        """For each station, the film between the first gate and its own at threading."""
        return tuple(accumulate((link.transit_s for link in self.links), initial=0.0))

    @cached_property
    def intermissions(self) -> tuple[tuple[Segment, Segment], ...]:
        """Every intermission that a picture follows, with the segment that comes after it."""
        pairs = pairwise(self.print)
        return tuple((one, after) for one, after in pairs if one.kind == "intermission" and after.kind != "tail")

    @cached_property
    def credits(self) -> str | None:
        """The mark at which the last credits begin; None where the print has none."""
        return next((segment.id for segment in reversed(self.print) if segment.kind == "credits"), None)

    @cached_property
    def print_s(self) -> float:
        """Running time of the whole print, leader and tail included."""
        return self.print[-1].x_s + self.print[-1].length_s

    @cached_property
    def tail_s(self) -> float:
        """Running time of the film after the last picture frame; 0 where the print has no tail."""
        return self.print_s - self._programme_end_s

    @property
    def _programme_start_s(self) -> float:
        return next(segment.x_s for segment in self.print if segment.kind != "leader")

    @property
    def _programme_end_s(self) -> float:
        last = next(segment for segment in reversed(self.print) if segment.kind != "tail")
        return last.x_s + last.length_s

    def _link(self, upstream: Station, downstream: Station) -> Link:
        return Link(
            id=f"{upstream.id}>{downstream.id}",
            upstream=upstream.id,
            downstream=downstream.id,
            path_m=downstream.path_m,
            transit_s=self.film.s_from_m(downstream.path_m),
            reserve_s=downstream.reserve_s,
        )
