"""A plan as it is read and printed: what is found of it, its schedule, its lacing; 80 columns, and no colour."""

import math
from collections.abc import Iterator
from typing import NamedTuple

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.planning.cautions import FILM_CAUTIONS, LAMP_CAUTIONS, SITE_RULES, STOP_CAUTION, WHOSE_LAMPS
from server.planning.findings import Finding
from server.planning.judge import Judgement
from server.planning.next_show import NextShow
from server.terminal.judgement_table import print_crew, print_findings, print_reserves
from server.terminal.lacing_table import print_lacing, print_next_show
from server.terminal.plain_tables import TITLE_WIDTH, clock_cell, print_list, print_tables, row_of, table_of
from server.timeline.film import FOOT_M
from server.timeline.naming import houses_of, numbers_of
from server.timeline.plan import Lamp, Plan, StartKind
from server.timeline.schedule import Schedule, StationSchedule, house_clock

_STARTS: dict[StartKind, str] = {
    "common": "One button starts all motors",
    "timers": "Each motor has a timer of its own",
    "hands": "Each motor is started by hand",
}
_STARTS_OF_ONE: dict[StartKind, str] = {
    "common": "One button starts the motor",
    "timers": "A timer starts the motor",
    "hands": "The motor is started by hand",
}


class Judged(NamedTuple):
    """What there is to print of a plan; `between` is what was found between the shows of a night."""

    plan: Plan
    schedule: Schedule
    judgement: Judgement
    after: NextShow
    between: tuple[Finding, ...] = ()


def print_plan(judged: Judged, crew: int | None, console: Console) -> None:
    """Print a plan: what is found of it, times on the house's clock, the print, the chain, its lacing, what follows.

    Houses and links are named as people say them, and cautions stand with what they are about. `crew` is how many
    people were asked about, if any.
    """
    plan, schedule, judgement = judged.plan, judged.schedule, judged.judgement
    for line in _heading(plan):
        console.print(Text(line))
    print_findings(console, "Look at:", judgement.findings)
    print_findings(console, "Between the shows:", judged.between)
    print_tables(console, _times(plan, schedule))
    if _passes_midnight(plan, schedule):
        console.print(Text(f"A time with a date is on that day; the others are on {house_clock(plan, 0.0):%Y-%m-%d}."))
    print_list(console, "Start and stop:", _starts_and_stops(plan))
    print_list(console, "Lamps:", (*_lamps(plan), *LAMP_CAUTIONS))
    marks = [_marks(plan, schedule)] if plan.planned_marks else []
    print_tables(console, _segments(plan, schedule), *marks, _chain(plan, schedule))
    print_reserves(plan, judgement.lives, console)
    print_crew(plan, judgement, crew, console)
    print_lacing(plan, judgement.lacing, console)
    print_list(console, "Film:", FILM_CAUTIONS)
    print_next_show(plan, judged.after, console)


def _heading(plan: Plan) -> Iterator[str]:
    yield plan.title
    if plan.site:
        yield plan.site
    film = plan.film
    yield f"Motors at {house_clock(plan, 0.0):%Y-%m-%d %H:%M:%S}, clock of {plan.timezone}."
    yield (
        f"{film.gauge}, {film.frame_rate:g} frames/s, {film.speed_m_per_s * 1000:.1f} mm/s; "
        f"{_length(plan.print_s)} of print through {len(plan.stations)} {_houses(len(plan.stations))}."
    )
    yield SITE_RULES


def _houses(count: int) -> str:
    return "house" if count == 1 else "houses"


def _starts_and_stops(plan: Plan) -> Iterator[str]:
    """How the motors are started, which of them stop together, and who else has to be stopped."""
    is_one = len(plan.stations) == 1
    starts = _STARTS_OF_ONE if is_one else _STARTS
    yield f"{starts[plan.timing.start]}, to within {plan.timing.start_spread_s:g} s (one standard deviation)."
    groups = [[plan.station_index[station] for station in group] for group in plan.stop_groups]
    yield from (f"{houses_of(plan, group)} are wired to stop together." for group in groups)
    alone = [k for k, others in enumerate(plan.stopped_with) if not others]
    if groups and alone:
        yield f"Wired to stop with no other: {houses_of(plan, alone)}."
    elif alone and not is_one:
        yield "No motors are wired to stop together, by this plan: a stop of one leaves the others running."
    yield STOP_CAUTION


def _lamps(plan: Plan) -> Iterator[str]:
    """What the plan says of its lamps, a line for all houses of which it is the same."""
    houses: dict[Lamp, list[int]] = {}
    for k, station in enumerate(plan.stations):
        houses.setdefault(station.lamp, []).append(k)
    for lamp, where in houses.items():
        yield (
            f"{'All' if len(where) == len(plan.stations) else houses_of(plan, where)}: lit {lamp.earliest_s:g} to "
            f"{lamp.latest_s:g} s before the head, at most {lamp.douser_limit_s:g} s against a shut douser. "
            f"Film may stand in the light for {lamp.gate_limit_s:g} s."
        )
    yield WHOSE_LAMPS


def _times(plan: Plan, schedule: Schedule) -> Table:
    table = table_of(
        "Times", names=("House",), numbers=("Start", "Strike from", "until", "Head", "Advert.", "End", "Clear")
    )
    for station, times in zip(plan.stations, schedule.stations, strict=True):
        table.add_row(*row_of([station.house, *_clocks(plan, times, station.advertised)]))
    return table


def _clocks(plan: Plan, times: StationSchedule, advertised: str | None) -> Iterator[str]:
    """Rounded so that nothing printed is outside of what is meant: windows inward, ends late."""
    yield clock_cell(plan, round(times.start_s))
    yield clock_cell(plan, math.ceil(times.strike_opens_s))
    yield clock_cell(plan, math.floor(times.strike_closes_s))
    yield clock_cell(plan, math.floor(times.passes["head"]))
    yield advertised or ""
    yield clock_cell(plan, math.ceil(times.passes["end"]))
    yield clock_cell(plan, math.ceil(times.clear_s))


def _passes_midnight(plan: Plan, schedule: Schedule) -> bool:
    last_s = max(station.clear_s for station in schedule.stations)
    return house_clock(plan, last_s).date() != house_clock(plan, 0.0).date()


def _segments(plan: Plan, schedule: Schedule) -> Table:
    ends = (schedule.stations[0], schedule.stations[-1])
    gates = ends if len(schedule.stations) > 1 else ends[:1]
    table = table_of(
        "Print",
        names=("Segment",),
        numbers=("Length", "Counter ft", "Cue", *(f"At House {gate.house}" for gate in gates)),
        widths={"Segment": TITLE_WIDTH},
    )
    for segment in plan.print:
        table.add_row(
            *row_of(
                [
                    segment.title,
                    _length(segment.length_s),
                    f"{plan.film.counter_ft_from_s(segment.length_s):.1f}",
                    "cue" if segment.cue else "",
                    *(clock_cell(plan, round(gate.passes[segment.id])) for gate in gates),
                ]
            )
        )
    return table


def _marks(plan: Plan, schedule: Schedule) -> Table:
    """What else is marked on the print: what is to be done as it goes by, and when at the first and last gate asked."""
    table = table_of("Marks", names=("Mark", "To be done", "Houses"), numbers=("Cue", "At the first", "At the last"))
    times = {station.id: station for station in schedule.stations}
    for mark in sorted(plan.planned_marks, key=lambda mark: mark.x_s):
        asked = [plan.station_index[station] for station in mark.stations]
        first, last = (times[mark.stations[k]].passes[mark.id] for k in (0, -1))
        at = (clock_cell(plan, round(first)), clock_cell(plan, round(last)))
        houses = "all" if len(asked) == len(plan.stations) else numbers_of(plan, asked)
        table.add_row(*row_of([mark.id, mark.say or "", houses, "cue" if mark.cue else "", *at]))
    return table


def _chain(plan: Plan, schedule: Schedule) -> Table:
    """Each house with the path that leads to it and the link it belongs to."""
    table = table_of(
        "Chain, in film order",
        names=("House", "Booth"),
        numbers=("Path ft", "Rollers", "Transit s", "Reserve s", "Reserve ft"),
    )
    first = plan.stations[0]
    table.add_row(*row_of([first.house, first.booth or "", "", str(first.rollers), "", "", ""]))
    for station, link in zip(plan.stations[1:], schedule.links, strict=True):
        table.add_row(
            *row_of(
                [
                    station.house,
                    station.booth or "",
                    f"{link.path_m / FOOT_M:.1f}",
                    str(station.rollers),
                    f"{link.transit_s:.1f}",
                    f"{link.reserve_s:.1f}",
                    f"{plan.film.tape_ft_from_s(link.reserve_s):.2f}",
                ]
            )
        )
    return table


def _length(seconds: float) -> str:
    """Running time as `m:ss` or `h:mm:ss`, to the nearest second."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes_left = divmod(minutes, 60)
    return f"{hours}:{minutes_left:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"
