"""`festoon order`: the order of houses with the least leader that meets the advertised times."""

import json
from datetime import date, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal
from zoneinfo import ZoneInfo

import typer

from server.clock import Clock
from server.commands.options import AsJson, faults_told, plans_from_files, site_from_file
from server.timeline.plan import Plan, PlanFaults

if TYPE_CHECKING:
    from server.planning.ordering import Ordering, Wanted
    from server.planning.site import Site

NOT_INSTALLED = "An order needs an extra that is not installed: pip install 'festoon[order]' (some 170 MB)."


def order(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="A *.site.toml file.", show_default=False)],
    plan: Annotated[
        Path | None,
        typer.Option(metavar="PLAN", help="Take houses, times, film and leader of this plan.", show_default=False),
    ] = None,
    houses: Annotated[
        str | None, typer.Option(metavar="HOUSES", help="Which houses: 3,4,7 (all).", show_default=False)
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(metavar="HOUSE=TIME", help="What is advertised: 3=19:05; once for each.", show_default=False),
    ] = None,
    on: Annotated[
        datetime | None,
        typer.Option(formats=["%Y-%m-%d"], metavar="DATE", help="The day, 2026-03-14 (today).", show_default=False),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(metavar="TIME", help="When the motors start (as is best).", show_default=False),
    ] = None,
    early: Annotated[
        float | None,
        typer.Option(min=0, max=3600, help="A head may be so many seconds early (60).", show_default=False),
    ] = None,
    late: Annotated[
        float | None, typer.Option(min=0, max=3600, help="And so many seconds late (300).", show_default=False)
    ] = None,
    first: Annotated[
        list[str] | None, typer.Option(metavar="HOUSE", help="This house is first.", show_default=False)
    ] = None,
    last: Annotated[
        list[str] | None, typer.Option(metavar="HOUSE", help="This house is last.", show_default=False)
    ] = None,
    together: Annotated[
        list[str] | None, typer.Option(metavar="HOUSES", help="These follow one another: 4,5.", show_default=False)
    ] = None,
    before: Annotated[
        list[str] | None, typer.Option(metavar="HOUSES", help="The first is before the next: 3,7.", show_default=False)
    ] = None,
    right_before: Annotated[
        list[str] | None, typer.Option(metavar="HOUSES", help="The same with none between.", show_default=False)
    ] = None,
    chains: Annotated[int, typer.Option(min=1, max=2, help="How many chains, each with a print of its own.")] = 1,
    as_json: AsJson = False,
) -> None:
    """Find the order of houses with the least leader that meets the times, what is traded, and the next best."""
    from server.planning.ordering_wanted import OrderFaults
    from server.terminal.asked_order import Words, wanted_from_words

    with faults_told():
        faults: list[str] = []
        place = site_from_file(site, faults)
        known = next(iter(plans_from_files([] if plan is None else [plan], faults)), None)
        if place is None or faults:
            raise PlanFaults(faults)
        split: Literal[1, 2] = 2 if chains == 2 else 1
        words = Words(
            houses=houses,
            at=tuple(at or ()),
            start=start,
            early_s=early,
            late_s=late,
            first=tuple(first or ()),
            last=tuple(last or ()),
            together=tuple(together or ()),
            before=tuple(before or ()),
            right_before=tuple(right_before or ()),
            chains=split,
        )
        try:
            wanted = wanted_from_words(words, place, known, _day(on, place, known))
            ordering = _ordering(place, wanted)
        except OrderFaults as found:
            raise PlanFaults(found.faults) from None
    _tell(ordering, place, wanted, as_json=as_json)


def _day(on: datetime | None, site: "Site", plan: Plan | None) -> date:
    if on is not None:
        return on.date()
    if plan is not None:
        return plan.zero.astimezone(plan.zone).date()
    return Clock().now().astimezone(ZoneInfo(site.timezone)).date()


def _ordering(site: "Site", wanted: "Wanted") -> "Ordering":
    """Raises OrderFaults, also where the solver is not installed."""
    from server.planning.ordering_wanted import OrderFaults, faults_of

    faults = list(faults_of(site, wanted))
    if not faults and find_spec("ortools") is None:
        faults = [NOT_INSTALLED]
    if faults:
        raise OrderFaults(faults)
    from server.planning.ordering import ordering_of

    return ordering_of(site, wanted)


def _tell(ordering: "Ordering", site: "Site", wanted: "Wanted", *, as_json: bool) -> None:
    from rich.console import Console

    from server.planning.ordering_answer import order_document
    from server.terminal.order_table import print_order

    if as_json:
        typer.echo(json.dumps(order_document(ordering, ZoneInfo(site.timezone))))
    else:
        print_order(ordering, site, wanted, Console())
