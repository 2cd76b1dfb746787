"""Contacts tried without a show, by command: played without hardware, listened to, searched."""

import json
import re
import shlex
import signal
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from subprocess import STDOUT
from threading import Event
from typing import Any

import pytest

from tests.cli.running import PATIENCE_S, ROOT, Running, running
from tests.forked import Forked, ended

pytestmark = pytest.mark.slow

WIRING = ROOT / "fixtures" / "contacts" / "pair.contacts.toml"
# A show of a few seconds, for whoever waits for no lamp.
PLAN = """\
format = "festoon-plan/1"
title = "Desk"
[timing]
motors_at = 2026-03-14T23:50:00Z
tail_sigma_s = 0.1
[[print]]
id = "leader"
kind = "leader"
frames = 24
[[print]]
id = "short"
kind = "feature"
duration = "0:02"
cue = true
[[print]]
id = "tail"
kind = "tail"
frames = 24
[[stations]]
id = "a"
house = "1"
inputs = { motor = "contact", lamp = "contact", douser = "none", cue = "contact" }
[[stations]]
id = "b"
house = "2"
path_ft = 1
inputs = { motor = "contact", lamp = "contact", douser = "contact", cue = "none" }
"""


SHORT_WIRING = """\
format = "festoon-contacts/1"
[[feeds]]
id = "box"
kind = "text"
port = "/dev/ttyUSB0"
[[inputs]]
feed = "box"
input = "1"
station = "a"
what = "motor"
[[inputs]]
feed = "box"
input = "2"
station = "a"
what = "cue"
[[inputs]]
feed = "box"
input = "3"
station = "a"
what = "failsafe"
normally = "closed"
"""


class Talking:
    """A command that is said something, and answers; `said` is what it printed before."""

    def __init__(self, process: Forked) -> None:
        self.process = process
        self.said: list[str] = []

    def hear(self, words: str) -> str:
        """The next line that has these words in it."""
        for line in self.process.stdout:
            self.said.append(line)
            if words in line:
                return line
        raise AssertionError(f"{words!r} was not said: {''.join(self.said)}")

    def say(self, line: str, words: str) -> str:
        """Say an order, and hear its answer."""
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()
        return self.hear(words)

    def interrupt(self) -> int:
        """Ctrl-C, and its exit status once it has said the rest."""
        self.process.send_signal(signal.SIGINT)
        return self.rest()

    def rest(self) -> int:
        """Its exit status once it has said the rest."""
        self.said += self.process.stdout.readlines()
        return self.process.wait(PATIENCE_S)


@contextmanager
def talking(*arguments: str | Path) -> Iterator[Talking]:
    """`festoon contacts` with these arguments, until the block ends."""
    surroundings = {"COLUMNS": "200", "TZ": "UTC"}
    with Forked("contacts", *arguments, variables=surroundings, errors=STDOUT) as process:
        try:
            yield Talking(process)
        finally:
            process.kill()


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "desk.plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@contextmanager
def played(plan: Path, *more: str | Path, wiring: Path = WIRING) -> Iterator[Talking]:
    """A wiring file, played; the fixture's has a box, status lines and two modules."""
    with talking("--pretend", wiring, plan, *more) as playing:
        playing.hear("All orders: help")
        yield playing


def port_of(playing: Talking, feed: str) -> str:
    found = re.search(rf"^  {feed}  \w+  (\S+)$", "".join(playing.said), re.MULTILINE)
    assert found
    return found[1]


def command_of(playing: Talking, name: str) -> list[str]:
    """The arguments of a command that it says to type in another terminal."""
    (line,) = [line for line in playing.said if line.startswith(f"  festoon {name} ")]
    return shlex.split(line)[1:]


def events_of(server: Running) -> list[tuple[str, str]]:
    """The kind and the source of all that the server's one run has of contacts."""
    with urllib.request.urlopen(f"http://{server.host}/api/runs/{server.run_ids[0]}", timeout=PATIENCE_S) as answer:
        events: list[dict[str, Any]] = json.load(answer)["events"]
    return [(each["kind"], each["source"].removeprefix("contact:")) for each in events if each["kind"] != "note"]


def wait_for(true: Callable[[], bool]) -> None:
    pause = Event()
    for _ in range(round(PATIENCE_S / 0.05)):
        if true():
            return
        pause.wait(0.05)
    raise AssertionError("it did not come true")


def test_orders_at_a_desk_arrive_at_a_server_that_was_started_as_it_says(plan: Path) -> None:
    """Three kinds of port, a fault and its end; your own files, log and ports are left alone."""
    before = WIRING.read_text(encoding="utf-8"), plan.read_text(encoding="utf-8")
    with played(plan) as playing, running(*command_of(playing, "serve"), "--port", "0") as server:
        folder = Path(command_of(playing, "serve")[1]).parent
        wait_for(lambda: sum(kind == "feed_up" for kind, _ in events_of(server)) == 3)
        assert playing.say("close motor House 1", "box/1") == "Motor of House 1 (box/1): closed, so it runs.\n"
        playing.say("close gateway/CTS", "closed, so it runs.")
        playing.say("close lamp House 2", "closed, so it is lit.")
        wanted = {("motor_start", "box/1"), ("motor_start", "gateway/CTS"), ("lamp_lit", "modules/1/discrete/0")}
        wait_for(lambda: wanted <= set(events_of(server)))
        playing.say("unplug box", "box is unplugged.")
        wait_for(lambda: ("feed_down", "box") in events_of(server))
        playing.say("open motor House 1", "Nobody hears it: box is unplugged.")
        playing.say("plug box", "box is there and speaks")
        wait_for(lambda: ("motor_stop", "box/1") in events_of(server))
        playing.say("end", "The pretended ports are gone.")
        assert playing.rest() == 0
    assert (WIRING.read_text(encoding="utf-8"), plan.read_text(encoding="utf-8")) == before
    assert folder.is_absolute()
    assert not folder.exists()


def test_a_show_is_played_through_the_contacts(plan: Path, tmp_path: Path) -> None:
    """Motor, foil and the film's end, in their order, as a server sees them."""
    wiring = tmp_path / "short.contacts.toml"
    wiring.write_text(SHORT_WIRING, encoding="utf-8")
    with played(plan, wiring=wiring) as playing, running(*command_of(playing, "serve"), "--port", "0") as server:
        wait_for(lambda: ("feed_up", "box") in events_of(server))
        assert "Nothing goes wrong." in playing.say("show now", "A show: ")
        playing.say("show now", "found a show that is on; accepted rest first")
        playing.hear("The show is over.")
        wait_for(lambda: ("motor_stop", "box/1") in events_of(server))
        seen = [each for each in events_of(server) if each[1].startswith("box/")]
    told = [line[10:].strip() for line in playing.said if re.match(r"\d\d:\d\d:\d\d  ", line)]
    assert sorted(seen) == [
        ("film_trip", "box/3"),
        ("mark_pass", "box/2"),
        ("motor_start", "box/1"),
        ("motor_stop", "box/1"),
    ]
    assert told == [
        "Motor of House 1 (box/1): closed, so it runs.",
        "Cue of House 1 (box/2): a foil goes by.",
        "Failsafe of House 1 (box/3): open, so it has tripped.",
        "Motor of House 1 (box/1): open, so it stands.",
    ]


def test_wrong_orders_are_answered_with_one_sentence_and_nothing_ends(plan: Path) -> None:
    """What was found, and what is accepted."""
    with played(plan) as playing:
        playing.say("shut motor House 1", "found 'shut'; accepted close, open,")
        playing.say(
            "close motor House 9", "found 'motor House 9' after close; accepted an input: box/1 (motor House 1)"
        )
        playing.say("lose gateway/CTS", "found lose gateway/CTS; accepted a feed of a box that sends lines")
        playing.say("silent modules/7", "found silent modules; accepted one of its units: 1, 2")
        playing.say("show lullaby", "found 'lullaby' after show; accepted now, and one of clean,")
        playing.say("list", "Failsafe of House 2 (gateway/DSR): closed, so it has not tripped.")
        playing.say("end", "gone")
        assert playing.rest() == 0


def test_what_was_written_for_the_server_is_kept_where_that_was_asked_for(plan: Path, tmp_path: Path) -> None:
    """With its comments; and nothing that is there already is written over."""
    folder = tmp_path / "kept"
    with played(plan, "--to", folder) as playing:
        assert playing.interrupt() == 0
    text = (folder / "pretended.contacts.toml").read_text(encoding="utf-8")
    assert "# A box with inputs on a USB port" in text
    assert 'port = "rfc2217://127.0.0.1:' in text
    assert 'parity = "none"' in text
    again = ended("contacts", "--pretend", WIRING, plan, "--to", folder)
    assert again.returncode == 2
    assert "pretended.contacts.toml; accepted a folder without it" in again.stderr


def test_a_wiring_file_with_faults_is_not_played(plan: Path, tmp_path: Path) -> None:
    """Each is told as when a server is started: status 2."""
    bad = tmp_path / "bad.contacts.toml"
    bad.write_text(WIRING.read_text(encoding="utf-8").replace('"CTS"', '"CTX"'), encoding="utf-8")
    faults = ended("contacts", "--pretend", bad, plan)
    assert (faults.returncode, faults.stdout) == (2, "")
    assert "found 'CTX'; accepted CTS, DSR, DCD or RI" in faults.stderr


def test_lines_of_a_box_are_told_as_they_come_with_what_they_mean(plan: Path) -> None:
    """Sound, lost, damaged; at Ctrl-C what came in all: status 0."""
    with played(plan) as playing, talking("--listen", port_of(playing, "box")) as heard:
        heard.hear("sound; open: 1 2 3")
        playing.say("close box/2", "closed")
        heard.hear("sound; 2 went closed")
        playing.say("lose box/1", "lost")
        heard.hear("sound; 1 lost before it; closed: 1 2; open: 3")
        playing.say("damage box 0.2", "random bytes")
        heard.hear("damaged: ")
        assert heard.interrupt() == 0
        assert re.search(r"  in all \d+ sound lines, \d+ damaged, 1 lost, \d+ bytes\n$", heard.said[-1])


def test_a_box_that_says_nothing_is_told_with_status_1(plan: Path) -> None:
    """The port is there, and nothing came."""
    with played(plan) as playing:
        playing.say("silent box", "box is silent")
        with talking("--listen", port_of(playing, "box")) as heard:
            heard.hear("Listening at")
            assert heard.interrupt() == 1
            assert "in all 0 sound lines, 0 damaged, 0 lost, 0 bytes" in heard.said[-1]


def test_status_lines_are_told_at_first_and_when_they_change(plan: Path) -> None:
    """Over the network too, with when the change was at the earliest."""
    with played(plan) as playing, talking("--listen", port_of(playing, "gateway"), "--kind", "modem") as heard:
        heard.hear("DSR  closed (high)")
        playing.say("close gateway/CTS", "closed")
        assert re.search(r"CTS  went closed \(high\), within \d+ ms before", heard.hear("CTS  went"))
        playing.say("unplug gateway", "unplugged")
        heard.hear("it is tried again every 1 s")
        playing.say("plug gateway", "there")
        heard.hear("the port is open again")
        assert heard.interrupt() == 0


def test_a_search_tells_which_units_answer_and_what_they_have(plan: Path) -> None:
    """On a serial line, with how long it may take told before: status 0 where one answers, 1 where none does."""
    with played(plan) as playing:
        port = port_of(playing, "modules")
        found = ended("contacts", "--scan", port, "--units", "1-3", "--baud", "9600")
        none = ended("contacts", "--scan", port, "--units", "9", "--baud", "9600")
    lines = [" ".join(line.split()) for line in found.stdout.splitlines()]
    assert lines[0].startswith(f"3 units from 1 to 3 at {port}, 3 settings: 1 s at most. Nothing is written.")
    assert "1 9600 baud, parity none 0 to 15 0 to 15" in lines
    assert "2 9600 baud, parity none 0 to 15 0 to 15" in lines
    assert found.returncode == 0
    assert "No unit answered." in none.stdout
    assert none.returncode == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("--listen /dev/ttyS9 --scan /dev/ttyS9", "found --listen and --scan; accepted one of them"),
        ("--listen /dev/ttyS9 --units 1", "--units: found it with --listen; accepted with --scan"),
        ("WIRING PLAN --scan /dev/ttyS9", "WIRING: found it with --scan; accepted with a roll call or --pretend"),
        ("WIRING PLAN --to here", "--to: found it with a roll call; accepted with --pretend"),
        ("--pretend WIRING", "PLAN: found none; accepted a wiring file and the plan of its stations"),
        ("WIRING", "PLAN: found none; accepted a wiring file and the plan of its stations"),
        ("--listen tcp://127.0.0.1:502", "accepted for those: festoon contacts --scan tcp://127.0.0.1:502"),
        ("--listen socket://127.0.0.1:1 --kind modem", "accepted rfc2217://host:port or a device"),
        ("--scan socket://127.0.0.1:1", "accepted a device such as /dev/ttyUSB0 or tcp://host:port"),
        ("--scan tcp://127.0.0.1:1 --baud 9600", "--baud: found it with tcp://127.0.0.1:1, which has no speed"),
        ("--listen /dev/ttyS9 --kind modem --baud 9600", "--baud: found it with --kind modem, which has no speed"),
        ("--scan /dev/ttyS9 --units 0-3", "found '0-3'; accepted units from 1 to 247"),
        ("--scan /dev/ttyS9 --units 9-3", "found '9-3'; accepted units from 1 to 247"),
    ],
)
def test_what_does_not_go_together_is_one_sentence(arguments: str, said: str) -> None:
    """Wrong usage: status 2, and no port is opened."""
    told = ended("contacts", *arguments.split())
    assert told.returncode == 2
    assert said in told.stderr


def test_a_port_that_is_not_there_is_said(tmp_path: Path) -> None:
    """Why, in one sentence, and status 1."""
    listened = ended("contacts", "--listen", tmp_path / "none")
    searched = ended("contacts", "--scan", tmp_path / "none", "--units", "1")
    assert "cannot be opened: no such file or directory" in listened.stderr
    assert "Not tried: any setting. No such file or directory." in searched.stdout
    assert (listened.returncode, searched.returncode) == (1, 1)
