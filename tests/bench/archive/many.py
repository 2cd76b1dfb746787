"""Many sites that forward at once: events a second, and how long one is on its way."""

import asyncio
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from multiprocessing.synchronize import Event
from pathlib import Path

import numpy as np
from sqlalchemy import text

from server.runlog import RunLog
from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.archive.sites import forwarding, log_of
from tests.runlog.logs import ZERO, event

CHAINS = 3
PROCESSES = 2
LOOK_S = 0.05

Asked = tuple[Path, str]


def many(folder: Path, sites: int, a_second: float, seconds: float) -> Iterator[str]:
    """So many sites, each with three chains that take `a_second` events, for so long."""
    with cluster(durable=True) as postgres:
        archive = Archive(postgres)
        asked = [(folder / f"s{n}", archive.site(f"s{n}")) for n in range(sites)]
        context = multiprocessing.get_context("spawn")
        begin = context.Event()
        parts = [asked[k::PROCESSES] for k in range(PROCESSES)]
        working = [context.Process(target=_forward, args=(part, a_second, seconds, begin)) for part in parts if part]
        for process in working:
            process.start()
        _until_all(archive, sites * CHAINS)
        begin.set()
        seen = _watched(archive, seconds + 5.0)
        for process in working:
            process.join()
        lags = [at - told for times in seen.values() for told, at in times]
        with archive.owner.connect() as connection:
            there = connection.execute(text("SELECT count(*) FROM festoon.events")).scalar_one()
        archive.owner.dispose()
        p50, p99 = np.percentile(lags, [50, 99])
        yield (
            f"{sites} sites x {CHAINS} chains, {a_second:g} events a second each: {there} events,"
            f" {there / seconds:.0f} a second; lag p50 {p50:.2f} s, p99 {p99:.2f} s (looked at every {LOOK_S} s)"
        )


def _until_all(archive: Archive, runs: int) -> None:
    while True:
        with archive.owner.connect() as connection:
            if connection.execute(text("SELECT count(*) FROM festoon.runs")).scalar_one() == runs:
                return
        time.sleep(0.2)


def _watched(archive: Archive, seconds: float) -> dict[tuple[str, str], list[tuple[float, float]]]:
    """By run, when each event that was the latest at a look was told, and when it was first seen here."""
    latest = text(
        "SELECT runs.site, runs.run, runs.events, there.body::jsonb->>'text' AS told FROM festoon.runs"
        " JOIN festoon.events there ON there.site = runs.site AND there.run = runs.run AND there.month = runs.month"
        " AND there.seq = runs.events"
    )
    seen: dict[tuple[str, str], list[tuple[float, float]]] = {}
    known: dict[tuple[str, str], int] = {}
    end = time.time() + seconds
    while time.time() < end:
        with archive.owner.connect() as connection:
            rows = connection.execute(latest).all()
        now = time.time()
        for row in rows:
            if known.get((row.site, row.run)) != row.events:
                known[row.site, row.run] = row.events
                seen.setdefault((row.site, row.run), []).append((float(row.told), now))
        time.sleep(LOOK_S)
    return seen


def _forward(asked: Sequence[Asked], a_second: float, seconds: float, begin: Event) -> None:
    with ExitStack() as stack:
        runs = [f"chain-{n}" for n in range(CHAINS)]
        logs = [stack.enter_context(log_of(folder, *runs)) for folder, _ in asked]
        for folder, url in asked:
            stack.enter_context(forwarding(folder, url))
        begin.wait()
        asyncio.run(_write(logs, runs, a_second, seconds))
        time.sleep(2.0)


async def _write(logs: Sequence[RunLog], runs: Sequence[str], a_second: float, seconds: float) -> None:
    begun, number = time.monotonic(), 0
    while time.monotonic() - begun < seconds:
        number += 1
        for log in logs:
            told = event(f"e{number}", float(number), f"{time.time():.6f}")
            await asyncio.gather(*(log.append(run, told, ZERO) for run in runs))
        await asyncio.sleep(max(0.0, begun + number / a_second - time.monotonic()))
