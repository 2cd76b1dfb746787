"""The text of a `*.plan.toml` made into a `Plan`, or into all of its faults at once."""

import re
from datetime import UTC, datetime
from typing import Final, get_args
from zoneinfo import ZoneInfo

from pydantic import BaseModel

from server.timeline.faults import both, either, found_text
from server.timeline.file_kinds import PLAN, in_anothers_place
from server.timeline.film import FOOT_M, Film, Gauge
from server.timeline.meant_times import meant_clock, meant_duration, meant_instant
from server.timeline.plan_model import (
    RATE_TOLERANCE_PPM,
    RESERVED_MARKS,
    START_SPREAD_S,
    InputKind,
    Inputs,
    Lamp,
    Link,
    Mark,
    MotorKind,
    Plan,
    PlannedMark,
    Segment,
    SegmentKind,
    StartKind,
    Station,
    ThreadingRules,
    Timing,
)
from server.timeline.tables import Faults, Table, key_lines, toml_from_text

__all__ = [
    "InputKind",
    "Inputs",
    "Lamp",
    "Link",
    "Mark",
    "MotorKind",
    "Plan",
    "PlanFaults",
    "PlannedMark",
    "Segment",
    "SegmentKind",
    "StartKind",
    "Station",
    "ThreadingRules",
    "Timing",
    "parse_plan",
]

FORMAT: Final = "festoon-plan/1"

# Chosen: past these a number is a slip of the keyboard, not a plan.
_HIGHEST_BY_UNIT: Final = {
    "_s": 86_400.0,
    "_ft": 1_000_000.0,
    "_m": 300_000.0,
    "_percent": 100.0,
    "_ppm": 100_000.0,
    "_ppm_per_sqrt_hour": 100_000.0,
    "_per_station": 1_000.0,
}
_MOST_FRAMES: Final = 10_000_000
_MOST_ROLLERS: Final = 10_000
_MOST_STATIONS: Final = 200
_MOST_SEGMENTS: Final = 1_000
_NOTICE_S: Final = 20.0  # chosen: time to walk to a projector of the same booth
_FRAME_RATES: Final = (1.0, 120.0)
_MOST_SHRINKAGE_PERCENT: Final = 5.0  # chosen: four times the archives' "shrunken old print" of 1.25 %
_YEARS: Final = (1900, 2199)

_KINDS: Final[tuple[SegmentKind, ...]] = get_args(SegmentKind)
_GAUGES: Final[tuple[Gauge, ...]] = get_args(Gauge)
_INPUTS: Final[tuple[InputKind, ...]] = get_args(InputKind)
_MOTORS: Final[tuple[MotorKind, ...]] = get_args(MotorKind)
_STARTS: Final[tuple[StartKind, ...]] = get_args(StartKind)
_LENGTHS: Final = ("frames", "feet", "duration")
_DURATION: Final = re.compile(r"(?:([0-9]{1,2}):([0-5][0-9])|([0-9]{1,3})):([0-5][0-9])")
_CLOCK: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


class PlanFaults(Exception):
    """A plan that cannot be used; `faults` are all of them, one line each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def parse_plan(text: str, name: str) -> Plan:
    """Make a plan of the text of a file; `name` is what messages call the file.

    Raises PlanFaults with every fault of the text, each `name: line N: key.path: found X; accepted Y`. A file of
    another kind is one fault.
    """
    text = text.removeprefix("\ufeff")
    if fault := in_anothers_place(text, name, PLAN):
        raise PlanFaults([fault])
    faults = Faults(name, key_lines(text))
    data = toml_from_text(text, faults)
    if data is not None:
        plan = _plan(Table(data, "", faults))
        if plan is not None:
            return plan
    raise PlanFaults(faults.texts())


def _plan(top: Table) -> Plan | None:
    """Read every table before anything is decided, so that no fault hides another."""
    _check_format(top)
    title, site, (timezone, zone) = top.required_text("title"), top.text("site"), timezone_of(top)
    film = _film(top.table("film"))
    timing = _timing(top.table("timing"), zone)
    threading = _threading(top.table("threading"))
    lamp_table = top.table("lamp")
    lamp = _lamp(lamp_table, Lamp())
    lamp_table.close()
    segments = _print(top.tables("print", "one [[print]] of kind leader, then at least one other"), film)
    stations = _stations(top.tables("stations", "at least one [[stations]]"), timing, lamp)
    stop_groups = _stop_groups(top.optional_tables("stop_groups", "one [[stop_groups]] or more, or none"), stations)
    marks = _marks(top.optional_tables("marks", "one [[marks]] or more, or none"), film, segments, stations)
    top.close()
    if top.faults.noted:
        return None
    return Plan(
        title=title,
        site=site,
        timezone=timezone,
        film=film,
        timing=timing,
        lamp=lamp,
        threading=threading,
        print=segments,
        stations=stations,
        stop_groups=stop_groups,
        planned_marks=marks,
    )


def _check_format(top: Table) -> None:
    found = top.take("format")
    if found != FORMAT:
        top.fault("format", found_text(found), found_text(FORMAT))


def timezone_of(top: Table) -> tuple[str, ZoneInfo | None]:
    """Take a file's time zone: its name, UTC without one; and the zone, None where there is none of that name."""
    name = top.text("timezone")
    if name is None:
        return "UTC", None
    try:
        return name, ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # unknown, malformed, and a directory of the zone files
        top.fault("timezone", found_text(name), "an IANA time zone such as 'America/Chicago'")
    return name, None


def _film(table: Table) -> Film:
    film = Film(
        gauge=table.word("gauge", _GAUGES, "35mm"),
        frame_rate=table.number("frame_rate", 24.0, *_FRAME_RATES),
        shrinkage_percent=table.number("shrinkage_percent", 0.0, 0.0, _MOST_SHRINKAGE_PERCENT),
    )
    table.close()
    return film


def _timing(table: Table, zone: ZoneInfo | None) -> Timing:
    """Read the timing; `zone` is the house's, None where the plan names none."""
    motors_at = _instant(table, "motors_at", zone)
    motors = table.word("motors", _MOTORS, "synchronous")
    start = table.word("start", _STARTS, "timers")
    defaults = Timing(
        motors_at=motors_at,
        motors=motors,
        rate_tolerance_ppm=RATE_TOLERANCE_PPM[motors],
        start=start,
        start_spread_s=START_SPREAD_S[start],
    )
    timing = defaults.model_copy(update=_numbers(table, defaults))
    table.close()
    return timing


def _threading(table: Table) -> ThreadingRules:
    defaults = ThreadingRules()
    rollers = table.whole("stretch_rollers", defaults.stretch_rollers, 0, _MOST_ROLLERS)
    rules = defaults.model_copy(update=_numbers(table, defaults) | {"stretch_rollers": rollers})
    table.close()
    return rules


def _lamp(table: Table, defaults: Lamp) -> Lamp:
    """Read the lamp numbers of a table that may hold others: `[lamp]`, or a station that overrides it."""
    lamp = defaults.model_copy(update=_numbers(table, defaults))
    given = [key for key in ("earliest_s", "latest_s") if key in table.data]
    own = given or not table.path.startswith("stations")
    if own and lamp.earliest_s <= lamp.latest_s:
        key = given[0] if given else "earliest_s"
        table.fault(key, f"earliest_s {lamp.earliest_s:g}, latest_s {lamp.latest_s:g}", "earliest_s over latest_s")
    return lamp


def _numbers(table: Table, defaults: BaseModel) -> dict[str, float]:
    """Read every float of a model, named with its unit, from 0 to the highest that its unit allows."""
    return {
        key: table.number(key, getattr(defaults, key), 0.0, _highest(key))
        for key, field in type(defaults).model_fields.items()
        if field.annotation is float
    }


def _highest(key: str) -> float:
    unit = max((unit for unit in _HIGHEST_BY_UNIT if key.endswith(unit)), key=len)
    return _HIGHEST_BY_UNIT[unit]


def _instant(table: Table, key: str, zone: ZoneInfo | None) -> datetime:
    value = table.take(key)
    if isinstance(value, datetime) and value.tzinfo and _YEARS[0] <= value.year <= _YEARS[1]:
        return value
    accepted = f"a date and time with its offset, not in quotes, years {_YEARS[0]} to {_YEARS[1]}"
    meant = meant_instant(value, zone, _YEARS)
    example = ", such as 2026-03-14T18:50:00-05:00" if meant is None else ""
    table.fault(key, found_text(value), _with_meant(accepted + example, meant))
    return datetime(2000, 1, 1, tzinfo=UTC)


def _print(tables: list[Table], film: Film) -> tuple[Segment, ...]:
    segments: list[Segment] = []
    x_s = 0.0
    for table in tables:
        segments.append(_segment(table, film, x_s))
        x_s += segments[-1].length_s
    _check_kinds(tables)
    _check_unique(tables, "the id of one segment only")
    _check_count(tables, 2, _MOST_SEGMENTS, "segments: a leader and at least one other")
    return tuple(segments)


def _segment(table: Table, film: Film, x_s: float) -> Segment:
    mark = _mark_id(table)
    if "kind" not in table.data:
        table.fault("kind", "nothing", either(_KINDS))
    segment = Segment(
        id=mark,
        kind=table.word("kind", _KINDS, "trailer"),
        title=table.text("title") or mark,
        cue=table.flag("cue"),
        length_s=_length_s(table, film),
        x_s=x_s,
    )
    table.close()
    return segment


def _marks(
    tables: list[Table], film: Film, segments: tuple[Segment, ...], stations: tuple[Station, ...]
) -> tuple[PlannedMark, ...]:
    """Other points of the print, in the order of the file; each lies in the print, and has an id of its own."""
    marks: list[PlannedMark] = []
    known = {segment.id: f"print[{index}]" for index, segment in enumerate(segments)}
    for table in tables:
        mark = _planned_mark(table, film, segments, stations)
        if mark.id in known:
            table.fault("id", f"{found_text(mark.id)}, which {known[mark.id]} has too", "the id of one mark only")
        known[mark.id] = table.path
        marks.append(mark)
    _check_count(tables, 0, _MOST_SEGMENTS, "marks")
    return tuple(marks)


def _planned_mark(
    table: Table, film: Film, segments: tuple[Segment, ...], stations: tuple[Station, ...]
) -> PlannedMark:
    mark_id = _mark_id(table)
    starts_s = {segment.id: segment.x_s for segment in segments}
    after = table.take("after")
    if not isinstance(after, str) or after not in starts_s:
        table.fault("after", found_text(after), f"a segment: {either(starts_s)}")
    given = any(key in table.data for key in _LENGTHS)
    x_s = starts_s.get(str(after), 0.0) + (_length_s(table, film) if given else 0.0)
    print_s = max((segment.x_s + segment.length_s for segment in segments), default=0.0)
    if x_s > print_s:
        table.fault("", f"a mark {x_s - print_s:.0f} s after the print's last frame", "a mark in the print")
    houses = tuple(dict.fromkeys(station.house for station in stations))
    chosen = table.words("houses", houses, least=1) if "houses" in table.data else houses
    mark = PlannedMark(
        id=mark_id,
        x_s=x_s,
        cue=table.flag("cue"),
        say=table.text("say"),
        notice_s=table.number("notice_s", _NOTICE_S, 0.0, _HIGHEST_BY_UNIT["_s"]),
        stations=tuple(station.id for station in stations if station.house in chosen),
    )
    table.known(*_LENGTHS, "houses")
    table.close()
    return mark


def _mark_id(table: Table) -> str:
    mark = table.identifier("id") or ""
    if mark in RESERVED_MARKS:
        table.fault("id", f"the reserved {found_text(mark)}", f"an id other than {either(RESERVED_MARKS)}")
    return mark


def _length_s(table: Table, film: Film) -> float:
    """Running time by the one length given; every length given is checked."""
    frames = table.whole("frames", 1, 1, _MOST_FRAMES)
    feet = table.number("feet", 1.0, 0.0, _HIGHEST_BY_UNIT["_ft"], over=True)
    duration_s = _duration_s(table)
    given = [key for key in _LENGTHS if key in table.data]
    if len(given) != 1:
        table.fault("", both(given) if given else "no length", f"exactly one of {either(_LENGTHS)}")
    if "frames" in given:
        return film.s_from_frames(frames)
    return film.s_from_counter_ft(feet) if "feet" in given else duration_s


def _duration_s(table: Table) -> float:
    value = table.take("duration")
    match = _DURATION.fullmatch(value) if isinstance(value, str) else None
    if match:
        hours, minutes, only_minutes, seconds = (int(part or 0) for part in match.groups())
        total_s = hours * 3600 + (minutes + only_minutes) * 60 + seconds
        if total_s:
            return float(total_s)
    if value is not None:
        accepted = "a text over 0:00, 'minutes:SS' or 'hours:MM:SS', such as '1:48:05'"
        table.fault("duration", found_text(value), _with_meant(accepted, meant_duration(value)))
    return 1.0


def _check_kinds(tables: list[Table]) -> None:
    """The first segment is the leader, and the only one."""
    for index, table in enumerate(tables):
        kind = table.data.get("kind")
        if index == 0 and kind in _KINDS and kind != "leader":
            table.fault("kind", found_text(kind), "'leader': the first segment is the head leader")
        elif index > 0 and kind == "leader":
            table.fault("kind", "a second 'leader'", either(word for word in _KINDS if word != "leader"))


def _check_unique(tables: list[Table], accepted: str) -> None:
    ids = [str(table.data.get("id")) for table in tables]
    first: dict[str, str] = {}
    for identifier, table in zip(ids, tables, strict=True):
        if "id" in table.data and first.setdefault(identifier, table.path) != table.path:
            table.fault("id", f"{found_text(identifier)}, which {first[identifier]} has too", accepted)


def _check_count(tables: list[Table], low: int, high: int, what: str) -> None:
    if tables and not low <= len(tables) <= high:
        path = tables[0].path.removesuffix("[0]")
        tables[0].faults.add(path, f"{len(tables)}", f"{low} to {high} {what}")


def _stations(tables: list[Table], timing: Timing, lamp: Lamp) -> tuple[Station, ...]:
    stations = tuple(_station(table, timing, lamp) for table in tables)
    if tables and stations[0].path_m:
        path = "path_ft" if "path_ft" in tables[0].data else "path_m"
        tables[0].fault(path, found_text(tables[0].data[path]), "none or 0: no path leads to the first station")
    _check_unique(tables, "the id of one station only")
    _check_count(tables, 1, _MOST_STATIONS, "stations")
    return stations


def _stop_groups(tables: list[Table], stations: tuple[Station, ...]) -> tuple[tuple[str, ...], ...]:
    """Which motors are wired to stop together; each station in at most one group, in film order."""
    order = [station.id for station in stations]
    groups: list[tuple[str, ...]] = []
    for table in tables:
        group = table.words("stations", order, least=2)
        for station in group:
            if any(station in other for other in groups):
                table.fault("stations", f"{found_text(station)}, which another group has too", "each in one group only")
        groups.append(tuple(sorted(group, key=order.index)))
        table.close()
    return tuple(groups)


def _station(table: Table, timing: Timing, lamp: Lamp) -> Station:
    station = Station(
        id=table.identifier("id") or "",
        house=table.required_text("house"),
        booth=table.text("booth"),
        path_m=_path_m(table),
        rollers=table.whole("rollers", 0, 0, _MOST_ROLLERS),
        start_offset_s=table.number("start_offset_s", 0.0, 0.0, _HIGHEST_BY_UNIT["_s"]),
        reserve_s=table.number("reserve_s", timing.reserve_s, 0.0, _HIGHEST_BY_UNIT["_s"]),
        advertised=_advertised(table),
        inputs=_inputs(table.table("inputs")),
        lamp=_lamp(table, lamp),
    )
    table.close()
    return station


def _path_m(table: Table) -> float:
    feet = table.number("path_ft", 0.0, 0.0, _HIGHEST_BY_UNIT["_ft"])
    metres = table.number("path_m", 0.0, 0.0, _HIGHEST_BY_UNIT["_m"])
    if "path_ft" in table.data and "path_m" in table.data:
        table.fault("path_m", "path_ft and path_m", "one of them")
    return metres if "path_m" in table.data else feet * FOOT_M


def _advertised(table: Table) -> str | None:
    value = table.take("advertised")
    if value is None or (isinstance(value, str) and _CLOCK.fullmatch(value)):
        return value
    accepted = "a text 'HH:MM' from '00:00' to '23:59'"
    table.fault("advertised", found_text(value), _with_meant(accepted, meant_clock(value)))
    return None


def _with_meant(accepted: str, meant: str | None) -> str:
    """What is accepted, and what to write where what was found is nearly that."""
    return accepted if meant is None else f"{accepted}: write {meant}"


def _inputs(table: Table) -> Inputs:
    usual = Inputs()
    inputs = Inputs(
        motor=table.word("motor", _INPUTS, usual.motor),
        lamp=table.word("lamp", _INPUTS, usual.lamp),
        douser=table.word("douser", _INPUTS, usual.douser),
        cue=table.word("cue", _INPUTS, usual.cue),
    )
    table.close()
    return inputs
