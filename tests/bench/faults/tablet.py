"""A booth desk's side of the connection, as `web/js/live/connection.js` and `outbox.js` have it."""

import asyncio
import json
import re
import time
from datetime import UTC, datetime
from typing import Any

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import WebSocketException

from tests.bench.faults.proxy import Proxy
from tests.bench.faults.stage import ROOT

PERIOD_S = 0.05
FIRST_WAIT_S, LONGEST_WAIT_S = 0.25, 5.0
LOOK_S = 0.02


def stated_s(name: str) -> float:
    """A time in milliseconds that the browser's side states."""
    text = (ROOT / "web/js/live/connection.js").read_text(encoding="utf-8")
    found = re.search(rf"\b{name} = (\d+);", text)
    assert found is not None, name
    return int(found[1]) / 1000


SILENT_S, GIVE_UP_S = stated_s("SILENT_MS"), stated_s("GIVE_UP_MS")


class Tablet:
    """Keeps what is tapped until it is answered, and sends it in its order, one after another, with its own time.

    `lost_at` are the moments (monotonic) at which it found that it had not heard the server for too long, `torn` is how
    many changes did not follow the one before.
    """

    def __init__(self, proxy: Proxy, path: str) -> None:
        self._proxy = proxy
        self._path = path
        self._socket: ClientConnection | None = None
        self._under_way: str | None = None
        self._seen: tuple[int, str] | None = None
        self._is_lost = False
        self._failures = 0
        self.kept: dict[str, dict[str, Any]] = {}
        self.tapped: dict[str, str] = {}
        self.taken: dict[str, int] = {}
        self.heard_at = time.monotonic()
        self.lost_at: list[float] = []
        self.refused: list[str] = []
        self.opened = 0
        self.torn = 0

    async def live(self) -> None:
        """Connect, and connect again, for ever."""
        while True:
            try:
                await self._connected()
            except (OSError, TimeoutError, WebSocketException):
                self._socket, self._under_way = None, None
            await asyncio.sleep(min(FIRST_WAIT_S * 2**self._failures, LONGEST_WAIT_S))
            self._failures += 1

    async def watch(self) -> None:
        """Look whether the server is still heard, for ever."""
        while True:
            is_lost = time.monotonic() - self.heard_at > SILENT_S
            if is_lost and not self._is_lost:
                self.lost_at.append(time.monotonic())
            self._is_lost = is_lost
            await asyncio.sleep(LOOK_S)

    async def tap(self) -> None:
        """Tap steadily, for ever."""
        while True:
            name, t = f"tap {len(self.tapped)}", datetime.now(UTC).isoformat(timespec="milliseconds")
            self.tapped[name] = t
            self.kept[name] = {"id": name, "t": t, "kind": "note", "text": "x", "source": "tap:pad"}
            await self._send_next()
            await asyncio.sleep(PERIOD_S)

    async def _connected(self) -> None:
        since = "" if self._seen is None else f"?seq={self._seen[0]}&epoch={self._seen[1]}"
        async with connect(
            f"ws://{self._proxy.address}{self._path}{since}",
            proxy=None,
            compression=None,
            open_timeout=GIVE_UP_S,
            close_timeout=0.1,
            ping_interval=None,
        ) as socket:
            self._socket, self._under_way = socket, None
            self.opened += 1
            await self._send_next()
            while True:
                async with asyncio.timeout(GIVE_UP_S):
                    text = await socket.recv()
                self.heard_at, self._failures = time.monotonic(), 0
                await self._hear(json.loads(text))

    async def _hear(self, message: dict[str, Any]) -> None:
        if message["type"] == "snapshot":
            self._seen = (message["seq"], message["epoch"])
        elif message["type"] == "change" and self._seen is not None:
            self.torn += message["seq"] != self._seen[0] + 1
            self._seen = (message["seq"], self._seen[1])
        elif message.get("id") in self.kept:
            self._answered(message)
            self._under_way = None
            await self._send_next()

    def _answered(self, message: dict[str, Any]) -> None:
        if message["type"] == "taken":
            self.taken[message["id"]] = message["seq"]
        else:
            self.refused.append(message["reason"])
        if not message.get("again"):
            del self.kept[message["id"]]

    async def _send_next(self) -> None:
        if self._socket is None or self._under_way is not None or not self.kept:
            return
        self._under_way = next(iter(self.kept))
        try:
            await self._socket.send(json.dumps({"type": "event", "event": self.kept[self._under_way]}))
        except WebSocketException:  # whoever reads finds that too, and opens another
            self._under_way = None
