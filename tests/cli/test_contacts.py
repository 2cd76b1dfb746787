"""Contacts by command: served with a run, through a power cut and back, and called over in the terminal."""

import contextlib
import json
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.cli.booth import WIRING, Booth
from tests.cli.running import PAIR, PATIENCE_S, Running, running
from tests.forked import Forked, ended


@pytest.fixture
def booth(tmp_path: Path) -> Iterator[Booth]:
    with Booth(tmp_path).speaking() as speaking:
        yield speaking


pytestmark = pytest.mark.slow


def served(booth: Booth) -> contextlib.AbstractContextManager[Running]:
    return running("serve", PAIR, "--contacts", booth.wiring, "--data", booth.data, "--port", "0")


def asked(server: Running, path: str = "", order: dict[str, Any] | None = None) -> Any:
    """What the server answers about its one run."""
    address = f"http://{server.host}/api/runs/{server.run_ids[0]}{path}"
    data = None if order is None else json.dumps(order).encode()
    request = urllib.request.Request(address, data, {"content-type": "application/json"} if data else {})
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        return json.load(answer)


def told(server: Running) -> list[tuple[str, str, float | None]]:
    """Everything that contacts made known of a station: kind, source, sigma."""
    events = asked(server)["events"]
    return [(each["kind"], each["source"], each.get("sigma_s")) for each in events if "station" in each]


def wait_for(true: Any) -> None:
    pause = threading.Event()
    for _ in range(round(PATIENCE_S / 0.05)):
        if true():
            return
        pause.wait(0.05)
    raise AssertionError("it did not come true")


def test_a_power_cut_in_mid_show_loses_nothing_and_tells_nothing_twice(booth: Booth) -> None:
    """The motor that ran before the cut runs on; the lamp that was lit during it was lit between then and now."""
    with served(booth) as server:
        wait_for(lambda: all(each["on"] is False for each in asked(server, "/contacts")["inputs"]))
        booth.box.change(1, True)
        wait_for(lambda: told(server) == [("motor_start", "contact:north/1", None)])
        server.kill()
    booth.box.levels[2] = True
    with served(booth) as server:
        wait_for(lambda: len(told(server)) == 2)
        wait_for(lambda: all(each["on"] is True for each in asked(server, "/contacts")["inputs"]))
        (start, lit) = told(server)
    assert start == ("motor_start", "contact:north/1", None)
    assert lit[:2] == ("lamp_lit", "contact:north/2")
    assert lit[2] is not None


def test_a_roll_call_is_led_over_http_and_kept_with_the_run(booth: Booth) -> None:
    """While it is on contacts make no events; its result is a note in the run's log."""
    with served(booth) as server:
        wait_for(lambda: all(each["on"] is False for each in asked(server, "/contacts")["inputs"]))
        assert asked(server, "/contacts/rollcall", {"do": "begin"})["on"]
        for level in (True, False):
            booth.box.levels.update({1: level, 2: level})
            wait_for(lambda wanted=level: all(i["on"] is wanted for i in asked(server, "/contacts")["inputs"]))
        wait_for(lambda: not asked(server, "/contacts")["on"])
        assert told(server) == []
        asked(server, "/contacts/rollcall", {"do": "keep", "by": "Ada"})
        *_, kept = [each for each in asked(server)["events"] if each["kind"] == "note"]
    assert kept["text"].startswith("Roll call: 2 of 2 inputs seen; missing: none; wrong: none;")
    assert kept["by"] == "Ada"


def test_every_fault_of_a_wiring_file_is_told_before_a_server_starts(tmp_path: Path) -> None:
    """One line a fault, status 2, and no port is opened."""
    wiring = tmp_path / "bad.contacts.toml"
    wiring.write_text(WIRING.format(port="nowhere").replace('"a"', '"h9"'), encoding="utf-8")
    told = ended("serve", PAIR, "--contacts", wiring, "--data", tmp_path / "log", "--port", "0")
    lines = told.stderr.splitlines()
    assert (told.returncode, told.stdout) == (2, "")
    assert [line.partition(": found ")[0].rpartition(": ")[2] for line in lines] == [
        "feeds[0].port",
        "inputs[0].station",
        "inputs[1].station",
    ]


def test_the_roll_call_in_the_terminal_ends_when_all_is_seen_and_is_kept(booth: Booth) -> None:
    """A contact that closes and opens is seen, and where it is the only one the roll call is over: status 0."""
    text = booth.wiring.read_text(encoding="utf-8")
    booth.wiring.write_text(text[: text.rindex("[[inputs]]")], encoding="utf-8")
    with Forked("contacts", booth.wiring, PAIR, "--keep", "--data", booth.data) as calling:
        wait_for(lambda: booth.toggle() and calling.poll() is not None)
        said = " ".join(calling.stdout.read().split())
    assert "Roll call: 1 of 1 inputs seen; missing: none; wrong: none; wired to nothing: none; bounce: none" in said
    assert "the result is kept." in said
    assert calling.returncode == 0


def test_a_roll_call_that_is_ended_by_hand_says_what_is_missing(tmp_path: Path) -> None:
    """Status 1, and a port that is not there is told beside its inputs."""
    wiring = tmp_path / "booth.contacts.toml"
    wiring.write_text(WIRING.format(port=tmp_path / "no-box"), encoding="utf-8")
    told = ended("contacts", wiring, PAIR, said="end\n")
    said = " ".join(told.stdout.split())
    assert f"north: {tmp_path / 'no-box'} cannot be opened" in said
    assert "Serial ports found on this computer:" in said
    assert "Roll call: 0 of 2 inputs seen; missing: motor of House 1 (north/1), lamp of House 1 (north/2);" in said
    assert told.returncode == 1


def test_without_files_the_ports_of_this_computer_are_listed() -> None:
    """Whoever writes a wiring file sees what can stand in it."""
    told = ended("contacts")
    assert told.returncode == 0
    assert "port" in told.stdout


def test_a_command_that_opens_no_port_does_not_wait_for_the_libraries_of_ports() -> None:
    """A plan is worked out in no time, whatever contacts need."""
    script = "import sys, server.assemble as _; print({'serialx', 'pymodbus', 'serial'} & set(sys.modules))"
    said = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True).stdout
    assert said == "set()\n"
