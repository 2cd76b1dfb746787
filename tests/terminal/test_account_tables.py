"""The tables of a debrief, of lessons and of the library in the terminal."""

import io
from datetime import UTC, datetime

import pytest
from rich.console import Console

from server.review.account import Account
from server.review.kept import facts_of
from server.review.lessons import Taught, lessons_from_runs
from server.review.library import LibraryLine
from server.review.reading import Reading
from server.review.report import cell_text
from server.review.story import text_of
from server.terminal.account_tables import LEFT_OUT, print_lessons, print_library, print_sections
from server.timeline.plan import parse_plan
from tests.review.test_readiness import PLAN, STOPPED

TEXT = (
    'format = "festoon-plan/1"\ntitle = "Two"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n'
    '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
    '[[print]]\nid = "film"\nkind = "feature"\nduration = "10:00"\n'
    '[[stations]]\nid = "stn1"\nhouse = "4"\n[[stations]]\nid = "stn2"\nhouse = "6"\npath_ft = 100\n'
)


def console(width: int = 220) -> Console:
    return Console(file=io.StringIO(), width=width)


def said(shown: Console) -> str:
    assert isinstance(shown.file, io.StringIO)
    return shown.file.getvalue()


def test_a_debrief_names_houses_and_says_who_was_ready() -> None:
    """No table has an id of a station or a link; ready and moved starts are in it with who said so."""
    shown = console()
    print_sections(STOPPED, shown)
    text = said(shown)
    assert "House 4 to 6" in text
    assert "h4>h6" not in text
    assert "House 4: ready to start" in text
    assert "film in the light, House 6" in text
    assert "film_heat" not in text


def test_a_debrief_begins_with_what_happened() -> None:
    """The sentences of the story, and no others, before every table."""
    shown = console()
    print_sections(STOPPED, shown)
    lines = [line.strip() for line in said(shown).splitlines()]
    story = [text_of(one, PLAN) for one in STOPPED.story.sentences]
    assert story
    assert lines[: len(story) + 1] == ["What happened", *story]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_table_is_wider_than_the_terminal_and_no_time_is_cut_short(width: int) -> None:
    """A wide table goes on beneath itself, each part with its first column, and every figure can be read."""
    shown = console(width)
    print_sections(STOPPED, shown)
    text = said(shown)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    for given in STOPPED.tables:
        for row in () if given.id in LEFT_OUT else given.rows:
            cells = zip(given.columns, row, strict=True)
            figures = [cell_text(cell, column.unit, PLAN) for column, cell in cells if column.unit != "text"]
            assert [figure for figure in figures if figure not in text] == []
    assert ("Starts against plan, continued" in text) is (width < 100)


def test_lessons_name_houses() -> None:
    """Paths are told by their links' names, and rates by house."""
    shown = console()
    plan = parse_plan(TEXT, "two")
    print_lessons(lessons_from_runs([Taught("one", Reading(Account(plan, [])), "two", TEXT)]), shown)
    text = said(shown)
    assert "House 4 to 6" in text
    assert "stn" not in text


def test_trouble_is_told_in_words() -> None:
    """A run's alarms are counted by what people call them; one that was not counted yet has a question mark."""
    at = datetime(2026, 3, 14, tzinfo=UTC)
    line = LibraryLine(
        "run", "x.plan.toml", facts_of(PLAN), None, at, 3, at, False, None, {"film_heat": 2, "misfit": 1}
    )
    shown = console()
    print_library([line, line._replace(run="other", trouble=None)], shown)
    text = said(shown)
    assert "film in the light 2, event that does not fit 1" in text
    assert "4, 6, 7" in text
    assert "?" in text
