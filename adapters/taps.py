"""What somebody tapped, as a message, made into an event. Pure: a websocket or a route is the port."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Final

from server.timeline.events import Event, EventFault, event_from_json, rfc3339

MOST_BYTES: Final = 8192
"""The longest message that is read: a note of 2000 characters, all of them escaped or of four bytes. Chosen."""

NOT_TAPPED: Final = frozenset({"feed_up", "feed_down", "clock_step"})
"""Kinds that only the server and its feeds tell of."""


def event_from_tap(message: str | bytes | Mapping[str, object], now: datetime, device: str | None = None) -> Event:
    """Make an event of one message: text, bytes in UTF-8, or an object already parsed.

    `t` may be left out: it happened `now` (aware). The source becomes `tap`, or `tap:device` where a device is named;
    without one, a name that the message gives after `tap:` is kept. Raises EventFault, one line for whoever tapped:
    oversized, no JSON, unknown keys or kinds, another source than a tap.
    """
    data = dict(_mapping(message))
    _check_origin(data)
    if data.get("t") is None:
        data["t"] = rfc3339(now)
    if device is not None or data.get("source") is None:
        data["source"] = f"tap:{device}" if device else "tap"
    return event_from_json(data)


def _mapping(message: str | bytes | Mapping[str, object]) -> Mapping[str, object]:
    if isinstance(message, Mapping):
        return message
    length = len(message.encode(errors="replace")) if isinstance(message, str) else len(message)
    if length > MOST_BYTES:
        raise EventFault(f"found a message of {length} bytes; accepted at most {MOST_BYTES}")
    try:
        data = json.loads(message)
    except (ValueError, RecursionError):  # UnicodeDecodeError is a ValueError
        raise EventFault("found no JSON; accepted one JSON object") from None
    if not isinstance(data, dict):
        raise EventFault(f"found JSON that is a {type(data).__name__}; accepted one JSON object")
    return data


def _check_origin(data: Mapping[str, object]) -> None:
    """A tap tells of what a person saw, and only of that."""
    source, kind = data.get("source"), data.get("kind")
    if isinstance(source, str) and source.partition(":")[0] != "tap":
        raise EventFault(f"source: found {source[:80]!r}; accepted tap, and after a colon the device's name")
    if isinstance(kind, str) and kind in NOT_TAPPED:
        raise EventFault(f"kind: found {kind!r}, which nobody taps; accepted the kinds of what people see and do")
