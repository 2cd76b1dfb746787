"""Files as they come to be wrong: sound ones with pieces taken out, put in, doubled and written over."""

from hypothesis import strategies as st

PIECES = st.one_of(
    st.text(max_size=6),
    st.sampled_from(
        [
            *("\x00", "\ufeff", "\r\n", "\n", '"', '"""', "'", "=", "[[", "]]", "{", "}", "#", "\\u0000", "\ud800"),
            *("nan", "-inf", "1e400", "-0.0", "0x7fffffffffffffff", "9" * 400, "-1", "true", "[]", "{}", '""'),
            *("2026-02-30", "1970-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "24:00", "null", "\u2028", "\u202e"),
        ]
    ),
)


@st.composite
def mangled(draw: st.DrawFn, sound: str) -> str:
    """A text that differs from a sound one in a few places, if in any."""
    text = sound
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(text)))
        length = draw(st.integers(0, 40))
        piece = draw(PIECES | st.just(text[at : at + length]) | st.just(text[at : at + length] * 2))
        text = text[:at] + piece + text[at + length :]
    return text


@st.composite
def mangled_bytes(draw: st.DrawFn, sound: bytes) -> bytes:
    """The same of bytes."""
    data = sound
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(data)))
        length = draw(st.integers(0, 20))
        piece = draw(st.binary(max_size=8) | st.just(data[at : at + length] * 2))
        data = data[:at] + piece + data[at + length :]
    return data
