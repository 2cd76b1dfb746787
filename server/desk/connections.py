"""How many connections one address may hold open, whatever is asked over them."""

import asyncio

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from server.desk.access import is_loopback

CONNECTIONS = 128
"""Chosen: a dozen tablets behind one access point, each with all runs. The system gives a program some 1000."""


class CountedConnection(HttpToolsProtocol):
    """uvicorn's connection, but for the one too many of another computer: that is dropped unheard.

    Websockets count too: they begin as such a connection, and stay in the same set.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection up, or drop it."""
        super().connection_made(transport)
        if self.client is None or is_loopback(self.client[0]):
            return
        peers = [getattr(each, "client", None) for each in self.connections]
        if sum(peer is not None and peer[0] == self.client[0] for peer in peers) > CONNECTIONS:
            transport.abort()
