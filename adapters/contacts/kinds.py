"""What a kind of port is: how the wiring file names it, and how its readings get to the inputs.

A new kind is one file with a `Kind`, and its entry in `server/contact_boards.py`.
"""

import re
from collections.abc import Callable, Sequence
from typing import Final, Literal, NamedTuple, Protocol, TypeAlias, get_args
from urllib.parse import urlsplit

from server.timeline.tables import Table

What = Literal["motor", "lamp", "douser", "cue", "failsafe"]
WHATS: Final[tuple[What, ...]] = get_args(What)

DEBOUNCE_MS: Final = 20
"""Chosen: over the longest usual bounce, 6.2 ms (J. Ganssle, "A guide to debouncing"), and under half a film frame."""

_DEVICE: Final = re.compile(r"/\S+|COM[0-9]{1,3}")

NowUs: TypeAlias = Callable[[], int]
"""Gives the run's time, in microseconds after the plan's zero."""


class Receiver(Protocol):
    """What a port hands its readings to. No method waits, and none raises because of what was read."""

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        """At `late_us` the contact at `place` was so (None: not known); where that is new, it changed after `early_us`.

        A place to which nothing is wired is no error.
        """

    def tell(self, text: str, now_us: int, times: int = 1) -> None:
        """Something of the outside is not as it should be, `times` times: one sentence, which is counted if it comes
        again. It is one of a few that are always the same, and holds nothing of what came in.
        """

    def silence(self, part: str, text: str | None, now_us: int) -> None:
        """One part of what is behind the port fell silent, and why; or it is back (None). Its places are not known."""

    def due_us(self) -> int | None:
        """When a level wants to be read again, to be sure of it; None where nothing is waiting."""


class Port(Protocol):
    """One port. The feed calls `open`, then `run`, and `close` after either; all may be called again."""

    async def open(self) -> None:
        """Get hold of it. Raises FeedFault."""

    async def run(self, receiver: Receiver, now_us: NowUs) -> None:
        """Hand over readings until the port is lost. Raises FeedFault; never returns."""

    async def close(self) -> None:
        """Let go. Never raises."""


MakePort: TypeAlias = Callable[[Sequence[str]], Port]
"""Makes a port that is to read these places."""


class Input(NamedTuple):
    """One wire: `place` is what its feed calls it, `station` (showing into `house`) and `what` what it tells of.

    `normally_closed` says that the contact opens where others close.
    """

    feed: str
    place: str
    station: str
    house: str
    what: What
    normally_closed: bool = False
    debounce_us: int = DEBOUNCE_MS * 1000

    @property
    def id(self) -> str:
        """The wire, as people read it: `north/3`."""
        return f"{self.feed}/{self.place}"

    @property
    def source(self) -> str:
        """The source of its events."""
        return f"contact:{self.id}"

    @property
    def words(self) -> str:
        """What it is and where: `motor of House 3 (north/3)`."""
        return f"{self.what} of House {self.house} ({self.id})"


class Kind(NamedTuple):
    """One kind of port, which a feed of the wiring file names.

    `port` takes the kind's own keys out of a feed's table, given the port's address, and gives what makes the port.
    `place` gives an input's place as the kind writes it, None where it is none; `places` says what is accepted.
    `schemes` are those of a port over the network, `device` whether a port may be a device of this computer. `polled`
    says that levels are asked for, and nothing is known between two readings.
    """

    name: str
    port: Callable[[Table, str], MakePort]
    place: Callable[[str], str | None]
    places: str
    schemes: tuple[str, ...]
    device: bool
    polled: bool


class FeedWiring(NamedTuple):
    """One feed: its port's address, its kind, what makes its port, and the inputs wired to it.

    What the port tells changed up to `sampling_us` before: the gateway looks at its inputs no more often.
    """

    id: str
    kind: Kind
    address: str
    make_port: MakePort
    inputs: tuple[Input, ...] = ()
    sampling_us: int = 0

    @property
    def source(self) -> str:
        """What an alarm about its silence names."""
        return f"contact:{self.id}"


def is_device(address: str) -> bool:
    """Whether an address can be a device of this computer."""
    return _DEVICE.fullmatch(address) is not None


def is_network(address: str, schemes: tuple[str, ...]) -> bool:
    """Whether an address is one of the network, by one of `schemes`, with a host and a port."""
    try:
        parts = urlsplit(address)
        return parts.scheme in schemes and bool(parts.hostname) and parts.port is not None and not parts.path
    except ValueError:
        return False


def until_next_s(due_us: int | None, now_us: int, poll_s: float) -> float:
    """How long to wait for the next reading: sooner than usual where a level wants to be read again."""
    return poll_s if due_us is None else max(0.0, min(poll_s, (due_us - now_us) / 1e6))
