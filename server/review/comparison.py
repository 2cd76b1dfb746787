"""Runs of a chain side by side."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from server.review.figures import figures_of
from server.review.lessons import first_start_us
from server.review.reading import Reading
from server.review.tables import Cell, Column, Table, Unit, rounded, seconds, table
from server.timeline.estimate import US_PER_S
from server.timeline.naming import link_of
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock


class ComparisonFault(Exception):
    """Runs that have nothing in common, in one sentence."""


class Compared(NamedTuple):
    """One of the runs that are compared."""

    id: str
    reading: Reading


def comparison_tables(runs: Sequence[Compared]) -> tuple[Table, ...]:
    """The runs, their stations and their links, with a column or more for each run.

    Only stations and links that all of them have are compared. Raises ComparisonFault where there is none.
    """
    stations = _common([[station.id for station in run.reading.plan.stations] for run in runs])
    links = _common([[link.id for link in run.reading.plan.links] for run in runs])
    if not stations:
        raise ComparisonFault("These runs have no station in common: compare runs of one chain.")
    return _runs(runs), _stations(runs, stations), _links(runs, links)


def _common(lists: Sequence[Sequence[str]]) -> list[str]:
    return [one for one in lists[0] if all(one in other for other in lists[1:])]


def _runs(runs: Sequence[Compared]) -> Table:
    columns = (
        Column("run", "Run"),
        Column("title", "Title"),
        Column("day", "Day"),
        Column("started", "Stations started", "count"),
        Column("first_start_s", "First start after plan", "s"),
        Column("minutes", "Minutes", "number"),
        Column("alarms", "Alarms raised", "count"),
        Column("per_hour", "an hour", "number"),
        Column("floods", "Floods", "count"),
        Column("act", "At act", "count"),
    )
    return table("runs", "Runs", columns, [_run(run) for run in runs])


def _run(run: Compared) -> tuple[Cell, ...]:
    reading = run.reading
    walk, plan = reading.walk, reading.plan
    figures = figures_of(walk.spans, walk.span)
    started = sum(state.started_us is not None for state in walk.final.evidence.stations)
    planned_s = min(times.start_s for times in reading.schedules)
    first_s = seconds(first_start_us(reading))
    return (
        run.id,
        plan.title,
        house_clock(plan, 0.0).date().isoformat(),
        started,
        None if first_s is None else rounded(first_s - planned_s),
        rounded((walk.span.to_us - walk.span.from_us) / 60e6, 1),
        figures.told,
        rounded(figures.per_hour, 2),
        len(figures.floods),
        figures.levels["act"],
    )


# What is compared of a station or a link, by its id: key, title, unit, and how it is found.
Measure = tuple[str, str, Unit, Callable[[Reading, str], Cell]]


def _stations(runs: Sequence[Compared], stations: Sequence[str]) -> Table:
    measures: list[Measure] = [
        _measure("starts", "late_s", "start late", "s"),
        ("head_late_s", "head after first start", "s", _head_after_first_start_s),
        _measure("strikes", "verdict", "strike", "text", key="strike"),
    ]
    plan = runs[0].reading.plan
    houses = {id_: plan.stations[plan.station_index[id_]].house for id_ in stations}
    return _side_by_side("stations", "Stations", Column("house", "House"), runs, houses, measures)


def _links(runs: Sequence[Compared], links: Sequence[str]) -> Table:
    measures = [
        _measure("links", "tightest_s", "tightest", "s"),
        _measure("links", "loosest_s", "loosest", "s"),
        _measure("links", "used_percent", "of the reserve", "percent"),
        _measure("links", "drift_ppm", "drift", "ppm"),
    ]
    plan = runs[0].reading.plan
    names = {id_: link_of(plan, _link_index(plan, id_)) for id_ in links}
    return _side_by_side("links", "Links", Column("link", "Link"), runs, names, measures)


def _measure(table_id: str, column: str, title: str, unit: Unit, key: str | None = None) -> Measure:
    """A column of a reading's own table, which has a row for each station or link in film order."""
    return key or column, title, unit, lambda reading, id_: _cell(reading, table_id, id_, column)


def _side_by_side(
    id_: str, title: str, first: Column, runs: Sequence[Compared], rows: Mapping[str, str], measures: Sequence[Measure]
) -> Table:
    """A row for each id in `rows`, which has what it is called."""
    columns = [first]
    columns += [Column(f"{key}:{run.id}", f"{run.id}: {name}", unit) for key, name, unit, _ in measures for run in runs]
    cells = (
        (name, *(measure(run.reading, row) for *_, measure in measures for run in runs)) for row, name in rows.items()
    )
    return table(id_, title, columns, cells)


def _cell(reading: Reading, table_id: str, id_: str, key: str) -> Cell:
    given = next(one for one in reading.tables if one.id == table_id)
    at = [column.key for column in given.columns].index(key)
    plan = reading.plan
    return given.rows[_link_index(plan, id_) if table_id == "links" else plan.station_index[id_]][at]


def _link_index(plan: Plan, link: str) -> int:
    return [one.id for one in plan.links].index(link)


def _head_after_first_start_s(reading: Reading, station: str) -> Cell:
    """How long after the first start the picture was at a gate, seen or estimated."""
    head_us, first_us = reading.reached_us(station, "head"), first_start_us(reading)
    return None if head_us is None or first_us is None else rounded((head_us - first_us) / US_PER_S)
