"""A serial port, on this computer or over the network, through serialx; what is lost is a FeedFault."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Final

from adapters.base import FeedFault

if TYPE_CHECKING:
    from serialx import AsyncSerial, ModemPins

BAUD: Final = (9600, 300, 4_000_000)
"""The usual speed, and what is accepted."""

ANSWER_S: Final = 1.0
"""A gateway that has not answered in this time is gone: it goes on giving the levels it last heard. Chosen."""

CHUNK_BYTES: Final = 4096


class SerialPort:
    """One port by its address: a device, `socket://host:port` or `rfc2217://host:port`."""

    def __init__(self, address: str, baud: int) -> None:
        self.address = address
        self._baud = baud
        self._serial: AsyncSerial | None = None

    async def open(self) -> None:
        """Open it. Raises FeedFault."""
        import serialx  # noqa: PLC0415 - a command that opens no port does not wait for it

        self._serial = serialx.async_serial_for_url(self.address, baudrate=self._baud)
        async with self._told("cannot be opened"), asyncio.timeout(2 * ANSWER_S):
            await self._serial.open()

    async def close(self) -> None:
        """Let go of it at once."""
        serial, self._serial = self._serial, None
        if serial is not None:
            serial.abort()

    async def read(self) -> bytes:
        """The next bytes. Raises FeedFault where there will be none."""
        async with self._told("was lost"):
            data = await self._open.read(CHUNK_BYTES)
        if not data:
            raise FeedFault(f"{self.address} was unplugged or closed")
        return data

    async def pins(self) -> "ModemPins":
        """The modem lines as they are known. Raises FeedFault."""
        async with self._told("was lost"):
            return await self._open.get_modem_pins()

    async def confirm(self) -> None:
        """Have the port answer, so that what it said before is known to hold. Raises FeedFault.

        Setting the speed that it has is the one question that a device and a gateway both answer; a lost device
        otherwise reads as all lines low, and a gateway that is gone as they were.
        """
        async with self._told("does not answer"), asyncio.timeout(ANSWER_S):
            await self._open.reconfigure_port(baudrate=self._baud)

    @property
    def _open(self) -> "AsyncSerial":
        if self._serial is None or not self._serial.is_open:
            raise FeedFault(f"{self.address} was unplugged or closed")
        return self._serial

    @asynccontextmanager
    async def _told(self, what: str) -> AsyncIterator[None]:
        """Word whatever the outside does to a port."""
        import serialx  # noqa: PLC0415

        try:
            yield
        except TimeoutError:
            raise FeedFault(f"{self.address} {what} within {ANSWER_S:g} s") from None
        except (OSError, ValueError, serialx.SerialException) as error:
            raise FeedFault(f"{self.address} {what}: {str(error) or type(error).__name__}") from error
