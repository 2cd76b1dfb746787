"""`festoon learn`: what runs say of their plan; the corrected plan, or the corrected site, where it is asked for."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.accounts import AccountFault, AskedRun, Data, asked_run, write_new
from server.commands.options import faults_told, settings_given
from server.documents import text_from_file

if TYPE_CHECKING:
    from server.plans.site_lessons import Measured, SiteLessons
    from server.review.lessons import Lessons

_EVIDENCE = 0.5
"""Chosen, as of a corrected plan: runs that do not halve the plan's own uncertainty of a path did not measure it."""


def learn(
    runs: Annotated[
        list[str],
        typer.Argument(
            metavar="RUN",
            help="Runs of the log, or recordings that carry their plan; of one chain.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the corrected plan there.", show_default=False)
    ] = None,
    site: Annotated[
        Path | None,
        typer.Option(metavar="SITE", help="Write the measured paths into this *.site.toml.", show_default=False),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="With --site: say what would change there, and write nothing.")
    ] = False,
    data: Data = None,
) -> None:
    """Learn what the paths and rates really were; the plan of the last run is the one that is corrected."""
    from rich.console import Console

    from server.planning.site import SiteFaults
    from server.review.lessons import LessonFault, Taught, lessons_from_runs
    from server.review.reading import Reading
    from server.runlog import RunLogFault
    from server.terminal.account_tables import print_lessons

    if dry_run and site is None:
        raise typer.BadParameter("give the site file with --site", param_hint="--dry-run")
    with faults_told(RunLogFault, AccountFault, LessonFault, SiteFaults):
        where = settings_given(None, None, data).data
        asked = [asked_run(run, where) for run in runs]
        learned = lessons_from_runs(
            [Taught(one.id, Reading(one.account), one.plan_name, one.plan_text) for one in asked]
        )
        before = "" if site is None else text_from_file(site)
        corrected = None if site is None else _into_site(learned, asked, site, before)
        print_lessons(learned, Console())
        if out is not None:
            write_new(out, learned.text)
            typer.echo(out)
        if site is not None and corrected is not None:
            if corrected.changes and not dry_run:
                _write(site, before, corrected.text)
            _print_site(corrected, site, dry_run=dry_run)


def _into_site(learned: "Lessons", asked: Sequence[AskedRun], path: Path, text: str) -> "SiteLessons":
    """The site file with what was learned. Raises SiteFaults, AccountFault and the faults of files."""
    from server.planning.site import SiteFaults, parse_site
    from server.plans.site_lessons import learned_into_site
    from server.plans.site_store import plain_name

    site = parse_site(text, str(path))
    for one in asked:
        ran_at = one.account.plan.site
        if ran_at is not None and plain_name(ran_at) != plain_name(site.site):
            raise AccountFault(f"{one.id} ran at {ran_at}, and {path} is of {site.site}: nothing is written.")
    if not {station.house for station in learned.plan.stations} & site.by_house.keys():
        raise AccountFault(f"{path}: no house of these runs is in this site file: nothing is written.")
    ran_on = learned.plan.zero.astimezone(learned.plan.zone).date()
    try:
        return learned_into_site(text, _measured(learned), len(learned.runs), ran_on)
    except SiteFaults as faults:
        raise AccountFault(f"{path}: what the runs measured does not fit in there{faults.faults[0]}") from None
    except (ValueError, KeyError, IndexError, TypeError):
        raise AccountFault(f"{path} is written so that its paths cannot be changed in place.") from None


def _measured(learned: "Lessons") -> "list[Measured]":
    """What the runs measured, in film order."""
    from server.plans.site_lessons import Measured
    from server.timeline.film import FOOT_M

    stations, index = learned.plan.stations, learned.plan.station_index
    found = []
    for one in learned.paths:
        k = index[one.station]
        size_m = FOOT_M if one.unit == "ft" else 1.0
        houses = (stations[k - 1].house, stations[k].house)
        enough = one.new > 0.0 and one.new_sd < _EVIDENCE * one.old_sd
        rollers = stations[k].rollers
        found.append(Measured(houses, one.new * size_m, one.new_sd * size_m, enough, one.unit, rollers))
    return found


def _print_site(corrected: "SiteLessons", path: Path, *, dry_run: bool) -> None:
    """Say what becomes another in the site file, and what stays, and why."""
    changes = len(corrected.changes)
    counted = "nothing" if not changes else "1 path" if changes == 1 else f"{changes} paths"
    typer.echo(f"{path}: {counted} {'would be' if dry_run else 'are' if changes > 1 else 'is'} changed.")
    for line in (*corrected.changes, *corrected.left):
        typer.echo(f"  {line}")


def _write(path: Path, before: str, text: str) -> None:
    """Write the site file, if it is as it was read. Raises AccountFault."""
    from server.plans.files import write_whole

    if text_from_file(path) != before:
        raise AccountFault(f"{path} was changed meanwhile, and is left as it is: do it again.")
    try:
        write_whole(path.resolve(), text)
    except OSError as error:
        raise AccountFault(f"{path} cannot be written ({error.strerror}).") from None
