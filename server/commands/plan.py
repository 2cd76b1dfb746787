"""`festoon plan`: what follows from a plan, what is wrong with it, how it is laced, and what comes after it."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.options import AsJson, PlanPath, faults_told, plans_from_files, site_from_file
from server.commands.paper import PaperFault, refuse_misuse, write_paper
from server.timeline.plan import PlanFaults

if TYPE_CHECKING:
    from server.sheets.show import Show

MOST_PEOPLE = 200
"""Chosen: as many as a plan may have stations."""


def plan(
    path: PlanPath,
    site: Annotated[
        Path | None,
        typer.Option(metavar="SITE", help="A *.site.toml file: decks, paths, walks.", show_default=False),
    ] = None,
    crew: Annotated[
        int | None,
        typer.Option(min=1, max=MOST_PEOPLE, help="How many people there are: who is where, when.", show_default=False),
    ] = None,
    following: Annotated[
        list[Path] | None,
        typer.Option("--next", metavar="PLAN", help="Another show of that night; once for each.", show_default=False),
    ] = None,
    as_json: AsJson = False,
    sheets: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write the sheets to print into this folder.", show_default=False),
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="With --sheets: each as PDF too.")] = False,
    chart: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the stringline chart, FILE.svg.", show_default=False),
    ] = None,
) -> None:
    """Work out a plan: schedule, lacing, what comes after; and what looks wrong, why, and what mends it.

    With --sheets or --chart it prints what looks wrong and what it wrote.
    """
    from server.planning.judge import judgement_of
    from server.planning.next_show import next_show_of
    from server.planning.night import judge_night
    from server.planning.plain import plan_document
    from server.printing import PrintingFault
    from server.sheets.show import Show
    from server.timeline.schedule import schedule_from_plan

    refuse_misuse(sheets, chart, pdf=pdf)
    with faults_told(PaperFault, PrintingFault):
        faults: list[str] = []
        plans = plans_from_files([path, *(following or ())], faults)
        place = None if site is None else site_from_file(site, faults)
        if faults:
            raise PlanFaults(faults)
        known, *others = plans
        schedule, judgement = schedule_from_plan(known), judgement_of(known, place, crew)
        after, between = next_show_of(known, place, crew), judge_night([known, *others], place, crew)
        show = Show(known, schedule, judgement, after, between, crew)
        writes = sheets is not None or chart is not None
        if as_json:
            typer.echo(json.dumps(schedule.as_json() | plan_document(judgement, after, between)))
        else:
            _print(show, whole=not writes)
        if writes:
            write_paper(show, sheets, chart, pdf=pdf, say=lambda line: typer.echo(line, err=as_json))


def _print(show: "Show", *, whole: bool) -> None:
    """Print all of a plan, or what was found of it alone."""
    from rich.console import Console

    from server.terminal.judgement_table import print_findings
    from server.terminal.plan_table import Judged, print_plan

    if whole:
        print_plan(Judged(show.plan, show.schedule, show.judgement, show.after, show.between), show.crew, Console())
    else:
        print_findings(Console(), "Look at:", (*show.judgement.findings, *show.between))
