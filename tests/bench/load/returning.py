"""Desks that all come back at once, as after a restart or when the network is there again."""

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.bench.fanout import post, processor_s, show_so_far, started
from tests.bench.load.crowds import all_back_s
from tests.bench.load.rows import Row, at_most, share_of
from tests.bench.load.shows import run_of, written

STATIONS = 30
TURNS = 5
LAST_MS = 150.0


def returning(folder: Path, desks: int) -> Iterator[Row]:
    """The rows of it: the middle of some turns, and the bare server's handshakes beside it, which tells nothing."""
    file, plan = written(folder, STATIONS, "Back")
    with ExitStack() as stack:
        data = stack.enter_context(tempfile.TemporaryDirectory(dir=Path.home()))
        serve = ["-c", "from server.cli import main; main()", "serve", str(file), "--port", "0", "--data", data]
        pid, address = stack.enter_context(started(serve))
        _, bare = stack.enter_context(started(["-m", "tests.bench.bare"]))
        run = run_of(address)
        for event in show_so_far(plan):
            post(f"http://{address}/api/runs/{run}/events", event)
        ours, others, cpu_s = [], [], 0.0
        for _ in range(TURNS):
            before_s = processor_s(pid)
            ours.append(all_back_s(address, f"/api/runs/{run}/live", desks, b'"type":"snapshot"'))
            cpu_s += processor_s(pid) - before_s
            others.append(all_back_s(bare, "/", desks, b""))
    lost = desks * TURNS - sum(map(len, ours))
    last_ms, bare_ms = (share_of([max(one, default=0.0) for one in all_], 0.5) * 1000 for all_ in (ours, others))
    yield Row(f"{desks} desks back at once, {TURNS} times: without a snapshot", str(lost), "0", lost == 0)
    more = f"bare handshakes {bare_ms:.0f} ms; processor {cpu_s / TURNS * 1000:.0f} ms"
    yield at_most(f"{desks} desks back at once: the last has its snapshot", last_ms, LAST_MS, "ms", more)
