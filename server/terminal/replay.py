"""`festoon replay`: a recorded run, told again for people or as JSON lines for programs."""

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeVar

from rich.console import Console
from rich.progress import track
from rich.table import Table
from rich.text import Text

from server.documents import DocumentFault, lines_from_file, text_from_file
from server.terminal.asked_times import asked_time, moment_of
from server.timeline.engine import replay
from server.timeline.events import EventFault, Recording, RecordingFault, read_recording, rfc3339
from server.timeline.fold import Fold
from server.timeline.naming import alarm_of, link_of, place_of
from server.timeline.plan import Plan, PlanFaults, parse_plan
from server.timeline.view import AlarmRecord, Level, PhaseRecord, Record
from server.timeline.viewing import GoneIn, LinkSummary, link_summaries, summary_of

REPLAYED, SOME_REJECTED, UNUSABLE = 0, 1, 2

Read = TypeVar("Read")
_MICROSECOND = timedelta(microseconds=1)
_MARKS: dict[Level, str] = {"act": "bold reverse", "watch": "bold", "note": ""}
_PHASES = {
    "threaded": "is threaded",
    "rolling": "is rolling",
    "showing": "has its picture on screen",
    "tail": "has come to its end",
    "clear": "is clear",
    "stopped": "has stopped",
}


def replay_command(plan_path: Path, events_path: Path, *, as_json: bool, until: str | None, strict: bool) -> int:
    """Replay a recording against a plan and return the exit status; faults go to standard error, a line each."""
    faults: list[str] = []
    plan = _given(lambda: parse_plan(text_from_file(plan_path), str(plan_path)), faults)
    asked = None if until is None else _given(lambda: asked_time(until), faults)
    lines = _given(lambda: lines_from_file(events_path), faults)
    recording = None
    if plan is not None and lines is not None:
        recording = _given(lambda: read_recording(lines, plan, str(events_path)), faults)
    if faults or plan is None or recording is None:
        sys.stderr.writelines(f"{fault}\n" for fault in faults)
        return UNUSABLE
    until_us = None if asked is None else (moment_of(asked, plan) - plan.zero) // _MICROSECOND
    show_json(plan, recording, until_us) if as_json else show_account(plan, recording, until_us, Console())
    return SOME_REJECTED if strict and recording.rejected else REPLAYED


def _given(read: Callable[[], Read], faults: list[str]) -> Read | None:
    """What a reading gives; None, and its faults noted, where it gives nothing."""
    try:
        return read()
    except PlanFaults as error:
        faults.extend(error.faults)
    except (DocumentFault, RecordingFault, EventFault) as error:
        faults.append(str(error))
    return None


def show_json(plan: Plan, recording: Recording, until_us: int | None) -> None:
    """Write the replay as JSON lines to standard output: rejected lines, changes in order of time, the summary."""
    records, fold = replay(plan, recording.events, until_us)
    lines = [
        *({"type": "rejected", "line": line, "text": text} for line, text in recording.rejected),
        *(_json_of(record, plan) for record in records),
        {"type": "summary", "t": _time(_end_us(fold), plan), **summary_of(fold)},
    ]
    sys.stdout.writelines(json.dumps(line) + "\n" for line in lines)


def _time(at_us: int, plan: Plan) -> str:
    return rfc3339(plan.zero + at_us * _MICROSECOND)


def _end_us(fold: Fold) -> int:
    """When a replay ended; a recording without events ends as it begins, with the motors due."""
    return fold.at_us if fold.began else 0


_ALARM_KEYS = ("key", "kind", "level", "subject", "state", "cause", "text")
"""What the format has of an alarm, beside its time."""


def _json_of(record: Record, plan: Plan) -> dict[str, object]:
    if isinstance(record, PhaseRecord):
        return {"type": "phase", "t": _time(record.at_us, plan), "station": record.station, "phase": record.phase}
    return {
        "type": "alarm",
        "t": _time(record.at_us, plan),
        **{k: v for k, v in record._asdict().items() if k in _ALARM_KEYS},
    }


def show_account(plan: Plan, recording: Recording, until_us: int | None, console: Console) -> None:
    """Tell the replay to a person: what happened when, by the house's clock, and how it stands at the end."""
    console.print(Text(plan.title, style="bold"), Text(plan.site or ""))
    for line, text in recording.rejected:
        console.print(Text(f"line {line} is not taken: {text}"), soft_wrap=True)
    progress = track(recording.events, "Replaying", console=Console(stderr=True), transient=True)
    records, fold = replay(plan, progress, until_us)
    for record in records:
        console.print(_clock(record.at_us, plan), *_told(record, plan), sep="  ", soft_wrap=True)
    console.print()
    links = link_summaries(fold)
    console.print(_links_table(plan, links))
    if any(link["slack_s"] is None for link in links):
        console.print("A dash: the film's end has left the gate above, and a free end has no slack.")
    _print_open_alarms(fold, console)


def _clock(at_us: int, plan: Plan) -> Text:
    moment: datetime = (plan.zero.astimezone(UTC) + at_us * _MICROSECOND).astimezone(plan.zone)
    return Text(f"{moment:%H:%M:%S}.{moment.microsecond // 100_000}")


def _told(record: Record, plan: Plan) -> Iterator[Text]:
    if isinstance(record, PhaseRecord):
        yield Text(f"{place_of(plan, record.station)} {_PHASES[record.phase]}", style="dim")
        return
    text = f"{_word(record)}: {record.text}"
    if record.cause is not None and record.state == "raised":
        text += f" (follows from {alarm_of(plan, record.cause)})"
    yield Text(text, style="dim" if record.state in ("cleared", "acked") else _MARKS[record.level])


def _word(record: AlarmRecord) -> str:
    return {"raised": record.level, "level": f"now {record.level}", "acked": "seen", "cleared": "over"}[record.state]


def _links_table(plan: Plan, links: Sequence[LinkSummary]) -> Table:
    table = Table("Link", "Slack", "Drift", "Reserve gone in", title="The links at the end", title_justify="left")
    for i, link in enumerate(links):
        slack = _give_or_take(link["slack_s"], link["slack_sd_s"], ".2f", "s")
        drift = _give_or_take(link["drift_ppm"], link["drift_sd_ppm"], ".0f", "ppm")
        left = "-" if link["slack_s"] is None else _left(link["gone_in_s"])
        table.add_row(Text(link_of(plan, i)), slack, drift, left)
    return table


def _give_or_take(value: float | None, sd: float | None, digits: str, unit: str) -> str:
    """A value with its standard deviation; a dash where the film's end is free."""
    return "-" if value is None or sd is None else f"{value:+{digits}} ± {sd:{digits}} {unit}"


def _left(gone_in_s: GoneIn | None) -> str:
    if gone_in_s is None:
        return "not in sight"
    if gone_in_s["p50"] is None:
        return "perhaps before long"
    return f"{gone_in_s['p50']:.0f} s" if gone_in_s["p50"] < 120.0 else f"{gone_in_s['p50'] / 60.0:.0f} min"


def _print_open_alarms(fold: Fold, console: Console) -> None:
    open_alarms = [fold.board.alarms[key] for key in fold.board.open_keys()]
    console.print(Text("Open alarms" if open_alarms else "No alarm is open.", style="bold"))
    for alarm in open_alarms:
        console.print(Text(f"  {alarm.level}: {alarm.text}", style=_MARKS[alarm.level]), soft_wrap=True)
        console.print(Text(f"    {alarm.todo}"), soft_wrap=True)
