"""Lets devices in: by a code at first, by their session from then on."""

import logging
from collections.abc import Callable
from datetime import datetime
from typing import NamedTuple

from server.access.codes import Codes
from server.access.limits import Bucket, Buckets, Rate
from server.access.pairings import Pairing, Pairings

TRIES_OF_ONE = Rate(burst=6, per_s=1 / 20)
TRIES_OF_ALL = Rate(burst=30, per_s=1 / 4)
"""Codes that may be tried, from one address and from all. Chosen: a slip of the finger is forgiven, guessing is not."""

EVENTS = Rate(burst=300, per_s=30.0)
"""Events that one device may report. Chosen: all taps of a desk that was away come at once; nobody taps faster."""

REPORTS = Rate(burst=6, per_s=1 / 20)
"""Of a device that only reports from the houses. Chosen: a bad minute there, and no more than a booth can hear."""


_log = logging.getLogger(__name__)


class Paired(NamedTuple):
    """A device was paired; `token` is its session, to be given to it and kept nowhere."""

    pairing: Pairing
    token: str


class TurnedAway(NamedTuple):
    """A device was not paired: `wait_s` is 0 unless it is to wait; with `wants_name` the code holds with a name."""

    reason: str
    wait_s: float = 0.0
    wants_name: bool = False


class Doorkeeper:
    """Holds the pairings, the open codes, and how much each device asks for; `now` (aware) never goes back."""

    def __init__(self, pairings: Pairings, now: Callable[[], datetime]) -> None:
        self.pairings = pairings
        self.codes = Codes(now)
        self._now = now
        self._tries_of_one = Buckets(TRIES_OF_ONE)
        self._tries_of_all = Bucket(TRIES_OF_ALL, self._now_s())
        self._events = Buckets(EVENTS)
        self._reports = Buckets(REPORTS)

    async def pair(self, peer: str, code: str, name: str | None, before: Pairing | None) -> Paired | TurnedAway:
        """Pair the device at address `peer` by a code, which is used up; `before` is its pairing until now, if any.

        `name` is who they say they are, for a code that was made for nobody by name. Raises PairingFault.
        """
        wait_s = self._tries_of_one.wait_s(peer, self._now_s()) or self._tries_of_all.wait_s(self._now_s())
        if wait_s:
            return TurnedAway(f"Too many codes were tried: wait {wait_s:.0f} s and try again.", wait_s)
        invitation = self.codes.invitation(code)
        if invitation is None:
            _log.info("a code was refused", extra={"peer": peer})
            return TurnedAway("This code is wrong, was used before, or is too old: ask for a new one.")
        named = invitation.name or name
        if named is None:
            return TurnedAway("Whose device is this? The code was made for nobody by name.", wants_name=True)
        with self.codes.used(code):
            pairing, token = await self.pairings.add(named, invitation.role)
        _log.info("device paired", extra={"pairing": pairing.id, "person": named, "role": pairing.role, "peer": peer})
        if before is not None:
            await self.pairings.withdraw(before.id)
        return Paired(pairing, token)

    def wait_for_event_s(self, device: str) -> float:
        """0 where a device may report one more event now, else the seconds until it may."""
        return self._events.wait_s(device, self._now_s())

    def wait_for_report_s(self, device: str) -> float:
        """The same for a device that only reports from the houses."""
        return self._reports.wait_s(device, self._now_s())

    def _now_s(self) -> float:
        return self._now().timestamp()
