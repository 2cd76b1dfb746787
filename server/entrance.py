"""How devices come in to one server, put together: its ports, names, certificate and doorkeeper."""

import logging
import socket
from collections.abc import Callable, Container, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

from server.access import Doorkeeper, KeyFault, Pairings, Signer, Store, signing_key
from server.access.whereabouts import Whereabouts, found_in
from server.clock import Clock
from server.desk.access import Hosts
from server.desk.listening import PortFault, address, address_for_others, home_port
from server.desk.tls import CertificateFault, SiteCertificate, site_certificate
from server.desk.visitors import PAIR_PAGE, PAIRINGS_PAGE
from server.plan_runs import Tell
from server.terminal.welcome import told_of_pairing

FAULTS = (CertificateFault, KeyFault, PortFault)
"""What keeps a server from being open, each said in one sentence."""


Open = Callable[[str], object]

_log = logging.getLogger(__name__)


class Entrance(NamedTuple):
    """`here` and `others` are the addresses for this computer and for other devices, None where none can come."""

    ports: list[socket.socket]
    hosts: Hosts
    certificate: SiteCertificate | None
    doorkeeper: Doorkeeper
    here: str
    others: str | None

    def how_to_pair(self, *, at_terminal: bool) -> str | None:
        """What the person who started the server reads of it; with a new code `at_terminal` alone, where none is kept.

        None where no other device can come.
        """
        if self.others is None:
            return None
        page, listed = f"{self.others}{PAIR_PAGE}", f"{self.here}{PAIRINGS_PAGE}"
        code = self.doorkeeper.codes.make(None, "booth")[0] if at_terminal else None
        left = self.certificate.until - Clock().now() if self.certificate else None
        return told_of_pairing(page, listed, code, left)

    def tell_addresses(
        self, run_ids: Sequence[str], wired: Container[str], tell: Tell, opened: Open | None, *, at_terminal: bool
    ) -> None:
        """Tell where the desks of these runs are, and how other devices come in; `wired` are those with contacts.

        `opened` gets the address of the first wall, or of the library where there is none.
        """
        here = self.here
        for run_id in run_ids:
            tell(f"{run_id}\n  wall   {here}/wall?run={run_id}\n  booth  {here}/booth?run={run_id}")
            if run_id in wired:
                tell(f"  roll call of its contacts  {here}/rollcall?run={run_id}")
        if run_ids:
            tell(f"all runs\n  lobby  {here}/lobby")
        tell(f"plans\n  plan   {here}/plan")
        tell(f"the log\n  library {here}/library")
        how = self.how_to_pair(at_terminal=at_terminal)
        if how is not None:
            tell(how)
        tell("Stop with Ctrl-C.")
        _log.info("serving", extra={"address": here, "others": self.others, "runs": list(run_ids)})
        if opened is not None:
            opened(f"{here}/wall?run={run_ids[0]}" if run_ids else f"{here}/library")


@contextmanager
def entrance(
    devices: Store, data: str, port: socket.socket, certificate: SiteCertificate | None = None
) -> Iterator[Entrance]:
    """Open a server on `port` until the block ends; `data` is the folder of the log that keeps `devices`.

    Raises KeyFault and PortFault.
    """
    folder, now = Path(data), Clock().now
    doorkeeper = Doorkeeper(Pairings(devices, Signer(signing_key(folder)), now), now)
    names = certificate.names if certificate else []
    scheme = "https" if certificate else "http"
    with ExitStack() as stack:
        home = home_port(port)
        ports = [port] if home is None else [port, stack.enter_context(home)]
        here = address(ports[-1], scheme)
        stack.enter_context(found_in(folder, Whereabouts(here, certificate.text if certificate else None)))
        hosts = Hosts(port.getsockname()[0], names)
        yield Entrance(ports, hosts, certificate, doorkeeper, here, address_for_others(port, scheme, names))


def certificate_from_files(certificate: Path | str | None, key: Path | str | None) -> SiteCertificate | None:
    """The certificate of these files, None where neither is given. Raises CertificateFault, also where one is not."""
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise CertificateFault("TLS needs both --certificate and --key: found one of them")
    return site_certificate(Path(certificate), Path(key))
