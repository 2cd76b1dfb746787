"""A log of a thousand runs: how long a restart takes, and the library's list."""

import asyncio
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from server.runlog import RunLog
from server.timeline.events import event_from_json
from tests.bench.fanout import processor_s, started
from tests.bench.load.rows import Row, at_most
from tests.bench.load.shows import plan_text

EVENTS = 60
STATIONS = 16
RESTART_S, LIST_S, PAGE_S = 1.0, 1.0, 0.3
"""Chosen: what somebody waits for without asking what is wrong."""


def library(folder: Path, runs: int) -> Iterator[Row]:
    """The rows of it."""
    with tempfile.TemporaryDirectory(dir=Path.home()) as data, tempfile.TemporaryDirectory(dir=Path.home()) as empty:
        begun = time.perf_counter()
        asyncio.run(_written(Path(data), runs))
        size_mb = sum(file.stat().st_size for file in Path(data).iterdir()) / 1e6
        said = f"{runs} runs of {EVENTS} events"
        yield Row(f"{said}: written in", f"{time.perf_counter() - begun:.0f} s; {size_mb:.0f} MB")
        file = folder / "tonight.plan.toml"
        file.write_text(plan_text(STATIONS, "Tonight"), encoding="utf-8")
        without, _ = _started(file, empty, [])
        with_them, (page_s, first_s, again_s) = _started(file, data, ["/library", "/api/library", "/api/library"])
        more_s = with_them.cpu_s - without.cpu_s
        seen = f"{with_them.took_s:.1f} s by the clock, of an empty log {without.took_s:.1f}"
        yield at_most(f"{said}: processor that they cost a start", more_s, RESTART_S, "s", seen, 2)
        yield at_most(f"{said}: library's page", page_s, PAGE_S, "s", digits=2)
        yield at_most(f"{said}: its list, the first time", first_s, LIST_S, "s", f"again {again_s:.2f} s", 2)


class Start(NamedTuple):
    """How long a server took until it was there, by the clock and of the processor."""

    took_s: float
    cpu_s: float


def _started(file: Path, data: str, paths: list[str]) -> tuple[Start, list[float]]:
    """A server's start, and then how long each of these paths takes."""
    serve = ["-c", "from server.cli import main; main()", "serve", str(file), "--port", "0", "--data", data]
    begun = time.perf_counter()
    with started(serve) as (pid, address):
        start = Start(time.perf_counter() - begun, processor_s(pid))
        return start, [_asked_s(f"http://{address}{path}") for path in paths]


def _asked_s(url: str) -> float:
    begun = time.perf_counter()
    with urllib.request.urlopen(url) as answer:
        answer.read()
    return time.perf_counter() - begun


async def _written(data: Path, runs: int) -> None:
    """A run for each evening, of which nothing was counted yet."""
    now = datetime.now(UTC).replace(microsecond=0)
    with closing(RunLog.open(data)) as log:
        for number in range(runs):
            begun = now - timedelta(days=runs - number)
            run, text = f"evening-{number}", plan_text(STATIONS, f"Evening {number}")
            log.create_run(run, text, f"evening-{number}.plan.toml", begun)
            said = [
                {"id": f"e{n}", "t": begun + timedelta(seconds=n), "kind": "note", "text": "x", "source": "tap"}
                for n in range(EVENTS)
            ]
            await asyncio.gather(*(log.append(run, event_from_json(each), begun) for each in said))
