"""Rolls on decks: their size, their weight, and which deck is too small."""

import pytest

from server.planning.leader import past_first_gate_ft
from server.planning.rolls import deck_findings, roll_kg, roll_mm
from server.planning.site_model import Site
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from server.timeline.threading import roll_length
from tests.planning.chains import chain, house, site

INCH_MM = 25.4


def about(plan: Plan, place: Site | None) -> list[str]:
    return [finding.about for finding in deck_findings(plan, place, past_first_gate_ft(plan, place))]


def test_the_diameter_of_a_roll() -> None:
    """D 5 in, d 2 in, t 0.011 in hold 1499.40 in (handbook example, read): so much film makes such a roll."""
    length_m = 1499.40 * INCH_MM / 1000.0
    assert roll_mm(length_m, 2 * INCH_MM, 0.011 * INCH_MM / 1000.0) == pytest.approx(5 * INCH_MM, rel=1e-5)


def test_a_roll_that_a_deck_just_takes_is_taken() -> None:
    """A roll that is as large as its deck is taken, and a deck that is a millimetre smaller is told."""
    plan = chain((100.0, 8), feature="2:00:00")
    size = roll_mm(plan.film.m_from_s(plan.print_s), 600.0, 0.14e-3)
    fits = site(houses=[house(11, core_mm=600.0, roll_mm=size + 0.01), house(12, core_mm=600.0, roll_mm=2000.0)])
    small = site(houses=[house(11, core_mm=600.0, roll_mm=size - 1.0), house(12, core_mm=600.0, roll_mm=2000.0)])
    assert about(plan, fits) == []
    assert about(plan, small) == ["House 11"]


def test_the_take_up_has_the_leader_too() -> None:
    """A last deck that takes the print alone is too small for the leader before it."""
    plan = chain((800.0, 8), feature="2:00:00")
    size = roll_mm(plan.film.m_from_s(plan.print_s), 600.0, 0.14e-3)
    decks = site(houses=[house(11, core_mm=600.0, roll_mm=size + 1.0), house(12, core_mm=600.0, roll_mm=size + 1.0)])
    assert about(plan, decks) == ["House 12"]


def test_a_usual_deck_is_taken_where_nobody_says() -> None:
    """What the schedule warns of without a site the judge says too, with what to do."""
    plan = chain((100.0, 8), feature="15:00:00")
    assert "print_over_deck" in {warning.code for warning in schedule_from_plan(plan).warnings}
    first, last = deck_findings(plan, None, 100.0)
    assert (first.code, first.level, first.about, last.about) == ("print_over_deck", "fault", "House 11", "House 12")
    assert "if it is a usual one" in first.text
    holds_m = roll_length(1.3208, 0.6, 0.14e-3)
    assert f"{holds_m:.0f} m of film" in first.text


def test_what_a_print_weighs() -> None:
    """3,000 m of 35 mm polyester, 0.14 mm thick and 1390 kg a cubic metre (from memory), weigh 20 kg."""
    assert roll_kg(chain(), 3000.0, 0.14e-3) == pytest.approx(3000 * 0.035 * 0.14e-3 * 1390)
    assert roll_kg(chain(), 3000.0, 0.14e-3) == pytest.approx(20.4, abs=0.1)
