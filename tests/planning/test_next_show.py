"""After a show: when machines are free, how the print gets back, and leader kept in the chain."""

import pytest

from server.planning.lacing import READY_MIN, SPLICE_MIN, lacing_of
from server.planning.leader import END_FT, past_first_gate_ft
from server.planning.next_show import LIFT_MIN, next_show_of
from server.planning.rosters import UNTIMED_S
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import METRES_A_FOOT, chain, house, path, site

BOOTHS = "ABC"


def test_the_first_machine_is_free_before_the_last() -> None:
    """Machines are free one after another as the film's end leaves them; the print then lies at the last."""
    plan = chain((100.0, 8), (200.0, 16))
    after, stations = next_show_of(plan, None), schedule_from_plan(plan).stations
    assert (after.first_free_house, after.first_free_s) == ("11", stations[0].clear_s)
    assert after.last_free_s == stations[-1].clear_s > after.first_free_s
    assert after.print_at == "13"
    print_m = plan.film.m_from_s(plan.print_s)
    assert after.print_kg == pytest.approx(print_m * 0.035 * 0.14e-3 * 1390)


def test_a_heavy_print_is_carried_by_two() -> None:
    """Two people clamp it, walk with it twice as long as without, and lay it down."""
    plan = chain((100.0, 8), (200.0, 16), booths=BOOTHS)
    (carry, _) = next_show_of(plan, site(walks=[("A", "C", 90.0)])).ways_back
    assert carry.people == 2
    assert carry.minutes == pytest.approx(2 * LIFT_MIN + 3.0)
    assert carry.how == "Clamp it and carry it from House 13 to House 11; it needs no rewinding."
    untimed = next_show_of(plan, None).ways_back[0]
    assert untimed.minutes == pytest.approx(2 * LIFT_MIN + 2 * UNTIMED_S / 60.0)
    light = chain((100.0, 8), feature="0:30:00")
    assert next_show_of(light, None).ways_back[0].people == 1


def test_the_other_ways_back() -> None:
    """A chain the other way needs no carrying; a path from the last house to the first brings the film by itself."""
    plan = chain((100.0, 8), (200.0, 16))
    after = next_show_of(plan, site(path(13, 11, 150.0)))
    _, turned, ring = after.ways_back
    assert turned.how == "Lay the next show's chain the other way, from House 13 to House 11."
    assert turned.there_s == pytest.approx(after.last_free_s + lacing_of(plan, None).minutes * 60.0)
    assert "150 ft more leader" in ring.how
    assert ring.there_s == pytest.approx(after.last_free_s + 150 * METRES_A_FOOT / 0.456)
    assert len(next_show_of(plan, None).ways_back) == 2


def test_one_house_keeps_its_print() -> None:
    """Where there is one machine the print is where it is wanted."""
    (way,) = next_show_of(chain(), None).ways_back
    assert (way.minutes, way.there_s) == (0.0, next_show_of(chain(), None).last_free_s)


def test_leader_behind_the_tail_saves_the_lacing() -> None:
    """It is as long as the chain and its first end; with it the next start waits for the print and a splice alone."""
    plan = chain((100.0, 8), (200.0, 16))
    after = next_show_of(plan, None, 2)
    behind, back_s = after.behind, after.ways_back[0].there_s
    assert behind.leader_ft == pytest.approx(END_FT + past_first_gate_ft(plan, None))
    assert behind.earliest_s == pytest.approx(back_s + (SPLICE_MIN + READY_MIN) * 60.0)
    # Carrying takes both of two people: they lace after it.
    minutes = lacing_of(plan, None, 2).minutes
    assert after.lacing_anew_s == pytest.approx(back_s + (minutes + READY_MIN) * 60.0)
    assert behind.saves_min == pytest.approx(minutes - SPLICE_MIN)
    assert behind.fits


def test_a_third_person_laces_while_two_carry() -> None:
    """With more people than carry, lacing anew begins as soon as the last machine is free."""
    plan = chain((100.0, 8), (200.0, 16))
    after = next_show_of(plan, None, 3)
    minutes = lacing_of(plan, None, 3).minutes
    carried_s = after.ways_back[0].there_s
    expected_s = max(carried_s + SPLICE_MIN * 60.0, after.last_free_s + minutes * 60.0) + READY_MIN * 60.0
    assert after.lacing_anew_s == pytest.approx(expected_s)


def test_leader_behind_the_tail_never_loses_time() -> None:
    """Where a short chain is laced while the print is carried it saves nothing, and no less."""
    short = next_show_of(chain((20.0, 2), feature="0:05:00"), None, 3)
    assert short.behind.saves_min == pytest.approx(0.0)


def test_leader_behind_the_tail_needs_room_on_the_deck() -> None:
    """A first deck that just takes the print does not take as much leader behind it."""
    plan = chain((800.0, 8), feature="2:00:00")
    tight = site(houses=[house(11, core_mm=600.0, roll_mm=985.0), house(12)])
    wide = site(houses=[house(11, core_mm=600.0, roll_mm=1300.0), house(12)])
    assert not next_show_of(plan, tight).behind.fits
    assert next_show_of(plan, wide).behind.fits
