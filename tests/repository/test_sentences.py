"""How the documents are written: in sentences that are read once."""

import re
from collections.abc import Iterator

import pytest

from tests.repository.checkout import ROOT, committed_files

DOCUMENTS = {path.relative_to(ROOT).as_posix(): path for path in committed_files() if path.suffix == ".md"}
MOST_WORDS = 25
FENCED = re.compile(r"^```.*?^```$", re.DOTALL | re.MULTILINE)
ITEM = re.compile(r"^\s*(?:-|\d+\.) ")
NO_PROSE = ("|", "#", "!")
"""How lines of tables, headings and pictures begin."""
CODE = "    "
"""How a line of code begins, unless it goes on with a paragraph."""
SENTENCE_END = re.compile(r"""(?<=[.!?])[*)"]*\s+(?=[A-Z*("]|code\b)""")


def paragraphs(text: str) -> Iterator[str]:
    """The paragraphs and items of a document, each on one line."""
    lines: list[str] = []
    for line in [*FENCED.sub("", text).split("\n"), ""]:
        is_prose = line.strip() != "" and not line.startswith(NO_PROSE) and (bool(lines) or not line.startswith(CODE))
        if lines and (not is_prose or ITEM.match(line)):
            yield " ".join(lines)
            lines = []
        if is_prose:
            lines.append(ITEM.sub("", line).strip())


def sentences(text: str) -> Iterator[str]:
    """The sentences of a document; a link is its words, and code is one word."""
    for paragraph in paragraphs(text):
        plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", paragraph)
        yield from SENTENCE_END.split(re.sub(r"`[^`]*`", "code", plain))


@pytest.mark.parametrize("name", DOCUMENTS)
def test_no_sentence_is_too_long_to_be_read_once(name: str) -> None:
    """Of 25 words at most: what is longer is two sentences, a list or a table."""
    found = list(sentences(DOCUMENTS[name].read_text(encoding="utf-8")))
    assert [each for each in found if len(each.split()) > MOST_WORDS] == []


def test_a_sentence_ends_before_a_capital_or_a_code() -> None:
    """Not within code, and not at the point of a figure; tables have none, and an item is one."""
    text = (
        "One `a. B` is\nof 4.5 s. `code` follows [here](x.md).\n\n| a cell. Of a table |\n\n- An\n    item.\n2. Another"
    )
    assert list(sentences(text)) == ["One code is of 4.5 s.", "code follows here.", "An item.", "Another"]
