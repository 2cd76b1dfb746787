"""The pretended box against the text line's documents, and against our own reader of it."""

import os
import re
from pathlib import Path

from adapters.contacts.lines import Damaged, Heard, LineReader
from adapters.contacts.pretend.box import TextBox, check_of
from adapters.contacts.pretend.wires import Heard as Ears
from adapters.contacts.pretend.wires import Terminal
from tests.repository.checkout import ROOT


class Wire:
    """A wire that keeps what was sent."""

    baud = None

    def __init__(self) -> None:
        self.heard: Ears | None = None
        self.sent = b""

    def send(self, data: bytes) -> None:
        self.sent += data

    def lines(self) -> list[str]:
        sent, self.sent = self.sent, b""
        return sent.decode("ascii").splitlines()


def test_the_check_is_that_of_the_documents() -> None:
    """The example for whoever builds a box, and the two example lines."""
    documents = (ROOT / "fixtures/README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^    ([CL] [0-9].*) \*([0-9A-F]{4})$", documents, re.MULTILINE)
    assert check_of("123456789") == "29B1"
    assert len(lines) == 2
    assert [check_of(text) for text, _ in lines] == [check for _, check in lines]


def test_a_box_that_was_switched_on_says_all_levels_with_the_number_0() -> None:
    """Then a line a change, counted; 65535 is followed by 1; an input that it does not know is a dash."""
    wire = Wire()
    box = TextBox(wire, 4)
    box.levels[4] = None
    box.all_levels()
    box.change(3, True)
    box.lose(1, True)
    box.all_levels()
    assert [line.rpartition(" *")[0] for line in wire.lines()] == ["L 0 000-", "C 1 3 1", "L 3 101-"]
    for _ in range(65_532):
        box.lose(1, True)
    box.change(1, False)
    box.restart()
    box.all_levels()
    assert [line.rpartition(" *")[0] for line in wire.lines()] == ["C 1 1 0", "L 0 001-"]


def test_a_box_with_a_clock_says_when_it_saw_a_change() -> None:
    """Milliseconds from any zero, which turn over at 2^32."""
    wire = Wire()
    now_ms = iter([5120, (1 << 32) + 7])
    box = TextBox(wire, 3, lambda: next(now_ms))
    box.change(1, True)
    box.all_levels()
    assert [line.rpartition(" *")[0] for line in wire.lines()] == ["C 0 1 1 @5120", "L 1 100 @7"]


def test_our_reader_understands_every_line_of_it_and_tells_what_was_lost_or_damaged() -> None:
    """What a box sends is sound; a line that never came and noise are told."""
    wire = Wire()
    box = TextBox(wire, 64, lambda: 1)
    box.all_levels()
    for number in range(1, 65):
        box.change(number, number % 3 == 0)
    box.lose(5, True)
    box.send_bytes(b"\xff\x00 noise\n")
    box.all_levels()
    heard = LineReader().feed(wire.sent)
    sound = [each for each in heard if isinstance(each, Heard)]
    assert (len(heard), sum(isinstance(each, Damaged) for each in heard)) == (67, 1)
    assert [each.lost for each in sound] == [*[0] * 65, 1]
    assert sound[-1].line.levels == {n: n % 3 == 0 or n == 5 for n in range(1, 65)}


def test_a_silent_box_sends_nothing_and_counts_on() -> None:
    """Its lines are lost, and the next one shows it."""
    wire = Wire()
    box = TextBox(wire, 1)
    box.silent = True
    box.all_levels()
    assert wire.lines() == []
    box.silent = False
    box.change(1, True)
    assert wire.lines()[0].startswith("C 1 1 1 *")


def test_a_terminal_loses_what_nobody_listens_to_and_keeps_its_name(tmp_path: Path) -> None:
    """Whoever opens it hears what is sent from then on, and loses it when it is unplugged."""
    terminal = Terminal(tmp_path / "box")
    for _ in range(2):
        terminal.plug()
        terminal.send(b"nobody hears this\n")
        port = os.open(terminal.name, os.O_RDONLY | os.O_NOCTTY)
        terminal.send(b"this is heard\n")
        assert os.read(port, 100) == b"this is heard\n"
        terminal.unplug()
        assert not terminal.name.exists()
        try:
            assert os.read(port, 100) == b""
        except OSError as lost:
            assert lost.errno == 5  # noqa: PT017 - which of the two it is, the system decides
        os.close(port)
    terminal.unplug()
