"""The run of a plan in a log: what it is called, and whether it begins or goes on."""

import asyncio
import logging
import re
import unicodedata
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import NamedTuple, TypeAlias

from server.clock import Clock
from server.runlog import RunLog
from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

NAME_LENGTH = 60
"""What the name of a run takes of its title. Chosen."""

Tell: TypeAlias = Callable[[str], None]
"""Takes one line for the person who started this."""

_log = logging.getLogger(__name__)


class PlanFile(NamedTuple):
    """A plan with the text it was made of; `name` is what its file is called."""

    name: str
    text: str
    plan: Plan


def run_name(plan: Plan) -> str:
    """What a run of a plan is called: its title in plain letters, and the house's day and time of its start."""
    plain = unicodedata.normalize("NFKD", plan.title).encode("ascii", "ignore").decode().lower().replace("'", "")
    title = "-".join(re.findall("[a-z0-9]+", plain))[:NAME_LENGTH].strip("-")
    return f"{title or 'run'}-{house_clock(plan, 0.0):%Y-%m-%d-%H%M}"


def run_in_log(log: RunLog, file: PlanFile, tell: Tell) -> str:
    """The id of the run of a plan, which is begun if the log has none that began with this very text."""
    name = run_name(file.plan)
    stored = {run.run_id: run.plan_text for run in log.runs()}
    number = 1
    run_id = name
    while (stored.get(run_id) or file.text) != file.text:
        number += 1
        run_id = f"{name}-{number}"
    if run_id in stored:
        _go_on(log, run_id, file, tell, planless=not stored[run_id])
        return run_id
    if number > 1:
        tell(f"{run_id}: a new run, because {file.name} is not the plan that {name} began with.")
    log.create_run(run_id, file.text, file.name, Clock().now())
    return run_id


def _go_on(log: RunLog, run_id: str, file: PlanFile, tell: Tell, *, planless: bool) -> None:
    """Take up a run of the log again, and say what of it is lost, in a note among its events too."""
    if planless:
        log.restore_plan(run_id, file.text, file.name)
        tell(f"{run_id}: its plan was lost with the damage of the log; {file.name} is its plan now.")
    log.note_damage(run_id, Clock().now())
    tell(f"{run_id}: goes on, with {len(log.events(run_id))} events in its log.")
    for line in log.lacking(run_id):
        _log.error("%s: %s", run_id, line)


def write_down(log: RunLog, run_id: str, events: Iterable[tuple[Event, datetime]]) -> None:
    """Write events down in a run that is not live, each as taken at its time. Not to be called in a running loop."""
    asyncio.run(_written(log, run_id, events))


async def _written(log: RunLog, run_id: str, events: Iterable[tuple[Event, datetime]]) -> None:
    for event, arrived in events:
        await log.append(run_id, event, arrived)
