"""As many chains as a site may run at once, each a run of its own in one server."""

import json
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

from tests.bench.fanout import post, processor_s, resident_bytes, show_so_far, started
from tests.bench.load.crowds import ListeningCrowd, Tapped
from tests.bench.load.rows import Row, p50_p99_ms, share_of
from tests.bench.load.shows import written

STATIONS, DESKS = 16, 5
TAPS_PER_S = 20
PATIENCE_S = 10.0
"""How long an event is offered again to a server that has no room for it: chosen."""
ANSWERED_P50_MS, ANSWERED_P99_MS = 25.0, 250.0


def chains(folder: Path, number: int, for_s: float) -> Iterator[Row]:
    """The rows of it: a tap goes to one run after another."""
    plans = [written(folder, STATIONS, f"Chain {n}") for n in range(number)]
    files = [str(file) for file, _ in plans]
    with ExitStack() as stack:
        data = stack.enter_context(tempfile.TemporaryDirectory(dir=Path.home()))
        begun = time.perf_counter()
        serve = ["-c", "from server.cli import main; main()", "serve", *files, "--port", "0", "--data", data]
        pid, address = stack.enter_context(started(serve))
        started_s = time.perf_counter() - begun
        with urllib.request.urlopen(f"http://{address}/api/runs") as answer:
            runs = [line["run"] for line in json.load(answer)]
        for run, (_, plan) in zip(runs, plans, strict=True):
            for event in show_so_far(plan)[:STATIONS]:
                _posted(f"http://{address}/api/runs/{run}/events", event)
        crowds = [stack.enter_context(ListeningCrowd(address, f"/api/runs/{run}/live", DESKS)) for run in runs]
        before_s, taps = processor_s(pid), _tapped(crowds, for_s)
        cpu_ms = (processor_s(pid) - before_s) / len(taps) * 1000
        resident_mb = resident_bytes(pid) / 1e6
    answered = [tap.answered_s for tap in taps]
    met = share_of(answered, 0.5) * 1000 <= ANSWERED_P50_MS and share_of(answered, 0.99) * 1000 <= ANSWERED_P99_MS
    what = f"{number} chains of {STATIONS} in one server, {DESKS} desks each"
    yield Row(f"{what}: started", f"{started_s:.1f} s")
    limits = f"{ANSWERED_P50_MS:g} / {ANSWERED_P99_MS:g} ms"
    yield Row(f"{what}: tap answered, p50 / p99", p50_p99_ms(answered), limits, met)
    yield Row(f"{what}: tap at the last desk of its run", p50_p99_ms([tap.last_s for tap in taps]))
    yield Row(f"{what}: processor a tap; memory", f"{cpu_ms:.1f} ms; {resident_mb:.0f} MB")


def _tapped(crowds: list[ListeningCrowd], for_s: float) -> list[Tapped]:
    taps, end = list[Tapped](), time.perf_counter() + for_s
    for number in count():
        begun = time.perf_counter()
        if begun > end:
            break
        crowd = crowds[number % len(crowds)]
        station = f"s{1 + number // len(crowds) % (STATIONS - 1)}"
        tap: dict[str, object] = {"id": f"tap-{number}.", "source": "tap:pad", "kind": "slack_read"}
        taps.append(crowd.tap(tap | {"station": station, "seconds": round(number % 7 / 20, 2)}))
        for each in crowds:
            each.rest(0.0)
        crowd.rest(begun + 1 / TAPS_PER_S)
    return taps


def _posted(url: str, event: dict[str, object]) -> None:
    """All runs of this computer's share what may be reported over HTTP: wait until there is room, a while."""
    until_s = time.monotonic() + PATIENCE_S
    while True:
        try:
            return post(url, event)
        except urllib.error.HTTPError as refused:
            if refused.code != 503 or time.monotonic() > until_s:
                raise
            time.sleep(0.1)
