"""Killed at any instant, the log has every event that was acknowledged, and gives the run as it was."""

import hashlib
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

from server.live import Hub, LiveRun
from server.live.parts import Log
from server.runlog import RunLog
from tests.live.fakes import PLAN, HeldLog, ManualClock, Timers

WRITER = """
import asyncio, sys
from server.live import Hub
from server.runlog import RunLog
from tests.live.fakes import ZERO, tap
from tests.runlog.test_kill import run_on, shown

FIRST = (("motor_start", {}), ("motor_stop", {}), ("ack", {"alarm": "motor_lost:a", "by": "Ida"}))

async def one(run, n):
    kind, keys = FIRST[n] if n < 3 else ("slack_read", {"station": "b", "seconds": n / 1000})
    answer = await run.take(tap(f"e{n}", 100.0 + n / 100, kind, **keys))
    print("taken", answer.seq, answer.event.id, flush=True)

async def main():
    log = RunLog.open(sys.argv[1])
    if not log.runs():
        log.create_run("r1", "the plan", "x.plan.toml", ZERO)
    run = run_on(log)
    run.start()
    for n in range(len(log.events("r1")), 100_000, 4):
        await asyncio.gather(*(one(run, k) for k in range(n, n + 4)))
        print("shown", n + 4, shown(run), flush=True)

asyncio.run(main())
"""


def run_on(log: Log) -> LiveRun:
    """The run of this test at a time that stands, so that its view follows from its events alone."""
    return LiveRun("r1", PLAN, ManualClock(500.0), log, Hub(), call_later=Timers().call_later)


def shown(run: LiveRun) -> str:
    """The run's view, every digit of it, as one word."""
    return hashlib.sha256(repr(run.view).encode()).hexdigest()


async def test_every_acknowledged_event_is_there_after_a_kill(tmp_path: Path) -> None:
    """SIGKILL after a random number of acknowledgements, several times over: none is lost and their order stands; the
    run built from them shows what the killed one showed, alarms and acknowledgements included."""
    luck = random.Random(7)
    for _ in range(3):
        told = write_until_killed(tmp_path, luck.randrange(8, 60))
        log = RunLog.open(tmp_path)
        stored = log.events("r1")
        log.close()
        assert [event.seq for event in stored] == list(range(1, len(stored) + 1))
        acknowledged = {int(seq): name for word, seq, name in told if word == "taken"}
        assert {event.seq: event.event.id for event in stored if event.seq in acknowledged} == acknowledged
        _, count, view = [line for line in told if line[0] == "shown"][-1]
        again = HeldLog()
        again.stored = stored[: int(count)]
        rebuilt = run_on(again)
        rebuilt.start()
        assert shown(rebuilt) == view
        assert ("motor_lost:a", "Ida") in {(alarm.key, alarm.acked_by) for alarm in rebuilt.view.alarms}
        rebuilt.stop()


def write_until_killed(folder: Path, count: int) -> list[list[str]]:
    """Run a writer, kill it after that many lines; all the lines that it had written by then, in words."""
    command = [sys.executable, "-c", WRITER, str(folder)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    assert process.stdout is not None
    lines = [process.stdout.readline() for _ in range(count)]
    os.kill(process.pid, signal.SIGKILL)
    lines += process.stdout.readlines()
    process.stdout.close()
    process.wait()
    return [line.split() for line in lines if line.endswith("\n")]
