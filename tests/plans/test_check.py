"""What a text comes to: every fault at its field in a reader's words, what was meant, and what follows."""

import contextlib
from pathlib import Path

import pytest

from server.planning.judge import judge, judgement_of
from server.plans.check import checked
from server.plans.comparison import changes_in_words
from server.plans.edits import EditFault, SetKey, edited
from server.plans.keypaths import Value, at_path, path_from_text, text_from_path, values_of
from server.plans.meant import meant_by
from server.plans.naming import LABELS, label_of
from server.plans.wording import for_desk
from server.timeline.plan import parse_plan
from server.timeline.schedule import schedule_from_plan

FIXTURES = Path(__file__).parents[2] / "fixtures/plans"
GOOD = sorted(FIXTURES.glob("*.plan.toml"))
BAD = sorted((FIXTURES / "bad").glob("*.plan.toml"))
PAIR = (FIXTURES / "pair.plan.toml").read_text(encoding="utf-8")


def with_key(path: str, value: Value | None) -> str:
    return edited(PAIR, [SetKey(do="set", path=path, value=value)])


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.name)
def test_a_good_plan_has_its_schedule_and_is_judged(path: Path) -> None:
    """What the desk shows is what the terminal says of the same file."""
    text = path.read_text(encoding="utf-8")
    plan = parse_plan(text, path.name)
    found = checked(text)
    assert (found.faults, found.plan, found.schedule) == ([], plan, schedule_from_plan(plan))
    assert found.judged is not None
    if all(link.path_m for link in plan.links):
        assert found.judged.findings == tuple(map(for_desk, judge(plan, None)))
        assert found.judged.lacing == judgement_of(plan, None).lacing
    assert found.counts["stations"] == len(plan.stations)


def test_a_chain_whose_paths_are_missing_is_told_so_at_once() -> None:
    """A plan in the making is answered for a hundred houses too: no crew is looked for before there are paths."""
    many = "".join(f'[[stations]]\nid = "s{n}"\nhouse = "{n}"\n' for n in range(3, 103))
    found = checked(PAIR + many).judged
    assert found is not None
    assert found.lacing is None
    assert len([finding for finding in found.findings if finding.code == "no_path"]) == 100


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.name)
def test_every_fault_of_the_reader_has_a_place_and_words(path: Path) -> None:
    """None is lost on the way, and each is a sentence."""
    text = path.read_bytes().decode(errors="replace")
    told = path.with_name(path.name.replace(".plan.toml", ".faults.txt")).read_text(encoding="utf-8").splitlines()
    faults = checked(text).faults
    assert len(faults) == len(told)
    for fault, line in zip(faults, told, strict=True):
        assert fault.text.endswith(".")
        assert f"line {fault.line}: " in line or fault.line == 0
        assert fault.path in line


@pytest.mark.parametrize(
    ("path", "value", "about", "text", "meant"),
    [
        ("title", None, "Title", "Write what the show is called.", None),
        ("stations[1].house", None, "The second house: house", "Write the name of the house, such as 4.", None),
        ("stations[1].path_ft", "61 ft", "House 2: path", "Found '61 ft'. Write a number from 0 to 1000000.", 61),
        ("stations[1].path_ft", -1, "House 2: path", "Found -1. Write a number from 0 to 1000000.", None),
        (
            "stations[1].advertised",
            "7:05",
            "House 2: advertised time",
            'Found \'7:05\'. Write "07:05" in the morning, "19:05" in the evening.',
            None,
        ),
        (
            "print[1].duration",
            "1h48",
            "Feature: length",
            "Found '1h48'. Write minutes:seconds or hours:minutes:seconds, such as 1:48:05.",
            "1:48:00",
        ),
        (
            "timing.motors_at",
            "2026-03-14T7pm",
            "Start of the motors",
            "Found '7pm'. Write a day, and a time of day such as 19:00.",
            "2026-03-14T19:00",
        ),
        ("timing.start", "button", "How motors are started", "Found 'button'. Write common, timers or hands.", None),
    ],
)
def test_a_fault_says_where_it_is_what_to_do_and_what_was_meant(
    path: str, value: Value | None, about: str, text: str, meant: Value | None
) -> None:
    """Beside its field a reader needs no key and no line."""
    titled = edited(PAIR, [SetKey(do="set", path="print[1].title", value="Feature")])
    [fault] = checked(edited(titled, [SetKey(do="set", path=path, value=value)])).faults
    assert (fault.path, fault.about, fault.text, fault.meant) == (path, about, text, meant)


def test_a_broken_text_is_told_with_its_line() -> None:
    """What is no TOML has one fault, and no value that a field could lose."""
    found = checked(PAIR.replace("[[stations]]", "[[stations]", 1))
    [fault] = found.faults
    line = PAIR.split("[[stations]]")[0].count("\n") + 1
    assert (fault.line, fault.about, found.values) == (line, f"Line {line}", None)
    assert fault.text.startswith("This line cannot be read from character ")


def test_a_recording_in_a_plans_place_is_told_as_that() -> None:
    """Whoever pastes the wrong file is told what it is."""
    for text, kind in (
        ('{"format": "festoon-events/1"}\n', "a recording"),
        ('format = "festoon-site/1"\n', "a site file"),
    ):
        assert [fault.text for fault in checked(text).faults] == [f"This is {kind}. A plan is wanted."]


@pytest.mark.parametrize(
    ("key", "value", "meant"),
    [
        ("advertised", "7:05pm", "19:05"),
        ("advertised", "19.05", "19:05"),
        ("advertised", "soon", None),
        ("motors_at", "2026-03-14T18.50", "2026-03-14T18:50"),
        ("motors_at", "T18.50", None),
        ("duration", "108", "1:48:00"),
        ("path_m", "30,5", 30.5),
        ("path_m", "a hundred", None),
        ("rollers", "8", 8),
        ("feet", "60 ft", 60),
        ("timezone", "chicago", "America/Chicago"),
        ("title", 7, None),
        ("cue", "yes", None),
    ],
)
def test_what_was_meant_is_one_value_or_nothing(key: str, value: object, meant: Value | None) -> None:
    """A field offers what to write only where there is no doubt."""
    assert meant_by(key, value) == meant


def test_paths_of_keys_are_read_as_they_are_written() -> None:
    """A fault and a field name the same key in the same way."""
    for text in ("title", "timing.reserve_s", "stations[12].inputs.motor", "marks[0]"):
        assert text_from_path(path_from_text(text)) == text
    assert at_path({"a": [{"b": 1}]}, ("a", 0, "b")) == 1
    assert at_path({"a": [{"b": 1}]}, ("a", 1, "b")) is None
    for wrong in ("", "a[1", "a..b", "a[1][2]", "a b", "a[-1]"):
        with pytest.raises(ValueError, match="no key of a plan"):
            path_from_text(wrong)


def test_values_are_what_fields_can_show() -> None:
    """Dates are text, a number too long for a browser too; a list of words is one value."""
    data = {"a": [{"b": 2**60, "c": ["x", "y"]}], "d": {"e": float("nan")}, "f": [], "g": True}
    assert values_of(data) == {"a[0].b": str(2**60), "a[0].c": ["x", "y"], "d.e": "nan", "f": [], "g": True}


def test_every_key_of_the_format_has_a_name() -> None:
    """A fault and a comparison never speak of a key that people have no word for."""
    keys = [line.split("`")[1::2] for line in _table_of_keys()]
    named = {key for row in keys for key in row if key.replace("_", "").isalpha()}
    known = {key.rpartition(".")[2] for key in LABELS}
    assert named - known - _NO_KEYS == set()
    assert label_of(("stations", 0, "inputs", "motor"))[0] == "who tells of the motor"


_NO_KEYS = {"contact", "tap", "none", "common", "timers", "hands", "leader", "trailer", "feature", "credits"} | {
    *("intermission", "tail", "film", "timing", "threading", "lamp", "inputs", "start", "motors", "stations"),
}
"""Words in the table of keys that are tables or values."""


def _table_of_keys() -> list[str]:
    text = (FIXTURES.parents[1] / "fixtures/README.md").read_text(encoding="utf-8")
    table = text.split("### Plan: `*.plan.toml`")[1].split("###")[0]
    return [" ".join(line.split("|")[1:3]) for line in table.splitlines() if line.startswith("|")]


@pytest.mark.parametrize(
    "odd",
    [
        f"x = 0x{'f' * 6000}",
        ".".join("a" * 900) + " = 1",
        f"x = {'[' * 400}{']' * 400}",
        f"x = {'{a = ' * 60}1{'}' * 60}",
    ],
    ids=["a number of 6000 digits", "a key of 900 parts", "lists in lists", "tables in tables"],
)
def test_what_nobody_writes_by_hand_is_a_fault_and_breaks_nothing(odd: str) -> None:
    """Whatever a file in the folder has, the desk lists it and says what is wrong with it."""
    text = f"{odd}\n{(FIXTURES / 'pair.plan.toml').read_text('utf-8')}"
    found = checked(text)
    assert found.plan is None
    assert found.faults
    changes_in_words(text, PAIR)
    with contextlib.suppress(EditFault, ValueError):
        edited(text, [SetKey(do="set", path="title", value="Pair too")])
