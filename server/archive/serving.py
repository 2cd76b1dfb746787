"""The archive's server, put together: it keeps nothing, so that several of it can run side by side."""

import asyncio
import socket
from collections.abc import Callable, Sequence
from contextlib import closing

from server.archive.desk import create_archive_app
from server.archive.faults import ArchiveFault
from server.archive.place import ArchiveAddress
from server.archive.reading import ArchivedRuns
from server.archive.watching import Watch
from server.desk.access import Hosts
from server.desk.apart import Apart, Opening
from server.desk.listening import WebServer, address, address_for_others
from server.desk.pages import web_folder

WHOEVER = "Whoever reaches this address reads all that it may read: let a proxy alone reach it, which signs people in."


def serve_archive(
    archive: ArchiveAddress, port: socket.socket, names: Sequence[str], tell: Callable[[str], None]
) -> None:
    """Serve the overview, library and debriefs of an archive on `port` until a signal ends it.

    `names` are those by which a proxy is asked for it. `tell` gets what the person who started it should read, a line
    at a time. Raises ArchiveFault where the archive cannot be read.
    """
    whole = archive.whole()
    opening = Opening(ArchivedRuns.reading, whole, (ArchiveFault,), origin="archive")
    with closing(ArchivedRuns.reading(whole)) as runs, closing(Apart(opening)) as apart:
        watch = Watch(archive)
        hosts = Hosts(port.getsockname()[0], proxied=names)
        app = create_archive_app(runs, watch, apart, hosts, web_folder())
        server = WebServer(app, lambda: _tell(port, tell), ending=watch.end)
        with asyncio.Runner(loop_factory=server.config.get_loop_factory()) as runner:
            runner.run(_serve(server, watch, port))


async def _serve(server: WebServer, watch: Watch, port: socket.socket) -> None:
    with watch.watched():
        await server.serve([port])


def _tell(port: socket.socket, tell: Callable[[str], None]) -> None:
    here = address(port)
    tell(f"every site\n  overview {here}/overview\nthe archive\n  library  {here}/library")
    if address_for_others(port) is not None:
        tell(WHOEVER)
    tell("Stop with Ctrl-C.")
