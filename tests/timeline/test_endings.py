"""The film running out: no alarm, and what it tells every house downstream."""

import pytest

from server.timeline.diagnosis import Fault
from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.timeline.story import alarms_of, event, lamps, live, plan_of, played, starts

END_S = 40.0 + 140.0 + 140.0 + 6000.0
"""The last picture frame at the first gate of a `plan_of`; 100 s of tail follow."""
OUT_S = END_S + 100.0


def show(plan: Plan) -> list[Event]:
    """A quiet show to its end, with every mark seen and every lamp put out after its picture."""
    events = [*starts(plan), *lamps(plan)]
    for k, station in enumerate(plan.stations):
        ahead_s = plan.ahead_s[k]
        for mark, x_s in (("t1", 40.0), ("t2", 180.0), ("film", 320.0), ("tail", END_S)):
            events.append(event(plan, x_s + ahead_s, "mark_pass", station.id, mark=mark))
        events.append(event(plan, END_S + ahead_s + 2.0, "lamp_out", station.id))
    return events


def ends(plan: Plan, longer_s: float = 0.0, *, houses: int = 1, stops_after_s: float = 0.3) -> list[Event]:
    """The failsafes of the first houses finding no film at the end of a tail that is so much longer, and stopping."""
    events = []
    for station, ahead_s in list(zip(plan.stations, plan.ahead_s, strict=True))[:houses]:
        at_s = OUT_S + ahead_s + longer_s + 0.5
        events.append(event(plan, at_s, "film_trip", station.id))
        events.append(event(plan, at_s + stops_after_s, "motor_stop", station.id))
    return events


def at(events: list[Event], plan: Plan, until_s: float) -> list[Event]:
    """What of the events is known by then."""
    return [one for one in events if (one.t - plan.zero).total_seconds() <= until_s]


@pytest.mark.parametrize("longer_s", [-8.0, 0.0, 7.0])
def test_an_ordinary_ending_has_no_alarm(longer_s: float) -> None:
    """The tail is known to within three times 3 s."""
    plan = plan_of(3)
    events = [*show(plan), *ends(plan, longer_s, houses=3)]
    assert alarms_of(plan, events, OUT_S + 300.0) == []


def test_a_tail_that_is_much_longer_is_the_end_all_the_same() -> None:
    """By how much is told once, as a note, at the first house."""
    plan = plan_of(3)
    told, fold = played(plan, [*show(plan), *ends(plan, 30.0, houses=3)])
    assert [line for line in told if "raised" in line] == [f"{OUT_S + 30.5:g} raised note misfit:a"]
    assert "the tail is 30 s longer than planned" in fold.evidence.stations[0].misfit_text
    assert fold.evidence.faults == {Fault("tail", "print")}


def test_a_house_is_clear_as_its_failsafe_finds_no_film() -> None:
    """Not only when the plan has its tail out."""
    plan = plan_of(2)
    told, _ = played(plan, [*show(plan), *ends(plan, -6.0)], OUT_S)
    assert f"{OUT_S - 5.5:g} a is clear" in told


def test_the_first_house_tells_all_where_the_films_end_is() -> None:
    """The film is one: what is longer at the first gate is as much longer at every other."""
    plan = plan_of(3)
    before = live(plan, show(plan), OUT_S - 20.0).view().stations
    after = live(plan, [*show(plan), *ends(plan, 5.0)], OUT_S + 10.0).view().stations
    for k in (1, 2):
        assert before[k].clear_s == pytest.approx(OUT_S + plan.ahead_s[k], abs=0.2)
        assert after[k].clear_s == pytest.approx(OUT_S + plan.ahead_s[k] + 5.5, abs=0.2)


def test_how_uncertain_the_tail_is_is_said() -> None:
    """Three seconds as planned; once its end was seen, what failsafes differ by."""
    plan = plan_of(2)
    events = [one for one in show(plan) if (one.t - plan.zero).total_seconds() < OUT_S]
    _, fold = played(plan, events, OUT_S - 10.0)
    eta = fold.evidence.prospect.eta_us(1, plan.print_s)
    assert eta is not None
    assert eta[1] == pytest.approx(3.0, abs=0.05)
    _, fold = played(plan, [*events, *ends(plan)], OUT_S + 1.0)
    eta = fold.evidence.prospect.eta_us(1, plan.print_s)
    assert eta is not None
    assert eta[1] < 0.35


def test_a_trip_long_before_the_films_end_is_a_trip() -> None:
    """Twenty seconds are more than three times the three that a tail is known to."""
    plan = plan_of(3)
    told = alarms_of(plan, [*show(plan), *ends(plan, -20.0)], OUT_S - 19.0)
    assert told[0] == f"{OUT_S - 19.5:g} raised act film_trip:a"


def test_the_next_house_shows_that_a_tail_was_short() -> None:
    """What was told as a trip is over then, with a note, and no house after it is told of."""
    plan = plan_of(4)
    events = [*show(plan), *ends(plan, -20.0, houses=4)]
    told = alarms_of(plan, events, OUT_S + 400.0)
    second_s = OUT_S + plan.ahead_s[1] - 19.5
    assert f"{second_s:g} cleared act film_trip:a" in told
    assert f"{second_s:g} raised note misfit:a" in told
    assert not [line for line in told if float(line.split()[0]) > second_s and "raised" in line]
    note = next(one for one in live(plan, at(events, plan, second_s), second_s + 1.0).view().alarms)
    assert "the tail is 20 s shorter than planned" in note.text


def test_a_motor_stopped_late_does_not_make_the_next_trip_a_fault() -> None:
    """Somebody stopped the first 8 s after its film was out; the second's failsafe says where the end is."""
    plan = plan_of(3)
    late = event(plan, OUT_S + 8.0, "motor_stop", "a")
    rest = [one for one in ends(plan, houses=3) if one.station != "a"]
    assert alarms_of(plan, [*show(plan), late, *rest], OUT_S + 300.0) == []


def test_a_tap_of_a_stop_tells_nothing_of_the_tail() -> None:
    """Nobody knows how long after the film's end a hand was on the switch."""
    plan = plan_of(2, motor="tap")
    events = [*show(plan), event(plan, OUT_S + 6.0, "motor_stop", "a", source="tap")]
    assert live(plan, events, OUT_S + 10.0).view().stations[1].clear_s == pytest.approx(
        OUT_S + plan.ahead_s[1], abs=0.3
    )


@pytest.mark.parametrize("gone_s", [0.5, 200.0])
def test_a_link_behind_the_films_end_has_no_slack(gone_s: float) -> None:
    """A free end holds nothing: no figure, no alarm, in the view as in the summary."""
    plan = plan_of(3)
    engine = live(plan, [*show(plan), *ends(plan)], OUT_S + 1.0 + gone_s)
    link = engine.view().links[0]
    assert (link.slack_s, link.drift, link.slack_var, link.gone_s) == (None,) * 3 + ((None,) * 3,)
    assert [alarm.key for alarm in engine.view().alarms] == []


def test_slack_that_was_told_of_is_over_as_the_films_end_goes_by() -> None:
    """The link has nothing left to lose."""
    plan = plan_of(2)
    read = event(plan, OUT_S - 300.0, "slack_read", "b", seconds=1.4, sigma_s=0.05)
    told = alarms_of(plan, [*show(plan), read, *ends(plan, -2.0)], OUT_S)
    assert told[-1] == f"{OUT_S - 1.5:g} cleared watch slack_loose:a>b"


def test_nothing_that_happens_after_clear_is_an_alarm() -> None:
    """Neither a trip, nor a motor, nor a lamp."""
    plan = plan_of(2)
    after = [
        event(plan, OUT_S + 20.0, "motor_stop", "a"),
        event(plan, OUT_S + 25.0, "film_trip", "a"),
        event(plan, OUT_S + 30.0, "lamp_lit", "a"),
        event(plan, OUT_S + 35.0, "lamp_out", "a"),
    ]
    assert alarms_of(plan, [*show(plan), *after], OUT_S + 60.0) == []


def test_a_lamp_left_lit_after_clear_is_a_prompt() -> None:
    """It is asked for until somebody puts it out."""
    plan = plan_of(1)
    events = [one for one in show(plan) if one.kind != "lamp_out"]
    view = live(plan, [*events, *ends(plan)], OUT_S + 600.0).view()
    assert [prompt.kind for prompt in view.prompts] == ["shut_lamp"]
    assert not view.alarms


def test_light_on_what_a_motor_stopped_just_before_the_end_is_still_told() -> None:
    """Its stop is taken for the film running out, yet a last turn of film may stand in the gate."""
    plan = plan_of(1, douser="contact")
    events = [one for one in show(plan) if one.kind != "lamp_out"]
    events += [event(plan, 40.0, "douser_open", "a"), event(plan, OUT_S - 4.0, "motor_stop", "a")]
    assert alarms_of(plan, events, OUT_S) == [f"{OUT_S - 3.0:g} raised watch film_heat:a"]


def test_a_stop_before_the_end_is_no_running_out() -> None:
    """The picture is still on screen."""
    plan = plan_of(2)
    told = alarms_of(plan, [*show(plan)[:-1], event(plan, END_S - 3.0, "film_trip", "a")], END_S)
    assert f"{END_S - 3.0:g} raised act film_trip:a" in told


def test_a_print_without_a_tail_ends_with_its_last_picture() -> None:
    """Its end is known as well as any other mark."""
    plan = plan_of(2).model_copy(update={"print": plan_of(2).print[:-1]})
    events = [*starts(plan), *lamps(plan)]
    events += [
        event(plan, END_S + 0.3 + ahead_s, "film_trip", one.id)
        for one, ahead_s in zip(plan.stations, plan.ahead_s, strict=True)
    ]
    told = [line for line in alarms_of(plan, events, END_S + 200.0) if "trip" in line or "lost" in line]
    assert told == []


def test_the_last_houses_of_a_run_out_are_no_stop_of_the_chain() -> None:
    """Once all film is out there is nothing to start again."""
    plan = plan_of(2)
    view = live(plan, [*show(plan), *ends(plan, houses=2)], OUT_S + 300.0).view()
    assert [station.phase for station in view.stations] == ["clear", "clear"]
    assert view.restart is None


def test_the_films_end_can_be_seen_as_any_mark_can() -> None:
    """Somebody sees the last frame of the tail go by; the next house is expected to run out as late."""
    plan = plan_of(2)
    seen = event(plan, OUT_S + 4.0, "mark_pass", "a", mark="tail_end")
    stations = live(plan, [*show(plan), seen], OUT_S + 10.0).view().stations
    assert stations[0].phase == "clear"
    assert stations[1].clear_s == pytest.approx(OUT_S + 4.0 + plan.ahead_s[1], abs=0.2)


def test_a_lamp_that_nobody_told_of_is_no_alarm_once_the_house_is_clear() -> None:
    """It was missed for the whole show; now there is no picture to miss."""
    plan = plan_of(1)
    events = [one for one in show(plan) if not one.kind.startswith("lamp")]
    assert [alarm.kind for alarm in live(plan, events, OUT_S - 5.0).view().alarms] == ["strike_missed", "dark_gate"]
    told = live(plan, [*events, *ends(plan)], OUT_S + 5.0).view().alarms
    assert [alarm.kind for alarm in told if alarm.state != "returned"] == []


@pytest.mark.parametrize("before_s", [-1.0, 3.0])
def test_a_chain_stopped_about_the_end_of_a_print_without_a_tail_stands(before_s: float) -> None:
    """Its last picture and its end are one mark."""
    plan = plan_of(2, motor="tap").model_copy(update={"print": plan_of(2).print[:-1]})
    events = [event(plan, 0.0, "chain_start", source="tap")]
    events.append(event(plan, END_S - before_s, "chain_stop", source="tap"))
    assert [one.phase for one in live(plan, events, END_S + 60.0).view().stations] == ["clear", "stopped"]


def test_what_the_crew_stops_after_a_trip_shows_no_length_of_the_tail() -> None:
    """Film jams in the tail of the first house, and somebody stops the others: a trip is a trip."""
    plan = plan_of(3, station="reserve_s = 2.0", douser="contact")
    early = [one for one in show(plan) if one.kind != "lamp_out" and (one.t - plan.zero).total_seconds() < OUT_S - 75.0]
    early += [
        event(plan, 40.0 + ahead_s, "douser_open", one.id)
        for one, ahead_s in zip(plan.stations, plan.ahead_s, strict=True)
    ]
    stop = [event(plan, OUT_S - 75.0, "film_trip", "a"), event(plan, OUT_S - 74.8, "motor_stop", "a")]
    stop += [event(plan, OUT_S - 72.0 + k / 10, "motor_stop", one) for k, one in enumerate("bc")]
    keys = {alarm.key for alarm in live(plan, [*early, *stop], OUT_S - 60.0).view().alarms if alarm.state != "returned"}
    assert {"film_trip:a", "film_heat:a", "film_heat:b", "film_heat:c"} <= keys


def test_an_end_that_film_ran_on_past_was_no_end() -> None:
    """A tap of the wrong house half a minute early agrees with nothing once that house has run on."""
    plan = plan_of(2)
    wrong = event(plan, OUT_S - 30.0, "mark_pass", "a", mark="tail_end", source="tap")
    trip = event(plan, OUT_S + plan.ahead_s[1] - 30.0, "film_trip", "b")
    told = alarms_of(plan, [*show(plan), wrong, trip], OUT_S + plan.ahead_s[1] - 29.0)
    assert any("raised act film_trip:b" in line for line in told)


def test_a_chain_stopped_just_before_its_first_film_is_out_still_tells_of_the_light_on_it() -> None:
    """It counts as out; what if it is not?"""
    plan = plan_of(2, motor="tap", douser="contact")
    events = [event(plan, 0.0, "chain_start", source="tap"), *lamps(plan)]
    events += [
        event(plan, 50.0 + ahead_s, "douser_open", one.id)
        for one, ahead_s in zip(plan.stations, plan.ahead_s, strict=True)
    ]
    stop = event(plan, OUT_S - 5.0, "chain_stop", source="tap")
    heat = [line for line in alarms_of(plan, [*events, stop], OUT_S) if "film_heat:a" in line]
    assert [line.split(maxsplit=1)[1] for line in heat] == ["raised watch film_heat:a"]


def test_the_contacts_of_an_end_may_close_in_any_order() -> None:
    """The motor's a moment before the failsafe's: the next house shows the short tail all the same."""
    plan = plan_of(3)
    events = [*show(plan), *ends(plan, -20.0, houses=3, stops_after_s=-0.02)]
    told = alarms_of(plan, events, OUT_S + 300.0)
    second_s = OUT_S + plan.ahead_s[1] - 19.0
    assert f"{second_s - 0.5:g} cleared act film_trip:a" in told
    assert not [line for line in told if float(line.split()[0]) > second_s and "raised" in line]
