"""The card for the lobby: by house, when its picture begins, when the credits come, when it lets out."""

import re
from collections.abc import Iterator
from typing import Final

from server.sheets.markup import Column, Html, clock, element, joined, row, table
from server.sheets.page import heading
from server.sheets.show import Show
from server.sheets.times import clock_min, day_of
from server.timeline.plan import Station
from server.timeline.schedule import StationSchedule

TITLE: Final = "Lobby"

_HOUSE_PERCENT: Final = 22.0
# chosen: with more columns of times, or more houses, they stand smaller, so that the card is one page
_FEW: Final = 5
_FEW_HOUSES: Final = 14


def lobby_body(show: Show) -> Html:
    """Return the body of the card for the lobby, its houses in the order in which people look for them."""
    plan = show.plan
    named = _headings(show)
    share = (100.0 - _HOUSE_PERCENT) / len(named)
    columns = (Column("House", _HOUSE_PERCENT, "house"), *(Column(name, share) for name in named))
    pairs = sorted(zip(plan.stations, show.schedule.stations, strict=True), key=lambda pair: _look_up(pair[0].house))
    rows = (row(columns, (_house(station), *_cells(show, station, times)), header=0) for station, times in pairs)
    return joined(
        [
            heading(show, TITLE, warned=False),
            table(columns, rows, style=_style(show, len(named))),
            element("p", "Times are by the plan. The lobby desk shows them as they really come.", style="small"),
        ]
    )


def _style(show: Show, columns: int) -> str:
    if len(show.plan.stations) > _FEW_HOUSES:
        return "lobby dense"
    return "lobby many" if columns > _FEW else "lobby"


def _look_up(house: str) -> list[tuple[int, int, str]]:
    """Order names as people do: House 9 before House 10."""
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in re.findall(r"\d+|\D+", house)
    ]


def _house(station: Station) -> Html:
    return element("span", station.house, style="" if len(station.house) <= len("Grand") else "long")


def _headings(show: Show) -> list[str]:
    plan = show.plan
    return [
        *(["Advertised"] if any(station.advertised for station in plan.stations) else []),
        "Picture",
        *(["Feature"] if _feature(show) else []),
        *(
            f"Intermission{'' if len(plan.intermissions) == 1 else f' {k}'}"
            for k, _ in enumerate(plan.intermissions, 1)
        ),
        *(["Credits"] if plan.credits else []),
        "Lets out",
    ]


def _feature(show: Show) -> str | None:
    """Return the mark at which the feature begins, where something else is shown before it."""
    first = next((segment for segment in show.plan.print if segment.kind == "feature"), None)
    return None if first is None or first.x_s == show.plan.mark("head").x_s else first.id


def _cells(show: Show, station: Station, times: StationSchedule) -> Iterator[str]:
    """What an usher has to be there for is rounded down; the house lets out at the end, rounded up."""
    plan, feature = show.plan, _feature(show)
    if any(other.advertised for other in plan.stations):
        yield station.advertised or ""
    day = day_of(plan, 0.0)
    pauses = [(pause.id, after.id) for pause, after in plan.intermissions]
    for marks in [("head",), *([(feature,)] if feature else []), *pauses, *([(plan.credits,)] if plan.credits else [])]:
        said = []
        for mark in marks:
            said.append(clock(clock_min(plan, times.passes[mark], day)))
            day = day_of(plan, times.passes[mark])
        yield element("span", Html(" to ".join(said)), style="at")
    yield element("b", clock(clock_min(plan, times.passes["end"], day, up=True)), style="at")
