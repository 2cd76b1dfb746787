"""All sheets of one show, each under a name that a file may have everywhere."""

import re
import unicodedata
from typing import Final

from server.sheets import chart, crew, lacing, lobby, overview
from server.sheets.booth import booth_body
from server.sheets.page import Sheet
from server.sheets.show import Show
from server.timeline.plan import Plan

_NAME_LENGTH: Final = 40  # chosen: no system refuses it, and a folder of sheets is still read at a glance


def sheets_of(show: Show, *, pdf: bool = False) -> tuple[Sheet, ...]:
    """Return the overview, then the sheets that it links; `pdf` says that it is to link PDFs too.

    There is one sheet a booth, in film order; houses of no booth share one. The crew has a sheet where somebody said
    how many people there are.
    """
    others = (*_booths(show), *_whole_show(show))
    first = Sheet(
        overview.NAME, overview.TITLE, "what was found of the plan", overview.overview_body(show, others, pdf=pdf)
    )
    return (first, *others)


def _booths(show: Show) -> list[Sheet]:
    plan = show.plan
    sheets: list[Sheet] = []
    for booth in dict.fromkeys(station.booth for station in plan.stations):
        stations = [k for k, station in enumerate(plan.stations) if station.booth == booth]
        title = _booth_title(plan, booth)
        houses = f"House{'s' if len(stations) > 1 else ''} {', '.join(plan.stations[k].house for k in stations)}"
        name = _file_name(booth, {sheet.name for sheet in sheets})
        sheets.append(Sheet(name, title, f"what to do when, {houses}", booth_body(show, title, stations)))
    return sheets


def _booth_title(plan: Plan, booth: str | None) -> str:
    if booth is not None:
        return booth if "booth" in booth.casefold() else f"Booth {booth}"
    return "Booth, not named" if plan.booths else "Booth"


def _file_name(booth: str | None, taken: set[str]) -> str:
    """Letters, digits and hyphens; two that come out the same have numbers."""
    plain = unicodedata.normalize("NFKD", booth or "").encode("ascii", "ignore").decode().lower()
    stem = "-".join(["booth", *re.findall("[a-z0-9]+", plain)])[:_NAME_LENGTH].rstrip("-")
    number, name = 1, stem
    while name in taken:
        number += 1
        name = f"{stem}-{number}"
    return name


def _whole_show(show: Show) -> list[Sheet]:
    plan = show.plan
    sheets = [
        Sheet("threading", lacing.TITLE, overview.lacing_text(show.judgement.lacing), lacing.lacing_body(show)),
        Sheet("lobby", lobby.TITLE, "when each house begins and lets out", lobby.lobby_body(show)),
        Sheet(
            "chart", chart.TITLE, f"the print through {len(plan.stations)} houses", chart.chart_body(show), wide=True
        ),
    ]
    if show.crew is not None:
        sheets.append(Sheet("crew", crew.TITLE, "who is where when", crew.crew_body(show)))
    return sheets
