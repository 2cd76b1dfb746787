"""The websocket of a desk: `/api/runs/{run}/live`."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from functools import partial

from fastapi import WebSocket, WebSocketDisconnect

from server.desk.access import MESSAGE_BYTES
from server.desk.messages import RefusedAnswer
from server.desk.refusals import WITHDRAWN
from server.desk.visitors import Visitor
from server.live import Desk, LiveRun, converse, desk_from_scope, message_from_text

MOST_WAITING = 200
"""Messages of one desk that may wait for the disk: all taps of a booth desk that was away for a while. Chosen."""

Said = asyncio.Queue[str | None]
"""What a desk said and is not answered yet; None is its end."""


async def show_run(socket: WebSocket, run: LiveRun, visitor: Visitor, seq: int | None, epoch: str | None) -> None:
    """Show `run` to the desk at the other end until it goes, or is no longer paired.

    Its messages are read while others wait for the disk. Only then are its signs of life read as well, and a slow disk
    does not look like a desk that is gone.
    """
    await socket.accept()
    desk = desk_from_scope(socket.scope)
    said: Said = asyncio.Queue(MOST_WAITING)
    withdrawn: asyncio.Future[None] = asyncio.get_running_loop().create_future()
    reading = asyncio.create_task(_read(socket, desk, said))
    admit = partial(visitor.admitted, run)
    talking = asyncio.create_task(converse(run, desk, _texts(said), seq, epoch, admit))
    try:
        with visitor.present(lambda: _settle(withdrawn)):
            await asyncio.wait((talking, withdrawn), return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in (reading, talking):
            task.cancel()
        await asyncio.gather(talking, return_exceptions=True)
    if withdrawn.done():
        with suppress(WebSocketDisconnect, RuntimeError):  # it went by itself meanwhile
            await socket.close(WITHDRAWN, "The pairing of this device was withdrawn.")
    elif not talking.cancelled():
        talking.result()


def _settle(withdrawn: asyncio.Future[None]) -> None:
    if not withdrawn.done():
        withdrawn.set_result(None)


async def _read(socket: WebSocket, desk: Desk, said: Said) -> None:
    """Put aside what the desk says, but for what is no text or too long: that is refused here.

    What is far too long (`UVICORN_OPTIONS`) never gets here: the connection is closed with 1009.
    """
    while (message := await socket.receive())["type"] == "websocket.receive":
        text: str | None = message.get("text")
        if text is None:
            _refuse(desk, "found a binary message; accepted is text")
        elif (size_bytes := len(text.encode())) > MESSAGE_BYTES:
            _refuse(desk, f"found a message of {size_bytes} bytes; accepted are at most {MESSAGE_BYTES}")
        else:
            await said.put(text)
    await said.put(None)


async def _texts(said: Said) -> AsyncIterator[str]:
    while (text := await said.get()) is not None:
        yield text


def _refuse(desk: Desk, reason: str) -> None:
    refused = RefusedAnswer(type="refused", id=None, reason=reason, again=False)
    desk.write(message_from_text(refused.model_dump_json().encode()))
