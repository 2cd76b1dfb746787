"""What bytes go over; and the wire without a network, a pseudo-terminal in the place of a serial device."""

import asyncio
import contextlib
import os
import select
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final, Protocol, TypeAlias

if sys.platform != "win32":
    import termios
    import tty

CHUNK_BYTES: Final = 4096

Heard: TypeAlias = Callable[[bytes], None]


class Wire(Protocol):
    """A serial line at this end of which a part stands; a port is opened at the other.

    `heard` is called with what the port sends. `baud` is the speed that the port has set, None where none was.
    """

    heard: Heard | None

    @property
    def baud(self) -> int | None: ...

    def send(self, data: bytes) -> None:
        """To the port. What nobody listens to is lost, as on any line."""


class Terminal:
    """A pseudo-terminal by a name, which stays the same when it is unplugged and plugged in again.

    Not on Windows, which has none. `heard` is to be set before it is plugged in, and then asks for a running loop.
    """

    def __init__(self, name: Path) -> None:
        self.name = name
        self.heard: Heard | None = None
        self._ours: int | None = None
        self._theirs: int | None = None

    @property
    def baud(self) -> int | None:
        """As Wire: a pseudo-terminal carries bytes at any speed, but knows which one was set."""
        if self._ours is None:
            return None
        speed = termios.tcgetattr(self._ours)[4]
        names = (name for name in dir(termios) if name[0] == "B" and name[1:].isdigit())
        return next((int(name[1:]) for name in names if getattr(termios, name) == speed), None)

    def plug(self) -> None:
        """Have the device there."""
        self._ours, theirs = os.openpty()
        os.set_blocking(self._ours, False)
        tty.setraw(theirs)
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(os.ttyname(theirs))
        if self.heard is None:
            os.close(theirs)
        else:
            # Held open: else there is nothing to wait for between one port that closed it and the next.
            self._theirs = theirs
            asyncio.get_running_loop().add_reader(self._ours, self._read)

    def unplug(self) -> None:
        """Have it gone: whoever has it open loses it. One that is not there is left as it is."""
        if self._ours is None:
            return
        if self._theirs is not None:
            asyncio.get_running_loop().remove_reader(self._ours)
            os.close(self._theirs)
        os.close(self._ours)
        self._ours = self._theirs = None
        self.name.unlink(missing_ok=True)

    def send(self, data: bytes) -> None:
        """As Wire; what the line has no room for is lost too."""
        if self._ours is not None and self._is_open(self._ours):
            with contextlib.suppress(BlockingIOError):
                os.write(self._ours, data)

    def _is_open(self, ours: int) -> bool:
        poll = select.poll()
        poll.register(ours, 0)
        return not poll.poll(0)

    def _read(self) -> None:
        if self._ours is not None and self.heard is not None:
            with contextlib.suppress(OSError):
                self.heard(os.read(self._ours, CHUNK_BYTES))
