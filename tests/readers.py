"""What every reader makes of any bytes whatever: what they say, or faults that say where and what; nothing else.

Tests give each reader what may come to be wrong in a file; `tests.bench.fuzz` looks for what they did not think of.
"""

import asyncio
import json
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, NamedTuple
from urllib.parse import quote_from_bytes, unquote

from starlette.types import Message

from adapters.contacts.lines import Damaged, Heard, Line, LineReader, text_from_line
from adapters.contacts.modbus_frames import Message as Frame
from adapters.contacts.modbus_frames import message_from_rtu, rtu_from_message, split_tcp, tcp_from_message
from adapters.contacts.wiring import WiringFaults, read_wiring
from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.pages import web_folder
from server.desk.records import Past
from server.live.talk import answer
from server.planning.site import SiteFaults, parse_site
from server.runlog import RunLog, RunLogFault
from server.timeline.engine import Engine
from server.timeline.events import Recording, RecordingFault, at_us, read_recording
from server.timeline.plan import PlanFaults, parse_plan
from server.timeline.schedule import schedule_from_plan
from tests.access.fakes import Entrance
from tests.adapters.contacts.wired import KINDS
from tests.desk.past import RUN, TOMORROW, fill
from tests.desk.service import LAN
from tests.live.fakes import Stage, tap

FIXTURES: Final = Path(__file__).parents[1] / "fixtures"
PLAN: Final = parse_plan((FIXTURES / "plans/pair.plan.toml").read_text(encoding="utf-8"), "pair.plan.toml")


class Reader(NamedTuple):
    """`read` gives a reader any bytes, and fails where anything else comes of them; `seeds` are the sound files."""

    read: Callable[[bytes], None]
    seeds: tuple[bytes, ...]


def _tell_plainly(faults: Sequence[str], name: str) -> None:
    """There are some, each one line that names the file."""
    assert faults
    assert all(fault.startswith(f"{name}: ") and fault.isprintable() for fault in faults)


def read_plan(data: bytes) -> None:
    """A plan that is read has a schedule, and an engine that can be asked about it; each fault names the file."""
    try:
        plan = parse_plan(data.decode("utf-8", "replace"), "any.plan.toml")
    except PlanFaults as found:
        _tell_plainly(found.faults, "any.plan.toml")
    else:
        schedule_from_plan(plan).as_json()
        engine = Engine(plan)
        engine.advance(0)
        engine.view()


def read_any_recording(data: bytes) -> None:
    """Every line is an event, a copy of one, the header, or rejected with its number; what is read can be shown."""
    try:
        recording = read_recording(data.split(b"\n"), PLAN, "any.events.jsonl")
    except RecordingFault as found:
        _tell_plainly([str(found)], "any.events.jsonl")
    else:
        lines = [number for number, line in enumerate(data.split(b"\n"), 1) if line.strip()]
        numbers = [rejected.line for rejected in recording.rejected]
        assert numbers == sorted(set(numbers))
        assert set(numbers) <= set(lines)
        assert all(rejected.text.isprintable() for rejected in recording.rejected)
        assert len(recording.events) + len(numbers) <= len(lines)
        _show(recording)


def _show(recording: Recording) -> None:
    """Take every event that the engine does not refuse."""
    engine, now_us = Engine(PLAN), 0
    for event in recording.events:
        if engine.refusal(event) is None:
            now_us = max(now_us, at_us(event, PLAN))
            engine.take(event, now_us)
    engine.advance(now_us + 1)
    engine.view()


def read_any_wiring(data: bytes) -> None:
    """Each fault is one line that names the file; what is read is of stations and kinds that there are."""
    try:
        wiring = read_wiring(data.decode("utf-8", "replace"), "any.contacts.toml", PLAN, KINDS)
    except WiringFaults as found:
        _tell_plainly(found.faults, "any.contacts.toml")
    else:
        assert {each.station for each in wiring.inputs} <= set(PLAN.station_index)
        assert all(feed.kind in KINDS.values() for feed in wiring.feeds)
        assert all(warning.isprintable() for warning in wiring.warnings)


def read_site(data: bytes) -> None:
    """Each fault is one line that names the file; a path of what is read joins two of its houses."""
    try:
        site = parse_site(data.decode("utf-8", "replace"), "any.site.toml")
    except SiteFaults as found:
        _tell_plainly(found.faults, "any.site.toml")
    else:
        houses = {house.house for house in site.houses}
        assert all(set(path.houses) <= houses for path in site.paths)


def read_line(data: bytes) -> None:
    """Whatever comes down the wire, the next sound line counts; nothing that came in is part of what is told of it."""
    reader = LineReader()
    told = [*reader.feed(data), *reader.feed(b"\n")]
    assert all(one.text.isascii() for one in told if isinstance(one, Damaged))
    sound = Line(0, {1: True, 2: False}, whole=True)
    assert reader.feed(text_from_line(sound).encode() + b"\n") == [Heard(sound, 0, restarted=True)]


def read_frame(data: bytes) -> None:
    """What is read of a Modbus gateway's bytes is what would be written of it again."""
    message = message_from_rtu(data)
    assert message is None or rtu_from_message(message) == data
    messages, rest = list[Frame](), b""
    with suppress(ValueError):  # these are no frames
        messages, rest = split_tcp(data)
    assert len(rest) <= len(data)
    assert all(split_tcp(tcp_from_message(one))[0] == [one] for one in messages)


def read_message(data: bytes) -> None:
    """Whatever a desk says is answered, once, and its run goes on."""
    asyncio.run(said([data.decode("utf-8", "replace")]))


async def said(texts: list[str]) -> None:
    """Say these texts to a run, one after another."""
    stage = Stage(at_s=200.0)
    with stage.live() as run:
        for text in texts:
            told = json.loads(await answer(run, text))
            assert told["type"] in {"taken", "refused", "time"}
            if told["type"] == "refused":
                assert told["reason"].isprintable()
        assert run.fault is None
        assert [stored.event for stored in stage.log.stored] == run.events
        again = tap("sound", 199.0)
        assert (await run.take(again)).__class__.__name__ == "Taken"
        json.loads(run.snapshot())


_SCOPE: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "scheme": "http",
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1:8440"), (b"content-type", b"application/json")],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 8440),
    }
)


class _Asked:
    """An application over a log with a run in it, that is asked in its own loop; made when it is first asked."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._folder = tempfile.TemporaryDirectory()
        log = RunLog.open(self._folder.name)
        self._loop.run_until_complete(fill(log))
        past = Past(log, lambda: TOMORROW, (RunLogFault,))
        door = Entrance().doorkeeper
        self._app = create_app({}, Hosts("127.0.0.1"), web_folder(), door, lambda: LAN, lambda _: True, past)

    def status_of(self, path: bytes, body: bytes) -> int:
        """The status of the answer to a GET, or to a POST where there is a body."""
        return self._loop.run_until_complete(self._asked(path, body))

    async def _asked(self, path: bytes, body: bytes) -> int:
        raw, _, query = path.partition(b"?")
        scope = dict(_SCOPE) | {"method": "POST" if body else "GET", "query_string": query, "raw_path": raw}
        scope["path"] = unquote(raw.decode("ascii", "replace"))
        said: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]
        sent: list[Message] = []

        async def receive() -> Message:
            return said.pop() if said else {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            sent.append(message)

        await self._app(scope, receive, send)
        status: int = sent[0]["status"]
        return status


@cache
def _asked() -> _Asked:
    return _Asked()


def read_request(data: bytes) -> None:
    """Whatever is asked is answered, or refused: never with a failure. The first line is the path, the rest a body.

    The server's parser lets no other bytes through in a path than those of RFC 9112, 3.2.
    """
    path, _, body = data.partition(b"\n")
    assert _asked().status_of(b"/" + quote_from_bytes(path, safe="/?&=%:.-_~").encode(), body) < 500


def _files(pattern: str) -> tuple[bytes, ...]:
    return tuple(file.read_bytes() for file in sorted(FIXTURES.glob(pattern)))


_EVENTS = tuple(line for line in _files("recordings/good/pair.events.jsonl")[0].split(b"\n") if b'"kind"' in line)

_REQUESTS: Final = (
    f"api/debriefs/{RUN}/state?at_s=12.5&clock=then".encode(),
    f"api/debriefs/{RUN}/series?points=20".encode(),
    f"api/library/{RUN}/first".encode(),
    b"api/library?from=2026-03-14&house=2&archived=all",
    b"api/lessons?run=a",
    b'api/recordings\n{"recording":{"name":"a.events.jsonl","text":"{}"},"plan":null}',
    f'api/debriefs/{RUN}/corrections\n{{"id":"c","by":"Ada","retract":"e1"}}'.encode(),
    f'api/library/{RUN}/archive\n{{"archived":true,"by":"Ada"}}'.encode(),
)

READERS: Final[Mapping[str, Reader]] = MappingProxyType(
    {
        "plan": Reader(read_plan, _files("plans/*.plan.toml")),
        "recording": Reader(read_any_recording, _files("recordings/good/pair.events.jsonl")),
        "wiring": Reader(read_any_wiring, _files("contacts/*.contacts.toml")),
        "site": Reader(read_site, _files("sites/*.site.toml")),
        "contact-line": Reader(read_line, (b"L 0 10-1 @12 *60F8\nC 1 2 1 @40 *CA5C\n",)),
        "modbus-frame": Reader(read_frame, (bytes.fromhex("010201016048"), bytes.fromhex("0001000000040102010a"))),
        "message": Reader(
            read_message,
            (b'{"type":"time","c":1.5}', *(b'{"type":"event","event":' + line + b"}" for line in _EVENTS)),
        ),
        "request": Reader(read_request, _REQUESTS),
    }
)
"""Every reader, by what it reads."""
