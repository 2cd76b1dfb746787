"""The runs that a command is asked about: of the log, or of a recording."""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from server.documents import lines_from_file, text_from_file
from server.timeline.plan import Plan, parse_plan

if TYPE_CHECKING:
    from server.review.account import Account
    from server.review.recordings import Recorded


Data = Annotated[str | None, typer.Option(help="The folder of the event log.", show_default=False)]


class AccountFault(Exception):
    """A run that cannot be had, in one sentence."""


class AskedRun(NamedTuple):
    """A run with the plan it went by; `id` is what it is called here, `lacking` what its log lost, in sentences."""

    id: str
    account: "Account"
    plan_name: str
    plan_text: str
    lacking: Sequence[str] = ()


def asked_run(what: str, data: str) -> AskedRun:
    """The run of that name in the log at `data`, or of a recording that carries its plan.

    Raises the faults of files, PlanFaults, RunLogFault and AccountFault. Lines that are not taken are told.
    """
    if what.endswith(".jsonl"):
        return _carried(Path(what))
    from server.review.account import account_from_log
    from server.runlog import StoredRuns

    with closing(StoredRuns.reading(data)) as log:
        stored = log.run(what)
        if stored is None:
            raise AccountFault(f"There is no run {what!r} in {data}: `festoon runs` lists them.")
        lacking = log.lacking(what)
        if not stored.plan_text:
            raise AccountFault(" ".join([f"{what}: its plan was lost with the damage of the log.", *lacking]))
        plan = parse_plan(stored.plan_text, stored.plan_name)
        account = account_from_log(plan, log.events(what))
        return AskedRun(what, account, stored.plan_name, stored.plan_text, lacking)


def recorded_run(plan_path: Path, events_path: Path) -> AskedRun:
    """The run of a recording and its plan. Raises the faults of files and PlanFaults."""
    text = text_from_file(plan_path)
    return _asked(events_path, lines_from_file(events_path), (str(plan_path), text), parse_plan(text, str(plan_path)))


def _carried(path: Path) -> AskedRun:
    from server.review.recordings import plan_in_header

    lines = lines_from_file(path)
    carried = plan_in_header(lines)
    if carried is None:
        raise AccountFault(f"{path} does not carry its plan: give the plan before it.")
    return _asked(path, lines, carried, parse_plan(carried[1], f"{path}: {carried[0]}"))


def _asked(path: Path, lines: list[bytes], plan_file: tuple[str, str], plan: Plan) -> AskedRun:
    from server.review.recordings import recorded_from_lines

    recorded: Recorded = recorded_from_lines(lines, plan, str(path))
    for line, text in recorded.rejected:
        typer.echo(f"{path}: line {line} is not taken: {text}", err=True)
    return AskedRun(path.name.split(".")[0], recorded.account, Path(plan_file[0]).name, plan_file[1])


def refuse_old(path: Path) -> None:
    """Refuse a file that is there. Raises AccountFault."""
    if path.exists():
        raise AccountFault(f"{path} is there already: give another name, nothing is overwritten.")


def write_new(path: Path, content: str | bytes) -> None:
    """Write a file that is not there yet. Raises AccountFault."""
    refuse_old(path)
    try:
        with path.open("xb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise AccountFault(f"{path} cannot be written ({error.strerror}).") from None
