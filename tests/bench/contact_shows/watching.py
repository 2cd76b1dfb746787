"""Festoon at one show: a log on disk, a run, and the contacts of four houses, put together as the server does."""

import asyncio
import json
import os
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager, closing, suppress
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any, Final, NamedTuple

from server.clock import Clock
from server.contact_boards import Wiring, board_of, kept_going, wiring_from_text
from server.live import Hub, LiveRun
from server.runlog import RunLog
from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.view import RunView
from tests.bench.contact_shows.faults import Fault
from tests.bench.contact_shows.first import come_first
from tests.bench.contact_shows.script import Script, plan_of, plan_text, script_of, wiring_text

RUN: Final = "contact-show"
BEAT_S: Final = 0.02
"""How often the loop is asked how late it is."""


LATE_S: Final = 0.02
UP_S: Final = 3.0


class Act(NamedTuple):
    """An alarm that was told to the desks as an act, when, and what it said; `over` where it had come true and ended
    before they heard of it.
    """

    at_s: float
    key: str
    text: str
    over: bool = False

    @property
    def kind(self) -> str:
        return self.key.partition(":")[0]


class Seen(NamedTuple):
    """An event of the log, in seconds after the motors' true start; `sigma_s` is the plan's where it has none."""

    at_s: float
    sigma_s: float
    arrived_s: float
    event: Event


class Watched(NamedTuple):
    """What was made of a show, in the log's order, and what truly happened; `away_s` are the server's absences.

    `truth` is the stage's record; `started_at` the motors' true start by `time.monotonic`. `late` is when the loop was
    late by LATE_S or more, and by how much; `cpu_s` what the process took.
    """

    script: Script
    seen: tuple[Seen, ...]
    acts: tuple[Act, ...]
    truth: dict[str, Any]
    started_at: float
    away_s: tuple[tuple[float, float], ...]
    late: tuple[tuple[float, float], ...]
    cpu_s: float
    load: float
    fault: str | None


class Desks(Hub):
    """A hub that remembers what was told as an act. A desk that comes back after a restart has seen what stood."""

    def __init__(self, acts: list[Act], on: set[str], shift_s: float) -> None:
        super().__init__()
        self._acts = acts
        self._on = on
        self._shift_s = shift_s

    def open(
        self, info: dict[str, Any], view: RunView, events: Iterable[dict[str, Any]], now_s: Callable[[], float]
    ) -> None:
        super().open(info, view, events, now_s)
        self._look(view)

    def publish(self, view: RunView, events: Iterable[dict[str, Any]] = ()) -> None:
        super().publish(view, events)
        self._look(view)

    def _look(self, view: RunView) -> None:
        told = {alarm.key: alarm for alarm in view.alarms if alarm.told and alarm.level == "act"}
        for key in told.keys() - self._on:
            over = told[key].state == "returned"
            self._acts.append(Act(view.t_s + self._shift_s, key, told[key].text, over))
        self._on.clear()
        self._on.update(told)


def watch(seed: int, *, first: bool) -> Watched:
    """Play the show of a seed and watch it, in real time; `first` of all that this computer does."""
    # What the ports import when they are opened takes as long as several foils.
    for module in ("pymodbus.client", "serialx"):
        import_module(module)
    with tempfile.TemporaryDirectory(prefix="festoon-") as folder:
        return asyncio.run(_watch(script_of(seed), Path(folder), first=first))


async def _watch(script: Script, folder: Path, *, first: bool) -> Watched:
    async with _stage(script.seed, folder, first=first) as stage:
        assert stage.stdin is not None
        assert stage.stdout is not None
        addresses = json.loads(await stage.stdout.readline())
        if first:
            come_first()
        started_at = time.monotonic() - script.begins_s
        starts = datetime.now(UTC) - timedelta(seconds=script.begins_s)
        server = _Server(script, addresses, starts, folder / "log")
        stage.stdin.write(f"{started_at!r}\n".encode())
        await stage.stdin.drain()
        late = asyncio.create_task(server.count_late(started_at))
        try:
            await server.live_through(started_at)
        finally:
            late.cancel()
        return server.watched(json.loads(await stage.stdout.readline()), started_at)


@asynccontextmanager
async def _stage(seed: int, folder: Path, *, first: bool) -> AsyncIterator[asyncio.subprocess.Process]:
    place = folder / "stage"
    place.mkdir()
    words = ("-m", "tests.bench.contact_shows.stage", str(seed), str(place), *["first"] * first)
    stage = await asyncio.create_subprocess_exec(
        sys.executable,
        *words,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        cwd=Path(__file__).parents[3],
        limit=1 << 24,
    )
    try:
        yield stage
    except BaseException:
        with suppress(ProcessLookupError):
            stage.kill()
        raise
    finally:
        await stage.wait()


class _Server:
    """The server of a show: it lives once, or with a restart twice on the same log."""

    def __init__(self, script: Script, addresses: dict[str, str], starts: datetime, data: Path) -> None:
        self._script = script
        self._starts = starts
        self._data = data
        self._plan_text = plan_text(script.reels, starts + timedelta(seconds=script.shift_s))
        self._plan: Plan = plan_of(script.reels, starts + timedelta(seconds=script.shift_s))
        self._wiring: Wiring = wiring_from_text(wiring_text(addresses), "contact_shows.contacts.toml", self._plan)
        self._acts: list[Act] = []
        self._on: set[str] = set()
        self._away: list[tuple[float, float]] = []
        self._late: list[tuple[float, float]] = []
        self._fault: str | None = None

    async def live_through(self, started_at: float) -> None:
        """Watch the show to its end, and be away while the script has it so."""
        with closing(RunLog.open(self._data)) as log:
            log.create_run(RUN, self._plan_text, "contact_shows.plan.toml", datetime.now(UTC))
        away = sorted((fault for fault in self._script.faults if _is_servers(fault)), key=lambda fault: fault.at_s)
        for fault in away:
            await self._live(started_at + fault.at_s)
            left_s = time.monotonic() - started_at
            await asyncio.sleep(fault.for_s)
            self._away.append((left_s, time.monotonic() - started_at))
        await self._live(started_at + self._script.ends_s)

    async def _live(self, until: float) -> None:
        """One life, as `server/assemble.py` has it."""
        with closing(RunLog.open(self._data)) as log:
            clock = Clock()
            run = LiveRun(RUN, self._plan, clock, log, Desks(self._acts, self._on, self._script.shift_s))
            board = board_of(run, clock, self._wiring)
            run.start()
            feeds = [asyncio.create_task(work) for work in kept_going(run, clock, board)]
            await asyncio.sleep(until - time.monotonic())
            for feed in feeds:
                feed.cancel()
            await asyncio.gather(*feeds, return_exceptions=True)
            run.stop()
            self._fault = self._fault or run.fault

    async def count_late(self, started_at: float) -> None:
        """When the loop is late, which holds up everything in it, once the feeds have come up."""
        await asyncio.sleep(UP_S)
        while True:
            due = time.monotonic() + BEAT_S
            await asyncio.sleep(BEAT_S)
            if (late_s := time.monotonic() - due) >= LATE_S:
                self._late.append((due - started_at, late_s))

    def watched(self, truth: dict[str, Any], started_at: float) -> Watched:
        """What came of it, read from the log."""
        with closing(RunLog.open(self._data)) as log:
            seen = tuple(
                Seen(
                    (stored.event.t - self._starts).total_seconds(),
                    stored.event.sigma_s or self._plan.timing.contact_sigma_s,
                    (stored.arrived - self._starts).total_seconds(),
                    stored.event,
                )
                for stored in log.events(RUN)
            )
        return Watched(
            self._script,
            seen,
            tuple(self._acts),
            truth,
            started_at,
            tuple(self._away),
            tuple(self._late),
            time.process_time(),
            os.getloadavg()[0],
            self._fault,
        )


def _is_servers(fault: Fault) -> bool:
    return fault.kind == "restart" or (fault.kind == "lamp_out_unseen" and not fault.house)
