"""A served run of two houses, a screen that reports to it, and the ledger of what was acknowledged."""

import json
import re
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from server.runlog import StoredRuns
from server.timeline.events import Event
from tests.forked import Forked

ROOT = Path(__file__).parents[3]
PATIENCE_S = 30.0


class Outcome(NamedTuple):
    """What came of one kind of fault: `lost` of the acknowledged, of which `said` was told; `unsaid` are tries."""

    fault: str
    tries: int
    taken: int
    lost: int
    said: int
    doubled: int
    unsaid: int
    note: str = ""

    @property
    def is_good(self) -> bool:
        """Whether nothing was lost without a word, nothing is there twice, and every fault was told."""
        return self.lost <= self.said and self.doubled == 0 and self.unsaid == 0


class Place:
    """A folder with a plan that starts now, a log, and a clock that can be set."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.data = folder / "data"
        self.offset = folder / "offset"
        self.plan = folder / "pair.plan.toml"
        self.set_clock(0.0)
        text = (ROOT / "fixtures/plans/pair.plan.toml").read_text(encoding="utf-8")
        begun = datetime.now(UTC) - timedelta(seconds=90)
        self.plan.write_text(text.replace("2026-03-14T23:50:00Z", f"{begun:%Y-%m-%dT%H:%M:%SZ}"), encoding="utf-8")

    @property
    def arguments(self) -> list[str | Path]:
        """What `festoon serve` is to be told."""
        return [self.plan, "--data", self.data, "--port", "0"]

    def set_clock(self, offset_s: float) -> None:
        """Set the wall clock of the servers here, so far from the true one."""
        part = self.offset.with_suffix(".part")
        part.write_text(str(offset_s), encoding="ascii")
        part.rename(self.offset)

    def events(self, run_id: str) -> list[Event]:
        """What a run's log has, in its order."""
        with closing(StoredRuns.reading(self.data)) as log:
            return [one.event for one in log.events(run_id)]

    def stored(self, run_id: str) -> tuple[list[str], int]:
        """The ids of a run's log, and how many events it says that it lost."""
        with closing(StoredRuns.reading(self.data)) as log:
            lost = sum(one.last - one.first + 1 for one in log.lost(run_id))
            return [one.event.id for one in log.events(run_id)], lost


class Served:
    """`festoon serve` in a process that was begun already, once it has said where it is."""

    def __init__(self, process: subprocess.Popen[str] | Forked, errors: Path) -> None:
        self._process = process
        self._errors = errors
        assert process.stdout is not None
        self.said = ""
        for line in process.stdout:
            self.said += line
            if "Ctrl-C" in line:
                break
        found = re.search(r"https?://([^/\s]+)/wall\?run=(\S+)", self.said)
        if not found:
            process.wait(PATIENCE_S)
            raise RuntimeError(f"the server did not start: {self.said}{self.told}")
        self.host, self.run_id = found[1], found[2]

    @property
    def told(self) -> str:
        """What it wrote to its standard error so far."""
        return self._errors.read_text(encoding="utf-8")

    @property
    def path(self) -> str:
        """Where the websocket of its run is."""
        return f"/api/runs/{self.run_id}/live"

    def snapshot(self) -> dict[str, Any]:
        """What a new desk is shown."""
        return dict(json.loads(self._asked(f"/api/runs/{self.run_id}")))

    def memory_bytes(self) -> float:
        """What it holds in memory, as it says itself."""
        found = re.search(rb"(?m)^process_resident_memory_bytes (\S+)$", self._asked("/metrics"))
        assert found is not None
        return float(found[1])

    def kill(self) -> None:
        """As a power cut would."""
        self._process.kill()
        self._process.wait(PATIENCE_S)

    def stop(self) -> None:
        """As whoever goes home would."""
        self._process.terminate()
        self._process.wait(PATIENCE_S)

    def _asked(self, path: str) -> bytes:
        with urllib.request.urlopen(f"http://{self.host}{path}", timeout=PATIENCE_S) as answer:
            return bytes(answer.read())


class Server(Served):
    """One from nothing, whose wall clock is that of its place; `process` is its own."""

    def __init__(self, place: Place) -> None:
        command = [sys.executable, "-m", "tests.bench.faults.launcher", place.offset, "serve", *place.arguments]
        errors = place.folder / "errors"
        with errors.open("w", encoding="utf-8") as told:
            self.process = subprocess.Popen(
                list(map(str, command)), cwd=ROOT, stdout=subprocess.PIPE, stderr=told, text=True
            )
        super().__init__(self.process, errors)


@contextmanager
def serving(place: Place) -> Iterator[Server]:
    """A server, until the block ends."""
    server = Server(place)
    try:
        yield server
    finally:
        server.process.kill()
        server.process.wait(PATIENCE_S)
        if server.process.stdout:
            server.process.stdout.close()


@contextmanager
def forked(place: Place, *more: str | Path) -> Iterator[Served]:
    """The same in a tenth of the time, by the true clock, with more arguments; `tests/forked.py` says how."""
    errors = place.folder / "errors"
    with errors.open("w", encoding="utf-8") as told:
        process = Forked("serve", *place.arguments, *more, errors=told.fileno())
    with process:
        try:
            yield Served(process, errors)
        finally:
            process.kill()


class Line(Protocol):
    """A connection over which texts go both ways; iterated it ends when the other end is gone, or raises."""

    def send(self, text: str, /) -> None: ...
    def __iter__(self) -> Iterator[str | bytes]: ...


class Reporting:
    """Whoever reports over a line without waiting, and keeps what they are told; `leave` ends the line."""

    def __init__(self, line: Line, leave: Callable[[], object]) -> None:
        self.taken: dict[str, int] = {}
        self.unanswered: dict[str, dict[str, Any]] = {}
        self.known: set[str] = set()
        self.refused: list[str] = []
        self.warnings: list[list[str]] = []
        self.alarms: list[str] = []
        self.kinds: list[str] = []
        self.times_s: list[float] = []
        self._line = line
        self._leave = leave
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def report(self, event_id: str, kind: str, **keys: Any) -> None:
        """Send one event; a server that is gone is no error."""
        self.report_again({"id": event_id, "kind": kind, "source": "tap", **keys})

    def report_again(self, event: dict[str, Any]) -> None:
        """Send an event as it is; it is unanswered until it is taken, or refused for good."""
        self.unanswered[event["id"]] = event
        self.send({"type": "event", "event": event})

    def send(self, message: dict[str, Any]) -> None:
        """Send any message."""
        with suppress(ConnectionClosed, OSError):
            self._line.send(json.dumps(message))

    def close(self) -> None:
        """Leave, once all that was sent has been read."""
        self._leave()
        self._thread.join(PATIENCE_S)

    def _listen(self) -> None:
        with suppress(ConnectionClosed, OSError):
            for text in self._line:
                self._hear(json.loads(text))

    def _hear(self, message: dict[str, Any]) -> None:
        if message["type"] == "taken":
            self.taken[message["id"]] = message["seq"]
            self.unanswered.pop(message["id"], None)
        elif message["type"] == "refused":
            if not message["again"]:
                self.unanswered.pop(message["id"], None)
            (self.known.add(message["id"]) if message.get("known") else self.refused.append(message["reason"]))
        elif message["type"] == "time":
            self.times_s.append(message["now_s"])
        if "warnings" in message:
            self.warnings.append(message["warnings"])
        for alarm in [*message.get("alarms", []), *message.get("view", {}).get("alarms", [])]:
            self.alarms.append(alarm.get("key", ""))
        self.kinds += [event["kind"] for event in message.get("events", [])]


class Screen(Reporting):
    """A desk of a server."""

    def __init__(self, server: Served) -> None:
        stack, address = ExitStack(), f"ws://{server.host}{server.path}"
        opening = connect(address, proxy=None, compression=None, open_timeout=PATIENCE_S)
        super().__init__(stack.enter_context(opening), stack.close)


def until(true: Callable[[], object], within_s: float = PATIENCE_S) -> float | None:
    """How long it took until something was true; None where it was not by then."""
    begun = time.monotonic()
    while time.monotonic() - begun < within_s:
        if true():
            return time.monotonic() - begun
        time.sleep(0.01)
    return None


class Ledger:
    """What was acknowledged over many lives of a server, held against the log."""

    def __init__(self) -> None:
        self.taken: dict[str, int] = {}

    def add(self, screen: Reporting) -> None:
        """Note what one screen was told as taken."""
        self.taken |= screen.taken

    def against(self, ids: list[str]) -> tuple[int, int]:
        """How many of the acknowledged are not there, and how many are there twice."""
        return len(set(self.taken) - set(ids)), len(ids) - len(set(ids))
