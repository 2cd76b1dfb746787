"""Paths changed in the text of a plan, however it is written."""

import pytest

from server.review.plan_text import corrected_text, path_units
from server.timeline.plan import parse_plan

HEAD = 'format = "festoon-plan/1"\ntitle = "S"\n'
TIMING = "[timing]\nmotors_at = 2026-03-14T23:50:00Z\n"
PRINT = '[[print]]\nid = "l"\nkind = "leader"\nfeet = 60\n[[print]]\nid = "f"\nkind = "feature"\nduration = "2:00"\n'
A, B, C = '[[stations]]\nid="a"\nhouse="1"\n', '[[stations]]\nid="b"\nhouse="2"\n', '[[stations]]\nid="c"\nhouse="3"\n'

USUAL = HEAD + TIMING + PRINT + A + B + "path_ft = 100 # b's\n" + C + "path_m = 30 # c's\n"
WAYS = {
    "one after another": USUAL,
    "in lines": (
        HEAD
        + 'stations = [{id="a",house="1"}, {id="b",house="2",path_ft=100}, # b\'s\n'
        + ' {id="c",house="3", path_m = 30.0}] # c\'s\n'
        + TIMING
        + PRINT
    ),
    "between others": (
        HEAD + TIMING + A + PRINT + B + "path_ft=1e2 # b's\n[stations.inputs]\nmotor='tap'\n[lamp]\nearliest_s=80\n" + C
        + "'path_m' = 0x1e # c's\n"
    ),
    "with returns": USUAL.replace("\n", "\r\n"),
    "with a mark of its bytes": "\ufeff" + USUAL,
}  # fmt: skip


@pytest.mark.parametrize("text", WAYS.values(), ids=WAYS)
def test_only_the_paths_of_the_plan_are_others(text: str) -> None:
    """The plan that is read of the new text is the old one with other paths, and the comments are there."""
    old = parse_plan(text, "old")
    assert path_units(text) == {"b": "ft", "c": "m"}
    new_text = corrected_text(text, {"b": 101.5, "c": 29.25}, ["r1", "r2"])
    new = parse_plan(new_text, "new")
    assert [station.path_m for station in new.stations] == pytest.approx([0.0, 101.5 * 0.3048, 29.25])
    paths = {station.id: station.path_m for station in old.stations}
    back = [station.model_copy(update={"path_m": paths[station.id]}) for station in new.stations]
    assert (tuple(back), new.print, new.timing, new.lamp) == (old.stations, old.print, old.timing, old.lamp)
    assert new_text.startswith("# Paths of b, c corrected from what was seen in r1, r2.\n")
    assert "# b's" in new_text
    assert "# c's" in new_text


def test_without_new_paths_the_text_is_as_it_was() -> None:
    """Nothing learned, nothing changed, not even a comment."""
    text = WAYS["with returns"]
    assert corrected_text(text, {}, ["r1"]) == text
