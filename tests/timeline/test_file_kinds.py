"""A file in another's place is said to be what it is."""

from pathlib import Path

import pytest

from server.timeline.events import RecordingFault, read_recording
from server.timeline.file_kinds import PLAN, RECORDING, in_anothers_place, kind_of
from server.timeline.plan import PlanFaults, parse_plan

FIXTURES = Path(__file__).parents[2] / "fixtures"
PAIR = (FIXTURES / "plans" / "pair.plan.toml").read_text()
SITE = '# A site.\nformat = "festoon-site/1"\nsite = "Hall"\n'
WIRING = (FIXTURES / "contacts" / "pair.contacts.toml").read_text()
RECORDED = (FIXTURES / "recordings" / "good" / "pair.events.jsonl").read_text()
BARE = (FIXTURES / "recordings" / "good" / "no_header.events.jsonl").read_text()


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (PAIR, "a plan"),
        ("\ufeff" + PAIR, "a plan"),
        (SITE, "a site file"),
        (WIRING, "a wiring file"),
        (RECORDED, "a recording"),
        (BARE, "a recording"),
        ('{"format": "festoon-schedule/1"}', "a schedule"),
        ('title = "format = festoon-plan/1"', None),
        ('format = "other/1"', None),
        ("", None),
    ],
)
def test_kinds(text: str, kind: str | None) -> None:
    """Each of our files is known by its format, a recording without a header by its JSON, and nothing else is."""
    assert kind_of(text) == kind


@pytest.mark.parametrize(
    ("text", "kind"), [(SITE, "a site file"), (RECORDED, "a recording"), (WIRING, "a wiring file")]
)
def test_another_file_where_a_plan_belongs(text: str, kind: str) -> None:
    """It is one fault that says what it is, not a fault for each of its keys."""
    with pytest.raises(PlanFaults) as caught:
        parse_plan(text, "x.toml")
    assert caught.value.faults == [f'x.toml: found {kind}; accepted a plan, a TOML file with format = "festoon-plan/1"']


@pytest.mark.parametrize(("text", "kind"), [(SITE, "a site file"), (PAIR, "a plan"), (WIRING, "a wiring file")])
def test_another_file_where_a_recording_belongs(text: str, kind: str) -> None:
    """It is refused whole, not line by line."""
    plan = parse_plan(PAIR, "pair.plan.toml")
    for lines in (text.splitlines(), text.encode().split(b"\n")):
        with pytest.raises(RecordingFault) as caught:
            read_recording(lines, plan, "x.jsonl")
        assert str(caught.value) == f"x.jsonl: found {kind}; accepted {RECORDING}"


def test_a_file_in_its_own_place_is_no_fault() -> None:
    """A plan where a plan belongs, a recording where one belongs, and what nobody knows, are for their readers."""
    assert in_anothers_place(PAIR, "x", PLAN) is None
    assert in_anothers_place(RECORDED, "x", RECORDING) is None
    assert in_anothers_place("a = 1", "x", PLAN) is None
