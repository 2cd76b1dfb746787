"""A schedule as tables to read and to print: 80 columns are enough, and no colour is needed."""

import math
from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.timeline.film import FOOT_M
from server.timeline.naming import houses_of, numbers_of
from server.timeline.plan import Lamp, Plan, StartKind
from server.timeline.schedule import Schedule, StationSchedule, house_clock
from server.timeline.threading import ROLLER_LOSS, Stretch, pull_left

# Chosen: with these the widest table stays within 80 columns.
_NAME_WIDTH = 12
_TITLE_WIDTH = 22
_NUMBER_WIDTH = 12

SITE_RULES = "Site rules, local codes and licensed practice come before anything printed here."
WHOSE_LAMPS = (
    "Where the plan gives no figure these are Festoon's own. "
    "What a lamp and its douser can really take is for the lamphouse's maker to say."
)

# Each list stands beside what its dangers come of.
LAMP_CAUTIONS = (
    "A xenon lamp is under pressure even when cold and may burst: trained people only.",
    "At an open lamphouse wear face shield, body cover and gauntlets.",
    "Strike with the douser shut and the housing closed. Mind ultraviolet, ozone and the igniter's high voltage.",
    "Let a lamp cool at least ten minutes with the blower on.",
)
FILM_CAUTIONS = (
    "Never run nitrate or archive prints in a chain.",
    "Film that pulls tight brings down rollers and arms: never grab it. Its base is strong; the machine gives first.",
    "Keep hands and clothing away from moving film and platters.",
    "Reach rollers at height from a proper platform, never by leaning out.",
    "Film, stands and cables must not cross or narrow a way out: ask the local fire authority.",
)
STOP_CAUTION = "Festoon only watches and is no safety barrier: the hard-wired stop stays independent of it."

_STARTS: dict[StartKind, str] = {
    "common": "One button starts all motors",
    "timers": "Each motor has a timer of its own",
    "hands": "Each motor is started by hand",
}


def print_schedule(plan: Plan, schedule: Schedule, console: Console) -> None:
    """Print a plan's schedule: what looks wrong, times on the house's clock, the print, the chain, its threading.

    Houses and links are named as people say them, and cautions stand with what they are about.
    """
    for line in _heading(plan):
        console.print(Text(line))
    if schedule.warnings:
        _print_list(console, "Look at:", (warning.text for warning in schedule.warnings))
    _print_tables(console, _times(plan, schedule))
    _print_list(console, "Start and stop:", _starts_and_stops(plan))
    _print_list(console, "Lamps:", (*_lamps(plan), *LAMP_CAUTIONS))
    marks = [_marks(plan, schedule)] if plan.planned_marks else []
    _print_tables(console, _segments(plan, schedule), *marks, _chain(plan, schedule), _stretches(plan, schedule))
    threading = schedule.threading
    console.print(
        f"{threading.leader_ft:.0f} ft of leader, {threading.minutes:.0f} minutes to thread.", highlight=False
    )
    _print_list(console, "Film:", FILM_CAUTIONS)


def _print_tables(console: Console, *tables: Table) -> None:
    for table in tables:
        console.print("")
        console.print(table)


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
    yield f"{_STARTS[plan.timing.start]}, to within {plan.timing.start_spread_s:g} s (one standard deviation)."
    groups = [[plan.station_index[station] for station in group] for group in plan.stop_groups]
    yield from (f"{houses_of(plan, group)} are wired to stop together." for group in groups)
    alone = [k for k, others in enumerate(plan.stopped_with) if not others]
    if groups and alone:
        yield f"Wired to stop with no other: {houses_of(plan, alone)}."
    elif alone:
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
    table = _table(
        "Times", names=("House",), numbers=("Start", "Strike from", "until", "Head", "Advert.", "End", "Clear")
    )
    for station, times in zip(plan.stations, schedule.stations, strict=True):
        table.add_row(*_row([station.house, *_clocks(plan, times, station.advertised)]))
    return table


def _clocks(plan: Plan, times: StationSchedule, advertised: str | None) -> Iterator[str]:
    """Rounded so that nothing printed is outside of what is meant: windows inward, ends late."""
    yield _clock(plan, round(times.start_s))
    yield _clock(plan, math.ceil(times.strike_opens_s))
    yield _clock(plan, math.floor(times.strike_closes_s))
    yield _clock(plan, math.floor(times.passes["head"]))
    yield advertised or ""
    yield _clock(plan, math.ceil(times.passes["end"]))
    yield _clock(plan, math.ceil(times.clear_s))


def _clock(plan: Plan, seconds: int) -> str:
    return f"{house_clock(plan, seconds):%H:%M:%S}"


def _segments(plan: Plan, schedule: Schedule) -> Table:
    first, last = schedule.stations[0], schedule.stations[-1]
    table = _table(
        "Print",
        names=("Segment",),
        numbers=("Length", "Counter ft", "Cue", f"At House {first.house}", f"At House {last.house}"),
    )
    for segment in plan.print:
        table.add_row(
            *_row(
                [
                    segment.title,
                    _length(segment.length_s),
                    f"{plan.film.counter_ft_from_s(segment.length_s):.1f}",
                    "cue" if segment.cue else "",
                    _clock(plan, round(first.passes[segment.id])),
                    _clock(plan, round(last.passes[segment.id])),
                ]
            )
        )
    return table


def _marks(plan: Plan, schedule: Schedule) -> Table:
    """What else is marked on the print: what is to be done as it goes by, and when at the first and last gate asked."""
    table = _table("Marks", names=("Mark", "To be done", "Houses"), numbers=("Cue", "At the first", "At the last"))
    times = {station.id: station for station in schedule.stations}
    for mark in sorted(plan.planned_marks, key=lambda mark: mark.x_s):
        asked = [plan.station_index[station] for station in mark.stations]
        first, last = (times[mark.stations[k]].passes[mark.id] for k in (0, -1))
        at = (_clock(plan, round(first)), _clock(plan, round(last)))
        houses = "all" if len(asked) == len(plan.stations) else numbers_of(plan, asked)
        table.add_row(*_row([mark.id, mark.say or "", houses, "cue" if mark.cue else "", *at]))
    return table


def _chain(plan: Plan, schedule: Schedule) -> Table:
    """Each house with the path that leads to it and the link it belongs to."""
    table = _table(
        "Chain, in film order",
        names=("House", "Booth"),
        numbers=("Path ft", "Rollers", "Transit s", "Reserve s", "Reserve ft"),
    )
    first = plan.stations[0]
    table.add_row(*_row([first.house, first.booth or "", "", str(first.rollers), "", "", ""]))
    for station, link in zip(plan.stations[1:], schedule.links, strict=True):
        table.add_row(
            *_row(
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


def _stretches(plan: Plan, schedule: Schedule) -> Table:
    table = _table("Threading", names=("From house", "to house"), numbers=("Path ft", "Rollers", "Pull left"))
    for stretch in schedule.threading.stretches:
        first, last = (plan.stations[plan.station_index[end]].house for end in (stretch.first, stretch.last))
        cells = [first, last, f"{stretch.path_ft:.0f}", str(stretch.rollers), _pull(stretch)]
        table.add_row(*_row(cells))
    return table


def _pull(stretch: Stretch) -> str:
    least, most = sorted(pull_left(stretch.rollers, loss) for loss in ROLLER_LOSS)
    return f"{least:.0%} to {most:.0%}"


def _length(seconds: float) -> str:
    """Running time as `m:ss` or `h:mm:ss`, to the nearest second."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes_left = divmod(minutes, 60)
    return f"{hours}:{minutes_left:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _table(title: str, names: Iterable[str], numbers: Iterable[str]) -> Table:
    table = Table(title=Text(title), title_justify="left", box=None, padding=(0, 1, 0, 0), pad_edge=False)
    for name in names:
        table.add_column(Text(name), overflow="fold", max_width=_NAME_WIDTH if name != "Segment" else _TITLE_WIDTH)
    for number in numbers:
        table.add_column(Text(number), justify="right", overflow="fold", max_width=_NUMBER_WIDTH)
    return table


def _print_list(console: Console, heading: str, lines: Iterable[str]) -> None:
    table = Table.grid(padding=(0, 1, 0, 0))
    for line in lines:
        table.add_row(*_row(["-", line]))
    console.print("")
    console.print(heading)
    console.print(table)


def _row(cells: Iterable[str]) -> list[Text]:
    return [Text(cell) for cell in cells]
