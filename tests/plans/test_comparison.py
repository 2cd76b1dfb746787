"""What differs between two texts of a plan, in words."""

from pathlib import Path

from server.plans.comparison import MOST, changes_in_words
from server.plans.edits import Add, Edit, Move, Remove, SetKey, SetStart, SetZone, edited

PLANS = Path(__file__).parents[2] / "fixtures/plans"
LARKSPUR = (PLANS / "larkspur.plan.toml").read_text(encoding="utf-8")


def changes(*edits: Edit) -> list[str]:
    return changes_in_words(LARKSPUR, edited(LARKSPUR, edits))


def test_a_changed_value_says_what_it_is_and_was() -> None:
    """With its house and its unit; what stands for one thing is one line, whichever key it has."""
    assert changes(
        SetKey(do="set", path="stations[3].path_m", value=61.5),
        SetKey(do="set", path="stations[0].inputs.motor", value="tap"),
        SetKey(do="set", path="stations[1].advertised", value=None),
        SetKey(do="set", path="print[1].cue", value=False),
        SetKey(do="set", path="timing.start", value="hands"),
    ) == [
        "How motors are started hands; it was not given before.",
        "Trailer: Salt Road: foil cue no, was yes.",
        "House 3: who tells of the motor tap, was contact.",
        "House 1: advertised time is not given any more, was 18:54.",
        "House 5: path 61.5 m, was 212 ft.",
    ]


def test_houses_and_pieces_that_come_and_go_are_named() -> None:
    """By what people call them, and where they are put in."""
    assert changes(
        Add(do="add", list="stations", at=9, values={"id": "h10", "house": "10"}),
        Remove(do="remove", list="print", at=2),
        Add(do="add", list="marks", at=0, values={"id": "lens", "after": "r1", "say": "Lens to wide"}),
    ) == [
        "Taken out: piece of the print Trailer: A Winter for Two.",
        "Added: House 10, after House 7.",
        "Added: mark Lens to wide.",
    ]


def test_another_order_is_told_whole() -> None:
    """A moved house is no house that went and came."""
    assert changes(Move(do="move", list="stations", at=8, to=0)) == ["Order: 7, 3, 1, 2, 5, 4, 6, 9, 8."]


def test_the_start_is_told_by_the_houses_clock() -> None:
    """Another zone at the same time of day is no other start."""
    assert changes(SetZone(do="zone", name="America/Chicago")) == ["Time zone America/Chicago, was America/Denver."]
    assert changes(SetStart(do="start", day="2026-11-28", time="19:00")) == [
        "Start of the motors 2026-11-28 19:00, was 2026-11-28 18:52:30."
    ]


def test_what_is_no_plan_and_what_is_only_written_otherwise_is_told_as_that() -> None:
    """A comparison never says nothing of two texts that are not the same."""
    assert changes_in_words(LARKSPUR, LARKSPUR) == []
    assert changes_in_words(LARKSPUR, f"# one more line\n{LARKSPUR}") == ["Only how it is written, or a comment."]
    assert changes_in_words("[", LARKSPUR) == ["The earlier text cannot be read as a plan: look at the text itself."]
    assert changes_in_words(LARKSPUR, "[") == ["The later text cannot be read as a plan: look at the text itself."]
    assert changes_in_words("[", "]") == ["Both texts cannot be read as a plan: look at the text itself."]


def test_a_long_list_of_changes_is_cut_and_counted() -> None:
    """Two plans of different shows are not compared line by line."""
    many = "".join(f'[[stations]]\nid = "s{n}"\nhouse = "{n}"\n' for n in range(100))
    told = changes_in_words("", many)
    assert len(told) == MOST + 1
    assert told[-1] == f"And {100 - MOST} more."
