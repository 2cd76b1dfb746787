"""A long show: many stations, contacts as fast as they come, hundreds of desks of which some stall."""

import json
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from itertools import count
from pathlib import Path
from typing import NamedTuple

from server.timeline.plan import Plan
from tests.bench.crowd import PING, PONG, TEXT
from tests.bench.fanout import BareServer, post, processor_s, resident_bytes, show_so_far, started
from tests.bench.load.crowds import ListeningCrowd, Stalled, Tapped
from tests.bench.load.rows import Row, at_most, p50_p99_ms, share_of
from tests.bench.load.shows import MovingBox, boxed, run_of, wiring_text, written

STATIONS = 30
CHANGES_PER_S = 20
TAP_EVERY = 10
"""A tap comes in place of every so many changes: two a second."""

PARTS = 5
"""The first and the last of so many parts of the time are the start and the end."""

ANSWERED_P50_MS, ANSWERED_P99_MS, LAST_P99_MS = 25.0, 250.0, 500.0
"""Chosen: a tap is felt as answered at once, and in a hundred one may be seen to wait."""

GROWS_BYTES_AN_EVENT = 8_000.0
"""Chosen: an event is kept for the whole run, in the run and in the engine."""


class Part(NamedTuple):
    """A part of the time: taps, what both servers spent an event in ms, and what ours holds in MB at its end."""

    taps: list[Tapped]
    bare_s: list[float]
    cpu_ms: float
    bare_cpu_ms: float
    resident_mb: float
    events: int


class PatientBare(BareServer):
    """The bare server for as long as it takes: it pings whoever tells it what to send, too."""

    def keep(self, tap: dict[str, object], message: bytes) -> None:
        """As `BareServer`."""
        before_s = processor_s(self.pid)
        self._teller.send(TEXT, json.dumps({"keep": tap["id"], "message": message.decode()}).encode())
        is_kept = False
        while not is_kept:
            for frame in self._teller.frames():
                is_kept = is_kept or frame[0] == TEXT
                if frame[0] == PING:
                    self._teller.send(PONG, frame[2:])
        self._before_s += processor_s(self.pid) - before_s


class Scene:
    """Both servers, their desks, and the box."""

    def __init__(self, pid: int, crowd: ListeningCrowd, bare: BareServer, box: MovingBox, stalled: Stalled) -> None:
        self.pid, self.crowd, self.bare, self.box, self.stalled = pid, crowd, bare, box, stalled
        self._names = count()

    def part(self, for_s: float) -> Part:
        """Contacts and taps at their pace for so long; the bare server sends all that ours sent."""
        taps, bare_s, events = list[Tapped](), list[float](), 0
        before_s, end = processor_s(self.pid), time.perf_counter() + for_s
        self.bare.spent_s()
        while (begun := time.perf_counter()) < end:
            if events % TAP_EVERY:
                self.box.move()
            else:
                taps.append(self.crowd.tap(self._tap()))
                self.stalled.look()
            events += 1
            self.crowd.rest(begun + 0.5 / CHANGES_PER_S)
            bare_s += self._repeated()
            self.bare.crowd.rest(begun + 1.0 / CHANGES_PER_S)
        cpu_ms = (processor_s(self.pid) - before_s) / events * 1000
        bare_ms = self.bare.spent_s() / events * 1000
        return Part(taps, bare_s, cpu_ms, bare_ms, resident_bytes(self.pid) / 1e6, events)

    def _tap(self) -> dict[str, object]:
        number = next(self._names)
        station = f"s{1 + number % (STATIONS - 1)}"
        tap: dict[str, object] = {"id": f"tap-{number}.", "source": "tap:pad", "by": "Ida"}
        return tap | {"kind": "slack_read", "station": station, "seconds": round(number % 7 / 20, 2)}

    def _repeated(self) -> Iterator[float]:
        """What our server told since, told by the bare one; how long each took to its last desk."""
        changes, self.crowd.changes = self.crowd.changes, []
        for change in changes:
            name = f"repeat-{next(self._names)}"
            self.bare.keep({"id": name}, change)
            seq = f'"seq":{json.loads(change)["seq"]},'.encode()
            delay_s, _ = self.bare.crowd.deliver(json.dumps({"type": "event", "event": {"id": name}}), seq)
            yield delay_s


@contextmanager
def scene(folder: Path, desks: int, stalled: int) -> Iterator[Scene]:
    """Both servers with their desks, in the middle of a show."""
    file, plan = written(folder, STATIONS, "Load")
    wiring = folder / "north.contacts.toml"
    with ExitStack() as stack:
        box = stack.enter_context(boxed(2 * STATIONS))
        wiring.write_text(wiring_text(STATIONS, box.plug.listen()), encoding="utf-8")
        serve = ["-c", "from server.cli import main; main()", "serve", str(file), "--port", "0"]
        data = stack.enter_context(tempfile.TemporaryDirectory(dir=Path.home()))
        pid, address = stack.enter_context(started([*serve, "--data", data, "--contacts", str(wiring)]))
        path = _begun(address, plan)
        bare = PatientBare(*stack.enter_context(started(["-m", "tests.bench.bare"])), "/", desks - stalled)
        stack.enter_context(bare.crowd)
        crowd = stack.enter_context(ListeningCrowd(address, path, desks - stalled))
        slow = Stalled(address, path, stalled)
        stack.callback(slow.close)
        yield Scene(pid, crowd, bare, box, slow)


def _begun(address: str, plan: Plan) -> str:
    run = run_of(address)
    for event in show_so_far(plan):
        post(f"http://{address}/api/runs/{run}/events", event)
    return f"/api/runs/{run}/live"


def steady(folder: Path, minutes: float, desks: int, stalled: int) -> Iterator[Row]:
    """The rows of it."""
    with scene(folder, desks, stalled) as there:
        there.part(5.0)  # whatever is done once is done now
        parts = [there.part(minutes * 60 / PARTS) for _ in range(PARTS)]
        dropped = there.stalled.dropped
    first, last = parts[0], parts[-1]
    held_per_s = sum(part.events for part in parts) / (minutes * 60)
    pace = f"{held_per_s:.1f}, of {CHANGES_PER_S} wanted"
    yield Row(
        "desks, of which stall; events a second", f"{desks}, {stalled}; {pace}", "", held_per_s > 0.9 * CHANGES_PER_S
    )
    for name, part in (("start", first), ("end", last)):
        answered, told = [tap.answered_s for tap in part.taps], [tap.last_s for tap in part.taps]
        limits = f"{ANSWERED_P50_MS:g} / {ANSWERED_P99_MS:g} ms"
        met = share_of(answered, 0.5) * 1000 <= ANSWERED_P50_MS and share_of(answered, 0.99) * 1000 <= ANSWERED_P99_MS
        yield Row(f"{name}: tap answered, p50 / p99", p50_p99_ms(answered), limits, met)
        bare = f"bare broadcast {p50_p99_ms(part.bare_s)}"
        is_met = share_of(told, 0.99) * 1000 <= LAST_P99_MS
        yield Row(
            f"{name}: tap at the last desk, p50 / p99", f"{p50_p99_ms(told)}; {bare}", f"p99 {LAST_P99_MS:g} ms", is_met
        )
        ratio = part.cpu_ms / part.bare_cpu_ms
        yield Row(
            f"{name}: processor an event", f"{part.cpu_ms:.1f} ms; bare {part.bare_cpu_ms:.1f}; ratio {ratio:.2f}"
        )
        yield Row(f"{name}: resident memory", f"{part.resident_mb:.0f} MB")
    events = sum(part.events for part in parts[1:])
    grown = (last.resident_mb - first.resident_mb) * 1e6 / events
    yield at_most("memory an event", grown, GROWS_BYTES_AN_EVENT, "bytes", f"{events} events")
    yield Row("stalled desks dropped and back again", str(dropped))
