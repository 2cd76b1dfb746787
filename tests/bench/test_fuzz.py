"""The bench that looks for what readers fail at: its readers, and what it makes of libFuzzer's words."""

import pytest

from tests.bench.fuzz.__main__ import Row, dictionary_of, row_from
from tests.readers import READERS

SAID = """INFO: Using built-in libfuzzer
#2	INITED cov: 12 ft: 12 corp: 1/5b exec/s: 0 rss: 61Mb
#90	NEW    cov: 31 ft: 40 corp: 2/9b lim: 9 exec/s: 0 rss: 61Mb
#4096	pulse  cov: 31 ft: 40 corp: 2/9b lim: 9 exec/s: 2048 rss: 61Mb
"""


@pytest.mark.parametrize("name", READERS)
def test_a_reader_takes_its_sound_files_and_pieces_of_them(name: str) -> None:
    """Each is read, whole and cut off, as the bench begins with it."""
    reader = READERS[name]
    for seed in reader.seeds:
        for end in (len(seed), len(seed) // 2, 1, 0):
            reader.read(seed[:end])


def test_a_row_says_what_was_reached() -> None:
    """The sound files' share is what libFuzzer had once it had read them."""
    assert row_from("plan", SAID, failed=False) == Row("plan", 4096, 12, 31, "")


def test_a_failure_is_told_by_the_last_line_of_its_traceback() -> None:
    """Of several the last: it is what came of the others."""
    said = f"{SAID}Traceback (most recent call last):\nKeyError: 'x'\n\nValueError: found y\n==1== ERROR: libFuzzer\n"
    assert row_from("plan", said, failed=True).failed == "ValueError: found y"
    assert row_from("plan", SAID, failed=True).failed == "it ended"


def test_a_fuzzer_that_never_began_is_no_row() -> None:
    """Nothing tried is not nothing found."""
    with pytest.raises(RuntimeError, match="plan: nothing was tried: No module named 'atheris'"):
        row_from("plan", "No module named 'atheris'", failed=True)


def test_the_words_of_sound_files_are_a_dictionary() -> None:
    """Keys and words, each once; what is shorter than three letters is found without."""
    assert dictionary_of((b'kind = "leader"', b"kind of x1")) == '"kind"\n"leader"\n'
