"""Findings as the plan desk has them: of fields, not of a file's keys."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.plans.wording import desk_words

PLANNING = Path(__file__).parents[2] / "server/planning"
SAYING = ("crew", "judge", "lacing", "night", "remedies", "rolls", "routes", "timeliness")
"""The modules that make findings."""

KEY = re.compile(r"\b[a-z]+_[a-z_]+\b|\[\[|`|\bfestoon [a-z]+\b")


def sentences(module: str) -> Iterator[str]:
    """Every text of a module with a blank in it, numbers put in; not its docstrings."""
    tree = ast.parse((PLANNING / f"{module}.py").read_text(encoding="utf-8"))
    docs = {
        node.body[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and isinstance(node.body[0], ast.Expr)
        and isinstance(node.body[0].value, ast.Constant)
    }
    docs |= {node.value for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # type: ignore[misc]
    inside = {part for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "7.5" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not {node} & (docs | inside):
            yield node.value


@pytest.mark.parametrize("module", SAYING)
def test_no_sentence_of_the_judge_has_a_key_on_the_desk(module: str) -> None:
    """Whatever the judge says, and will say, is put into the words of fields: this reads its source."""
    said = [text for text in sentences(module) if " " in text]
    assert said
    assert [text for text in map(desk_words, said) if KEY.search(text)] == []


def test_there_are_sentences_with_keys_to_be_put_so() -> None:
    """Else the test above would hold for want of anything to find."""
    found = [text for module in SAYING for text in sentences(module) if " " in text and KEY.search(text)]
    assert len(found) >= 10


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("If 30 is metres, write path_m = 30. Else", "If 30 is metres, choose m for the path and write 30. Else"),
        ("or write reserve_s = 1.4.", "or write 1.4 s as the reserve of the link, under More."),
        (
            "Write motors_at = 2026-03-14T18:49:10-05:00 in the plan.",
            "Write 18:49:10 on 2026-03-14 as the start under Show.",
        ),
        (
            "Set earliest_s to 120 or less, or ask",
            "Set the earliest strike to 120 s before the picture or less, or ask",
        ),
        (
            "Walk them with a watch, and write them in the site file as [[walks]].",
            "Walk them with a watch, and write each in the site file, with the seconds that it takes.",
        ),
    ],
)
def test_a_key_is_said_as_its_field(said: str, told: str) -> None:
    """The number stays, the key becomes what the desk calls it."""
    assert desk_words(said) == told
