"""What is ticked off on a tablet: the same things as on the sheet, known again after the plan was changed."""

from itertools import chain as chained

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.planning.lacing import lacing_of
from server.sheets.ticklist import TickList, ticklist_of
from server.timeline.plan import Plan
from tests.planning.chains import chain
from tests.sheets.shows import NAMES, Read, pages_of, plan_named, show_of

PATHS = ((60.0, 6), (240.0, 30), (500.0, 60), (40.0, 4))


def ticks_of(plan: Plan, crew: int | None = None) -> TickList:
    return ticklist_of(plan, lacing_of(plan, None, crew))


def known(plan: Plan, crew: int | None = None) -> dict[str, str]:
    """What there is to tick off, by its key; no two things have the same."""
    found = ticks_of(plan, crew)
    ticks = [*(step.tick for step in found.steps), *found.marks, *found.machines, *found.cues]
    keys = {tick.key: f"{tick.where}: {tick.what}" for tick in ticks}
    assert len(keys) == len(ticks)
    return keys


def lost(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """What is not to be found again."""
    return [said for key, said in before.items() if key not in after]


@pytest.mark.parametrize("name", NAMES)
def test_it_is_what_is_on_the_threading_sheet(name: str) -> None:
    """Every step, splice, tape mark, check of a machine and foil cue of the list is on the sheet, and no fewer."""
    plan = plan_named(name)
    sheet, found = Read(pages_of(show_of(plan))["threading"]), ticks_of(plan)
    for step in found.steps:
        assert step.tick.what in sheet.text
        assert step.tick.where in sheet.text
    for mark in found.marks:
        assert f"{mark.where}: {mark.what}" in sheet.text
    for tick in found.machines:
        assert tick.where.removeprefix("House ") in sheet.text
    assert {tick.what for tick in found.machines} <= set(chained.from_iterable(sheet.rows))
    cues = [row for row in sheet.rows if len(row) == 4 and row[1:2] != ["Foil cue at"] and row[0] == ""]
    assert [row[1] for row in cues] == [cue.where.replace("The ", "the ", 1) for cue in found.cues]
    ticked = (found.steps, found.marks, found.machines, found.cues)
    assert sheet.boxes == sum(map(len, ticked))


def test_a_step_has_its_time_and_its_people() -> None:
    """Times count from the motors, and the last step ends when the lacing has to be ready."""
    plan = plan_named("larkspur")
    lacing, found = lacing_of(plan, None), ticks_of(plan)
    assert found.steps[0].begins_s == pytest.approx(lacing.begin_s)
    assert max(step.begins_s + step.minutes * 60 for step in found.steps) == pytest.approx(lacing.ready_s)
    assert {step.people for step in found.steps} == {1, 2}


def test_another_path_is_another_stretch_and_another_walk() -> None:
    """Nothing else is to be done again: machines, splices and marks are the same."""
    before, after = chain(*PATHS), chain((62.0, 6), *PATHS[1:])
    gone = lost(known(before), known(after))
    assert [said.partition(":")[0] for said in gone] == ["House 11 to 13", "The chain"]


def test_another_house_in_the_chain_is_looked_at_with_its_neighbours() -> None:
    """A house whose film comes from another house, or goes to another, is laced anew; the rest stays."""
    longer = chain(*PATHS, (50.0, 5))
    gone = lost(known(chain(*PATHS)), known(longer))
    assert not [said for said in gone if said.startswith(("House 11:", "House 12:", "House 13:", "House 14:"))]
    assert [said for said in gone if said.startswith("House 15: Lace the machine")]
    assert [said for said in gone if said.startswith("The chain")]


@pytest.mark.parametrize(
    "more",
    [
        {"title": "Another"},
        {"motors_at": "2026-03-14T19:20:00-05:00"},
        {"timing": "reserve_s = 3"},
        {"tail_ft": 400},
    ],
)
def test_what_is_nothing_to_the_hands_takes_no_tick(more: dict[str, str]) -> None:
    """Titles, times and rules may change, and every step is the same."""
    assert lost(known(chain(*PATHS)), known(chain(*PATHS, **more))) == []  # type: ignore[arg-type]


@given(st.integers(1, 6))
def test_more_hands_do_the_same_steps(crew: int) -> None:
    """How many lace moves times, and takes no tick back."""
    assert lost(known(chain(*PATHS)), known(chain(*PATHS), crew)) == []


def test_two_houses_of_one_name_are_two() -> None:
    """Where a plan has a name twice, each has ticks of its own."""
    plan = chain(*PATHS)
    same = [station.model_copy(update={"house": "11"}) for station in plan.stations]
    known(plan.model_copy(update={"stations": tuple(same)}))


def test_a_chain_of_one_house_has_a_list_too() -> None:
    """It has no stretch, and all the rest."""
    found = ticks_of(chain())
    assert [step.tick.where for step in found.steps][-1] == "The chain"
    assert len(found.machines) == 4
