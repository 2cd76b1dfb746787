"""What a device may that reports from the houses: the lobby desk, a report, and taking back one of its own."""

import re
from collections.abc import Iterable, Mapping

from server.access import Pairing
from server.desk.access import SAFE_METHODS
from server.live import Refused
from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.events import Event

LOBBY_PAGE = "/lobby"
LOBBY_READS = re.compile(r"/api/me|/api/runs(/[^/]+(/schedule)?)?")
LIVE = re.compile(r"/api/runs/[^/]+/live")
EVENTS = re.compile(r"/api/runs/[^/]+/events")
"""All that the lobby desk asks for, beside its page and its files."""

TEXT_LENGTH = 200
"""Of what a report says in words. Chosen: a line that is read in the dark."""

ONLY_REPORTS = "This device sees the lobby and reports what is wrong in a house: it was paired for nothing else."
NOT_ITS_OWN = "This device takes back only a report that it made itself."
TOO_LONG = f"A report says at most {TEXT_LENGTH} characters, on one line."

# No set: what is said may be anything, also unhashable.
_FROM_HOUSES = tuple(kind for kind, row in EVENT_KINDS.items() if "house" in row.senders)
_LINE = re.compile(rf"[^\x00-\x1f\x7f-\x9f\u2028\u2029]{{0,{TEXT_LENGTH}}}")


def may_ask(kind: str, method: str, path: str) -> bool:
    """Whether a request (`kind` is `http` or `websocket`) is one that the lobby desk makes, beside its files."""
    if kind == "websocket":
        return LIVE.fullmatch(path) is not None
    if method in SAFE_METHODS:
        return path == LOBBY_PAGE or LOBBY_READS.fullmatch(path) is not None
    return method == "POST" and EVENTS.fullmatch(path) is not None


def is_for_reporters(said: Mapping[str, object]) -> bool:
    """Whether an event, as parsed JSON, is of a kind that such a device may have a part in."""
    return said.get("kind") in _FROM_HOUSES


def reported(said: Mapping[str, object], pairing: Pairing, events: Iterable[Event]) -> Mapping[str, object] | Refused:
    """The event as it is taken of the device of a pairing, or why not; `events` are those of the run.

    Its source is the pairing itself, so that this device alone can take it back, after a restart too.
    """
    source = f"tap:{pairing.id}"
    if said.get("kind") == "retract" and not _is_own(said.get("retracts"), source, events):
        return Refused(NOT_ITS_OWN)
    text = said.get("text")
    if isinstance(text, str) and not _LINE.fullmatch(text):
        return Refused(TOO_LONG)
    return {**said, "by": pairing.name, "source": source}


def _is_own(retracts: object, source: str, events: Iterable[Event]) -> bool:
    return any(event.id == retracts and (event.kind, event.source) == ("report", source) for event in events)
