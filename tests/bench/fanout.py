"""How long a tap takes to the last of many desks, what it costs the server, and how that compares to a bare broadcast.

    python -m tests.bench.fanout [--desks 20,200] [--events 90] [--turns 3] [--ways library,asgi,still] [--idle 10]

The server is `festoon serve` as it is installed, on a log of its own on disk; a tap is sent by one desk, goes through
the log's commit and the engine, and counts as delivered when every desk has the whole change. The bare server is the
`websockets` library's `broadcast` on the same event loop: it sends, byte for byte, the changes that Festoon sent, and
neither commits nor computes, nor pings more often than by default. `--ways` adds Festoon with other ways to its desks
or without its engine (ways.py). All run at the same time, with the same load client on the same processors, and each
event goes to each of them in turn: compare the ratios, for milliseconds swing with what else runs.

Processor time is all that a server spends in a turn, signs of life included, less what the bare one spends on being
told what to send. `engine` is what the engine alone takes for the same events, in this program: what is left of
Festoon's is the way to the log and to the desks. `--idle` measures so many seconds without an event.
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
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from server.timeline.engine import Engine
from server.timeline.events import event_from_json, rfc3339
from server.timeline.plan import Plan, parse_plan
from tests.bench.crowd import TEXT, Crowd, Listener

PERIOD_S = 0.1
SETTLES_S = 1.0
INTO_THE_SHOW = timedelta(minutes=25)
KINDS = {"slack_read": "reading", "lamp_lit": "lamp", "lamp_out": "lamp", "note": "note"}
BARE = "bare"
FESTOON = "festoon"

Tap = dict[str, object]


class Delivery(NamedTuple):
    """One event at one server: how long to the last desk, and what the server spent until the next event's turn."""

    kind: str
    delay_s: float
    cpu_s: float
    size_bytes: int


class Idle(NamedTuple):
    """One server without an event: what it sends a desk, and spends, in a second."""

    desk_bytes: float
    cpu_s: float


class Server:
    """One server that is measured, with its desks."""

    def __init__(self, pid: int, address: str, path: str, desks: int) -> None:
        memory = resident_bytes(pid)
        self.pid = pid
        self.crowd = Crowd(address, path, desks)
        self.desk_bytes = (resident_bytes(pid) - memory) / desks
        self.deliveries: list[Delivery] = []
        self.message = b""
        self._before_s = processor_s(pid)

    def deliver(self, tap: Tap, until: float) -> None:
        """Let one desk send a tap, wait for the change at the last, and listen on until that time."""
        self.crowd.rest(0.0)
        text = json.dumps({"type": "event", "event": tap})
        delay_s, self.message = self.crowd.deliver(text, str(tap["id"]).encode())
        self.crowd.rest(until)
        # What was spent since the turn before is this one's: signs of life go out between two turns as well.
        self.deliveries.append(Delivery(KINDS[str(tap["kind"])], delay_s, self.spent_s(), len(self.message)))

    def spent_s(self) -> float:
        """Processor time since it was asked for last."""
        before_s, self._before_s = self._before_s, processor_s(self.pid)
        return self._before_s - before_s


class BareServer(Server):
    """The bare server, and the one connection by which it is told what it will have to send."""

    def __init__(self, pid: int, address: str, path: str, desks: int) -> None:
        super().__init__(pid, address, path, desks)
        self._teller = Listener(address, path)
        self._teller.socket.setblocking(True)

    def keep(self, tap: Tap, message: bytes) -> None:
        """Tell it what to send for a tap; what that costs it does not count."""
        before_s = processor_s(self.pid)
        self._teller.send(TEXT, json.dumps({"keep": tap["id"], "message": message.decode()}).encode())
        while not self._teller.frames():
            pass
        self._before_s += processor_s(self.pid) - before_s


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
def festoon(plan_file: Path, show: Sequence[Tap], way: str = FESTOON) -> Iterator[tuple[int, str, str]]:
    """The real server with a run that has got so far as `show` says: its pid, its address and its websocket's path."""
    module = ["-c", "from server.cli import main; main()"] if way == FESTOON else ["-m", "tests.bench.ways", way]
    with (
        tempfile.TemporaryDirectory(dir=Path.home()) as data,
        started([*module, "serve", str(plan_file), "--port", "0", "--data", data]) as (pid, address),
    ):
        with urllib.request.urlopen(f"http://{address}/api/runs") as answer:
            run = json.load(answer)[0]["run"]
        for event in show:
            post(f"http://{address}/api/runs/{run}/events", event)
        yield pid, address, f"/api/runs/{run}/live"


def post(url: str, event: Tap) -> None:
    body = json.dumps(event).encode()
    with urllib.request.urlopen(urllib.request.Request(url, body, {"content-type": "application/json"})) as answer:
        assert answer.status == 200


def show_so_far(plan: Plan) -> list[Tap]:
    """Every motor was started by its offset, and each head that is due by now was seen."""
    events: list[Tap] = []
    for index, station in enumerate(plan.stations):
        start_s, head_s = station.start_offset_s, plan.mark("head").x_s + plan.ahead_s[index]
        events.append(event_at(plan, start_s, f"start {station.id}", "motor_start", station=station.id))
        if head_s < INTO_THE_SHOW.total_seconds():
            events.append(event_at(plan, head_s, f"head {station.id}", "mark_pass", station=station.id, mark="head"))
    return events


def event_at(plan: Plan, at_s: float, name: str, kind: str, **keys: object) -> Tap:
    moment = rfc3339(plan.zero + timedelta(seconds=round(at_s, 3)))
    return {"id": name, "t": moment, "kind": kind, "source": "contact", **keys}


def taps(plan: Plan, count: int, turn: int) -> Iterator[Tap]:
    """What people tap: a third readings of slack, which move every estimate, a third lamps, a third notes."""
    luck = random.Random(turn)
    for number in range(count):
        name, station = f"bench-{turn}-{number}.", plan.stations[1 + number // 3 % (len(plan.stations) - 1)]
        tap: Tap = {"id": name, "source": "tap:pad", "by": "Ida"}
        if number % 3 == 0:
            yield tap | {"kind": "slack_read", "station": station.id, "seconds": round(luck.gauss(0.0, 0.2), 2)}
        elif number % 3 == 1:
            kind = "lamp_lit" if number // 3 % 2 else "lamp_out"
            yield tap | {"kind": kind, "station": station.id}
        else:
            yield tap | {"kind": "note", "text": "Looked at the rollers over the door: nothing to see."}


def processor_s(pid: int) -> float:
    """Processor time of all threads of a process, to a nanosecond.

    The clock that clock_getcpuclockid(3) gives, made as Linux makes it: the figures of proc(5) come in steps of 10 ms.
    """
    return time.clock_gettime((~pid << 3) | 2)


def resident_bytes(pid: int) -> int:
    """Memory of a process that is in use, the kernel's socket buffers not counted (proc(5), statm)."""
    return int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def engine_s(plan: Plan, count: int, turn: int) -> dict[str, float]:
    """What the engine alone takes for one event of each kind of a turn's: processor time of this program."""
    engine, spent = Engine(plan), dict[str, list[float]]()
    now_us = round(INTO_THE_SHOW.total_seconds() * 1e6)
    for told in show_so_far(plan):
        engine.take(event_from_json(told), now_us)
    for tap in taps(plan, count, turn):
        now_us += round(PERIOD_S * 1e6)
        event = event_from_json(tap | {"t": rfc3339(plan.zero + timedelta(microseconds=now_us))})
        begun_s = time.thread_time()
        engine.refusal(event)
        engine.take(event, now_us)
        engine.next_wake_us()
        spent.setdefault(KINDS[str(tap["kind"])], []).append(time.thread_time() - begun_s)
    return {kind: statistics.mean(each) for kind, each in spent.items()}


class Turns(NamedTuple):
    """All turns with so many desks, by server, and what the engine alone took, by kind."""

    deliveries: dict[str, list[Delivery]]
    idle: dict[str, list[Idle]]
    desk_bytes: dict[str, list[float]]
    engine: list[dict[str, float]]


def measure(plan_file: Path, plan: Plan, desks: int, asked: argparse.Namespace) -> Turns:
    """So many turns with so many desks, in each of which all servers are there at once."""
    turns = Turns({}, {}, {}, [])
    ways = [FESTOON, *(way for way in asked.ways.split(",") if way)]
    for turn in range(asked.turns):
        events = list(taps(plan, asked.events, turn))
        with ExitStack() as stack:
            # All are there before the first desk is: a desk that answers no ping for too long is dropped.
            there = {way: stack.enter_context(festoon(plan_file, show_so_far(plan), way)) for way in ways}
            bare_there = stack.enter_context(started(["-m", "tests.bench.bare"]))
            servers = {way: Server(*where, desks) for way, where in there.items()}
            servers[BARE] = bare = BareServer(*bare_there, "/", desks)
            for server in servers.values():
                stack.enter_context(server.crowd)
            for name, idle in idles(servers, asked.idle).items():
                turns.idle.setdefault(name, []).append(idle)
            play(servers, bare, events)
            for name, server in servers.items():
                turns.deliveries.setdefault(name, []).extend(server.deliveries)
                turns.desk_bytes.setdefault(name, []).append(server.desk_bytes)
        turns.engine.append(engine_s(plan, asked.events, turn))
    return turns


def play(servers: dict[str, Server], bare: BareServer, events: Sequence[Tap]) -> None:
    """Each event at each server in turn, the bare one last: by then it is known what it has to send."""
    for server in servers.values():
        server.spent_s()
    due = time.perf_counter()
    for tap in events:
        for server in servers.values():
            if server is bare:
                bare.keep(tap, servers[FESTOON].message)
            due += PERIOD_S / len(servers)
            server.deliver(tap, due)


def idles(servers: dict[str, Server], seconds: float) -> dict[str, Idle]:
    """What each server does for so many seconds without an event, once the last desk has its snapshot."""
    listen(servers, SETTLES_S)
    for server in servers.values():
        server.spent_s()
        server.crowd.heard_bytes = 0
    listen(servers, seconds)
    desks = {name: len(server.crowd) for name, server in servers.items()}
    return {
        name: Idle(server.crowd.heard_bytes / seconds / desks[name], server.spent_s() / seconds)
        for name, server in servers.items()
        if seconds
    }


def listen(servers: dict[str, Server], seconds: float) -> None:
    """Let all desks read what comes, for so long."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        for server in servers.values():
            server.crowd.rest(time.perf_counter() + 0.05)


class Figures(NamedTuple):
    """What a server made of events; times in ms, processor time an event."""

    p50: float
    p95: float
    cpu: float


def figures(deliveries: Sequence[Delivery]) -> Figures:
    delays_ms = sorted(each.delay_s * 1000 for each in deliveries)
    p95_ms = delays_ms[min(len(delays_ms) - 1, int(len(delays_ms) * 0.95))]
    return Figures(statistics.median(delays_ms), p95_ms, statistics.mean(each.cpu_s for each in deliveries) * 1000)


HEAD = (
    f"{'desks':>5} {'server':>8} {'events':>8}  {'processor ms an event: it, bare, ratio, engine':>47}"
    f"  {'p50 ms: it, bare, ratio':>25}  {'p95 ms: it, bare, ratio':>25}  bytes: median, most"
)


def lines(desks: int, turns: Turns) -> Iterator[str]:
    """A line for each server beside the bare one, of all events and of each kind."""
    for name, deliveries in turns.deliveries.items():
        for kind in ("all", *dict.fromkeys(KINDS.values())) if name != BARE else ():
            ours, bare = (
                [each for each in which if kind in {"all", each.kind}] for which in (deliveries, turns.deliveries[BARE])
            )
            it, other = figures(ours), figures(bare)
            engine = statistics.mean(
                statistics.mean(each.values()) if kind == "all" else each[kind] for each in turns.engine
            )
            sizes = [each.size_bytes for each in ours]
            yield (
                f"{desks:>5} {name:>8} {kind:>8}  {it.cpu:>21.2f} {other.cpu:>7.2f} {it.cpu / other.cpu:>7.2f}"
                f" {engine * 1000:>8.2f}  {it.p50:>10.2f} {other.p50:>7.2f} {it.p50 / other.p50:>6.2f}"
                f"  {it.p95:>10.2f} {other.p95:>7.2f} {it.p95 / other.p95:>6.2f}"
                f"  {statistics.median(sizes):.0f}, {max(sizes)}"
            )


def idle_line(desks: int, turns: Turns) -> str:
    """What each server sends a desk, spends and holds for it while nothing happens."""
    told = [
        f"{name} {statistics.mean(each.desk_bytes for each in idle):.0f} bytes a second and desk,"
        f" {statistics.mean(each.cpu_s for each in idle) * 1000:.1f} ms a second,"
        f" {statistics.mean(turns.desk_bytes[name]) / 1024:.0f} KiB a desk"
        for name, idle in turns.idle.items()
    ]
    return f"{desks:>5} idle: {'; '.join(told)}"


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> None:
    """Measure for each number of desks that was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--desks", default="20,200")
    parser.add_argument("--events", type=int, default=90, help="in one turn")
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--ways", default="", help="of asgi, library and still, with a comma between")
    parser.add_argument("--idle", type=float, default=5.0, help="seconds")
    parser.add_argument("--plan", type=Path, default=Path("fixtures/plans/sixteen.plan.toml"))
    asked = parser.parse_args()
    moment = (datetime.now(UTC) - INTO_THE_SHOW).replace(microsecond=0)
    text = re.sub(r"(?m)^motors_at = .*$", f"motors_at = {moment.isoformat()}", asked.plan.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        plan_file = Path(folder) / "bench.plan.toml"
        plan_file.write_text(text, encoding="utf-8")
        plan = parse_plan(text, asked.plan.name)
        say(f"{asked.plan}: {len(plan.stations)} stations, {1 / PERIOD_S:.0f} events a second at each server")
        say(HEAD)
        for desks in (int(number) for number in asked.desks.split(",")):
            turns = measure(plan_file, plan, desks, asked)
            for line in lines(desks, turns):
                say(line)
            if asked.idle:
                say(idle_line(desks, turns))


if __name__ == "__main__":
    main()
