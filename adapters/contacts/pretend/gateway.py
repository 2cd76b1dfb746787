"""A serial server: a serial port with its modem lines on the network, over RFC 2217 or as plain TCP."""

import asyncio

from adapters.contacts.pretend.com_port import ComPort, ComPortSession
from adapters.contacts.pretend.listener import HOST, Listener, Talk
from adapters.contacts.pretend.wires import Heard


class Gateway:
    """A serial server, and the Wire of the part at its serial port. Any number of clients share it.

    A `plain` one carries bytes and nothing else. A `stalled` one keeps its connections and says nothing. With
    `sampling_ms` over 0 the modem lines are looked at only so often. `acknowledges_masks`: see ComPortSession.
    """

    def __init__(self, *, plain: bool = False, acknowledges_masks: bool = True, sampling_ms: int = 0) -> None:
        self.port = ComPort()
        self.heard: Heard | None = None
        self.stalled = False
        self.acknowledges_masks = acknowledges_masks
        self.sampling_ms = sampling_ms
        self._plain = plain
        self._tick: asyncio.TimerHandle | None = None
        self._listener = Listener(lambda: _Client(self))

    @property
    def number(self) -> int:
        """The TCP port, 0 before it was first started."""
        return self._listener.number

    @property
    def address(self) -> str:
        """What a wiring file calls it."""
        return f"{'socket' if self._plain else 'rfc2217'}://{HOST}:{self.number}"

    @property
    def baud(self) -> int | None:
        """As Wire: nobody sets a plain one."""
        return None if self._plain else self.port.baud

    async def start(self) -> None:
        """Serve, on the port it had before if it had one."""
        await self._listener.start()
        if self.sampling_ms:
            self._sample()

    async def kill(self) -> None:
        """Drop every connection, and take no new one."""
        if self._tick is not None:
            self._tick.cancel()
            self._tick = None
        await self._listener.kill()

    def set_line(self, name: str, level: bool) -> None:
        """A modem line ("cts", "dsr", "cd", "ri") goes over."""
        self.port.lines[name] = level
        if not self.sampling_ms:
            self._look()

    def send(self, data: bytes) -> None:
        """As Wire."""
        for client in self._clients():
            client.write(data if client.session is None else client.session.data(data))

    def new_session(self) -> ComPortSession | None:
        """What a new client talks to, None where this is plain."""
        if self._plain:
            return None
        if not self.sampling_ms:
            self._look()
        return ComPortSession(self.port, acknowledges_masks=self.acknowledges_masks)

    def _look(self) -> None:
        """Tell what changed of the modem lines since they were last looked at."""
        state = self.port.look()
        for client in self._clients():
            if state is not None and client.session is not None:
                client.write(client.session.modem_state(state))

    def _clients(self) -> "list[_Client]":
        return [] if self.stalled else list(self._listener.talks)

    def _sample(self) -> None:
        self._look()
        self._tick = asyncio.get_running_loop().call_later(self.sampling_ms / 1000, self._sample)


class _Client(Talk):
    """One connection to it."""

    def __init__(self, gateway: Gateway) -> None:
        super().__init__()
        self._gateway = gateway
        self.session = gateway.new_session()

    def data_received(self, data: bytes) -> None:
        if self._gateway.stalled:
            return
        if self.session is not None:
            data, answers = self.session.feed(data)
            self.write(answers)
        if data and self._gateway.heard is not None:
            self._gateway.heard(data)
