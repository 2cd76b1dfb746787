"""`festoon plan`: what follows from a plan, what is wrong with it, how it is laced, and what comes after it."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.options import AsJson, PlanPath, faults_told
from server.documents import DocumentFault, text_from_file
from server.timeline.plan import Plan, PlanFaults, parse_plan

if TYPE_CHECKING:
    from server.planning.site_model import Site

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
) -> None:
    """Work out a plan: schedule, lacing, what comes after; and what looks wrong, why, and what mends it."""
    from rich.console import Console

    from server.planning.judge import judgement_of
    from server.planning.next_show import next_show_of
    from server.planning.night import judge_night
    from server.planning.plain import plan_document
    from server.terminal.plan_table import Judged, print_plan
    from server.timeline.schedule import schedule_from_plan

    with faults_told():
        (known, *others), place = _files([path, *(following or ())], site)
    schedule, judgement = schedule_from_plan(known), judgement_of(known, place, crew)
    after, between = next_show_of(known, place, crew), judge_night([known, *others], place, crew)
    if as_json:
        typer.echo(json.dumps(schedule.as_json() | plan_document(judgement, after, between)))
    else:
        print_plan(Judged(known, schedule, judgement, after, between), crew, Console())


def _files(plans: list[Path], site: Path | None) -> "tuple[list[Plan], Site | None]":
    """Read every file. Raises PlanFaults with the faults of all of them."""
    from server.planning.site import SiteFaults, parse_site

    faults: list[str] = []
    known: list[Plan] = []
    place = None
    for path in plans:
        try:
            known.append(parse_plan(text_from_file(path), str(path)))
        except PlanFaults as found:
            faults += found.faults
        except DocumentFault as found:
            faults.append(str(found))
    if site is not None:
        try:
            place = parse_site(text_from_file(site), str(site))
        except SiteFaults as found:
            faults += found.faults
        except DocumentFault as found:
            faults.append(str(found))
    if faults:
        raise PlanFaults(faults)
    return known, place
