"""Codes that pair one device, once, soon."""

import pytest

from server.access.codes import ALPHABET, LENGTH, LIFE, MOST_OPEN, Codes, link_with_code
from tests.access.fakes import HandTime


def test_a_code_is_read_however_it_was_written() -> None:
    """Small letters, spaces and hyphens do not matter, and what looks like 0 or 1 is."""
    codes = Codes(HandTime().now)
    code, invitation = codes.make("Ida", "booth")
    for written in (code, code.lower(), code.replace("-", ""), f" {code.replace('-', ' - ')} "):
        assert codes.invitation(written) == invitation
    assert codes.invitation(code.replace("0", "o").replace("1", "l")) == invitation


def test_a_code_is_good_once() -> None:
    """Used, it is like one that never was."""
    codes = Codes(HandTime().now)
    code, _ = codes.make("Ida", "booth")
    with codes.used(code):
        assert codes.invitation(code) is None
    assert codes.invitation(code) is None


def test_a_code_that_came_to_nothing_holds() -> None:
    """Where what it was used for failed it is good again, for as long as it was."""
    codes = Codes(HandTime().now)
    code, invitation = codes.make("Ida", "booth")
    with pytest.raises(OSError, match="full"), codes.used(code):
        raise OSError("full")
    assert codes.invitation(code) == invitation


def test_a_code_ends() -> None:
    """It holds to the end of its life and no longer."""
    time = HandTime()
    codes = Codes(time.now)
    code, invitation = codes.make("Ida", "look")
    time.passes(seconds=LIFE.total_seconds() - 0.001)
    assert codes.invitation(code) == invitation
    time.passes(seconds=0.001)
    assert codes.invitation(code) is None


@pytest.mark.parametrize("tried", ["", "-", "AAAA-AAAA", "ß", "\0", "x" * 1000])
def test_what_is_no_code_is_none(tried: str) -> None:
    """Whatever is tried is answered, and is not an open code."""
    codes = Codes(HandTime().now)
    codes.make("Ida", "booth")
    assert codes.invitation(tried) is None


def test_no_more_codes_are_open_than_guessing_allows_for() -> None:
    """One more ends the oldest."""
    codes = Codes(HandTime().now)
    made = [codes.make(None, "look")[0] for _ in range(MOST_OPEN + 1)]
    assert [code for code in made if codes.invitation(code) is None] == made[:1]


def test_codes_are_drawn_from_all_there_are() -> None:
    """Forty bits: eight of thirty-two characters, none of which reads as another."""
    codes = Codes(HandTime().now)
    seen = {character for _ in range(400) for character in codes.make(None, "look")[0].replace("-", "")}
    assert seen == set(ALPHABET)
    assert len(ALPHABET) ** LENGTH == 2**40


def test_the_code_of_a_link_stays_in_the_browser() -> None:
    """It is the fragment, which no request carries (RFC 9110, 7.1)."""
    assert link_with_code("https://booth.local:8440/pair", "ABCD-EFGH") == "https://booth.local:8440/pair#ABCD-EFGH"
