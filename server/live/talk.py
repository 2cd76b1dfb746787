"""What a desk says, and the answer to it."""

from collections.abc import AsyncIterator, Callable, Mapping

import orjson

from server.live.desks import Desk, message_from_text
from server.live.parts import Refused, Taken
from server.live.run import LiveRun
from server.timeline.events import Event, EventFault, event_from_json, rfc3339

HELD_BYTES = 1 << 16
"""A desk that asks without reading the answers is dropped when this much more waits than changes may. Chosen."""

Said = Mapping[str, object]
Admit = Callable[[Said], Said | Refused]
"""What becomes of an event, as parsed JSON, that a desk wants to report: the one to take, or why it may not."""


def as_said(said: Said) -> Said:
    """Admit every event as it is."""
    return said


async def converse(
    run: LiveRun,
    desk: Desk,
    texts: AsyncIterator[str],
    seq: int | None = None,
    epoch: str | None = None,
    admit: Admit = as_said,
) -> None:
    """Show a run to a desk and answer what it says until `texts` ends.

    `seq` and `epoch` are the last the desk has seen, None for a new one: it is sent what it missed, or a snapshot.
    `admit` says which events the desk may report.
    """
    run.hub.attach(desk, seq, epoch)
    try:
        async for text in texts:
            desk.write(message_from_text(await answer(run, text, admit)))
            if desk.buffered_bytes > run.hub.held_bytes + HELD_BYTES:
                desk.close()
    finally:
        run.hub.detach(desk)


async def answer(run: LiveRun, text: str, admit: Admit = as_said) -> bytes:
    """The answer to one message of a desk: `taken`, `refused` or `time`, as JSON in UTF-8."""
    try:
        said = orjson.loads(text)
    except orjson.JSONDecodeError as error:
        return _refused(None, Refused(f"found no JSON ({error}); accepted is one JSON object"))
    kind, event, mark = _parts(said)
    if kind == "time" and isinstance(mark, int | float | str):
        return orjson.dumps({"type": "time", "c": mark, "now_s": run.now_s()})
    if kind == "event" and isinstance(event, dict):
        return await _answer_event(run, event, admit)
    return _refused(None, Refused(f"found {text[:80]!r}; accepted are messages of type event, and time with a c"))


def _parts(said: object) -> tuple[object, object, object]:
    return (said.get("type"), said.get("event"), said.get("c")) if isinstance(said, dict) else (None, None, None)


async def _answer_event(run: LiveRun, said: Said, admit: Admit) -> bytes:
    admitted = admit(said)
    if isinstance(admitted, Refused):
        return _refused(said.get("id"), admitted)
    answered: Taken | Refused
    try:
        answered = await run.take(event_from_desk(run, admitted))
    except EventFault as fault:
        answered = Refused(str(fault))
    return _taken(answered) if isinstance(answered, Taken) else _refused(said.get("id"), answered)


def event_from_desk(run: LiveRun, said: Said) -> Event:
    """The event that a desk sent, as parsed JSON; where it gives no `t` it happened now. Raises EventFault.

    Sent again without `t` it is the same event: it has the time that it was given first.
    """
    if said.get("t") is None:
        said = {**said, "t": rfc3339(run.time_of(said.get("id")))}
    return event_from_json(said)


def _taken(taken: Taken) -> bytes:
    return orjson.dumps({"type": "taken", "id": taken.event.id, "seq": taken.seq, "t": rfc3339(taken.event.t)})


def _refused(named: object, refused: Refused) -> bytes:
    said = {"type": "refused", "id": named if isinstance(named, str) else None, "reason": refused.reason}
    known = {"known": True} if refused.known else {}
    return orjson.dumps(said | {"again": refused.again} | known)
