"""The sheet of one booth: what is to be done at its projectors, when; read in the dark at arm's length."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

from server.planning.cautions import LAMP_CAUTIONS, SITE_RULES, STOP_CAUTION, WHOSE_LAMPS
from server.sheets.markup import Column, Html, across, box, clock, element, joined, listed, row, section, table
from server.sheets.moments import Moment, moments_of
from server.sheets.page import heading
from server.sheets.show import Show
from server.sheets.times import clock_s, day_of, day_text, wait_text
from server.timeline.naming import house_of
from server.timeline.plan import Lamp, Plan

GAP_S: Final = 600.0
"""So long without anything to do is said: a runner may look away. Chosen."""

_SHORT_NAME: Final = 4  # chosen: as many letters as stand large in the column of houses
_COLUMNS: Final = (
    Column("Clock", 26, "clock"),
    Column("House", 13, "house"),
    Column("What", 38, "what"),
    Column("By", 16, "by"),
    Column("Done", 7, "tick"),
)


def booth_body(show: Show, title: str, stations: Sequence[int]) -> Html:
    """Return the body of the sheet of the stations of one booth, by their indices in film order."""
    plan = show.plan
    moments = moments_of(plan, show.schedule, stations)
    rows = _rows(plan, moments, stations)
    return joined(
        [
            heading(show, title, _film_way(plan, stations)),
            _stop(plan, stations),
            table(_COLUMNS, rows, style="booth"),
            section("Lamps", listed((*_lamps(plan, stations), *LAMP_CAUTIONS, WHOSE_LAMPS)), style="cautions"),
            element("p", f"{SITE_RULES} {STOP_CAUTION}", style="small"),
            element(
                "p", "Times are by the plan. What the booth desk shows goes by the film: believe that.", style="small"
            ),
        ]
    )


def _film_way(plan: Plan, stations: Sequence[int]) -> Html:
    """Show the film's way through the houses of this booth, with where it comes from and goes to."""
    runs = groupby(enumerate(stations), key=lambda pair: pair[1] - pair[0])  # houses that follow each other
    ways = [_way(plan, [k for _, k in run]) for _, run in runs]
    return joined(["Film: ", *(part for way in ways for part in (way, "; "))][:-1])


def _way(plan: Plan, run: Sequence[int]) -> Html:
    first, last = run[0] - 1, run[-1] + 1
    before = f"{_elsewhere(plan, first)} → " if first >= 0 else ""
    after = f" → {_elsewhere(plan, last)}" if last < len(plan.stations) else ""
    return joined([before, element("b", " → ".join(house_of(plan, k) for k in run)), after])


def _elsewhere(plan: Plan, k: int) -> str:
    booth = plan.stations[k].booth
    return f"{house_of(plan, k)} ({booth})" if booth else house_of(plan, k)


def _stop(plan: Plan, stations: Sequence[int]) -> Html:
    """What to do where film stops, in the order of harm, and which motors stop with which."""
    limits_s = sorted({plan.stations[k].lamp.gate_limit_s for k in stations})
    within = " or ".join(f"{limit_s:g}" for limit_s in limits_s)
    what = (
        f"1. Shut the douser: film bears the light for {within} s. 2. Stop what still runs. "
        "3. Then look, hands away. Start nothing."
    )
    return element("div", element("p", f"Film stops? {what}"), element("p", _wired(plan, stations)), style="stop")


def _wired(plan: Plan, stations: Sequence[int]) -> str:
    groups = [[plan.station_index[station] for station in group] for group in plan.stop_groups]
    said = [f"{_names(plan, group)} are wired to stop together." for group in groups if set(group) & set(stations)]
    alone = [k for k in stations if not plan.stopped_with[k]]
    if alone:
        said.append(f"Wired to stop with no other, so stop by hand: {_names(plan, alone)}.")
    return " ".join(said)


def _names(plan: Plan, stations: Sequence[int]) -> str:
    """Return "Houses 4, 6, 7": all of them, for paper has no second look."""
    return f"House{'s' if len(stations) > 1 else ''} {', '.join(plan.stations[k].house for k in stations)}"


def _rows(plan: Plan, moments: Sequence[Moment], stations: Sequence[int]) -> Iterator[Html]:
    day, busy_s = day_of(plan, 0.0), moments[0].at_s
    for moment in moments:
        today = day_of(plan, moment.at_s)
        if moment.at_s - busy_s >= GAP_S:
            yield across(_COLUMNS, f"Nothing on this sheet for {wait_text(moment.at_s - busy_s)}", style="gap")
        if today != day:
            yield across(_COLUMNS, day_text(today), style="date")
        day, busy_s = today, max(busy_s, moment.by_s or moment.at_s)
        yield _row(plan, moment, stations)


def _row(plan: Plan, moment: Moment, stations: Sequence[int]) -> Html:
    day = day_of(plan, moment.at_s)
    by = "" if moment.by_s is None else clock(clock_s(plan, moment.by_s, day))
    cells = (clock_s(plan, moment.at_s, day), _house(plan, moment.stations, stations), moment.what, by, box())
    return row(_COLUMNS, cells, style="do" if moment.act else "see", header=0)


def _house(plan: Plan, named: Sequence[int], stations: Sequence[int]) -> Html:
    """The house's name, large where it is short; all of the booth's are "All"."""
    names = "All" if len(named) == len(stations) > 1 else ", ".join(plan.stations[k].house for k in named)
    return element("span", names, style="" if len(names) <= _SHORT_NAME else "long")


def _lamps(plan: Plan, stations: Sequence[int]) -> Iterator[str]:
    """What the plan says of the lamps of this booth, a line for all houses of which it is the same."""
    houses: dict[Lamp, list[int]] = {}
    for k in stations:
        houses.setdefault(plan.stations[k].lamp, []).append(k)
    for lamp, where in houses.items():
        yield (
            f"{_names(plan, where)}: lit {lamp.earliest_s:g} to {lamp.latest_s:g} s before the head, "
            f"at most {lamp.douser_limit_s:g} s against a shut douser."
        )
