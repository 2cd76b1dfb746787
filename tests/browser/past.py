"""A log with finished shows in it, served beside a live run: what the debrief goes through."""

import asyncio
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from adapters.drill.demo import demo_events
from server.runlog import RunLog
from server.timeline.events import Event
from server.timeline.plan import parse_plan
from tests.browser.served import Served, served, written_plan

PLANS = Path(__file__).parents[2] / "fixtures/plans"
ARRIVES_S = 0.02


class PastShow(NamedTuple):
    """A show that is over: the plan of a fixture moved to a day, played by the drill with a seed."""

    run: str
    plan_name: str
    day: date
    seed: int
    late_s: Mapping[str, float] = {}
    """How long after it happened an event arrived, by id; the others almost at once."""

    def plan_text(self) -> str:
        """The plan of that day."""
        text = (PLANS / self.plan_name).read_text(encoding="utf-8")
        planned = parse_plan(text, self.plan_name).timing.motors_at
        return text.replace(f"{planned:%Y-%m-%d}T", f"{self.day:%Y-%m-%d}T")

    def events(self) -> list[Event]:
        """What was observed, by the time it happened."""
        return demo_events(parse_plan(self.plan_text(), self.plan_name), self.seed)


FIRST = PastShow("larkspur-first", "larkspur.plan.toml", date(2026, 3, 14), 4)
SECOND = PastShow("larkspur-second", "larkspur.plan.toml", date(2026, 3, 21), 9)
PAIR = PastShow("pair-quiet", "pair.plan.toml", date(2026, 4, 4), 2)


class Written(NamedTuple):
    """A run as a log has it: its name, its plan's text and file, and its events with when each of them arrived."""

    run: str
    plan_text: str
    plan_name: str
    arrivals: Sequence[tuple[datetime, Event]]


def write_log(folder: Path, *shows: PastShow) -> None:
    """Write the shows down as runs of a log in `folder`."""
    write_runs(folder, *(Written(show.run, show.plan_text(), show.plan_name, _arrivals(show)) for show in shows))


def write_runs(folder: Path, *runs: Written) -> None:
    """Write runs down in a log in `folder`; Playwright's own loop runs in this thread, so in another."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, _write(folder, runs)).result()


async def _write(folder: Path, runs: Sequence[Written]) -> None:
    log = RunLog.open(folder)
    try:
        for run, text, name, arrivals in runs:
            log.create_run(run, text, name, parse_plan(text, name).zero)
            await asyncio.gather(*(log.append(run, event, at) for at, event in arrivals))
    finally:
        log.close()


def _arrivals(show: PastShow) -> list[tuple[datetime, Event]]:
    known = [(one.t + timedelta(seconds=show.late_s.get(one.id, ARRIVES_S)), one) for one in show.events()]
    return sorted(known, key=lambda pair: pair[0])


@contextmanager
def served_log(folder: Path, *shows: PastShow) -> Iterator[Served]:
    """A server whose log has those shows, and one live run that only waits."""
    write_log(folder / "log", *shows)
    with served("serve", str(written_plan(folder)), "--port", "0", "--data", str(folder / "log")) as server:
        yield server
