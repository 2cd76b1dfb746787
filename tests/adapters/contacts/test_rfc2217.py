"""The talk with a gateway, a byte at a time: what ser2net 4.3.11 was seen to send, and what others may."""

from hypothesis import given
from hypothesis import strategies as st

from adapters.contacts.rfc2217 import Talk, said, settings

BEGUN = bytes.fromhex("fffb00 fffd00 fffb2c")
SER2NET = bytes.fromhex("fffb03 fffd03 fffb01 fffe01 fffd00 fffb00 fffd2c fffa2c6b33fff0")
"""Its side of the options, and at once a notice that CTS and DSR are on."""


def test_what_ser2net_says_is_agreed_to() -> None:
    """Options that matter are agreed to once, echo is refused, and the first notice counts."""
    talk = Talk()
    assert talk.begin() == BEGUN
    assert talk.feed(SER2NET) == (b"", bytes.fromhex("fffd03 fffb03 fffe01"))
    assert (talk.agreed, talk.state) == (True, 0x33)


def test_a_mask_is_answered_as_the_gateway_likes() -> None:
    """With the mask (111), with the notice (107), or with nothing: none is waited for, and a notice is a notice."""
    by_mask, by_notice = Talk(), Talk()
    by_mask.feed(bytes.fromhex("fffa2c6ffffffff0"))
    by_notice.feed(bytes.fromhex("fffa2c6b80fff0"))
    assert (by_mask.state, by_notice.state) == (None, 0x80)
    assert by_mask.answers == by_notice.answers == 0


def test_an_answer_to_a_speed_is_counted() -> None:
    """It is what a port is known to live by."""
    talk = Talk()
    talk.feed(bytes.fromhex("fffa2c6500002580fff0"))
    assert talk.answers == 1


def test_a_refusal_of_the_option_is_known() -> None:
    """A Telnet server without RFC 2217, or with it switched off."""
    talk = Talk()
    talk.feed(bytes.fromhex("fffe2c"))
    assert talk.agreed is False


def test_bytes_of_the_line_come_out_as_they_went_in() -> None:
    """255 goes over the wire twice, in a notice too; a command in the midst of a line is none of the line."""
    talk = Talk()
    assert talk.feed(b"C 1 1\xff\xff \xff\xfa\x2c\x6b\xff\xff\xff\xf01 *\xff\xf1ABCD\n")[0] == b"C 1 1\xff 1 *ABCD\n"
    assert talk.state == 255


def test_a_command_that_never_ends_is_let_go() -> None:
    """Damage: what comes after so many bytes is the line's again, and nothing grows."""
    talk = Talk()
    talk.feed(b"\xff\xfa" + bytes(600))
    assert talk.feed(b"L 1 0")[0] == b"L 1 0"


def test_a_port_is_set_in_one_go_and_its_speed_last() -> None:
    """8N1, no flow control, DTR and RTS on, notices of status lines only; then the speed, the last."""
    orders = [bytes.fromhex(each) for each in ("0208", "0301", "0401", "0501", "0508", "050b", "0a00", "0bffff")]
    assert settings(9600) == b"".join(
        b"\xff\xfa\x2c" + order + b"\xff\xf0" for order in [*orders, bytes.fromhex("0100002580")]
    )


def test_what_a_server_said_is_told_where_it_is_text() -> None:
    """Without its line ends, and not at all where there was none."""
    assert said(b"Port already in use\r\n") == ", and said: 'Port already in use'"
    assert said(b"") == said(b"\r\n") == ""


@given(st.lists(st.sampled_from([bytes([n]) for n in (255, 240, 250, 251, 253, 254, 44, 107, 101, 97)])), st.data())
def test_bytes_may_be_cut_anywhere(parts: list[bytes], data: st.DataObject) -> None:
    """Whatever comes and however it is cut: nothing is raised, and what comes of it is the same."""
    sent = b"".join(parts)
    cut = data.draw(st.integers(0, len(sent)))
    whole, cut_up = Talk(), Talk()
    port, reply = whole.feed(sent)
    first, second = cut_up.feed(sent[:cut]), cut_up.feed(sent[cut:])
    assert (first[0] + second[0], first[1] + second[1]) == (port, reply)
    assert (cut_up.agreed, cut_up.answers, cut_up.state) == (whole.agreed, whole.answers, whole.state)
