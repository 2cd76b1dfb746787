"""What stands in for the feeds of a wiring file, as our own ports meet it."""

import subprocess
import sys
from pathlib import Path

import pytest

from adapters.contacts.pretend.stand_ins import STAND_INS, NotHere, StandIn
from server.contact_boards import CONTACT_KINDS
from tests.adapters.contacts.showing import show
from tests.adapters.contacts.wired import wiring
from tests.repository.checkout import ROOT

FEEDS = {
    "a box at a device": ('kind = "text"\nport = "/dev/ttyUSB0"', "2"),
    "a box behind a plain server": ('kind = "text"\nport = "socket://192.0.2.7:4001"', "2"),
    "a box behind a serial server": ('kind = "text"\nport = "rfc2217://192.0.2.7:4001"', "2"),
    "status lines of a device": ('kind = "modem"\nport = "/dev/ttyS0"', "DSR"),
    "status lines behind a server": ('kind = "modem"\nport = "rfc2217://192.0.2.7:4001"', "DSR"),
    "modules at a device": ('kind = "modbus"\nport = "/dev/ttyUSB0"\nparity = "even"', "2/coil/17"),
    "modules over TCP": ('kind = "modbus"\nport = "tcp://192.0.2.7:502"', "2/coil/17"),
    "modules behind a server": ('kind = "modbus"\nport = "tcp://192.0.2.7:502"\nframing = "rtu"', "2/coil/17"),
}


def keys_of(feed: str) -> dict[str, str]:
    pairs = (line.split(" = ") for line in feed.splitlines())
    return {key: value.strip('"') for key, value in pairs}


def stand_in(feed: str, places: list[str], folder: Path) -> StandIn:
    wires = [(place, f"s{n}", "motor") for n, place in enumerate(places)]
    made = wiring(f'id = "north"\n{feed}', wires).feeds[0]
    return STAND_INS[made.kind.name](made, keys_of(feed), folder / "port")


def copied(feed: str, part: StandIn, **more: str) -> str:
    """The lines of a feed whose port is the part's."""
    keys = keys_of(feed) | {"port": part.address} | {key: str(value) for key, value in part.keys.items()}
    return "\n".join([*(f'{key} = "{value}"' for key, value in keys.items()), *(f"{k} = {v}" for k, v in more.items())])


def test_every_kind_of_port_has_something_that_stands_in_for_it() -> None:
    """A new kind can be played, too."""
    assert set(STAND_INS) == set(CONTACT_KINDS)


def test_nothing_pretended_knows_a_client_library() -> None:
    """What the ports are held against is written from documents, not from what the ports are made of."""
    script = (
        "import sys, adapters.contacts.pretend.stand_ins, adapters.contacts.pretend.orders;"
        "print({name.partition('.')[0] for name in sys.modules} & {'serialx', 'pymodbus', 'serial'})"
    )
    said = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True, cwd=ROOT).stdout
    assert said == "set()\n"


@pytest.mark.parametrize("name", FEEDS)
async def test_our_port_hears_what_stands_in_for_a_feed(name: str, tmp_path: Path) -> None:
    """A contact that closes arrives; unplugged it is gone; plugged in again, what changed meanwhile arrives."""
    feed, place = FEEDS[name]
    part = stand_in(feed, [place], tmp_path)
    await part.plug()
    async with show(copied(feed, part), [(place, "s0", "motor")]) as shown:
        await shown.knows()
        part.set(place, True)
        await shown.has("motor_start")
        await part.unplug()
        await shown.has("feed_down")
        part.set(place, False)
        await part.plug()
        await shown.has("feed_up", 2)
        assert shown.said() == ["feed_up", "motor_start", "feed_down", "motor_stop", "feed_up"]
    await part.unplug()


@pytest.mark.parametrize("name", FEEDS)
async def test_a_silent_part_is_told_and_speaks_again_when_it_is_plugged_in(name: str, tmp_path: Path) -> None:
    """Its port is there all the while."""
    feed, place = FEEDS[name]
    part = stand_in(feed, [place], tmp_path)
    await part.plug()
    more = {"silent_s": "0.6"} if "text" in feed else {}
    async with show(copied(feed, part, **more), [(place, "s0", "motor")]) as shown:
        await shown.knows()
        part.hush(None)
        await shown.has("feed_down")
        await part.plug()
        await shown.has("feed_up", 2)
    await part.unplug()


async def test_one_unit_of_several_falls_silent_by_itself(tmp_path: Path) -> None:
    """The other is read on; a unit that there is not is said."""
    feed, places = FEEDS["modules over TCP"][0], ["1/discrete/0", "2/discrete/0"]
    part = stand_in(feed, places, tmp_path)
    await part.plug()
    async with show(copied(feed, part), [(places[0], "s0", "motor"), (places[1], "s1", "motor")]) as shown:
        await shown.knows()
        part.hush("2")
        await shown.has("feed_down")
        assert shown.last("feed_down").source == "contact:north/2"
        part.set(places[0], True)
        await shown.has("motor_start")
    with pytest.raises(NotHere, match="accepted one of its units: 1, 2"):
        part.hush("3")
    await part.unplug()


@pytest.mark.parametrize("name", ["a box at a device", "status lines of a device"])
def test_what_only_some_parts_can_do_is_said(name: str, tmp_path: Path) -> None:
    """No part of a box falls silent by itself, and status lines have no line of text to lose."""
    feed, place = FEEDS[name]
    part = stand_in(feed, [place], tmp_path)
    with pytest.raises(NotHere, match="accepted a whole feed"):
        part.hush("1")
    if "modem" in feed:
        with pytest.raises(NotHere, match="accepted a feed of a box that sends lines"):
            part.lose(place, True)


async def test_a_line_that_is_lost_is_made_good_by_the_next_with_all_levels(tmp_path: Path) -> None:
    """The server is told that one was lost."""
    feed, place = FEEDS["a box at a device"]
    part = stand_in(feed, [place], tmp_path)
    await part.plug()
    async with show(copied(feed, part), [(place, "s0", "motor")]) as shown:
        await shown.knows()
        part.lose(place, True)
        await shown.has("motor_start")
        assert any("lines were lost on the way" in note for note in shown.notes())
    await part.unplug()


@pytest.mark.parametrize("name", FEEDS)
async def test_random_bytes_do_not_keep_a_feed_from_being_heard(name: str, tmp_path: Path) -> None:
    """Whatever kind of port it is: after the damage its contacts arrive as before."""
    feed, place = FEEDS[name]
    part = stand_in(feed, [place], tmp_path)
    await part.plug()
    async with show(copied(feed, part), [(place, "s0", "motor")]) as shown:
        await shown.knows()
        for seed in range(20):
            part.send_bytes(bytes((seed * 37 + n * 101) % 256 for n in range(50)))
        await shown.knows()
        part.set(place, True)
        await shown.has("motor_start")
    await part.unplug()


@pytest.mark.parametrize("name", FEEDS)
async def test_a_part_with_a_tick_of_its_own_tells_changes_at_the_tick(name: str, tmp_path: Path) -> None:
    """So the wiring file says, and a change has the tick in its uncertainty."""
    feed, place = FEEDS[name]
    wires = [(place, "s0", "motor")]
    made = wiring(f'id = "north"\n{feed}\nsampling_ms = 200', wires).feeds[0]
    part = STAND_INS[made.kind.name](made, keys_of(feed), tmp_path / "port")
    await part.plug()
    async with show(copied(feed, part, sampling_ms="200"), wires) as shown:
        await shown.knows()
        part.set(place, True)
        await shown.has("motor_start")
        sigma_s = shown.last("motor_start").sigma_s
        assert sigma_s is not None
        assert sigma_s > 0.05
    await part.unplug()
