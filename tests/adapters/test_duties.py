"""Who does what in a rehearsal, and what is said of it beforehand."""

import pytest

from adapters.drill.briefing import briefing_of
from adapters.drill.catalogue import scenario_for
from adapters.drill.duties import CrewKind, Duties
from tests.adapters.shows import larkspur


@pytest.mark.parametrize(
    ("crew", "yours"),
    [
        (
            "contacts",
            [
                "  - the lamps of Houses 4, 7",
                "  - the dousers of Houses 6, 7",
                "  - the first picture, to be confirmed, and what changes, at Houses 1, 2, 4, 6, 7",
                "  - stopping the film when it has to be stopped",
            ],
        ),
        ("all", ["  - stopping the film when it has to be stopped"]),
        (
            "none",
            [
                '  - the motors: start them by "All motors started"',
                "  - the lamps of every house",
                "  - the dousers of Houses 3, 5, 6, 9, 7",
                "  - the first picture, to be confirmed, and what changes, at Houses 1, 2, 4, 6, 7",
                "  - stopping the film when it has to be stopped",
            ],
        ),
    ],
)
def test_whoever_takes_part_is_told_what_is_theirs(crew: CrewKind, yours: list[str]) -> None:
    """As the plan's inputs have it: what is known by taps is left to the person; what has no input is the crew's."""
    lines = briefing_of(Duties(larkspur(), crew), 7)
    assert [line for line in lines if line.startswith("  - ")] == yours
    assert "--seed 7" in lines[0]


@pytest.mark.parametrize(
    ("start_s", "said"), [(-120.0, []), (20.0, []), (60.0, ["1 minute"]), (2880.0, ["48 minutes"])]
)
def test_whoever_comes_in_mid_show_is_told_so(start_s: float, said: list[str]) -> None:
    """For how long the motors have run; nothing where they start with whoever came."""
    lines = [line for line in briefing_of(Duties(larkspur()), 7, start_s) if "mid-show" in line]
    assert lines == [f"You come to it in mid-show: the motors have run for {minutes}." for minutes in said]


@pytest.mark.parametrize(
    ("name", "crews"),
    [
        ("motor_lost", {"contacts", "all", "none"}),
        ("lamp_out", {"contacts", "all", "none"}),
        ("late_strike", {"contacts", "all"}),
        ("wrong_taps", {"all"}),
        ("short_tail", {"contacts", "all", "none"}),
        ("stop_group", {"contacts", "all", "none"}),
        ("foil_missing", {"contacts", "all", "none"}),
        ("no_failsafe", set()),
        ("clean", set()),
    ],
)
def test_a_mistake_of_the_crew_comes_about_only_where_the_crew_is(name: str, crews: set[CrewKind]) -> None:
    """Motors fail whoever looks after them; a lamp is struck late, or a pass mistapped, by a crew that has them."""
    plan = larkspur()
    kinds: tuple[CrewKind, ...] = ("contacts", "all", "none")
    assert {crew for crew in kinds if Duties(plan, crew).comes_about(scenario_for(name, plan, 1))} == crews
