"""A search for Modbus units, at modules on a serial line, over TCP and behind a server."""

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from adapters.contacts.pretend.gateway import Gateway
from adapters.contacts.pretend.listener import HOST
from adapters.contacts.pretend.modules import Modules
from adapters.contacts.pretend.wires import Terminal
from server.trials import scan
from server.trials.scan import BAUDS, UNITS, Found, longest_s, refused, search, settings_of
from tests.adapters.contacts import others
from tests.adapters.contacts.peers import wire

UNITS_ASKED = (1, 2, 3, 4)


@asynccontextmanager
async def over_tcp(modules: Modules) -> AsyncIterator[str]:
    await modules.start_tcp()
    yield f"tcp://{HOST}:{modules.number}"
    await modules.kill()


async def searched(address: str, *bauds: int, units: Sequence[int] = UNITS_ASKED) -> Found:
    """What is found there; nobody is asked twice at one setting."""
    found, asked = Found(), list[tuple[int, str, int]]()
    settings = settings_of(address, bauds)
    await search(address, settings, units, found, lambda n, way, unit: asked.append((n, way.words, unit)))
    assert [n for n, _, _ in asked] == sorted({n for n, _, _ in asked})
    return found


def told(found: Found) -> list[tuple[int, str, str, str]]:
    return [(each.number, each.setting.words, each.discrete, each.coils) for each in found.units]


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A server of this computer answers at once or not at all."""
    monkeypatch.setattr(scan, "SERVER_ANSWERS_IN_S", 0.1)


async def test_units_over_tcp_are_found_with_what_they_have() -> None:
    """One with inputs, one that refuses what is asked, one that is deaf; the other framing is not tried then."""
    modules = Modules(1, 2, 3, size=40)
    modules.failing[2] = 1
    modules.deaf.add(3)
    async with over_tcp(modules) as address:
        found = await searched(address)
    assert told(found) == [(1, "Modbus TCP", "0 to 39", "0 to 39"), (2, "Modbus TCP", "none", "none")]
    assert (found.noisy, found.untried) == ([], {})


async def test_a_server_that_answers_for_a_unit_that_is_not_there_is_no_unit() -> None:
    """Exceptions 10 and 11 are a gateway's own; the framing behind a plain one is found too."""
    modules, gateway = Modules(2, size=1, absent=11), Gateway(plain=True)
    modules.attach(gateway)
    await gateway.start()
    found = await searched(f"tcp://{HOST}:{gateway.number}")
    await modules.kill()
    await gateway.kill()
    assert told(found) == [(2, "RTU over TCP", "0 to 0", "0 to 0")]


@pytest.mark.parametrize("size", [1, 2, 1999, 2000, 2001, 5000])
async def test_how_many_inputs_there_are_is_found_to_the_last(size: int) -> None:
    """As many as can be read at once; past that it is said that there may be more."""
    async with over_tcp(Modules(1, size=size)) as address:
        ((_, _, discrete, coils),) = told(await searched(address))
    assert discrete == coils == (f"0 to {size - 1}" if size < 2000 else "0 to 1999 at least")


async def test_a_line_is_searched_at_every_speed(tmp_path: Path) -> None:
    """A unit answers at the one that it is set to, and at no other."""
    terminal, modules = Terminal(tmp_path / "line"), Modules(3)
    modules.attach(terminal, baud=19_200)
    terminal.plug()
    found = await searched(str(terminal.name), 9600, 19_200)
    terminal.unplug()
    await modules.kill()
    assert {each.setting.baud for each in found.units} == {19_200}
    assert {each.number for each in found.units} == {3}


async def test_what_comes_and_is_no_answer_is_told(tmp_path: Path) -> None:
    """Noise is no unit, and no silence either."""
    terminal = Terminal(tmp_path / "line")
    terminal.heard = lambda _: terminal.send(b"\x01\x02\x03")
    terminal.plug()
    found = await searched(str(terminal.name), 9600)
    terminal.unplug()
    assert found.units == []
    assert found.noisy[0].words == "9600 baud, parity none"


async def test_units_that_others_made_are_found(tmp_path: Path) -> None:
    """On libmodbus: over TCP, and on a line where it is asked first."""
    modules = others.Modules(tmp_path, 1, 3)
    modules.fail(3, 4)
    with others.gone_at_the_end(modules):
        await modules.start_tcp()
        found = await searched(f"tcp://{HOST}:{modules.number}")
        assert told(found) == [(1, "Modbus TCP", "0 to 15", "0 to 15"), (3, "Modbus TCP", "none found", "none found")]
        modules.kill()
        async with wire(tmp_path) as (ours, theirs):
            modules.be_there(2)
            await modules.start_rtu(theirs, 2)
            found = await searched(ours, 115_200, units=[2, 3])
            assert told(found)[:1] == [(2, "115200 baud, parity none", "0 to 15", "0 to 15")]


async def test_a_setting_that_cannot_be_tried_is_told_by_why(tmp_path: Path) -> None:
    """A device that is not there, a server that closes the connection."""
    missing = await searched(str(tmp_path / "none"), 9600)
    assert {why: len(ways) for why, ways in missing.untried.items()} == {"no such file or directory": 3}
    async with over_tcp(Modules(9)) as address:
        closed = await searched(address)
    assert {why: [each.words for each in ways] for why, ways in closed.untried.items()} == {
        "the connection was closed": ["RTU over TCP"]
    }


def test_it_is_told_before_how_long_it_may_take() -> None:
    """At every speed and parity for a device, in both framings over the network."""
    every = settings_of("/dev/ttyUSB0", BAUDS)
    assert len(every) == 3 * len(BAUDS)
    assert 600.0 < longest_s(every, UNITS) < 900.0
    assert longest_s(settings_of("/dev/ttyUSB0", [9600]), range(1, 33)) < 15.0
    assert [each.words for each in settings_of("tcp://host:502", BAUDS)] == ["Modbus TCP", "RTU over TCP"]


def test_only_what_modules_can_be_behind_is_searched() -> None:
    """A device or a server of Modbus."""
    assert [refused(address) for address in ("/dev/ttyUSB0", "COM3", "tcp://host:502")] == [None] * 3
    assert refused("rfc2217://host:4001") == (
        "found 'rfc2217://host:4001'; accepted a device such as /dev/ttyUSB0 or tcp://host:port"
    )
