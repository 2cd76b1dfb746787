"""Files as they come to be wrong: sound ones with pieces taken out, put in, doubled and written over."""

from typing import AnyStr

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
    return _mangle(draw, sound, PIECES, 40)


@st.composite
def mangled_bytes(draw: st.DrawFn, sound: bytes) -> bytes:
    """The same of bytes."""
    return _mangle(draw, sound, st.binary(max_size=8), 20)


def _mangle(draw: st.DrawFn, sound: AnyStr, pieces: st.SearchStrategy[AnyStr], most: int) -> AnyStr:
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(sound)))
        length = draw(st.integers(0, most))
        old = sound[at : at + length]
        sound = sound[:at] + draw(pieces | st.just(old) | st.just(old * 2)) + sound[at + length :]
    return sound
