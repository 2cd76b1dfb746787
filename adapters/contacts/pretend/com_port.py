"""The serving side of Telnet's com port option, pure: bytes of one client in, bytes for the line and answers out.

Sources: RFC 854 and 855 (Telnet and its options), RFC 856 (binary), RFC 858 (no go-ahead), RFC 2217 (com port).
"""

from dataclasses import dataclass, field
from typing import Final, NamedTuple

SE, SB, WILL, WONT, DO, DONT, IAC = 240, 250, 251, 252, 253, 254, 255
BINARY, SUPPRESS_GO_AHEAD, COM_PORT = 0, 3, 44

SIGNATURE, SET_BAUDRATE, SET_DATASIZE, SET_PARITY, SET_STOPSIZE, SET_CONTROL = range(6)
NOTIFY_MODEMSTATE, SUSPEND, RESUME, SET_LINESTATE_MASK, SET_MODEMSTATE_MASK, PURGE_DATA = range(7, 13)
SERVER: Final = 100
"""What a server adds to the number of a command (RFC 2217, 1)."""

MODEM_BITS: Final = {"cts": 0x10, "dsr": 0x20, "ri": 0x40, "cd": 0x80}
"""The lines in a modem state, and by their short names (RFC 2217, 3); that each changed is four bits lower."""

RI: Final = MODEM_BITS["ri"]

_BAUDS: Final = range(50, 4_000_001)
"""Chosen; RFC 2217 names no limits."""

_ONE_OCTET: Final = {SET_DATASIZE: range(5, 9), SET_PARITY: range(1, 6), SET_STOPSIZE: range(1, 4)}
_CONTROLS: Final = ((0, {1, 2, 3, 17, 19}), (4, {5, 6}), (7, {8, 9}), (10, {11, 12}), (13, {14, 15, 16, 18}))
"""What asks for each of the settings that SET-CONTROL makes, and its values (RFC 2217, 3)."""

_OPTIONS: Final = {BINARY, SUPPRESS_GO_AHEAD, COM_PORT}
_OURS: Final = {BINARY, SUPPRESS_GO_AHEAD}
"""What a server does itself; the com port option is the client's to offer (RFC 2217, 1)."""


@dataclass
class ComPort:
    """The port that is served, the same for every client: how it is set, and its modem lines.

    `settings` are the values of RFC 2217 by command, `controls` those of SET-CONTROL by what asks for them. `state` is
    the modem state without what changed, as it was when the lines were last looked at.
    """

    baud: int = 9600
    settings: dict[int, int] = field(default_factory=lambda: {SET_DATASIZE: 8, SET_PARITY: 1, SET_STOPSIZE: 1})
    controls: dict[int, int] = field(default_factory=lambda: {0: 1, 4: 6, 7: 8, 10: 11, 13: 14})
    lines: dict[str, bool] = field(default_factory=lambda: dict.fromkeys(MODEM_BITS, False))

    state: int = 0

    def look(self) -> int | None:
        """Look at the lines; the modem state with what changed, None where nothing did.

        Of RI only that it ended is a change that has a bit (RFC 2217, 3).
        """
        before, self.state = self.state, sum(bit for line, bit in MODEM_BITS.items() if self.lines[line])
        if self.state == before:
            return None
        changed = (before ^ self.state) & ~RI | (before & ~self.state & RI)
        return self.state | changed >> 4


class Out(NamedTuple):
    """What came of some bytes: `line` is for the serial line, `client` the answers."""

    line: bytes
    client: bytes


class ComPortSession:
    """One client's connection. With `acknowledges_masks` false a mask is answered by the modem state alone.

    Both are found: RFC 2217 gives the answer a number and does not ask for it. In either case the modem state is told
    when its mask is set, as a client has no other way to know it before it changes.
    """

    def __init__(self, port: ComPort, *, acknowledges_masks: bool = True) -> None:
        self._port = port
        self._acknowledges_masks = acknowledges_masks
        self._held = b""
        self._on: set[tuple[int, int]] = set()
        self._modem_mask = 255
        self._suspended = False
        self._waiting = b""

    def feed(self, data: bytes) -> Out:
        """Take the next bytes of the client, however they are cut."""
        self._held += data
        line, answers = bytearray(), bytearray()
        while self._held:
            if self._held[0] != IAC:
                text, iac, rest = self._held.partition(bytes([IAC]))
                line += text
                self._held = iac + rest
                continue
            size = _size_of_command(self._held)
            if size is None:
                break
            command, self._held = self._held[:size], self._held[size:]
            if command == bytes([IAC, IAC]):
                line.append(IAC)
            else:
                answers += self._answer(command)
        return Out(bytes(line), self._sent(bytes(answers)))

    def data(self, data: bytes) -> bytes:
        """Bytes of the serial line, as they go to the client."""
        return self._sent(_escaped(data))

    def modem_state(self, state: int) -> bytes:
        """The modem state, with what changed, as its mask lets it through; empty where nothing is left of it."""
        left = state & self._modem_mask
        return self._sent(_subnegotiation(NOTIFY_MODEMSTATE, bytes([left]))) if left else b""

    def _sent(self, data: bytes) -> bytes:
        """What goes out now: nothing while the client has us wait (RFC 2217, 5)."""
        if self._suspended:
            self._waiting += data
            return b""
        data, self._waiting = self._waiting + data, b""
        return data

    def _answer(self, command: bytes) -> bytes:
        if command[1] == SB:
            inner = command[2:-2].replace(bytes([IAC, IAC]), bytes([IAC]))
            return self._com_port(inner[1], inner[2:]) if inner[:1] == bytes([COM_PORT]) and len(inner) > 1 else b""
        return self._negotiate(command[1], command[2]) if len(command) > 2 else b""

    def _negotiate(self, verb: int, option: int) -> bytes:
        """Agree to the options that are known; what is so already is not answered again (RFC 854)."""
        theirs = verb in {WILL, WONT}
        able = option in (_OPTIONS if theirs else _OURS)
        side = (WILL if theirs else DO, option)
        wanted = verb in {WILL, DO}
        if wanted and not able:
            return bytes([IAC, DONT if theirs else WONT, option])
        if wanted == (side in self._on):
            return b""
        self._on ^= {side}
        yes, no = (DO, DONT) if theirs else (WILL, WONT)
        return bytes([IAC, yes if wanted else no, option])

    def _com_port(self, command: int, value: bytes) -> bytes:
        if command == SIGNATURE:
            return b"" if value else _subnegotiation(SIGNATURE, b"pretended serial server")
        if command == SET_BAUDRATE and len(value) == 4:
            baud = int.from_bytes(value, "big")
            self._port.baud = baud if baud in _BAUDS else self._port.baud
            return _subnegotiation(SET_BAUDRATE, self._port.baud.to_bytes(4, "big"))
        if command in {SUSPEND, RESUME}:
            self._suspended = command == SUSPEND
            return b""
        return self._one_octet(command, value[0]) if len(value) == 1 else b""

    def _one_octet(self, command: int, value: int) -> bytes:
        if command in _ONE_OCTET:
            if value in _ONE_OCTET[command]:
                self._port.settings[command] = value
            return _subnegotiation(command, bytes([self._port.settings[command]]))
        if command == SET_CONTROL:
            return self._control(value)
        if command in {SET_LINESTATE_MASK, SET_MODEMSTATE_MASK}:
            return self._mask(command, value)
        return _subnegotiation(PURGE_DATA, bytes([value])) if command == PURGE_DATA and 1 <= value <= 3 else b""

    def _control(self, value: int) -> bytes:
        for asks, values in _CONTROLS:
            if value in values:
                self._port.controls[asks] = value
            if value == asks or value in values:
                return _subnegotiation(SET_CONTROL, bytes([self._port.controls[asks]]))
        return b""

    def _mask(self, command: int, value: int) -> bytes:
        told = _subnegotiation(command, bytes([value])) if self._acknowledges_masks else b""
        if command == SET_LINESTATE_MASK:
            return told  # no line state is ever told here
        self._modem_mask = value
        return told + _subnegotiation(NOTIFY_MODEMSTATE, bytes([self._port.state & value]))


def _size_of_command(data: bytes) -> int | None:
    """How many bytes the Telnet command takes that these begin with; None where it is not whole yet."""
    if len(data) < 2:
        return None
    if data[1] in {WILL, WONT, DO, DONT}:
        return 3 if len(data) > 2 else None
    if data[1] != SB:
        return 2
    at = 2
    while (at := data.find(IAC, at)) >= 0 and at + 1 < len(data):
        if data[at + 1] == SE:
            return at + 2
        at += 2
    return None


def _subnegotiation(command: int, value: bytes) -> bytes:
    return bytes([IAC, SB, COM_PORT, SERVER + command]) + _escaped(value) + bytes([IAC, SE])


def _escaped(data: bytes) -> bytes:
    return data.replace(bytes([IAC]), bytes([IAC, IAC]))
