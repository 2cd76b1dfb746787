"""The printed schedule: on 80 columns of plain text, on the house's clock."""

import io
from pathlib import Path

import pytest
from rich.console import Console

from server.terminal.plan_table import CAUTIONS, print_schedule
from server.timeline.plan import parse_plan
from server.timeline.schedule import schedule_from_plan

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"


def printed(text: str, width: int = 80) -> str:
    plan = parse_plan(text, "test.plan.toml")
    out = io.StringIO()
    print_schedule(plan, schedule_from_plan(plan), Console(file=out, width=width))
    return out.getvalue()


def rows(text: str) -> list[list[str]]:
    return [line.split() for line in text.splitlines()]


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_a_pipe_gets_plain_text_of_80_columns(path: Path) -> None:
    """Printed to a file, no line is wider than 80 columns, cut short or coloured."""
    text = printed(path.read_text())
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert "…" not in text


def test_times_are_on_the_house_clock_and_windows_are_not_widened() -> None:
    """The second station's head, 106.842 s after 18:50:00 local, bounds a window rounded inward."""
    pair = (PLANS / "pair.plan.toml").read_text()
    text = printed(pair.replace('title = "Pair"', 'title = "Pair"\ntimezone = "America/Chicago"'))
    assert "Motors at 2026-03-14 18:50:00, clock of America/Chicago." in text
    times = ["18:50:00", "18:50:17", "18:51:31", "18:51:46", "19:01:47", "19:03:27"]
    assert ["b", "2", *times] in rows(text)


def test_the_threading_and_the_chain_are_shown() -> None:
    """Stretches come with their feet, rollers and the pull left, and links with their transit and reserve."""
    found = rows(printed((PLANS / "pair.plan.toml").read_text()))
    assert ["b", "100.0", "8", "66.8", "2.0", "2.99"] in found
    assert ["a", "b", "100", "8", "85%", "to", "96%"] in found
    assert ["290", "ft", "of", "leader,", "6", "minutes", "to", "thread."] in found


def test_warnings_and_cautions_are_shown_whole() -> None:
    """Every warning with its code and every caution can be read, where there is room on one line."""
    text = (PLANS / "warned.plan.toml").read_text()
    shown = [line.rstrip() for line in printed(text, width=200).splitlines()]
    for warning in schedule_from_plan(parse_plan(text, "x")).warnings:
        assert f"- {warning.text} ({warning.code})" in shown
    for caution in CAUTIONS:
        assert f"- {caution}" in shown
    assert "Look at:" not in printed((PLANS / "pair.plan.toml").read_text())


def test_a_plan_cannot_style_what_is_printed() -> None:
    """Brackets and colons in a plan's texts are printed as they are."""
    pair = (PLANS / "pair.plan.toml").read_text()
    styled = pair.replace('title = "Pair"', 'title = "[red]Pair[/] :film_projector:"').replace(
        "A Short Walk", "[b]Walk"
    )
    text = printed(styled.replace('house = "1"', 'house = "[1]"'))
    assert "[red]Pair[/] :film_projector:" in text
    assert "[b]Walk" in text
    assert "[1]" in text


def test_long_names_are_folded_and_lose_nothing() -> None:
    """A name that is wider than its column goes on in the next line, in a heading too."""
    pair = (PLANS / "pair.plan.toml").read_text()
    text = printed(
        pair.replace('house = "2"', 'house = "' + "Z" * 30 + '"').replace('id = "b"', 'id = "' + "Q" * 40 + '"')
    )
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("Z") == 30
    assert text.count("Q") == 4 * 40  # of the four tables
    assert "…" not in text
