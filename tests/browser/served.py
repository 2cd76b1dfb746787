"""Festoon served by a process of its own."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from threading import Timer
from typing import NamedTuple

from tests.forked import Forked

PATIENCE_S = 60.0
READY = "Stop with Ctrl-C."

PLAN = """\
format = "festoon-plan/1"
title = "{title}"
site = "Quarry Lane Pictures"

[timing]
motors_at = {now:%Y-%m-%dT%H:%M:%SZ}

[[print]]
id = "leader"
kind = "leader"
feet = 60

[[print]]
id = "short"
kind = "feature"
title = "A Short Walk"
duration = "10:00"

[[print]]
id = "tail"
kind = "tail"
feet = 150

[[stations]]
id = "a"
house = "1"
inputs = {{ motor = "tap", lamp = "tap", douser = "none", cue = "tap" }}

[[stations]]
id = "b"
house = "2"
path_ft = 100
rollers = 8
inputs = {{ motor = "tap", lamp = "tap", douser = "none", cue = "tap" }}
"""


TITLES = ("A Short Walk", "Two by Lantern Light")

LAN = "192.0.2.9"
"""An address that the browser finds at 127.0.0.1 (conftest). Who asks by it is not at this computer (RFC 5737)."""


class Served(NamedTuple):
    """A server that desks can connect to: its process, the address it told, and its runs by id."""

    process: Forked
    base: str
    runs: list[str]

    def desk(self, name: str) -> str:
        """The address of a desk of the first run."""
        return f"{self.base}/{name}?run={self.runs[0]}"

    @property
    def port(self) -> int:
        return int(self.base.rpartition(":")[2])

    def stall(self) -> None:
        """Stop the process where it is: its sockets stay open and say nothing more."""
        self.process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """Let a stalled process go on."""
        self.process.send_signal(signal.SIGCONT)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()


@contextmanager
def served(*arguments: str, errors: int | None = None) -> Iterator[Served]:
    """Start `festoon` with `arguments`, wait until desks can connect, and end it afterwards."""
    with Forked(*arguments, errors=errors) as process:
        try:
            yield _started(process)
        finally:
            process.kill()


def _started(process: Forked) -> Served:
    """Read what is told until desks can connect; a server that never says so is killed, which ends the reading."""
    told: list[str] = []
    too_late = Timer(PATIENCE_S, process.kill)
    too_late.start()
    for line in process.stdout:
        told.append(line.rstrip())
        if told[-1] == READY:
            break
    too_late.cancel()
    assert READY in told, f"the server did not start; it told {told}"
    runs = [line for before, line in zip(told[1:], told, strict=False) if before.startswith("  wall")]
    # Without a run there is no lobby to tell of.
    desk = next(line.split()[1] for line in told if line.startswith(("  lobby", "  plan", "  overview")))
    return Served(process, desk.rpartition("/")[0], runs)


def written_plan(folder: Path, title: str = TITLES[0]) -> Path:
    """Write a plan of two houses whose motors are to start now."""
    path = folder / f"{title}.plan.toml"
    path.write_text(PLAN.format(title=title, now=datetime.now(UTC)), encoding="utf-8")
    return path


@contextmanager
def served_plans(*plans: Path, port: int = 0) -> Iterator[Served]:
    """A live run of each plan; the log is beside them, so that a second start goes on with the runs."""
    data = plans[0].parent / "log"
    with served("serve", *map(str, plans), "--port", str(port), "--data", str(data)) as server:
        yield server
