"""Ports, and the addresses by which browsers find them."""

import socket

import pytest

from server.desk import listening
from server.desk.listening import PortFault, address, address_for_others, home_port, open_port, own_address

OWN = own_address()
on_a_network = pytest.mark.skipif(OWN is None, reason="this computer is on no network")


@pytest.mark.parametrize("host", ["127.0.0.1", "0.0.0.0"])
def test_a_port_that_serves_this_computer_is_its_own(host: str) -> None:
    """No second one is opened."""
    with open_port(host, 0) as port:
        assert home_port(port) is None


@on_a_network
def test_this_computer_has_a_port_of_its_own_where_it_needs_one() -> None:
    """Bound to one address of a network, the same number on loopback too: there no pairing is needed."""
    assert OWN is not None
    with open_port(OWN, 0) as port:
        number = port.getsockname()[1]
        assert address_for_others(port) == f"http://{OWN}:{number}"
        home = home_port(port)
        assert home is not None
        with home:
            assert address(home, "https") == f"https://127.0.0.1:{number}"


@on_a_network
def test_a_port_of_its_own_that_another_program_has_is_told() -> None:
    """A server whose own computer could not reach it would be of little use."""
    assert OWN is not None
    with (
        socket.create_server(("127.0.0.1", 0)) as other,
        open_port(OWN, other.getsockname()[1]) as port,
        pytest.raises(PortFault, match="in use by another program"),
    ):
        home_port(port)


def test_a_port_for_this_computer_alone_is_told_to_nobody() -> None:
    """Nobody else can come there."""
    with open_port("127.0.0.1", 0) as port:
        assert address_for_others(port, "https", ["booth.example"]) is None


def test_without_a_way_out_others_are_told_a_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """A network of the crew's own may lead nowhere: tablets find the computer by its name there."""
    monkeypatch.setattr(listening, "own_address", lambda _family: None)
    monkeypatch.setattr(socket, "gethostname", lambda: "booth")
    with open_port("0.0.0.0", 0) as port:
        assert address_for_others(port) == f"http://booth.local:{port.getsockname()[1]}"


@pytest.mark.parametrize(
    ("names", "host"),
    [
        (["booth.example", "localhost"], "booth.example"),
        (["localhost", "*.example", "booth.local"], "booth.local"),
        (["*.example", "localhost", "127.0.0.1"], None),
        (["booth.example", "OWN"], None),
        ([], None),
    ],
)
def test_others_are_told_a_name_that_the_certificate_has(names: list[str], host: str | None) -> None:
    """Else their browsers would warn; where its address is in it, or no name that leads here, the address itself."""
    own = OWN or f"{socket.gethostname()}.local"
    with open_port("0.0.0.0", 0) as port:
        told = address_for_others(port, "https", [name.replace("OWN", own) for name in names])
        assert told == f"https://{host or own}:{port.getsockname()[1]}"
