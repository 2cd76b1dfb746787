"""A serial port, on this computer or over the network; what is lost is a FeedFault.

Devices and plain TCP are read through serialx. RFC 2217 is not: its client waits for what a gateway need not say.
"""

import asyncio
import os
import re
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Final, Protocol

from adapters.base import FeedFault
from adapters.contacts.kinds import is_device
from adapters.contacts.rfc2217 import Gateway, said

if TYPE_CHECKING:
    from serialx import ModemPins

BAUD: Final = (9600, 300, 4_000_000)
"""The usual speed, and what is accepted."""

OPEN_S: Final = 3.0
"""How long opening may take, with a look-up of the host's name. Chosen."""

ANSWER_S: Final = 0.8
"""A port that has not answered in this time is gone: it goes on giving the levels it last heard. Chosen."""

CHUNK_BYTES: Final = 4096

if sys.platform != "win32":
    import termios

    _SETTING_FAULT = termios.error
else:
    _SETTING_FAULT = OSError

DEVICE_FAULTS: Final = (OSError, ValueError, _SETTING_FAULT)
"""What a device raises that cannot be opened, or set as it is asked to be."""

_ERRNO: Final = re.compile(r"\[Errno (-?[0-9]+)\] *")


class _Link(Protocol):
    """What a port is read through: serialx's `AsyncSerial` or a `Gateway`."""

    @property
    def is_open(self) -> bool: ...
    async def open(self) -> None: ...
    def abort(self) -> None: ...
    async def read(self, n: int) -> bytes: ...
    async def get_modem_pins(self) -> "ModemPins": ...
    async def reconfigure_port(self, *, baudrate: int) -> None: ...


class SerialPort:
    """One port by its address: a device, `socket://host:port` or `rfc2217://host:port`."""

    def __init__(self, address: str, baud: int) -> None:
        self.address = address
        self._baud = baud
        self._link: _Link | None = None
        self._only: bytes | None = None

    async def open(self) -> None:
        """Open it. Raises FeedFault."""
        self._link, self._only = self._new_link(), None
        async with self._told("cannot be opened", OPEN_S):
            await self._link.open()

    async def close(self) -> None:
        """Let go of it at once."""
        link, self._link = self._link, None
        if link is not None:
            link.abort()

    async def read(self) -> bytes:
        """The next bytes. Raises FeedFault where there will be none."""
        data = b""
        if self._link is not None:
            # Also of a link that is lost: what came before that counts.
            async with self._told(lost(self.address)):
                data = await self._link.read(CHUNK_BYTES)
        if not data:
            raise FeedFault(f"{self.address} {lost(self.address)}{said(self._only or b'')}")
        # A server that closes at once says why; what comes later is the box's.
        self._only = data if self._only is None else b""
        return data

    async def pins(self) -> "ModemPins":
        """The modem lines as they are known. Raises FeedFault."""
        async with self._told(lost(self.address)):
            return await self._open.get_modem_pins()

    async def confirm(self) -> None:
        """Have the port answer, so that what it said before is known to hold. Raises FeedFault.

        Setting the speed that it has is the one question that a device and a gateway both answer. A lost device
        otherwise reads as all lines low, and a gateway that is gone as they were.
        """
        async with self._told("does not answer", ANSWER_S):
            await self._open.reconfigure_port(baudrate=self._baud)

    def _new_link(self) -> _Link:
        if self.address.startswith("rfc2217:"):
            return Gateway(self.address, self._baud)
        import serialx  # noqa: PLC0415 - a command that opens no port does not wait for it

        return serialx.async_serial_for_url(self.address, baudrate=self._baud)

    @property
    def _open(self) -> _Link:
        if self._link is None or not self._link.is_open:
            raise FeedFault(f"{self.address} {lost(self.address)}")
        return self._link

    @asynccontextmanager
    async def _told(self, what: str, within_s: float | None = None) -> AsyncIterator[None]:
        """Word whatever the outside does to a port, and that it does nothing within `within_s`."""
        import serialx  # noqa: PLC0415

        try:
            async with asyncio.timeout(within_s):
                yield
        except (*DEVICE_FAULTS, AssertionError, serialx.SerialException) as error:
            late = isinstance(error, TimeoutError) and within_s is not None
            why = f" within {within_s:g} s" if late else f": {reason(error)}"
            raise FeedFault(f"{self.address} {what}{why}") from error


def lost(address: str) -> str:
    """What has become of a port that was open and is not."""
    return "was unplugged or closed" if is_device(address) else "closed the connection"


def reason(error: Exception) -> str:
    """Why, in the system's own words where an error has its number; serialx asserts where a connection has gone."""
    text = " ".join(str(error).split())
    numbered = _ERRNO.search(text)
    if numbered is not None and int(numbered[1]) > 0:
        return os.strerror(int(numbered[1])).lower()
    # A name that cannot be looked up has a number of another list.
    return _ERRNO.sub("", text) or "it is gone"
