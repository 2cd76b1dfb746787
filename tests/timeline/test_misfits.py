"""What does not fit: which second observation is believed with it, and as what."""

import pytest

from server.timeline.diagnosis import Fault
from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan
from tests.timeline.story import event, played, starts

CHAIN = chain_plan(3)


def passes(plan: Plan, late_s: dict[tuple[str, int], float], marks: int = 4, **more: str) -> list[Event]:
    """Every cue at every gate where the plan has it, but `late_s` after that; None of those not to be seen."""
    return [
        event(
            plan,
            40.0 + plan.ahead_s[k] + 600.0 * n + late_s.get((station.id, n), 0.0),
            "mark_pass",
            station.id,
            mark=f"r{n}",
            **more,
        )
        for k, station in enumerate(plan.stations)
        for n in range(marks)
    ]


def misfits(told: list[str]) -> list[str]:
    return [line for line in told if "raised note misfit" in line]


def test_motors_that_change_together_are_the_mains() -> None:
    """All 0.3 % slow from 1000 s on (EN 50160 allows 1 %): three misfits at most; no slack, and no splice is told."""
    slow = {
        (s.id, n): 0.003 * max(40.0 + CHAIN.ahead_s[k] + 600.0 * n - 1000.0, 0.0)
        for k, s in enumerate(CHAIN.stations)
        for n in range(5)
    }
    told, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, slow, 5)])
    assert 1 <= len(misfits(told)) <= 3
    assert not [line for line in told if "slack" in line]
    assert not [alarm for alarm in fold.board.alarms.values() if "the print has" in alarm.text]
    outlook = fold.evidence.outlook
    assert outlook.rate == pytest.approx([1.0 / 1.003] * 3, abs=1e-4)
    assert outlook.slack == pytest.approx([0.0, 0.0], abs=0.1)


def test_a_neighbour_that_fits_speaks_against_the_mains() -> None:
    """Two ends of a chain are off alike, its middle is not: neither is believed before it is seen a second time."""
    told, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, {("s0", 2): 0.8, ("s2", 2): 0.8}, 3)])
    assert [line.split()[-1] for line in misfits(told)] == ["misfit:s0", "misfit:s2"]
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.05)


def test_one_motor_that_changes_is_not_the_mains() -> None:
    """Its own second misfit is believed, as its own."""
    _, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, {("s1", 2): 0.6, ("s1", 3): 1.2}, 4)])
    drift = fold.evidence.outlook.drift
    assert drift == pytest.approx([1e-3, -1e-3], abs=1e-4)


def test_film_whose_place_is_known_is_not_ahead_by_more_than_its_links_hold() -> None:
    """Somebody in the wrong house taps two marks a path early: both are kept as misfits."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    early = {("s1", 2): -60.0, ("s1", 3): -60.0}
    told, fold = played(plan, [*starts(plan), *passes(plan, early, 4, source="tap")])
    assert len(misfits(told)) == 2
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.5)


def test_film_may_be_late_by_more_than_its_links_hold() -> None:
    """The whole chain stood for a minute, and nobody said so."""
    plan = chain_plan(3, inputs=("tap", "contact", "none", "contact"))
    late = {(s.id, n): 60.0 for s in plan.stations for n in (2, 3)}
    _, fold = played(plan, [*starts(plan), *passes(plan, late, 4)])
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.1)
    assert [fold.evidence.stations[k].passes["r3"] for k in range(3)] == [
        round((40.0 + plan.ahead_s[k] + 1860.0) * 1e6) for k in range(3)
    ]


def test_a_finger_that_comes_down_twice_counts_once() -> None:
    """The same pass from the same source a second later moves nothing."""
    plan = chain_plan(2, inputs=("contact", "contact", "none", "tap"))
    once = [*starts(plan), *passes(plan, {}, 2, source="tap")]
    twice = [*once, event(plan, 40.0 + 600.0 + 1.2, "mark_pass", "s0", mark="r1", source="tap")]
    (_, alone), (told, both) = played(plan, once), played(plan, twice)
    assert both.evidence.outlook.slack == alone.evidence.outlook.slack
    assert not misfits(told)


def test_film_that_stands_is_where_its_slack_is_read() -> None:
    """A chain is rethreaded while it stands: each reading is believed, and moves no other link."""
    stop, again = event(CHAIN, 700.0, "motor_stop", "s1"), event(CHAIN, 1200.0, "motor_start", "s1")
    stops = [stop, *(event(CHAIN, 703.0, "motor_stop", s) for s in ("s0", "s2"))]
    restart = [again, *(event(CHAIN, 1200.0, "motor_start", s) for s in ("s0", "s2"))]
    reads = [event(CHAIN, 1190.0, "slack_read", s, seconds=0.1, sigma_s=0.1) for s in ("s2", "s1")]
    told, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, {}, 2)[:2], *stops, *reads, *restart], 1300.0)
    assert not misfits(told)
    assert fold.evidence.outlook.slack == pytest.approx([0.1, 0.1], abs=0.05)


def test_a_link_that_nothing_feeds_any_more_has_no_slack_to_read() -> None:
    """All of the first house's film is through: a reading that does not fit moves nothing, though all stand."""
    over_s = 40.0 + 3600.0 + 99.0 + 10.0
    stop = [event(CHAIN, over_s, "motor_stop", s.id) for s in CHAIN.stations]
    events = [*starts(CHAIN), *passes(CHAIN, {}, 6), *stop]
    read = event(CHAIN, over_s + 60.0, "slack_read", "s1", seconds=-63.0, sigma_s=0.1)
    (told, fold), (_, plain) = played(CHAIN, [*events, read]), played(CHAIN, events, over_s + 60.0)
    assert len(misfits(told)) == 1
    assert fold.evidence.outlook.fed_s == plain.evidence.outlook.fed_s


def test_a_first_tap_that_was_late_is_the_path_and_no_slack() -> None:
    """It is taken for a longer path; the two that come after it, both early by that, put the path right again."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"), timing="path_tolerance_percent = 5.0")
    _, fold = played(plan, [*starts(plan), *passes(plan, {("s2", 0): 4.5}, 3, source="tap")])
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)
    assert fold.evidence.outlook.gate_s[2] == pytest.approx(plan.ahead_s[2], abs=0.5)


def test_a_gate_that_is_elsewhere_than_believed_is_found_by_the_third_pass() -> None:
    """However far off: nothing stays a misfit for good, and then the paths to it and from it are told of."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    late = {("s1", n): 20.0 for n in (2, 3, 4, 5)}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 6, source="tap")])
    assert [line.split()[-1] for line in misfits(told)] == ["misfit:s1"] * 3 + ["misfit:s2"]
    assert fold.evidence.faults == {Fault("path", "s0>s1"), Fault("path", "s1>s2")}
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.5)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1] + 20.0, abs=0.5)
    assert fold.evidence.outlook.gate_s[2] == pytest.approx(plan.ahead_s[2], abs=0.5)


def test_a_finger_that_comes_down_twice_in_the_wrong_house_counts_once() -> None:
    """The same pass from the same source again is neither another misfit nor a second opinion."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    early = passes(plan, {("s1", 2): -60.0}, 3, source="tap")
    again = event(plan, 40.0 + plan.ahead_s[1] + 1200.0 - 58.5, "mark_pass", "s1", mark="r2", source="tap")
    told, _ = played(plan, [*starts(plan), *early, again])
    assert len(misfits(told)) == 1


def test_the_right_tap_after_a_wrong_one_of_the_same_mark_is_believed() -> None:
    """A finger that came down too early may come down again at the right time."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    right = passes(plan, {}, 3, source="tap")
    wrong = event(plan, 40.0 + plan.ahead_s[1] + 1200.0 - 9.0, "mark_pass", "s1", mark="r2", source="tap")
    _, fold = played(plan, [*starts(plan), *right, wrong])
    assert fold.evidence.stations[1].passes["r2"] / 1e6 == pytest.approx(40.0 + plan.ahead_s[1] + 1200.0, abs=0.3)


def test_film_does_not_jump_by_more_than_the_links_beside_it_hold() -> None:
    """4.5 s early, where a link holds 2 s: two that say so are not believed, and with a third it is the path."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    early = {("s1", n): -4.5 for n in (2, 3, 4)}
    two, three = (played(plan, [*starts(plan), *passes(plan, early, marks, source="tap")])[1] for marks in (4, 5))
    assert two.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.5)
    assert two.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.5)
    assert three.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.5)
    assert three.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1] - 4.5, abs=0.5)


def test_film_that_a_motor_runs_off_with_is_believed_however_far_where_contacts_see_it() -> None:
    """2.4 s late and then 4.8: a rate, and what a link cannot hold lies on the floor."""
    _, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, {("s1", 2): 2.4, ("s1", 3): 4.8}, 4)])
    assert fold.evidence.outlook.drift == pytest.approx([4e-3, -4e-3], abs=4e-4)


def test_two_late_taps_are_no_motor_that_runs_off_by_more_than_its_links_hold() -> None:
    """7 s late and then 10, as fingers are; the tap after that is in time."""
    plan = chain_plan(3, minutes=120, inputs=("contact", "contact", "none", "tap"))
    late = {("s1", 2): 7.0, ("s1", 3): 10.0}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 6, source="tap")])
    assert sum("misfit:s1" in line and "raised" in line for line in told) == 2
    assert fold.evidence.outlook.drift == pytest.approx([0.0, 0.0], abs=1e-4)


@pytest.mark.parametrize("more_s", [1.2, 1.6, 2.0, 3.0])
def test_film_that_is_tapped_later_from_mark_to_mark_is_no_moved_path(more_s: float) -> None:
    """The errors of taps would let it be a jump; it grows as a rate makes it grow."""
    plan = chain_plan(3, minutes=120, inputs=("contact", "contact", "none", "tap"))
    late = {("s1", n): more_s * (n - 1) for n in range(2, 6)}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 6, source="tap")])
    assert any("raised act reserve_spent:s0>s1" in line for line in told)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.5)


def test_a_wrong_pass_keeps_no_later_one_of_the_same_mark_from_being_heard() -> None:
    """A contact that closed a minute early, and then a motor that truly runs off: it is found as if by itself."""
    late = {("s1", n): 0.6 * (n - 1) for n in (2, 3)}
    wrong = event(CHAIN, 40.0 + CHAIN.ahead_s[1] + 1140.0, "mark_pass", "s1", mark="r2")
    _, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, late, 4), wrong])
    assert fold.evidence.outlook.drift == pytest.approx([1e-3, -1e-3], abs=1e-4)


def test_what_grows_after_a_single_pass_is_a_rate_and_no_moved_path() -> None:
    """0.5 s early and then 1.0 s: the path would be off by as much both times."""
    early = {("s1", n): -0.5 * n for n in (1, 2)}
    _, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, early, 3)])
    assert fold.evidence.outlook.slack == pytest.approx([-1.0, 1.0], abs=0.2)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(CHAIN.ahead_s[1], abs=0.2)


@pytest.mark.parametrize(("sigma_s", "doubted"), [(0.3, True), (0.03, False)])
def test_a_reading_settles_what_did_not_fit_only_where_it_is_fine_enough_to_tell(sigma_s: float, doubted: bool) -> None:
    """A pass was 0.8 s late; that no slack is read is something against it where it is read to a tenth of that."""
    late = passes(CHAIN, {("s1", 2): 0.8}, 3)
    read = event(CHAIN, 1400.0, "slack_read", "s1", seconds=0.0, sigma_s=sigma_s, source="tap")
    told, fold = played(CHAIN, [*starts(CHAIN), *late, read])
    assert len(misfits(told)) == 1
    assert any(one.strong for one in fold.evidence.prospect.supposed.values()) is doubted


def test_film_that_is_off_moments_after_it_fitted_is_supposed_to_have_jumped() -> None:
    """No motor is so far off that it would be half a second in the seven seconds since its slack was read."""
    read = event(CHAIN, 1300.0, "slack_read", "s1", seconds=0.0, sigma_s=0.03, source="tap")
    _, fold = played(CHAIN, [*starts(CHAIN), *passes(CHAIN, {("s1", 2): 0.5}, 3), read])
    supposed = fold.evidence.prospect.supposed
    assert [supposed[i].link.slack for i in (0, 1)] == pytest.approx([0.5, -0.5], abs=0.05)
    assert [supposed[i].link.drift for i in (0, 1)] == pytest.approx([0.0, 0.0], abs=2e-4)


def test_a_tap_that_fits_takes_back_nothing_that_a_contact_saw() -> None:
    """Every mark is seen by a contact and tapped as well; the motor is believed to run off as soon as by contacts."""
    late = {("s1", 2): 0.4, ("s1", 3): 0.8}
    seen = passes(CHAIN, late, 4)
    taps = [
        event(
            CHAIN,
            40.3 + CHAIN.ahead_s[1] + 600.0 * n + late.get(("s1", n), 0.0),
            "mark_pass",
            "s1",
            mark=f"r{n}",
            source="tap",
        )
        for n in range(4)
    ]
    both, alone = (played(CHAIN, [*starts(CHAIN), *seen, *more])[1].evidence.outlook for more in (taps, []))
    assert both.slack == pytest.approx(alone.slack, abs=0.1)
    assert both.drift == pytest.approx(alone.drift, abs=1e-4)


HANDS = chain_plan(3, inputs=("tap", "contact", "none", "tap"))


def test_two_late_fingers_are_no_stop_of_the_chain() -> None:
    """Two taps in two houses late alike, nobody having told of the motors by more than taps; in time from then on."""
    late = {("s1", 2): 6.0, ("s2", 2): 6.3}
    told, fold = played(HANDS, [*starts(HANDS), *passes(HANDS, late, 5, source="tap")])
    assert [line.split()[-1] for line in misfits(told)] == ["misfit:s1", "misfit:s2"]
    assert fold.evidence.reached_us(0, "end") == pytest.approx((40.0 + 3600.0) * 1e6, abs=1e6)
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)


def test_two_taps_that_are_as_late_are_a_stop_of_the_chain_that_nobody_told_of() -> None:
    """Fingers are seldom 20 s late, and never by the same in two houses: from then on none is a misfit."""
    late = {(s.id, n): 20.0 for s in HANDS.stations for n in (2, 3, 4)}
    told, fold = played(HANDS, [*starts(HANDS), *passes(HANDS, late, 5, source="tap")])
    assert len(misfits(told)) == 1
    assert fold.evidence.reached_us(0, "end") == pytest.approx((60.0 + 3600.0) * 1e6, abs=1e6)
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)


def test_a_first_tap_that_was_late_moves_no_film_at_a_gate_that_was_not_seen_yet() -> None:
    """The only pass at the last gate was late, so that the gate before it shows two marks early.

    Fingers make it look as if that grew. No motor runs off by so much: the film would have torn.
    """
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"), longer_ft=[160.0])
    late = {("s2", 0): 6.0, ("s1", 1): 0.7, ("s1", 2): -0.7}
    first = [e for e in passes(plan, late, 3, source="tap") if (e.station, e.mark) != ("s1", "r0")]
    _, fold = played(plan, [*starts(plan), *first])
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.5)


def test_two_taps_late_by_more_than_a_link_holds_are_no_jump() -> None:
    """3.6 and 3.8 s late where a link holds 2 s either way; the other houses are in time."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    late = {("s1", 2): 3.6, ("s1", 3): 3.8}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 5, source="tap")])
    assert len(misfits(told)) == 2
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)


def test_a_stop_of_the_chain_that_only_two_houses_can_tell_of_is_no_path() -> None:
    """Nobody taps in the first house: what the other two saw late is believed with the second of them."""
    late = {(s, n): 20.0 for s in ("s1", "s2") for n in (2, 3, 4)}
    seen = [one for one in passes(HANDS, late, 5, source="tap") if one.station != "s0"]
    told, fold = played(HANDS, [*starts(HANDS), *seen])
    assert [line.split()[-1] for line in misfits(told)] == ["misfit:s1"]
    assert fold.evidence.reached_us(0, "end") == pytest.approx((60.0 + 3600.0) * 1e6, abs=1e6)
    assert fold.evidence.outlook.gate_s == pytest.approx(HANDS.ahead_s, abs=0.6)


@pytest.mark.parametrize("seen", [(), (0,)])
def test_two_taps_of_the_wrong_house_move_no_path_however_little_is_known_of_it(seen: tuple[int, ...]) -> None:
    """A path early, twice, where none or one pass was seen before."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    early = {("s1", n): -64.0 for n in (2, 3)}
    marks = {f"r{n}" for n in (*seen, 2, 3)}
    events = [one for one in passes(plan, early, 4, source="tap") if one.station != "s1" or one.mark in marks]
    told, fold = played(plan, [*starts(plan), *events])
    assert len(misfits(told)) == 2
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.7)


def test_two_late_fingers_at_a_gate_that_nobody_saw_before_are_no_rate() -> None:
    """5.5 s late and then 9.9: no motor runs off by so much while its film holds, and a path grows no longer."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    late = {("s1", 0): 5.5, ("s1", 1): 9.9}
    _, fold = played(plan, [*starts(plan), *passes(plan, late, 2, source="tap")], 800.0)
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.3)
    assert fold.evidence.outlook.drift == pytest.approx([0.0, 0.0], abs=1e-4)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.5)


def test_film_off_by_less_than_its_links_hold_may_be_a_rate_before_any_pass_was_seen() -> None:
    """2.1 s late and then 2.8: a longer path is only one of two stories, and a reserve is at stake."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"), timing="path_tolerance_percent = 0.1")
    late = {("s1", 1): 2.1, ("s1", 2): 2.75}
    events = [one for one in passes(plan, late, 3, source="tap") if (one.station, one.mark) != ("s1", "r0")]
    _, fold = played(plan, [*starts(plan), *events])
    assert fold.evidence.outlook.slack[0] > 1.0


@pytest.mark.parametrize("taps", [("s1 r2", "s2 r2", "s1 r3"), ("s1 r2", "s1 r3", "s2 r3")])
def test_three_late_taps_in_two_houses_are_a_stop_in_whatever_order(taps: tuple[str, ...]) -> None:
    """The third is of the house that was seen before the other, or of the one that was not seen yet."""
    late = {(s, n): 20.0 for s in ("s1", "s2") for n in (2, 3)}
    seen = [
        one
        for one in passes(HANDS, late, 4, source="tap")
        if one.mark in {"r0", "r1"} or f"{one.station} {one.mark}" in taps
    ]
    _, fold = played(HANDS, [*starts(HANDS), *seen])
    assert fold.evidence.reached_us(0, "end") == pytest.approx((60.0 + 3600.0) * 1e6, abs=1e6)


def test_a_late_tap_that_other_houses_spoke_against_counts_no_more() -> None:
    """One is late, two houses are in time after it; two more late ones are only two."""
    late = {("s1", 1): 6.0, ("s2", 2): 6.3, ("s1", 3): 6.1}
    unseen = {("s1", "r2"), ("s0", "r3")}
    seen = [one for one in passes(HANDS, late, 4, source="tap") if (one.station, one.mark) not in unseen]
    _, fold = played(HANDS, [*starts(HANDS), *seen], 1960.0)
    assert fold.evidence.reached_us(0, "end") == pytest.approx((40.0 + 3600.0) * 1e6, abs=1e6)


def test_film_that_goes_from_one_end_of_what_its_links_hold_to_the_other_has_no_longer_path() -> None:
    """Threaded 1.6 s tight above and loose below; then its motor runs 0.19 % slow, and nothing is torn yet."""
    plan = chain_plan(3, inputs=("contact", "contact", "none", "tap"))
    reads = [
        event(plan, -60.0, "slack_read", "s1", seconds=-1.6, sigma_s=0.1, source="tap"),
        event(plan, -59.0, "slack_read", "s2", seconds=1.6, sigma_s=0.1, source="tap"),
    ]
    late = {("s1", n): 0.0019 * max(600.0 * n - 15.0, 0.0) - 1.6 for n in (0, 2, 3)}
    seen = [one for one in passes(plan, late, 4, source="tap") if (one.station, one.mark) != ("s1", "r1")]
    told, fold = played(plan, [*reads, *starts(plan), *seen])
    assert fold.evidence.outlook.slack[0] > 1.0
    assert any("raised act slack_loose:s0>s1" in line for line in told)


def test_film_that_was_lost_once_is_slack_and_not_a_longer_path() -> None:
    """1.9 s are lost before the second gate after its first pass was in time; all marks from then on are as late."""
    plan = chain_plan(3, minutes=120)
    late = {("s1", n): 1.9 for n in range(1, 5)}
    _, fold = played(plan, [*starts(plan), *passes(plan, late, 5)])
    assert fold.evidence.outlook.slack == pytest.approx([1.9, -1.9], abs=0.1)
    assert fold.evidence.outlook.gate_s[1] == pytest.approx(plan.ahead_s[1], abs=0.2)


def test_no_station_is_locked_out() -> None:
    """Its film jumps by half a second, and back: what is off twice is believed and named, both times."""
    plan = chain_plan(3, minutes=120)
    late = {("s1", n): 0.5 for n in (2, 3, 4)}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 8)])
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.15)
    assert fold.evidence.faults == {Fault("film_jumped", "s1")}
    assert len(misfits(told)) == 4


def test_a_leader_that_is_longer_than_planned_is_no_slack() -> None:
    """Every mark is as late at every gate: two houses that say so are believed, and every time comes later."""
    plan = chain_plan(3)
    late = {(station.id, n): 3.3 for station in plan.stations for n in range(4)}
    told, fold = played(plan, [*starts(plan), *passes(plan, late, 4)])
    assert fold.evidence.outlook.slack == pytest.approx([0.0, 0.0], abs=0.1)
    assert fold.evidence.faults == {Fault("splice", "r0")}
    assert len(misfits(told)) == 2
    assert not any("act slack" in line or "act reserve" in line for line in told)
    assert fold.evidence.reached_us(0, "end") == pytest.approx((40.0 + 3600.0 + 3.3) * 1e6, abs=2e5)
