"""Before a start and before a restart: who is ready, what is missing, and when it is to be."""

import pytest

from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.view import RestartCard
from tests.timeline.story import event, lamps, live, plan_of, starts


def card(plan: Plan, events: list[Event], at_s: float) -> RestartCard:
    found = live(plan, events, at_s).view().restart
    assert found is not None
    return found


def stopped(plan: Plan) -> list[Event]:
    """A show stopped by one hand after ten minutes, with every picture on screen."""
    heads = [40.0 + ahead_s for ahead_s in plan.ahead_s]
    opened = [event(plan, at_s, "douser_open", one.id) for at_s, one in zip(heads, plan.stations, strict=True)]
    stops = [event(plan, 600.0, "motor_stop", one.id) for one in plan.stations]
    return [*starts(plan), *lamps(plan), *opened, event(plan, 600.0, "chain_stop"), *stops]


def said(plan: Plan, kind: str, at_s: float, first: int = 0, **more: object) -> list[Event]:
    return [event(plan, at_s + k, kind, one.id, **more) for k, one in enumerate(plan.stations[first:])]


def test_before_the_first_start_every_station_says_that_it_is_ready() -> None:
    """No link has to be read: the film is as it was threaded."""
    plan = plan_of(3)
    nobody = card(plan, [], -600.0)
    assert (nobody.before, nobody.ready, nobody.links) == ("start", False, ())
    assert [one.missing for one in nobody.stations] == [("ready",)] * 3
    two = card(plan, said(plan, "ready", -500.0, first=1, by="Ines"), -400.0)
    assert [(one.station, one.ready_by, one.missing) for one in two.stations] == [
        ("a", None, ("ready",)),
        ("b", "Ines", ()),
        ("c", "Ines", ()),
    ]
    assert card(plan, said(plan, "ready", -500.0), -400.0).ready


def test_there_is_no_card_while_a_motor_runs() -> None:
    """It is for a chain that stands."""
    plan = plan_of(2)
    assert live(plan, starts(plan), 10.0).view().restart is None
    assert live(plan, [event(plan, 0.0, "motor_start", "a")], 10.0).view().restart is None


def test_ready_holds_until_the_motor_starts_or_it_is_taken_back() -> None:
    """What was laced before a start says nothing after the stop."""
    plan = plan_of(2, lamp="none", douser="none")
    ready = said(plan, "ready", -500.0)
    stops = [event(plan, 5.0, "chain_stop"), *(event(plan, 5.0, "motor_stop", one.id) for one in plan.stations)]
    assert [one.missing[0] for one in card(plan, [*ready, *starts(plan), *stops], 60.0).stations] == ["ready", "ready"]
    back = event(plan, -400.0, "retract", retracts=ready[0].id)
    assert [one.missing for one in card(plan, [*ready, back], -300.0).stations] == [("ready",), ()]


def test_after_a_stop_the_card_asks_for_links_dousers_lamps_and_people() -> None:
    """One thing after another, and ready only once nothing is missing."""
    plan = plan_of(2, douser="contact")
    events = stopped(plan)
    first = card(plan, events, 610.0)
    assert (first.before, first.ready, first.start_s) == ("restart", False, None)
    assert [one.missing for one in first.stations] == [("ready", "douser_shut")] * 2
    assert [(one.link, one.known) for one in first.links] == [("a>b", "none")]
    events += said(plan, "douser_shut", 611.0) + said(plan, "lamp_out", 620.0) + said(plan, "ready", 900.0)
    assert [one.missing for one in card(plan, events, 910.0).stations] == [("lamp_lit",)] * 2
    events += said(plan, "lamp_lit", 920.0)
    assert not card(plan, events, 930.0).ready
    read = event(plan, 940.0, "slack_read", "b", seconds=0.4, sigma_s=0.05)
    done = card(plan, [*events, read], 950.0)
    assert done.ready
    assert done.links[0].known == "read"
    assert done.links[0].slack_s == pytest.approx(0.4, abs=0.1)
    laced = card(plan, [*events, event(plan, 940.0, "relaced", "b")], 950.0)
    assert (laced.ready, laced.links[0].known) == (True, "relaced")


def test_what_was_read_before_the_stop_says_nothing_of_the_link_after_it() -> None:
    """Film was taken up since, or fell."""
    plan = plan_of(2)
    before = event(plan, 590.0, "slack_read", "b", seconds=0.1, sigma_s=0.05)
    assert [one.known for one in card(plan, [*stopped(plan), before], 650.0).links] == ["none"]


def test_a_lamp_that_burns_before_its_time_is_to_be_put_out() -> None:
    """The picture is 40 s from the first gate, within the strike window, and 107 s from the second."""
    plan = plan_of(2)
    lit = said(plan, "lamp_lit", -900.0)
    missing = [one.missing for one in card(plan, lit, -890.0).stations]
    assert missing == [("ready", "douser_shut"), ("ready", "douser_shut", "lamp_out")]


def test_houses_whose_film_is_out_are_asked_for_nothing() -> None:
    """Only what still has film can be started again."""
    plan = plan_of(3, lamp="none")
    out_s = 40.0 + 140.0 + 140.0 + 6000.0 + 100.0
    trip = event(plan, out_s, "film_trip", "a")
    stops = [event(plan, out_s + 10.0, "chain_stop"), event(plan, out_s, "motor_stop", "a")]
    stops += [event(plan, out_s + 10.0, "motor_stop", one) for one in ("b", "c")]
    found = card(plan, [*starts(plan), trip, *stops], out_s + 60.0)
    assert [one.station for one in found.stations] == ["b", "c"]
    assert [one.link for one in found.links] == ["b>c"]


def test_a_hold_moves_the_start_of_the_whole_chain() -> None:
    """The latest stands, also an earlier start; and it is shown on the card, in the prompts and in the view."""
    plan = plan_of(2)
    holds = [event(plan, -600.0, "hold", seconds=300.0), event(plan, -500.0, "hold", seconds=420.0)]
    view = live(plan, holds, -400.0).view()
    assert view.hold_s == 420.0
    assert view.restart is not None
    assert view.restart.start_s == 420.0
    assert [prompt.due_s for prompt in view.prompts if prompt.kind == "start"] == [420.0, 420.0]
    back = event(plan, -450.0, "retract", retracts=holds[1].id)
    assert live(plan, [*holds, back], -400.0).view().hold_s == 300.0


def test_a_hold_ends_with_the_first_motor() -> None:
    """Then it is known when the chain starts; a hold that comes later moves nothing."""
    plan = plan_of(2)
    events = [
        event(plan, -600.0, "hold", seconds=300.0),
        *starts(plan, 301.0),
        event(plan, 400.0, "hold", seconds=900.0),
    ]
    view = live(plan, events, 410.0).view()
    assert view.hold_s == 300.0
    assert view.stations[0].head_s == pytest.approx(341.0, abs=0.01)
    assert not [prompt for prompt in view.prompts if prompt.kind == "start"]


def test_a_motor_that_is_due_is_due_with_the_others_after_a_hold() -> None:
    """Not at the time of the plan."""
    plan = plan_of(2, lamp="none")
    events = [event(plan, -600.0, "hold", seconds=300.0), event(plan, 300.0, "motor_start", "a")]
    assert [alarm.kind for alarm in live(plan, events, 300.4).view().alarms] == []
    assert "start_missing" in [alarm.kind for alarm in live(plan, events, 300.6).view().alarms]


def test_after_a_stop_a_hold_says_when_the_chain_starts_again() -> None:
    """All desks count down to the one instant; a start, or another stop, forgets it."""
    plan = plan_of(2)
    events = [*stopped(plan), event(plan, 900.0, "hold", seconds=1000.0)]
    view = live(plan, events, 910.0).view()
    assert view.restart is not None
    assert (view.restart.start_s, view.hold_s) == (1000.0, 0.0)
    assert [prompt.due_s for prompt in view.prompts if prompt.kind == "start"] == [1000.0, 1000.0]
    again = [*events, *starts(plan, 1000.2)]
    again += [event(plan, 1100.0, "chain_stop"), *(event(plan, 1100.0, "motor_stop", one.id) for one in plan.stations)]
    assert card(plan, again, 1110.0).start_s is None


@pytest.mark.parametrize(
    ("start", "spread_s", "words"),
    [
        ("common", 0.05, "its motor starts with the others, by the common button"),
        ("timers", 0.1, "see that its timer starts the motor"),
        ("hands", 0.6, "start the motor"),
    ],
)
def test_how_a_chain_is_started_words_its_prompts(start: str, spread_s: float, words: str) -> None:
    """And says how far apart motors start."""
    plan = plan_of(2, timing=f'start = "{start}"')
    assert plan.timing.start_spread_s == spread_s
    assert [prompt.text for prompt in live(plan, [], -60.0).view().prompts] == [
        f"House 1: {words}",
        f"House 2: {words}",
    ]


def test_ready_said_of_a_motor_that_runs_is_not_ready_after_it_stopped() -> None:
    """Nobody has looked since."""
    plan = plan_of(2, lamp="none")
    events = [*starts(plan), *said(plan, "ready", 1.0), event(plan, 600.0, "chain_stop")]
    events += [event(plan, 600.0, "motor_stop", one.id) for one in plan.stations]
    assert ["ready" in one.missing for one in card(plan, events, 700.0).stations] == [True, True]


def test_a_projector_that_trips_is_ready_no_longer() -> None:
    """Its failsafe is not armed."""
    plan = plan_of(2)
    trip = event(plan, -100.0, "film_trip", "b")
    assert [one.missing for one in card(plan, [*said(plan, "ready", -200.0), trip], -50.0).stations] == [(), ("ready",)]


def test_a_link_that_was_read_past_its_reserve_is_not_ready() -> None:
    """It is known, and wants putting right."""
    plan = plan_of(2, lamp="none", douser="contact")
    events = [*starts(plan), event(plan, 600.0, "motor_stop", "b"), event(plan, 612.0, "motor_stop", "a")]
    events += [*said(plan, "douser_shut", 620.0), *said(plan, "ready", 700.0)]
    read = event(plan, 650.0, "slack_read", "b", seconds=12.0, sigma_s=0.1)
    found = card(plan, [*events, read], 710.0)
    assert (found.ready, found.links[0].known, found.links[0].spent) == (False, "read", True)
    assert card(plan, [*events, event(plan, 650.0, "relaced", "b")], 710.0).ready


def test_a_motor_whose_film_is_out_keeps_nobody_from_a_restart() -> None:
    """It may as well run: there is nothing in it to start."""
    plan = plan_of(3, lamp="none")
    out_s = 40.0 + 140.0 + 140.0 + 6000.0 + 100.0
    stops = [event(plan, out_s + 20.0, "motor_stop", one) for one in ("b", "c")]
    view = live(plan, [*starts(plan), *stops], out_s + 60.0).view()
    assert view.restart is not None
    assert [one.station for one in view.restart.stations] == ["b", "c"]
    assert not view.alarms


def test_a_motor_that_never_started_starts_with_the_others_after_a_stop() -> None:
    """At the one time that was said, and before that at none."""
    plan = plan_of(3, motor="tap", lamp="none")
    events = [event(plan, 0.0, "motor_start", one, source="tap") for one in ("a", "b")]
    events.append(event(plan, 5.0, "chain_stop", source="tap"))
    due = [prompt.due_s for prompt in live(plan, events, 30.0).view().prompts if prompt.kind == "start"]
    assert due == []
    hold = event(plan, 60.0, "hold", seconds=600.0)
    due = [prompt.due_s for prompt in live(plan, [*events, hold], 90.0).view().prompts if prompt.kind == "start"]
    assert due == [600.0] * 3
