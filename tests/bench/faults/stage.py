"""A served run of two houses, a screen that reports to it, and the ledger of what was acknowledged."""

import json
import re
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from server.runlog import StoredRuns

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

    def set_clock(self, offset_s: float) -> None:
        """Set the wall clock of the servers here, so far from the true one."""
        part = self.offset.with_suffix(".part")
        part.write_text(str(offset_s), encoding="ascii")
        part.rename(self.offset)

    def stored(self, run_id: str) -> tuple[list[str], int]:
        """The ids of a run's log, and how many events it says that it lost."""
        with closing(StoredRuns.reading(self.data)) as log:
            lost = sum(one.last - one.first + 1 for one in log.lost(run_id))
            return [one.event.id for one in log.events(run_id)], lost


class Server:
    """`festoon serve`, once it has said where it is; `told` is its standard error."""

    def __init__(self, place: Place) -> None:
        self._errors = (place.folder / "errors").open("w+", encoding="utf-8")
        command = [sys.executable, "-m", "tests.bench.faults.launcher", place.offset, "serve", place.plan]
        self.process = subprocess.Popen(
            [*map(str, command), "--data", str(place.data), "--port", "0"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=self._errors,
            text=True,
        )
        assert self.process.stdout is not None
        self.said = ""
        for line in self.process.stdout:
            self.said += line
            if "Ctrl-C" in line:
                break
        found = re.search(r"https?://([^/\s]+)/wall\?run=(\S+)", self.said)
        if not found:
            self.process.wait(PATIENCE_S)
            raise RuntimeError(f"the server did not start: {self.said}{self.told}")
        self.host, self.run_id = found[1], found[2]

    @property
    def told(self) -> str:
        """What it wrote to its standard error so far."""
        return Path(self._errors.name).read_text(encoding="utf-8")

    def snapshot(self) -> dict[str, Any]:
        """What a new desk is shown."""
        with urllib.request.urlopen(f"http://{self.host}/api/runs/{self.run_id}", timeout=PATIENCE_S) as answer:
            return dict(json.load(answer))

    def kill(self) -> None:
        """As a power cut would."""
        self.process.kill()
        self.process.wait(PATIENCE_S)

    def stop(self) -> None:
        """As whoever goes home would."""
        self.process.terminate()
        self.process.wait(PATIENCE_S)


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


class Screen:
    """A desk that reports without waiting, and keeps what it is told."""

    def __init__(self, server: Server) -> None:
        self.taken: dict[str, int] = {}
        self.known: set[str] = set()
        self.refused: list[str] = []
        self.warnings: list[list[str]] = []
        self.alarms: list[str] = []
        self.kinds: list[str] = []
        self.times_s: list[float] = []
        address = f"ws://{server.host}/api/runs/{server.run_id}/live"
        self._socket = connect(address, proxy=None, compression=None, open_timeout=PATIENCE_S)
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def report(self, event_id: str, kind: str, **keys: Any) -> None:
        """Send one event; a server that is gone is no error."""
        self.send({"type": "event", "event": {"id": event_id, "kind": kind, "source": "tap", **keys}})

    def send(self, message: dict[str, Any]) -> None:
        """Send any message."""
        with suppress(ConnectionClosed, OSError):
            self._socket.send(json.dumps(message))

    def close(self) -> None:
        """Leave, once all that was sent has been read."""
        self._socket.close()
        self._thread.join(PATIENCE_S)

    def _listen(self) -> None:
        with suppress(ConnectionClosed, OSError):
            for text in self._socket:
                self._hear(json.loads(text))

    def _hear(self, message: dict[str, Any]) -> None:
        if message["type"] == "taken":
            self.taken[message["id"]] = message["seq"]
        elif message["type"] == "refused":
            (self.known.add(message["id"]) if message.get("known") else self.refused.append(message["reason"]))
        elif message["type"] == "time":
            self.times_s.append(message["now_s"])
        if "warnings" in message:
            self.warnings.append(message["warnings"])
        for alarm in [*message.get("alarms", []), *message.get("view", {}).get("alarms", [])]:
            self.alarms.append(alarm.get("key", ""))
        self.kinds += [event["kind"] for event in message.get("events", [])]


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

    def add(self, screen: Screen) -> None:
        """Note what one screen was told as taken."""
        self.taken |= screen.taken

    def against(self, ids: list[str]) -> tuple[int, int]:
        """How many of the acknowledged are not there, and how many are there twice."""
        return len(set(self.taken) - set(ids)), len(ids) - len(set(ids))
