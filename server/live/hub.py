"""The way out: numbered changes, encoded once, to every desk of one run."""

import secrets
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any

import orjson

from server.live.desks import Desk, Message, message_from_text
from server.live.figures import time_json
from server.live.picture import Picture
from server.timeline.view import RunView

EVENTS_SHOWN = 200
"""How many of the last events a snapshot carries."""

RING = 512
"""How many changes a desk may have missed and still be told just those. Chosen: minutes of a busy show."""

HELD_BYTES = 1 << 18
"""A desk for which more than this waits is told nothing until it has read all of it. Chosen: several snapshots."""

BEATS_BEHIND = 10
"""A desk that has not caught up in this many heartbeats is dropped. Chosen."""


class Hub:
    """Tells the desks of one run what they are to show.

    Every change has a number, `seq`, counted from 1 in this life of the server, which `epoch` names. The run calls
    `open`, `publish`, `publish_fault` and `beat`; a connection calls `attach` and `detach`. Nothing here waits for
    anybody: a desk that reads slowly misses changes, and has a fresh snapshot once it has read what it was sent.
    """

    def __init__(self, ring: int = RING, held_bytes: int = HELD_BYTES) -> None:
        self.epoch = secrets.token_hex(4)
        self.seq = 0
        self.held_bytes = held_bytes
        self._ring: deque[Message] = deque(maxlen=ring)
        self._events: deque[orjson.Fragment] = deque(maxlen=EVENTS_SHOWN)
        self._desks: dict[Desk, None] = {}
        self._behind: dict[Desk, int] = {}
        self._fault: str | None = None
        self._warnings: list[str] = []
        self._body: bytes | None = None
        self._is_heard = False

    def open(
        self, info: dict[str, Any], view: RunView, events: Iterable[dict[str, Any]], now_s: Callable[[], float]
    ) -> None:
        """Say what is shown before the first change; `now_s` gives the run's time, in seconds after its zero."""
        self._info = orjson.Fragment(orjson.dumps(info))
        self._picture = Picture(view)
        self._now_s = now_s
        self._events.extend(orjson.Fragment(orjson.dumps(event)) for event in events)

    def publish(self, view: RunView, events: Iterable[dict[str, Any]] = ()) -> None:
        """Number and send what of `view` differs from what was told, and the events that were taken, if any."""
        change = self._picture.change(view)
        if taken := [orjson.Fragment(orjson.dumps(event)) for event in events]:
            change["events"] = taken
            self._events.extend(taken)
        if change:
            self._send_change(change)

    def publish_fault(self, text: str) -> None:
        """Tell that the run no longer follows its events, and why."""
        self._fault = text
        self._send_change({"fault": text})

    def publish_warnings(self, texts: list[str]) -> None:
        """Tell what every desk is to say of the run beside its alarms, in place of what it said before."""
        if texts != self._warnings:
            self._warnings = texts
            self._send_change({"warnings": texts})

    def beat(self) -> None:
        """Tell every desk that the server is alive, unless a change has; bring up to date or drop those behind."""
        for desk in list(self._behind):
            self._catch_up(desk)
        if not self._is_heard:
            # Without the time, which no desk needs that has heard it once: this is all that goes out in a quiet show.
            self._send(message_from_text(orjson.dumps({"type": "beat", "seq": self.seq})))
        self._is_heard = False

    def attach(self, desk: Desk, seq: int | None = None, epoch: str | None = None) -> None:
        """Begin telling a desk: what it missed since `seq` of `epoch` where that is still known, else a snapshot."""
        missed = self.seq - seq if seq is not None and epoch == self.epoch else None
        if missed is not None and 0 <= missed <= len(self._ring):
            for message in list(self._ring)[len(self._ring) - missed :]:
                desk.write(message)
            desk.write(message_from_text(orjson.dumps(self._numbered("beat"))))
        else:
            desk.write(message_from_text(self.snapshot()))
        self._desks[desk] = None

    def detach(self, desk: Desk) -> None:
        """Stop telling a desk; one that is not attached is left as it is."""
        self._desks.pop(desk, None)
        self._behind.pop(desk, None)

    def load(self) -> tuple[int, int, int]:
        """How many desks are told, how many of them are behind, and the most bytes that wait for one of them."""
        return len(self._desks), len(self._behind), max((desk.buffered_bytes for desk in self._desks), default=0)

    def snapshot(self) -> bytes:
        """All that a desk needs to begin: JSON in UTF-8, numbered as the last change."""
        if self._body is None:
            picture: dict[str, Any] = {
                "view": self._picture.as_json(),
                "events": list(self._events),
                "fault": self._fault,
            }
            picture |= {"warnings": self._warnings}
            self._body = orjson.dumps({"info": self._info} | picture)[1:]
        return orjson.dumps(self._numbered("snapshot") | {"epoch": self.epoch})[:-1] + b"," + self._body

    def _numbered(self, kind: str) -> dict[str, Any]:
        return {"type": kind, "seq": self.seq, "now_s": time_json(self._now_s())}

    def _send_change(self, change: dict[str, Any]) -> None:
        self.seq += 1
        self._body = None
        self._is_heard = True
        message = message_from_text(orjson.dumps(self._numbered("change") | change))
        self._ring.append(message)
        self._send(message)

    def _send(self, message: Message) -> None:
        held_bytes = self.held_bytes
        behind = self._behind
        for desk in self._desks:
            if desk in behind:
                continue
            if desk.buffered_bytes > held_bytes:
                behind[desk] = 0
            else:
                desk.write(message)

    def _catch_up(self, desk: Desk) -> None:
        if desk.buffered_bytes == 0:
            del self._behind[desk]
            desk.write(message_from_text(self.snapshot()))
            return
        self._behind[desk] += 1
        if self._behind[desk] > BEATS_BEHIND:
            self.detach(desk)
            desk.close()
