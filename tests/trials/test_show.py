"""The simulated show of a plan as what its contacts do."""

import pytest

from adapters.contacts.kinds import Input, What
from adapters.drill import CATALOGUE
from adapters.drill.facts import Fact
from server.timeline.plan import Plan, parse_plan
from server.trials.show import SHOWS, Move, moves_of, moves_of_show
from tests.cli.running import PAIR

PLAN = parse_plan(PAIR.read_text(encoding="utf-8"), PAIR.name)
WHATS: tuple[What, ...] = ("motor", "lamp", "douser", "cue", "failsafe")
INPUTS = [Input("north", f"{s.id}{what}", s.id, s.house, what) for s in PLAN.stations for what in WHATS]


def moves(*facts: Fact, plan: Plan = PLAN) -> list[tuple[float, str, bool | None]]:
    return [(move.at_s, move.wired.place, move.on) for move in moves_of(facts, INPUTS, plan)]


def test_what_happens_moves_its_contact() -> None:
    """In order of time; a failsafe is armed as its motor starts, and what no contact tells of moves none."""
    happened = [
        Fact(9.0, "film_trip", "a"),
        Fact(0.0, "chain_start"),
        Fact(-30.0, "lamp_lit", "b"),
        Fact(0.1, "motor_start", "a", with_chain=True),
        Fact(5.0, "slack_read", "b", seconds=1.0),
        Fact(8.0, "douser_shut", "a"),
        Fact(9.2, "motor_stop", "a"),
    ]
    assert moves(*happened) == [
        (-30.0, "blamp", True),
        (0.1, "afailsafe", False),
        (0.1, "amotor", True),
        (8.0, "adouser", False),
        (9.0, "afailsafe", True),
        (9.2, "amotor", False),
    ]


def test_a_detector_sees_foils_and_nothing_that_people_see() -> None:
    """The head without a foil is a picture, not a pulse."""
    assert moves(Fact(1.0, "mark_pass", "a", "short"), Fact(2.0, "mark_pass", "a", "end")) == [(1.0, "acue", None)]


def test_of_several_failsafes_one_trips() -> None:
    """The first that is wired."""
    second = INPUTS[4]._replace(place="second")
    assert moves_of([Fact(1.0, "film_trip", "a")], [*INPUTS, second], PLAN) == [Move(1.0, INPUTS[4], True)]


@pytest.mark.parametrize("name", SHOWS)
def test_every_show_that_can_be_played_moves_motors_and_ends_with_none_running(name: str) -> None:
    """Whatever goes wrong in it, it moves contacts."""
    show = moves_of_show(name, PLAN, INPUTS, seed=3)
    assert [move.at_s for move in show] == sorted(move.at_s for move in show)
    motors = {
        each.id: [m.on for m in show if m.wired.what == "motor" and m.wired.station == each.id]
        for each in PLAN.stations
    }
    assert all(levels[:1] in ([], [True]) for levels in motors.values())
    assert any(levels for levels in motors.values())
    assert all(levels[-1:] in ([], [False]) for levels in motors.values())


def test_what_only_people_tell_of_is_no_show() -> None:
    """The rest of the drill's library is."""
    assert set(CATALOGUE) - set(SHOWS) == {"careless", "reading", "wrong_taps", "missing_inputs"}
