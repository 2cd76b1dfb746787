"""The schedule of a plan over HTTP: `festoon-schedule/1` of formats.md. All times are seconds after `motors_at`."""

from typing import Literal

from server.desk.messages import FilmInfo, Wire


class ScheduledLink(Wire):
    """One link; `reserve_ft` is tape-measure feet."""

    id: str
    path_m: float
    transit_s: float
    reserve_s: float
    reserve_ft: float


class ScheduledStation(Wire):
    """One station: its start, every mark's pass, its strike window, and when it is clear."""

    id: str
    house: str
    start_s: float
    passes: dict[str, float]
    strike_opens_s: float
    strike_closes_s: float
    clear_s: float


class ThreadingNeeds(Wire):
    """What threading takes; `stretches` are pairs of stations."""

    leader_ft: float
    stretches: list[tuple[str, str]]
    minutes: float


class ScheduleWarning(Wire):
    """Something to look at; `station` is null where it is about the whole chain."""

    code: str
    station: str | None
    text: str


class ScheduleDocument(Wire):
    """What follows from a plan if everything goes by it."""

    format: Literal["festoon-schedule/1"]
    film: FilmInfo
    links: list[ScheduledLink]
    stations: list[ScheduledStation]
    threading: ThreadingNeeds
    warnings: list[ScheduleWarning]
