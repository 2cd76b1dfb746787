"""A plan's text changed key by key: what it then says, and that nothing else of it is another."""

import tomllib
from copy import deepcopy
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.plans.edits import Add, Edit, EditFault, Move, Remove, SetKey, SetStart, SetZone, edited
from server.plans.spans import blocks_of, comments_in
from server.timeline.plan import parse_plan
from tests.plans.texts import (
    INPUTS,
    NUMBERS,
    SEGMENT_KEYS,
    STATION_KEYS,
    TABLE_KEYS,
    TABLES,
    Owner,
    Written,
    plan_texts,
)

FOR_ONE = ({"path_ft", "path_m"}, {"feet", "frames", "duration"})
ADDED = {"id": "new", "house": "12", "inputs": {"motor": "tap"}}


class Model:
    """What a text should say after each edit, and which of its comments may have gone with what was taken out."""

    def __init__(self, written: Written) -> None:
        self.data = deepcopy(written.data)
        self.comments = written.comments
        self.gone: set[Owner] = set()
        self._added = 0

    def edit(self, draw: Any) -> Edit:
        """The next edit, drawn, made here too."""
        name = draw(st.sampled_from(("print", "stations")))
        count = len(self.data.get(name, []))
        kinds = ["add", "table"] + (["entry", "inputs", "remove", "move"] if count else [])
        match draw(st.sampled_from(kinds)):
            case "add":
                return self._add(name, draw(st.integers(0, count)))
            case "table":
                return self._set_in_table(draw(st.sampled_from((*TABLES, ""))), draw)
            case "inputs":
                return self._set_input(draw(st.integers(0, count - 1)) if name == "stations" else 0, draw)
            case "entry":
                return self._set_in_entry(name, draw(st.integers(0, count - 1)), draw)
            case "remove":
                return self._remove(name, draw(st.integers(0, count - 1)))
            case _:
                at, to = draw(st.integers(0, count - 1)), draw(st.integers(0, count - 1))
                self.data[name].insert(to, self.data[name].pop(at))
                return Move(do="move", list=name, at=at, to=to)

    def _add(self, name: Any, at: int) -> Edit:
        self._added += 1
        values: dict[str, Any] = ADDED | {"id": f"{name[0]}new{self._added}"}
        self.data.setdefault(name, []).insert(at, deepcopy(values))
        return Add(do="add", list=name, at=at, values=values)

    def _remove(self, name: Any, at: int) -> Edit:
        self.gone.add((name, self.data[name].pop(at)["id"]))
        if not self.data[name]:
            del self.data[name]
        return Remove(do="remove", list=name, at=at)

    def _set_in_table(self, name: str, draw: Any) -> Edit:
        key = draw(st.sampled_from(TABLE_KEYS if name else ("title", "site", "timezone")))
        value = draw(st.none() | NUMBERS)
        holder = self.data.setdefault(name, {}) if name else self.data
        self._set(holder, key, value, (name, key) if name else (key,))
        if not self.data.get(name, True):
            del self.data[name]
        return SetKey(do="set", path=f"{name}.{key}".strip("."), value=value)

    def _set_in_entry(self, name: Any, at: int, draw: Any) -> Edit:
        key = draw(st.sampled_from(STATION_KEYS if name == "stations" else SEGMENT_KEYS))
        value = draw(st.none() | NUMBERS)
        entry = self.data[name][at]
        self._set(entry, key, value, (name, entry["id"], key))
        return SetKey(do="set", path=f"{name}[{at}].{key}", value=value)

    def _set_input(self, at: int, draw: Any) -> Edit:
        if not self.data.get("stations"):
            return self._set_in_table("timing", draw)
        key, value = draw(st.sampled_from(INPUTS)), draw(st.sampled_from(("tap", "none")))
        self.data["stations"][at].setdefault("inputs", {})[key] = value
        return SetKey(do="set", path=f"stations[{at}].inputs.{key}", value=value)

    def _set(self, holder: dict[str, Any], key: str, value: object, owner: Owner) -> None:
        if value is None:
            holder.pop(key, None)
            self.gone.add(owner)
            return
        for other in next((keys for keys in FOR_ONE if key in keys), {key}):
            holder.pop(other, None)
        holder[key] = value

    def kept(self) -> list[str]:
        """The comments that have to be there still."""
        return [comment for comment, owner in self.comments.items() if not self._is_gone(owner)]

    def _is_gone(self, owner: Owner) -> bool:
        return owner is not None and any(owner[: len(gone or ())] == gone for gone in self.gone)


def said(data: dict[str, Any]) -> dict[str, Any]:
    """Without tables that say nothing."""
    return {key: value for key, value in data.items() if value != {}}


def comment_owners(text: str) -> list[tuple[str, str]]:
    """Each comment that stands with an entry of a list, with the entry's id."""
    data = tomllib.loads(text)
    found: list[tuple[str, str]] = []
    for block in blocks_of(text):
        if len(block.path) > 1:
            name, at = str(block.path[0]), int(block.path[1])
            found += [(comment, data[name][at]["id"]) for comment in comments_in(text[block.start : block.own_end])]
    return found


@settings(max_examples=120)
@given(written=plan_texts(), data=st.data())
def test_a_text_reads_back_to_the_edited_plan_and_keeps_every_comment(written: Written, data: st.DataObject) -> None:
    """After any edits it says what was asked for; a comment goes only with the very thing that was taken out."""
    assert said(tomllib.loads(written.text)) == said(written.data)
    model = Model(written)
    text = written.text
    for _ in range(data.draw(st.integers(1, 6))):
        text = edited(text, [model.edit(data.draw)])
        assert said(tomllib.loads(text)) == said(model.data)
        found = comments_in(text)
        assert len(found) == len(set(found))
        assert set(model.kept()) - set(found) == set()
    for comment, entry in comment_owners(text):
        owner = written.comments[comment]
        assert owner is None or owner[1] == entry


LANTERN = """\
# Friday's plan.
format = "festoon-plan/1"
title = "Lantern"   # as on the poster
timezone = "America/Chicago"

[timing]
motors_at = 2026-03-14T18:50:00-05:00   # ten minutes before

[[print]]
id = "leader"
kind = "leader"
feet = 60   # counted twice

# --- the chain ---

# by the stairs
[[stations]]
id = "h3"
house = "3"

[[stations]]
id = "h4"
house = "4"
path_ft = 100   # tape, 2 March
"""


def test_the_start_is_set_by_the_houses_clock() -> None:
    """A day and a time of day become the instant with the zone's offset on that day; the comment stays."""
    text = edited(LANTERN, [SetStart(do="start", day="2026-07-01", time="19:05")])
    assert "motors_at = 2026-07-01T19:05:00-05:00   # ten minutes before\n" in text
    text = edited(text, [SetStart(do="start", day="2026-01-15", time="19:05:30")])
    assert "motors_at = 2026-01-15T19:05:30-06:00   # ten minutes before\n" in text


def test_another_time_zone_leaves_the_clock_of_the_start() -> None:
    """Whoever corrects the zone did not move the show."""
    text = edited(LANTERN, [SetZone(do="zone", name="Europe/Lisbon")])
    assert "motors_at = 2026-03-14T18:50:00Z   # ten minutes before\n" in text
    assert 'timezone = "Europe/Lisbon"\n' in text
    assert "T18:50:00-05:00" in edited(LANTERN, [SetZone(do="zone", name="Nowhere/At All")])


@pytest.mark.parametrize(
    ("day", "clock"), [("2026-02-30", "19:00"), ("2026-03-14", "7:05pm"), ("", ""), ("x", "24:00")]
)
def test_what_is_no_start_is_written_as_it_is(day: str, clock: str) -> None:
    """Nothing that somebody typed is lost: it is told as a fault, beside it."""
    text = edited(LANTERN, [SetStart(do="start", day=day, time=clock)])
    assert tomllib.loads(text)["timing"]["motors_at"] == f"{day}T{clock}"


def test_a_path_in_another_unit_stands_where_it_stood() -> None:
    """Of keys that are for one thing there is one, with its comment."""
    text = edited(LANTERN, [SetKey(do="set", path="stations[1].path_m", value=30.48)])
    assert text == LANTERN.replace("path_ft = 100", "path_m = 30.48")


def test_a_house_moves_with_the_comment_above_it() -> None:
    """What is written right above a table is about it; what stands apart stays where it is."""
    text = edited(LANTERN, [Move(do="move", list="stations", at=0, to=1)])
    assert text == LANTERN.replace('# by the stairs\n[[stations]]\nid = "h3"\nhouse = "3"\n\n', "") + (
        '\n# by the stairs\n[[stations]]\nid = "h3"\nhouse = "3"\n'
    )


def test_edits_that_undo_each_other_leave_the_text_as_it_was() -> None:
    """There and back again is the same file, to the byte."""
    there: list[Edit] = [Move(do="move", list="stations", at=0, to=1), SetKey(do="set", path="title", value="Other")]
    back: list[Edit] = [SetKey(do="set", path="title", value="Lantern"), Move(do="move", list="stations", at=1, to=0)]
    assert edited(LANTERN, [*there, *back]) == LANTERN


ABOVE_A_HEADER = """\
[[print]]
id = "leader"
# measured twice
kind = "leader"
# by the stairs
[[stations]]
id = "h3"
"""


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_comment_above_the_last_key_stays_with_its_entry_when_the_key_goes(newline: str) -> None:
    """It does not come to stand right above the next table, with which it would be moved or taken out."""
    text = ABOVE_A_HEADER.replace("\n", newline)
    without = edited(text, [SetKey(do="set", path="print[0].kind", value=None)])
    assert without == text.replace(f'kind = "leader"{newline}', newline)
    assert comment_owners(without) == [("# measured twice", "leader"), ("# by the stairs", "h3")]
    assert comments_in(edited(without, [Remove(do="remove", list="stations", at=0)])) == ["# measured twice"]


@pytest.mark.parametrize(
    "edit",
    [
        Remove(do="remove", list="stations", at=2),
        Move(do="move", list="marks", at=0, to=1),
        SetKey(do="set", path="stations[7].house", value="9"),
        SetKey(do="set", path="title.short", value="9"),
    ],
)
def test_an_edit_of_what_is_not_there_is_refused(edit: Edit) -> None:
    """Two tabs may think differently of one plan: what cannot be made is told."""
    with pytest.raises(EditFault):
        edited(LANTERN, [edit])


def test_a_file_with_a_mark_of_its_bytes_is_edited() -> None:
    """Some editors put one before the text."""
    assert edited(f"\ufeff{LANTERN}", []) == LANTERN


def test_a_start_keeps_its_instant_in_the_plan() -> None:
    """What the edit writes is what the plan reader reads."""
    whole = LANTERN.replace("feet = 60", 'feet = 60\n[[print]]\nid = "f"\nkind = "feature"\nduration = "1:30:00"')
    plan = parse_plan(edited(whole, [SetStart(do="start", day="2026-03-08", time="02:30")]), "dst")
    assert plan.timing.motors_at == datetime.fromisoformat("2026-03-08T02:30:00-06:00")


BRACKETS = """\
stations = [ # the chain
  {id = "a", house = "1"}, # by the stairs
  # across the yard
  {id = "b", house = "2", inputs = {motor = "tap"}} # last
]
[timing]
reserve_s = 2
"""


def test_a_list_in_brackets_keeps_every_comment() -> None:
    """Whoever writes it so finds it so again, entry by entry on its line."""
    add = Add(do="add", list="stations", at=2, values={"id": "c", "house": "3"})
    text = edited(BRACKETS, [add, SetKey(do="set", path="stations[1].inputs.motor", value="none")])
    assert text.splitlines()[3:5] == [
        '  {id = "b", house = "2", inputs = {motor = "none"}}, # last',
        '  { id = "c", house = "3" }',
    ]
    new_key = edited(text, [SetKey(do="set", path="stations[1].inputs.lamp", value="tap")])
    assert '  { id = "b", house = "2", inputs = { motor = "none", lamp = "tap" } }, # last\n' in new_key
    moved = edited(text, [Move(do="move", list="stations", at=2, to=0)])
    assert moved.splitlines()[1] == '  { id = "c", house = "3" }, # by the stairs'
    taken = edited(text, [Remove(do="remove", list="stations", at=0)] * 3)
    assert taken.splitlines() == [
        "# the chain",
        "# by the stairs",
        "# across the yard",
        "# last",
        "",
        *text.splitlines()[6:],
    ]
