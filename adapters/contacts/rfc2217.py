"""A serial port behind a gateway, by RFC 2217 (Telnet's COM-PORT-OPTION): its bytes, its speed and its status lines.

Nothing is waited for but what no gateway can leave out: that it agrees to the option, and that it answers to a speed.
Some answer to a mask of notices with the mask, some with the notice (ser2net), some with nothing: each is right.
"""

import asyncio
import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final, cast
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from serialx import ModemPins

AGREE_S: Final = 0.8
"""How long a gateway may take to agree, and then to answer. Chosen: as `serial_port.ANSWER_S`."""

LONGEST_BYTES: Final = 512
"""No command is longer; what is, is damage. Chosen: the longest that counts has 10 bytes, a signature is free text."""

# RFC 854 (Telnet), the code of each.
IAC, DONT, DO, WONT, WILL, SB, SE = 255, 254, 253, 252, 251, 250, 240

# The options that are agreed to: RFC 856 (eight-bit bytes), RFC 858 (no turns to speak) and RFC 2217.
BINARY, SUPPRESS_GO_AHEAD, COM_PORT = 0, 3, 44
WANTED: Final = frozenset({BINARY, SUPPRESS_GO_AHEAD, COM_PORT})

# RFC 2217, 2 to 4: commands to the gateway. The gateway's own have 100 added.
SET_BAUDRATE, SET_DATASIZE, SET_PARITY, SET_STOPSIZE, SET_CONTROL, NOTIFY_MODEMSTATE = 1, 2, 3, 4, 5, 7
SET_LINESTATE_MASK, SET_MODEMSTATE_MASK = 10, 11
FROM_GATEWAY: Final = 100
NO_PARITY, ONE_STOP_BIT, NO_FLOW_CONTROL, DTR_ON, RTS_ON = 1, 1, 1, 8, 11
WHAT_IT_IS: Final = 0
"""A speed of 0 sets none and asks for it."""

LINES: Final[Mapping[str, int]] = {"cts": 16, "dsr": 32, "rng": 64, "car": 128}
"""The bit of each status line in a notice; the lower four say which of them changed."""

_COMMAND: Final = re.compile(
    rb"\xff(?:(?P<verb>[\xfb-\xfe])(?P<option>.)"
    rb"|\xfa(?P<about>(?:[^\xff]|\xff\xff)*)\xff(?P<end>[^\xff])"
    rb"|(?P<single>[^\xfa-\xfe]))",
    re.DOTALL,
)


def command(code: int, value: bytes) -> bytes:
    """A command about the port, as it goes over the wire."""
    return bytes([IAC, SB, COM_PORT, code]) + value.replace(b"\xff", b"\xff\xff") + bytes([IAC, SE])


def settings(baud: int) -> bytes:
    """Everything a port is set to: 8N1 without flow control, DTR and RTS on, notices of its status lines only.

    The speed comes last: whoever answers to it has taken the rest.
    """
    orders = (
        (SET_DATASIZE, 8),
        (SET_PARITY, NO_PARITY),
        (SET_STOPSIZE, ONE_STOP_BIT),
        (SET_CONTROL, NO_FLOW_CONTROL),
        (SET_CONTROL, DTR_ON),
        (SET_CONTROL, RTS_ON),
        (SET_LINESTATE_MASK, 0),
        (SET_MODEMSTATE_MASK, 255),
    )
    return b"".join(command(code, bytes([value])) for code, value in orders) + speed(baud)


def speed(baud: int) -> bytes:
    """Set a speed, or ask for it."""
    return command(SET_BAUDRATE, baud.to_bytes(4, "big"))


class Talk:
    """One talk with a gateway, pure: its bytes go in, and the port's own come out.

    `agreed` says whether the gateway takes commands about its port (None: it has not said). `answers` counts what it
    answered to a speed. `state` is its last notice of its status lines (None: there was none).
    """

    def __init__(self) -> None:
        self.agreed: bool | None = None
        self.answers = 0
        self.state: int | None = None
        self._held = b""
        self._said: set[tuple[int, int]] = set()

    def begin(self) -> bytes:
        """What is said first."""
        return self._say(WILL, BINARY) + self._say(DO, BINARY) + self._say(WILL, COM_PORT)

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        """Take the next bytes; give the port's, and what is to be replied."""
        held = self._held + data
        port, reply = bytearray(), bytearray()
        at = 0
        while (found := held.find(IAC, at)) >= 0:
            port += held[at:found]
            at = found
            match = _COMMAND.match(held, found)
            if match is None:
                break
            at = match.end()
            if match["single"] == b"\xff":
                port.append(IAC)
            elif match["verb"]:
                reply += self._agree(match["verb"][0], match["option"][0])
            elif match["about"] and match["end"][0] == SE:
                self._hear(match["about"].replace(b"\xff\xff", b"\xff"))
        else:
            port += held[at:]
            at = len(held)
        self._held = held[at:] if len(held) - at <= LONGEST_BYTES else b""
        return bytes(port), bytes(reply)

    def _agree(self, verb: int, option: int) -> bytes:
        if option == COM_PORT and verb in {DO, WILL}:
            self.agreed = True
        elif option == COM_PORT and verb == DONT and self.agreed is None:
            self.agreed = False
        if verb == WILL:
            return self._say(DO if option in WANTED else DONT, option)
        if verb == DO:
            return self._say(WILL if option in WANTED else WONT, option)
        return b""

    def _say(self, verb: int, option: int) -> bytes:
        """Each thing once: a reply to a reply would go on for ever (RFC 854)."""
        if (verb, option) in self._said:
            return b""
        self._said.add((verb, option))
        return bytes([IAC, verb, option])

    def _hear(self, about: bytes) -> None:
        if about[0] != COM_PORT or len(about) < 3:
            return
        code = about[1] % FROM_GATEWAY
        if code == SET_BAUDRATE:
            self.answers += 1
        elif code == NOTIFY_MODEMSTATE:
            self.state = about[2]


class Gateway(asyncio.Protocol):
    """The port at `rfc2217://host:port`, with the methods of serialx's that `SerialPort` uses. Opened once."""

    def __init__(self, address: str, baud: int) -> None:
        self._place = urlsplit(address)
        self._baud = baud
        self._talk = Talk()
        self._moved = asyncio.Event()
        self._bytes = asyncio.StreamReader()
        self._transport: asyncio.Transport | None = None

    @property
    def is_open(self) -> bool:
        """Whether the connection stands."""
        return self._transport is not None and not self._transport.is_closing()

    async def open(self) -> None:
        """Connect and set the port. Raises OSError, with a text that says what the gateway did not do."""
        loop = asyncio.get_running_loop()
        await loop.create_connection(lambda: self, self._place.hostname or "", self._place.port or 0)
        self._write(self._talk.begin())
        await self._soon(lambda: self._talk.agreed is not None, "nothing there has answered by RFC 2217")
        if not self._talk.agreed:
            raise ConnectionError("the gateway takes no commands about this port: switch RFC 2217 on in its settings")
        self._write(settings(self._baud))
        await self._soon(lambda: self._talk.answers > 0, "the gateway has not answered to the port's speed")

    def abort(self) -> None:
        """Let go at once."""
        if self._transport is not None:
            self._transport.abort()

    async def read(self, n: int) -> bytes:
        """The port's next bytes, `n` of them at most; none where there will be none."""
        return await self._bytes.read(n)

    async def get_modem_pins(self) -> "ModemPins":
        """The status lines as the gateway last told them; undefined where it never did."""
        from serialx import ModemPins, PinState  # noqa: PLC0415 - a command that opens no port does not wait for it

        state = self._talk.state
        if state is None:
            return ModemPins()
        return ModemPins(**{name: PinState.HIGH if state & bit else PinState.LOW for name, bit in LINES.items()})

    async def reconfigure_port(self, *, baudrate: int) -> None:  # noqa: ARG002 - the port was set when it was opened
        """Wait for an answer of the gateway: what it told before that has come. Raises OSError."""
        answers = self._talk.answers
        self._write(speed(WHAT_IT_IS))
        await self._until(lambda: self._talk.answers > answers)

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """As `asyncio.Protocol`."""
        self._transport = cast("asyncio.Transport", transport)
        self._bytes.set_transport(transport)

    def data_received(self, data: bytes) -> None:
        """As `asyncio.Protocol`."""
        port, reply = self._talk.feed(data)
        self._write(reply)
        if port:
            self._bytes.feed_data(port)
        self._moved.set()

    def connection_lost(self, exc: Exception | None) -> None:  # noqa: ARG002 - that it is lost says all
        """As `asyncio.Protocol`."""
        self._bytes.feed_eof()
        self._moved.set()

    def _write(self, data: bytes) -> None:
        if self._transport is not None and data:
            self._transport.write(data)

    async def _soon(self, true: Callable[[], bool], missing: str) -> None:
        """As `_until`, for a short while only: then raises OSError with what is missing."""
        try:
            async with asyncio.timeout(AGREE_S):
                await self._until(true)
        except TimeoutError:
            raise ConnectionError(f"{missing} within {AGREE_S:g} s") from None

    async def _until(self, true: Callable[[], bool]) -> None:
        """Wait until the gateway has made that true. Raises OSError where it closes the connection before."""
        while not true():
            if not self.is_open:
                raise ConnectionError(f"the gateway closed the connection{said(await self._bytes.read(80))}")
            self._moved.clear()
            await self._moved.wait()


def said(data: bytes) -> str:
    """What was sent before a connection was closed, where that is text: servers say why in plain words."""
    text = "".join(sign if sign.isprintable() else " " for sign in data.decode("ascii", "replace")).strip()
    return f", and said: {text!r}" if text else ""
