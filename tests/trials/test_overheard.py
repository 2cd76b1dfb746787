"""What is made of what comes in at a port."""

import pytest

from adapters.contacts.lines import Heard, Line
from server.trials.overheard import meaning_of, refused, shown


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"C 17 3 1 *C753\r\n", "C 17 3 1 *C753"),
        (b"\x00\xff\\ a\r\n", r"\x00\xff\x5c a"),
        (b"half", "half"),
        (b"\r\r\n", r"\x0d"),
    ],
)
def test_bytes_are_shown_on_one_line_as_they_came(raw: bytes, text: str) -> None:
    """What cannot be printed is a number, so that no two are shown alike; the line's own end is left out."""
    assert shown(raw) == text


@pytest.mark.parametrize(
    ("heard", "text"),
    [
        (Heard(Line(17, {3: True}, False), 0, False), "sound; 3 went closed"),
        (Heard(Line(18, {3: False}, False), 2, False), "sound; 2 lost before it; 3 went open"),
        (
            Heard(Line(0, {1: True, 2: False, 3: None, 4: True}, True), 0, True),
            "sound; the box was switched on; closed: 1 4; open: 2; not known: 3",
        ),
    ],
)
def test_a_sound_line_is_told_in_words(heard: Heard, text: str) -> None:
    """Which inputs are closed, what was lost before it, and whether the box began anew."""
    assert meaning_of(heard) == text


def test_where_there_is_nothing_to_listen_to_is_said() -> None:
    """Modules are asked; a plain connection has no status lines."""
    assert refused("/dev/ttyUSB0", "text") is None
    assert refused("socket://host:1", "text") is None
    assert refused("rfc2217://host:1", "modem") is None
    assert "accepted rfc2217://host:port or a device" in (refused("socket://host:1", "modem") or "")
    assert "festoon contacts --scan tcp://host:502" in (refused("tcp://host:502", "text") or "")
