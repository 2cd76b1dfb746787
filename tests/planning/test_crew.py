"""How many people a show takes, why one fewer is too few, and who is where."""

from itertools import pairwise

import pytest

from server.planning.crew import CrewPlan, Missed, crew_findings, crew_plan
from server.planning.duties import Duty, duties_of
from server.planning.rosters import BESIDE_S
from server.planning.site_model import Site
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import chain, site

TAPS = 'inputs = { motor = "tap", lamp = "tap", douser = "tap", cue = "tap" }'


def show(walk_s: float, *, timing: str = "", feet: float = 100.0) -> tuple[Plan, Site]:
    """Three houses, each in a booth of its own, with the same walk between any two."""
    plan = chain((feet, 8), (feet, 8), timing=timing, booths="ABC", stations=dict.fromkeys(range(3), TAPS))
    return plan, site(walks=[("A", "B", walk_s), ("B", "C", walk_s), ("A", "C", walk_s)])


def crew_of(plan: Plan, place: Site | None, crew: int | None = None) -> CrewPlan:
    return crew_plan(duties_of(plan, schedule_from_plan(plan)), place, crew)


def test_near_booths_need_one_person() -> None:
    """Heads that come over a minute apart in booths ten steps apart are one person's work, proved by a roster."""
    needed = crew_of(*show(5.0, feet=200.0))
    assert (needed.least, needed.enough, needed.clash, needed.missed) == (1, 1, (), ())
    assert len(needed.people) == 1


def test_far_booths_need_more() -> None:
    """With four minutes between booths and a head every minute each house has its own person."""
    needed = crew_of(*show(240.0))
    assert (needed.least, needed.enough) == (3, 3)
    assert all(needed.people)


def test_the_clash_is_no_more_than_it_needs() -> None:
    """Without any one of the duties that clash so few people would do the rest."""
    plan, place = show(240.0)
    needed = crew_of(plan, place)
    assert crew_plan(needed.clash, place).least == needed.least
    for duty in needed.clash:
        rest = [other for other in needed.clash if other is not duty]
        assert crew_plan(rest, place).enough < needed.least


def test_starts_by_hand_need_a_hand_each() -> None:
    """Three motors that are to start on one second take three people, however near they stand."""
    needed = crew_of(*show(1.0, timing='start = "hands"'))
    assert (needed.least, needed.enough) == (3, 3)
    assert {duty.what for duty in needed.clash} == {"start the motor"}


def test_twenty_motors_by_hand_are_still_proved() -> None:
    """However many start at once, that one fewer is too few is proved."""
    plan = chain(*[(100.0, 8)] * 19, timing='start = "hands"')
    needed = crew_of(plan, None)
    assert (needed.least, needed.enough, len(needed.clash)) == (20, 20, 20)


def test_of_a_crowd_of_duties_the_time_alone_proves_how_many_people_are_too_few() -> None:
    """A hundred lamps of ten seconds each, and eight steps between any two, do not go into one minute of 20 people.

    20 people have 70 s each; the duties take 1000 s, and the walks between a hundred houses at least 80 times 8 s.
    """
    lamps = [Duty(str(n), "North", "strike the lamp", 0.0, 60.0, 10.0) for n in range(100)]
    needed = crew_plan(lamps, None)
    assert 100 * 10.0 + 80 * BESIDE_S > 20 * 70.0
    assert 20 < needed.least <= needed.enough
    assert sorted(task.duty for person in needed.people for task in person) == sorted(lamps)


@pytest.mark.parametrize("crew", [3, 4])
def test_a_roster_of_a_crew_does_everything(crew: int) -> None:
    """Of enough people each has their own places, walks included, and every duty is done in its window."""
    plan, place = show(240.0)
    needed = crew_of(plan, place, crew)
    tasks = [task for tasks in needed.people for task in tasks]
    assert len(needed.people) == crew
    assert sorted(task.duty for task in tasks) == sorted(duties_of(plan, schedule_from_plan(plan)))
    assert all(task.duty.from_s <= task.begin_s <= task.duty.by_s for task in tasks)
    for person in needed.people:
        for one, other in pairwise(person):
            assert other.begin_s >= one.begin_s + one.duty.takes_s + other.walk_s
            assert other.walk_s in {0.0, 240.0}


def test_a_crew_that_is_too_few_is_told_what_it_misses() -> None:
    """One person for three far booths misses duties, and each is told with how late whoever comes would be."""
    plan, place = show(240.0)
    needed = crew_of(plan, place, 1)
    assert needed.missed
    done = [task.duty for task in needed.people[0]]
    assert sorted([*done, *(missed.duty for missed in needed.missed)]) == sorted(
        duties_of(plan, schedule_from_plan(plan))
    )
    assert all(missed.late_s > 0.0 for missed in needed.missed)
    (finding,) = crew_findings(plan, needed, 1)
    assert (finding.code, finding.level, finding.about) == ("crew_too_few", "fault", "the crew")
    first = needed.missed[0].duty
    assert finding.text.startswith(f"One person cannot do this show: House {first.house}, {first.what}, is due by 18:5")
    assert "In no order can 2 people do: House" in finding.cause
    assert "crew of 3" in finding.remedy


def test_what_nobody_has_shown_is_not_told_as_a_fault() -> None:
    """More than are proved too few, and fewer than have a roster: they may not manage, and nobody says they cannot."""
    missed = Missed(Duty("11", "A", "strike the lamp", 0.0, 10.0, 5.0), 20.0)
    needed = CrewPlan(least=2, enough=4, clash=(), people=((), (), ()), missed=(missed,), untimed=())
    (finding,) = crew_findings(chain(), needed, 3)
    assert finding.level == "warning"
    assert finding.text == (
        "3 people may not manage this show: House 11, strike the lamp, is due by 18:50:10, "
        "and whoever comes is 20 s late."
    )
    assert finding.cause == "No roster was found for them; none was shown to be impossible."


def test_how_many_people_are_needed_is_a_note() -> None:
    """Where nobody asks about a crew the number is told with why, and one person is nothing to tell."""
    plan, place = show(240.0)
    (finding,) = crew_findings(plan, crew_of(plan, place), None)
    assert (finding.code, finding.level, finding.text) == ("crew_needed", "note", "The show takes a crew of 3.")
    near, beside = show(5.0, feet=200.0)
    assert list(crew_findings(near, crew_of(near, beside), None)) == []


def test_walks_that_nobody_timed_are_told() -> None:
    """A note names the booths whose walk was guessed; in a plan without booths there is nothing to walk."""
    plan, _ = show(240.0)
    codes = [finding.code for finding in crew_findings(plan, crew_of(plan, None), None)]
    assert "walk_untimed" in codes
    unsaid = chain((100.0, 8))
    assert not [one for one in crew_findings(unsaid, crew_of(unsaid, None), None) if one.code == "walk_untimed"]


def test_in_one_booth_people_step_aside() -> None:
    """Between projectors of one booth somebody walks a few steps, and no walk is untimed."""
    plan = chain((100.0, 8), booths="AA", stations=dict.fromkeys(range(2), TAPS))
    needed = crew_of(plan, None, 1)
    assert {task.walk_s for task in needed.people[0]} == {0.0, BESIDE_S}
    assert needed.untimed == ()
