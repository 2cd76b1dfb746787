"""How long a tap takes to the last of many desks, what it costs the server, and how that compares to a bare broadcast.

    python -m tests.bench.fanout [--desks 1,20,200,500] [--events 200] [--plan fixtures/plans/sixteen.plan.toml]

The server is `festoon serve` as it is installed, on a log of its own on disk; a tap is sent by one desk, goes through
the log's commit and the engine, and counts as delivered when every desk has the whole change. The bare server is the
`websockets` library's `broadcast` on the same event loop: it is told to send, byte for byte, the changes that Festoon
sent, and neither commits nor computes, nor pings more often than by default. Both are measured in turns, in one run,
with the same load client, on the same processors: compare the ratios, for milliseconds swing with what else runs.
"""

import argparse
import json
import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from server.timeline.events import rfc3339
from server.timeline.plan import Plan, parse_plan
from tests.bench.crowd import Crowd

PERIOD_S = 0.1
INTO_THE_SHOW = timedelta(minutes=25)


class Block(NamedTuple):
    """One turn of one server: what each event took to the last desk, and what the server spent on all of them."""

    delays_s: list[float]
    cpu_s: float
    desk_bytes: float
    messages: dict[str, bytes]


class Figures(NamedTuple):
    """All turns of one server with so many desks; times in ms, cost in µs a delivery, memory in KiB a desk."""

    p50_ms: float
    p99_ms: float
    cost_us: float
    desk_kib: float


@contextmanager
def started(command: Sequence[str]) -> Iterator[tuple[int, str]]:
    """A server in a process of its own: its pid and its address, which is the first that it prints."""
    process = subprocess.Popen([sys.executable, *command], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    found = (re.search(r"http://([0-9.]+:[0-9]+)", printed) for printed in process.stdout)
    address = next(match[1] for match in found if match)
    try:
        yield process.pid, address
    finally:
        process.terminate()
        process.communicate()


@contextmanager
def festoon(plan_file: Path, show: Sequence[dict[str, object]]) -> Iterator[tuple[int, str, str]]:
    """The real server with a run that has got so far as `show` says: its pid, its address and its websocket's path."""
    with tempfile.TemporaryDirectory(dir=Path.home()) as data:
        command = ["serve", str(plan_file), "--port", "0", "--data", data]
        with started(["-c", "from server.cli import main; main()", *command]) as (pid, address):
            with urllib.request.urlopen(f"http://{address}/api/runs") as answer:
                run = json.load(answer)[0]["run"]
            for event in show:
                post(f"http://{address}/api/runs/{run}/events", event)
            yield pid, address, f"/api/runs/{run}/live"


def post(url: str, event: dict[str, object]) -> None:
    body = json.dumps(event).encode()
    with urllib.request.urlopen(urllib.request.Request(url, body, {"content-type": "application/json"})) as answer:
        assert answer.status == 200


def show_so_far(plan: Plan) -> list[dict[str, object]]:
    """Every motor was started by its offset, and each head that is due by now was seen."""
    events: list[dict[str, object]] = []
    for index, station in enumerate(plan.stations):
        start_s, head_s = station.start_offset_s, plan.mark("head").x_s + plan.ahead_s[index]
        events.append(event_at(plan, start_s, f"start {station.id}", "motor_start", station=station.id))
        if head_s < INTO_THE_SHOW.total_seconds():
            events.append(event_at(plan, head_s, f"head {station.id}", "mark_pass", station=station.id, mark="head"))
    return events


def event_at(plan: Plan, at_s: float, name: str, kind: str, **keys: object) -> dict[str, object]:
    moment = rfc3339(plan.zero + timedelta(seconds=round(at_s, 3)))
    return {"id": name, "t": moment, "kind": kind, "source": "contact", **keys}


def taps(plan: Plan, count: int, turn: int) -> Iterator[dict[str, object]]:
    """What people tap: a third readings of slack, which move every estimate, a third lamps, a third notes."""
    luck = random.Random(turn)
    for number in range(count):
        name, station = f"bench-{turn}-{number}.", plan.stations[1 + number // 3 % (len(plan.stations) - 1)]
        tap: dict[str, object] = {"id": name, "source": "tap:pad", "by": "Ida"}
        if number % 3 == 0:
            yield tap | {"kind": "slack_read", "station": station.id, "seconds": round(luck.gauss(0.0, 0.2), 2)}
        elif number % 3 == 1:
            kind = "lamp_lit" if number // 3 % 2 else "lamp_out"
            yield tap | {"kind": kind, "station": station.id}
        else:
            yield tap | {"kind": "note", "text": "Looked at the rollers over the door: nothing to see."}


def block(pid: int, address: str, path: str, desks: int, events: Sequence[dict[str, object]]) -> Block:
    """One turn: connect that many desks, send the events one by one, and take the measures."""
    memory = resident_bytes(pid)
    with Crowd(address, path, desks) as crowd:
        desk_bytes = (resident_bytes(pid) - memory) / desks
        delays_s, messages = [], {}
        cpu_s = processor_s(pid)
        due = time.perf_counter()
        for event in events:
            name = str(event["id"])
            text = json.dumps({"type": "event", "event": event})
            delay_s, messages[name] = crowd.deliver(text, name.encode())
            delays_s.append(delay_s)
            due += PERIOD_S
            crowd.rest(due)
        return Block(delays_s, processor_s(pid) - cpu_s, desk_bytes, messages)


def processor_s(pid: int) -> float:
    """Processor time of all threads of a process, to a nanosecond.

    The clock that clock_getcpuclockid(3) gives, made as Linux makes it: the figures of proc(5) come in steps of 10 ms.
    """
    return time.clock_gettime((~pid << 3) | 2)


def resident_bytes(pid: int) -> int:
    """Memory of a process that is in use, the kernel's socket buffers not counted (proc(5), statm)."""
    return int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def figures(blocks: Sequence[Block], desks: int) -> Figures:
    delays_ms = sorted(delay_s * 1000 for turn in blocks for delay_s in turn.delays_s)
    deliveries = len(delays_ms) * desks
    p99_ms = delays_ms[min(len(delays_ms) - 1, int(len(delays_ms) * 0.99))]
    cost_us = sum(turn.cpu_s for turn in blocks) / deliveries * 1e6
    return Figures(statistics.median(delays_ms), p99_ms, cost_us, blocks[0].desk_bytes / 1024)


def measure(plan_file: Path, plan: Plan, desks: int, count: int, turns: int) -> None:
    """So many turns of each server with so many desks, one after the other, and a line of figures."""
    ours, bare = [], []
    for turn in range(turns):
        events = list(taps(plan, count // turns, turn))
        with festoon(plan_file, show_so_far(plan)) as (pid, address, path):
            ours.append(block(pid, address, path, desks, events))
        with tempfile.NamedTemporaryFile("w", suffix=".json") as told:
            json.dump({name: message.decode() for name, message in ours[-1].messages.items()}, told)
            told.flush()
            with started(["-m", "tests.bench.bare", told.name]) as (pid, address):
                bare.append(block(pid, address, "/", desks, events))
    sizes = [len(message) for turn in ours for message in turn.messages.values()]
    say(line(desks, figures(ours, desks), figures(bare, desks), sizes))


HEAD = (
    f"{'desks':>5}  {'festoon p50 / p99 ms':>21}  {'bare p50 / p99 ms':>18}  {'ratio p50 / p99':>15}"
    f"  {'µs a delivery':>14}  {'ratio':>5}  {'KiB a desk':>12}  bytes a change: least, median, most"
)


def line(desks: int, ours: Figures, bare: Figures, sizes: Sequence[int]) -> str:
    return (
        f"{desks:>5}  {ours.p50_ms:>12.2f} / {ours.p99_ms:>6.2f}  {bare.p50_ms:>9.2f} / {bare.p99_ms:>6.2f}"
        f"  {ours.p50_ms / bare.p50_ms:>8.2f} / {ours.p99_ms / bare.p99_ms:>4.2f}"
        f"  {ours.cost_us:>5.1f} / {bare.cost_us:>6.1f}  {ours.cost_us / bare.cost_us:>5.2f}"
        f"  {ours.desk_kib:>4.0f} / {bare.desk_kib:>5.0f}  {min(sizes)}, {statistics.median(sizes):.0f}, {max(sizes)}"
    )


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> None:
    """Measure for each number of desks that was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--desks", default="1,20,200,500")
    parser.add_argument("--events", type=int, default=200)
    parser.add_argument("--turns", type=int, default=2)
    parser.add_argument("--plan", type=Path, default=Path("fixtures/plans/sixteen.plan.toml"))
    asked = parser.parse_args()
    moment = (datetime.now(UTC) - INTO_THE_SHOW).replace(microsecond=0)
    text = re.sub(r"(?m)^motors_at = .*$", f"motors_at = {moment.isoformat()}", asked.plan.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        plan_file = Path(folder) / "bench.plan.toml"
        plan_file.write_text(text, encoding="utf-8")
        plan = parse_plan(text, asked.plan.name)
        say(f"{asked.plan}: {len(plan.stations)} stations, {asked.events} events, {1 / PERIOD_S:.0f} a second")
        say(HEAD)
        for desks in (int(number) for number in asked.desks.split(",")):
            measure(plan_file, plan, desks, asked.events, asked.turns)


if __name__ == "__main__":
    main()
