"""The first sheet: the others, what was found of the plan, the times of all houses, and what comes after."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from server.planning.findings import Finding, Level
from server.planning.lacing import Lacing
from server.planning.leader import cut_ft
from server.sheets.markup import Column, Html, clock, element, joined, listed, row, section, table
from server.sheets.page import Sheet, heading
from server.sheets.show import Show
from server.sheets.times import clock_min, clocks_s, second_down, second_up

TITLE: Final = "Overview"
NAME: Final = "index"

_LEVELS: Final[dict[Level, str]] = {"fault": "Fault", "warning": "Warning", "note": "Note"}
_TIMES: Final = (
    Column("House", 16),
    *(Column(name, 12, "n") for name in ("Start", "Strike from", "until", "Head", "Advertised", "End", "Clear")),
)


def overview_body(show: Show, others: Sequence[Sheet], *, pdf: bool) -> Html:
    """Return the body of the overview, which links the other sheets; `pdf` says that each is there as PDF too."""
    findings = (*show.judgement.findings, *show.between)
    return joined(
        [
            heading(show, TITLE),
            section("The sheets", listed(_link(sheet, pdf=pdf) for sheet in others)),
            section("Look at", *_findings(findings)) or element("p", "Nothing was found wrong with this plan."),
            section("Times", table(_TIMES, _times(show), style="small")),
            section("After the show", listed(_after(show))),
        ]
    )


def _link(sheet: Sheet, *, pdf: bool) -> Html:
    # Names of files are made by server.sheets.folder of letters, digits and hyphens alone.
    also = joined([" (also as ", Html(f'<a href="{sheet.name}.pdf">'), f"{sheet.title}, PDF", Html("</a>)")])
    link = joined([Html(f'<a href="{sheet.name}.html">'), element("b", sheet.title), Html("</a>")])
    return joined([link, also if pdf else "", f": {sheet.about}"])


def _findings(findings: Iterable[Finding]) -> Iterator[Html]:
    for finding in findings:
        first = element("p", element("b", f"{_LEVELS[finding.level]}. "), finding.text)
        cause, remedy = element("p", f"Cause: {finding.cause}"), element("p", f"Remedy: {finding.remedy}")
        yield element("div", first, cause, remedy, style="finding")


def _times(show: Show) -> Iterator[Html]:
    plan = show.plan
    for station, times in zip(plan.stations, show.schedule.stations, strict=True):
        seconds = (
            round(times.start_s),
            second_up(times.strike_opens_s),
            second_down(times.strike_closes_s),
            second_down(times.passes["head"]),
            second_up(times.passes["end"]),
            second_up(times.clear_s),
        )
        start, opens, closes, head, end, clear = map(clock, clocks_s(plan, seconds))
        cells = (station.house, start, opens, closes, head, station.advertised or "", end, clear)
        yield row(_TIMES, cells, header=0)


def _after(show: Show) -> Iterator[str]:
    """What a show leaves behind, and from when the next may start."""
    plan, after, behind = show.plan, show.after, show.after.behind
    yield f"House {after.first_free_house} may be laced again from {clock_min(plan, after.first_free_s, up=True)}."
    yield (
        f"All houses are clear at {clock_min(plan, after.last_free_s, up=True)}. "
        f"The print, about {after.print_kg:.0f} kg, then lies on the take-up of House {after.print_at}."
    )
    yield from (f"{way.how} There from {clock_min(plan, way.there_s, up=True)}." for way in after.ways_back)
    yield f"Laced anew, the same chain may start again from {clock_min(plan, after.lacing_anew_s, up=True)}."
    if behind.fits:
        yield (
            f"With {cut_ft(behind.leader_ft)} ft of leader spliced on behind the tail the chain stays laced, "
            f"and may start from {clock_min(plan, behind.earliest_s, up=True)}. "
            "The failsafes then find film when the print is out: stop the motors by hand, all at once."
        )


def lacing_text(lacing: Lacing) -> str:
    """Say what the threading sheet is for, for the list of sheets."""
    people = "1 person" if lacing.crew == 1 else f"{lacing.crew} people"
    return f"leader, stretches and the order to lace in, {lacing.whole_minutes} minutes for {people}"
