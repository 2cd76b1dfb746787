"""What is on the sheet of a booth: the crew's duties and what there is to see, in the order of the clock."""

from itertools import pairwise

import pytest

from server.planning.duties import duties_of
from server.sheets.moments import Moment, moments_of
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import chain
from tests.sheets.shows import NAMES, plan_named

# The crew's word for a duty, and what the sheet says; a mark's own words are the same on both.
SAID = {
    "start all motors by the common button": "Press the common button",
    "start the motor": "Start the motor",
    "strike the lamp": "Strike, douser shut",
    "open the douser": "Open the douser",
    "see the head on screen": "HEAD",
    "shut the douser, put the lamp out, house lights up": "Intermission: shut the douser, put the lamp out",
    "shut the douser, house lights up": "Intermission: shut the douser, house lights up",
    "shut down the lamp": "End: douser shut, lamp out",
    "stop the motor once clear": "Clear: stop the motor",
}


def all_moments(plan: Plan) -> tuple[Moment, ...]:
    return moments_of(plan, schedule_from_plan(plan), range(len(plan.stations)))


def test_two_houses_by_hand() -> None:
    """Each line of a small show, worked out by hand: leader 40 s, path 100 ft = 66.842 s at 456 mm/s, film 600 s."""
    plan = chain((100.0, 8), timing='start = "hands"', head_ft=60, feature="10:00", tail_ft=150)
    told = [(one.at_s, one.stations, one.what, one.by_s) for one in all_moments(plan)]
    # A window's opening is rounded up, its close down; the head and the credits down; the end and clear up.
    assert told == [
        (-50, (0,), "Strike, douser shut", 25),
        (0, (0, 1), "Start the motor", None),
        (17, (1,), "Strike, douser shut", 91),
        (25, (0,), "See the douser open", 40),
        (40, (0,), "HEAD: see it on screen", None),
        (91, (1,), "See the douser open", 106),
        (106, (1,), "HEAD: see it on screen", None),
        (640, (0,), "End: douser shut, lamp out", None),
        (707, (1,), "End: douser shut, lamp out", None),
        (740, (0,), "Clear: stop the motor", None),
        (807, (1,), "Clear: stop the motor", None),
    ]


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_leaves_out_no_duty(name: str) -> None:
    """Every duty that a crew's roster has is on the sheet at its second, and nothing is asked later than it may be."""
    plan = plan_named(name)
    moments = all_moments(plan)
    houses = {station.house: k for k, station in enumerate(plan.stations)}
    for duty in duties_of(plan, schedule_from_plan(plan)):
        said = SAID.get(duty.what, duty.what)
        fitting = [
            moment
            for moment in moments
            if houses[duty.house] in moment.stations
            and moment.what.startswith(said)
            and abs(moment.at_s - duty.from_s) <= 1.0
        ]
        assert len(fitting) == 1, duty
        assert (fitting[0].by_s or fitting[0].at_s) <= duty.by_s + duty.takes_s + 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_moments_come_in_the_order_of_the_clock(name: str) -> None:
    """Nobody reads back: the clock only goes down the page, and each house has one start, head, end and clear."""
    plan = plan_named(name)
    moments = all_moments(plan)
    assert all(one.at_s <= other.at_s for one, other in pairwise(moments))
    for words in ("HEAD", "End", "Clear"):
        houses = [k for moment in moments if moment.what.startswith(words) for k in moment.stations]
        assert sorted(houses) == list(range(len(plan.stations)))


def test_a_common_button_is_pressed_in_one_booth() -> None:
    """The booth of the first house presses it for all; in the others motors are seen to start."""
    plan = plan_named("sixteen")
    schedule = schedule_from_plan(plan)
    booths = {booth: [k for k, one in enumerate(plan.stations) if one.booth == booth] for booth in plan.booths}
    starts = {
        booth: [one for one in moments_of(plan, schedule, stations) if one.at_s == 0 and "ommon" in one.what]
        for booth, stations in booths.items()
    }
    assert {booth: [one.act for one in found] for booth, found in starts.items()} == {
        "Mill": [True],
        "Tower": [False],
        "Garden": [False],
        "Quay": [False],
    }
    assert all(list(found[0].stations) == booths[booth] for booth, found in starts.items())


def test_what_nobody_tells_of_is_to_be_seen() -> None:
    """A lamp and a douser without an input are nobody's duty, and still have their line."""
    plan = chain(stations={0: 'inputs = { lamp = "none", douser = "none" }'})
    seen = {one.what: one.act for one in all_moments(plan)}
    assert seen["See that the lamp is lit"] is seen["See the douser open"] is False
    assert "Strike, douser shut" not in seen
    assert seen["End: see that the light goes"] is False
