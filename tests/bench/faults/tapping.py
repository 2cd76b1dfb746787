"""How long a tap takes to be acknowledged, with and without something that befalls its server."""

import json
import statistics
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from itertools import count
from typing import Any, NamedTuple

from websockets.sync.client import ClientConnection, connect

from tests.bench.faults.stage import PATIENCE_S, Ledger, Outcome, Place, Served

PERIOD_S = 0.05
"""Between two taps of this hand: 20 a second, as many as a crew of many hands, and less than one device may. Chosen."""

WORST_S = 1.0
"""No tap may wait longer for its answer, whatever befalls the server. Chosen: whoever waits that long taps again."""

MEDIAN_S = 0.05
"""And the middle one not longer than this. Chosen: what a finger takes to leave the glass."""

GROWS_BYTES = 32e6
"""What a server may grow by meanwhile. Chosen: a hundred desks' worth of what is held for one."""

_names = count()


class Waits(NamedTuple):
    """How long each of some taps waited for its answer, in seconds, and how many were refused."""

    seconds: list[float]
    refused: list[str]

    def told(self) -> str:
        """The middle one, and the worst."""
        return f"{statistics.median(self.seconds) * 1000:.1f} ms, worst {max(self.seconds) * 1000:.0f}"


def taps(server: Served, ledger: Ledger, for_s: float) -> Waits:
    """Tap steadily for so long, and wait for each answer."""
    waits = Waits([], [])
    address = f"ws://{server.host}{server.path}"
    with connect(address, proxy=None, compression=None, open_timeout=PATIENCE_S) as socket:
        end = time.monotonic() + for_s
        while (begun := time.monotonic()) < end:
            name = f"tap {next(_names)}"
            event = {"id": name, "kind": "slack_read", "station": "b", "seconds": 0.1, "source": "tap:pad"}
            socket.send(json.dumps({"type": "event", "event": event}))
            answer = _answer(socket, name)
            waits.seconds.append(time.monotonic() - begun)
            if answer["type"] == "taken":
                ledger.taken[name] = answer["seq"]
            else:
                waits.refused.append(answer["reason"])
            time.sleep(max(0.0, begun + PERIOD_S - time.monotonic()))
    return waits


def _answer(socket: ClientConnection, name: str) -> dict[str, Any]:
    while True:
        message: dict[str, Any] = json.loads(socket.recv(PATIENCE_S))
        if message.get("id") == name:
            return message


class Befallen(NamedTuple):
    """What came of a fault while somebody tapped; `right` is how many of its `tries` were as the documents say."""

    tries: int
    right: int
    note: str = ""


Befalls = Callable[[Served], AbstractContextManager[Callable[[], Befallen]]]
"""Begins to befall a server; what it gives says, while it still does, what came of that."""


def tapped_through(fault: str, place: Place, server: Served, befalls: Befalls, for_s: float) -> Outcome:
    """Tap before, while and after something befalls a server; no tap is lost, refused or late."""
    ledger = Ledger()
    without = taps(server, ledger, for_s / 2)
    memory_bytes = server.memory_bytes()
    with befalls(server) as came:
        during = taps(server, ledger, for_s)
        grown_bytes = server.memory_bytes() - memory_bytes
        befallen = came()
    after = taps(server, ledger, for_s / 2)
    without = Waits(without.seconds + after.seconds, without.refused + after.refused)
    refused = without.refused + during.refused
    lost, doubled = ledger.against(place.stored(server.run_id)[0])
    unsaid = befallen.tries - befallen.right + len(refused) + (grown_bytes > GROWS_BYTES)
    unsaid += max(during.seconds) > WORST_S
    unsaid += statistics.median(during.seconds) > MEDIAN_S + statistics.median(without.seconds)
    note = f"{befallen.note}; tap {during.told()} (without {without.told()}); {grown_bytes / 1e6:+.1f} MB"
    note += f"; refused: {refused[0]}" if refused else ""
    return Outcome(fault, befallen.tries, len(ledger.taken), lost, 0, doubled, unsaid, note)
