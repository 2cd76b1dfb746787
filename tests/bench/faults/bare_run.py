"""A live run on its log, talked to over a socket in lines: all of the server but its web server, begun in no time.

What a desk says goes the same way (`server.live.converse`), from the text of its message on. The process is forked
from one that has read the program, and spends a tenth of the time of `festoon serve`.
"""

import asyncio
import multiprocessing
import socket
from collections.abc import AsyncIterator, Iterator
from contextlib import closing, suppress
from multiprocessing.process import BaseProcess
from pathlib import Path

from server.clock import Clock
from server.live import Hub, Message, converse
from server.plan_runs import PlanFile, run_in_log
from server.runlog import RunLog
from server.timeline.plan import parse_plan
from server.upkeep.counting import CountedRun, Counters
from tests.bench.faults.stage import PATIENCE_S, Place, Reporting, until

_PROCESSES = multiprocessing.get_context("forkserver")
READ_BYTES = 1 << 16


def begun(place: Place) -> BaseProcess:
    """Such a process, on the log and with the plan of a place."""
    process = _PROCESSES.Process(target=_live, args=(place.plan, place.data, _door(place)))
    process.start()
    return process


def reporting(place: Place) -> Reporting:
    """Somebody who reports to it, once it is there."""
    line = Lines(_door(place))
    return Reporting(line, line.close)


class Lines:
    """The other end of its socket."""

    def __init__(self, door: Path) -> None:
        self._socket = socket.socket(socket.AF_UNIX)
        if until(lambda: self._socket.connect_ex(str(door)) == 0, PATIENCE_S) is None:
            raise TimeoutError("the run is not there")

    def send(self, text: str) -> None:
        """Say a line."""
        self._socket.sendall(text.encode() + b"\n")

    def __iter__(self) -> Iterator[str]:
        """What is said, until the other end is gone; half a line is none."""
        held = b""
        with self._socket:
            while data := self._socket.recv(READ_BYTES):
                *lines, held = (held + data).split(b"\n")
                yield from (line.decode() for line in lines)

    def close(self) -> None:
        """Leave, once what came was read: the other end is gone, or goes on."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_WR)


class LineDesk:
    """A desk at the run's end of a socket."""

    def __init__(self, writer: asyncio.StreamWriter) -> None:
        self._writer = writer

    def write(self, message: Message) -> None:
        """As `server.live.Desk`."""
        self._writer.write(message.text + b"\n")

    @property
    def buffered_bytes(self) -> int:
        """As `server.live.Desk`."""
        return self._writer.transport.get_write_buffer_size()

    def close(self) -> None:
        """As `server.live.Desk`."""
        self._writer.transport.abort()


def _door(place: Place) -> Path:
    return place.folder / "door"


def _live(plan: Path, data: Path, door: Path) -> None:
    """Go on with the run of a plan as `festoon serve` does, until the process ends."""
    text = plan.read_text(encoding="utf-8")
    file = PlanFile(plan.name, text, parse_plan(text, plan.name))
    door.unlink(missing_ok=True)
    with closing(RunLog.open(data)) as log:
        run_id = run_in_log(log, file, lambda _line: None)
        run = CountedRun(run_id, file.plan, Clock(), log, Hub(), Counters())
        asyncio.run(_served(run, door))


async def _served(run: CountedRun, door: Path) -> None:
    run.start()

    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await converse(run, LineDesk(writer), _texts(reader))

    server = await asyncio.start_unix_server(talk, door)
    await server.serve_forever()


async def _texts(reader: asyncio.StreamReader) -> AsyncIterator[str]:
    while line := await reader.readline():
        yield line.decode()
