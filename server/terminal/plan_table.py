"""A schedule as tables to read and to print: 80 columns are enough, and no colour is needed."""

import math
from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.timeline.film import FOOT_M
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule, StationSchedule, house_clock
from server.timeline.threading import ROLLER_LOSS, Stretch, pull_left

# Chosen: with these the widest table stays within 80 columns.
_NAME_WIDTH = 12
_TITLE_WIDTH = 22
_NUMBER_WIDTH = 12

# General; the first says what comes before them.
CAUTIONS = (
    "Site rules, local codes and licensed practice come before anything printed here.",
    "A xenon lamp is under pressure even when cold and may burst: trained people only.",
    "At an open lamphouse wear face shield, body cover and gauntlets.",
    "Strike with the douser shut and the housing closed. Mind ultraviolet, ozone and the igniter's high voltage.",
    "Let a lamp cool at least ten minutes with the blower on.",
    "Keep hands and clothing away from moving film and platters.",
    "Reach rollers at height from a proper platform, never by leaning out.",
    "Film, stands and cables must not cross or narrow a way out: ask the local fire authority.",
    "Festoon only watches and is no safety barrier: the hard-wired stop stays independent of it.",
)


def print_schedule(plan: Plan, schedule: Schedule, console: Console) -> None:
    """Print a plan's schedule: times on the house's clock, the print, the chain, its threading, what looks wrong."""
    for line in _heading(plan):
        console.print(Text(line))
    for table in (_times(plan, schedule), _segments(plan, schedule), _chain(plan, schedule), _stretches(schedule)):
        console.print("")
        console.print(table)
    threading = schedule.threading
    console.print(
        f"{threading.leader_ft:.0f} ft of leader, {threading.minutes:.0f} minutes to thread.", highlight=False
    )
    if schedule.warnings:
        _print_list(console, "Look at:", (f"{warning.text} ({warning.code})" for warning in schedule.warnings))
    _print_list(console, "Take care:", CAUTIONS)


def _heading(plan: Plan) -> Iterator[str]:
    yield plan.title
    if plan.site:
        yield plan.site
    film = plan.film
    yield f"Motors at {house_clock(plan, 0.0):%Y-%m-%d %H:%M:%S}, clock of {plan.timezone}."
    yield (
        f"{film.gauge}, {film.frame_rate:g} frames/s, {film.speed_m_per_s * 1000:.1f} mm/s; "
        f"{_length(plan.print_s)} of print through {len(plan.stations)} stations."
    )


def _times(plan: Plan, schedule: Schedule) -> Table:
    table = _table(
        "Times",
        names=("Station", "House"),
        numbers=("Start", "Strike from", "until", "Head", "Advert.", "End", "Clear"),
    )
    for station, times in zip(plan.stations, schedule.stations, strict=True):
        table.add_row(*_row([station.id, station.house, *_clocks(plan, times, station.advertised)]))
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
        names=("Segment", "Title"),
        numbers=("Length", "Counter ft", "Cue", f"At {first.id}", f"At {last.id}"),
    )
    for segment in plan.print:
        table.add_row(
            *_row(
                [
                    segment.id,
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


def _chain(plan: Plan, schedule: Schedule) -> Table:
    table = _table(
        "Chain", names=("Station", "Booth"), numbers=("Path ft", "Rollers", "Transit s", "Reserve s", "Reserve ft")
    )
    first = plan.stations[0]
    table.add_row(*_row([first.id, first.booth or "", "", str(first.rollers), "", "", ""]))
    for station, link in zip(plan.stations[1:], schedule.links, strict=True):
        table.add_row(
            *_row(
                [
                    station.id,
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


def _stretches(schedule: Schedule) -> Table:
    table = _table("Threading", names=("From", "To"), numbers=("Path ft", "Rollers", "Pull left"))
    for stretch in schedule.threading.stretches:
        cells = [stretch.first, stretch.last, f"{stretch.path_ft:.0f}", str(stretch.rollers), _pull(stretch)]
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
        table.add_column(Text(name), overflow="fold", max_width=_NAME_WIDTH if name != "Title" else _TITLE_WIDTH)
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
