"""Film that stands: the light on it, what is told first, and what still has to be stopped."""

import pytest

from server.timeline.events import Event
from server.timeline.plan import Plan, parse_plan
from tests.timeline.story import alarms_of, event, lamps, live, plan_of, played, starts

WIRED = {"lamp": "contact", "douser": "contact"}


def showing(plan: Plan, dousers: bool = True) -> list[Event]:
    """A show in which every picture is on screen: motors, lamps, and dousers opened at the head."""
    heads = [40.0 + ahead_s for ahead_s in plan.ahead_s]
    opened = [event(plan, at_s, "douser_open", station.id) for at_s, station in zip(heads, plan.stations, strict=True)]
    return [*starts(plan), *lamps(plan), *(opened if dousers else [])]


def stopped(plan: Plan, at_s: float = 600.0) -> list[Event]:
    """The whole chain stopped by one hand, as every contact sees it."""
    return [event(plan, at_s, "chain_stop"), *(event(plan, at_s, "motor_stop", one.id) for one in plan.stations)]


def heat(told: list[str]) -> list[str]:
    return [line for line in told if "film_heat" in line]


def test_light_on_film_that_stands_is_told_a_second_after_the_stop() -> None:
    """Every lit house with its douser open, each by itself, and none of them under another."""
    plan = plan_of(2, **WIRED)
    told = heat(alarms_of(plan, [*showing(plan), *stopped(plan)], 610.0))
    assert told == ["601 raised act film_heat:a", "601 raised act film_heat:b"]


def test_the_light_may_stay_as_long_as_the_plan_says() -> None:
    """`gate_limit_s` is a station's own."""
    plan = plan_of(2, station="gate_limit_s = 3.5", **WIRED)
    assert heat(alarms_of(plan, [*showing(plan), *stopped(plan)], 610.0))[0] == "603.5 raised act film_heat:a"


@pytest.mark.parametrize(
    ("inputs", "level"),
    [
        ({"lamp": "contact", "douser": "contact"}, "act"),
        ({"lamp": "tap", "douser": "contact"}, "watch"),
        ({"lamp": "contact", "douser": "tap"}, "watch"),
        ({"lamp": "contact", "douser": "none"}, "watch"),
    ],
)
def test_what_only_people_tell_of_a_light_is_a_watch(inputs: dict[str, str], level: str) -> None:
    """It is an act where contacts tell of the lamp and of the douser."""
    plan = plan_of(1, **inputs)
    assert heat(alarms_of(plan, [*showing(plan), *stopped(plan)], 602.0)) == [f"601 raised {level} film_heat:a"]


@pytest.mark.parametrize(
    ("kind", "ends"), [("douser_shut", True), ("lamp_out", True), ("motor_start", True), ("note", False)]
)
def test_the_light_is_off_once_douser_lamp_or_motor_say_so(kind: str, ends: bool) -> None:
    """Whichever comes first."""
    plan = plan_of(1, **WIRED)
    more = {"text": "see to it"} if kind == "note" else {}
    end = event(plan, 603.0, kind, None if kind == "note" else "a", **more)
    told = heat(alarms_of(plan, [*showing(plan), *stopped(plan), end], 605.0))
    assert (told[-1] == "603 cleared act film_heat:a") is ends


@pytest.mark.parametrize("inputs", [{"lamp": "none", "douser": "contact"}, WIRED])
def test_no_light_is_told_where_none_can_be(inputs: dict[str, str]) -> None:
    """A lamp that the plan knows nothing of, or that burns against a douser that has not opened yet."""
    plan = plan_of(1, **inputs)
    events = [*starts(plan), *lamps(plan), event(plan, 20.0, "motor_stop", "a"), event(plan, 20.0, "chain_stop")]
    assert heat(alarms_of(plan, events, 60.0)) == []


def test_the_light_on_a_motor_that_stops_by_itself_is_told_under_its_stop() -> None:
    """It asks for something of its own, so people are told of it though it follows from the stop."""
    plan = plan_of(3, **WIRED)
    engine = live(plan, [*showing(plan), event(plan, 600.0, "motor_stop", "b")], 601.2)
    (light,) = [alarm for alarm in engine.view().alarms if alarm.kind == "film_heat"]
    assert (light.subject, light.cause, light.told) == ("b", "motor_lost:b", True)


def test_a_trip_is_film_that_stands_though_nobody_told_of_its_motor() -> None:
    """The failsafe has stopped it."""
    plan = plan_of(2, **WIRED)
    told = heat(alarms_of(plan, [*showing(plan), event(plan, 600.0, "film_trip", "b")], 602.0))
    assert told == ["601 raised act film_heat:b < film_trip:b"]


def test_a_stop_is_told_in_the_order_of_harm() -> None:
    """Light off the film, what still runs by name beside what stands, then look; and nobody starts a motor again."""
    plan = plan_of(4, **WIRED)
    stops = [event(plan, 600.0, "film_trip", "b"), event(plan, 600.0, "motor_stop", "b")]
    engine = live(plan, [*showing(plan), *stops], 601.0)
    trip = next(alarm for alarm in engine.view().alarms if alarm.kind == "film_trip")
    assert trip.todo.startswith("Shut the douser of House 2. Stop the chain: 1, 3 and 4 still run. Then look")
    rest = [event(plan, 602.0, "motor_stop", "c"), event(plan, 602.5, "douser_shut", "b")]
    engine = live(plan, [*showing(plan), *stops, *rest], 604.0)
    trip = next(alarm for alarm in engine.view().alarms if alarm.kind == "film_trip")
    assert trip.todo.startswith("Shut the douser of House 3. Stop 1 and 4; 2 and 3 stand. Then look")
    assert not any("start this motor" in alarm.todo.lower() for alarm in engine.view().alarms)


def test_a_stop_of_the_chain_asks_for_dousers_and_then_for_lamps() -> None:
    """The douser within a second, the lamp before its shut douser is too hot; nothing of what is shut and out."""
    plan = plan_of(1, **WIRED)
    told = [*showing(plan), *stopped(plan)]

    def asked(*more: Event) -> list[tuple[str, float, float]]:
        view = live(plan, [*told, *more], 620.0).view()
        return [(prompt.kind, prompt.from_s, prompt.due_s) for prompt in view.prompts]

    shut = event(plan, 610.0, "douser_shut", "a")
    assert asked() == [("shut_douser", 600.0, 601.0)]
    assert asked(shut) == [("shut_lamp", 610.0, 730.0)]
    assert asked(shut, event(plan, 615.0, "lamp_out", "a")) == []


def test_a_lamp_that_nobody_told_of_may_burn() -> None:
    """With a picture in its gate its douser is asked for; a lamp that somebody put out asks for nothing."""
    plan = plan_of(1, lamp="tap", motor="tap")
    events = [event(plan, 0.0, "chain_start", source="tap"), event(plan, 600.0, "chain_stop", source="tap")]
    assert [prompt.kind for prompt in live(plan, events, 605.0).view().prompts] == ["shut_douser"]
    out = event(plan, 500.0, "lamp_out", "a", source="tap")
    lit = event(plan, 10.0, "lamp_lit", "a", source="tap")
    assert [prompt.kind for prompt in live(plan, [*events, lit, out], 605.0).view().prompts] == []


def test_a_lamp_against_a_shut_douser_gets_hot_while_the_film_stands() -> None:
    """Counted from when the douser was shut, not from when the lamp was lit."""
    plan = plan_of(1, **WIRED)
    told = alarms_of(plan, [*showing(plan), *stopped(plan), event(plan, 610.0, "douser_shut", "a")], 800.0)
    assert told[-1] == "730 raised act douser_heat:a"


def grouped(plan: Plan) -> Plan:
    """The same chain with its first two motors wired to stop together."""
    return plan.model_copy(update={"stop_groups": (("a", "b"),)})


def test_one_stop_explains_all_motors_that_are_wired_to_it() -> None:
    """Whichever contact closes first, and though the film between them would explain it seconds later only."""
    plan = grouped(plan_of(4))
    events = [*starts(plan), event(plan, 600.0, "film_trip", "a")]
    events += [event(plan, 600.1, "motor_stop", "a"), event(plan, 600.2, "motor_stop", "b")]
    told = [line for line in alarms_of(plan, events, 601.0) if "motor_lost" in line or "film_trip" in line]
    assert all(line.endswith("< film_trip:a") for line in told if "motor_lost" in line)
    assert [line for line in told if "raised act film_trip" in line] == ["600 raised act film_trip:a"]
    engine = live(plan, events, 601.0)
    trip = next(alarm for alarm in engine.view().alarms if alarm.kind == "film_trip")
    assert "Stop 3 and 4; 1 and 2 stand." in trip.todo


def test_a_motor_without_a_contact_stops_with_its_group() -> None:
    """Nobody tells of it, and its links are as if somebody had."""
    plan = grouped(plan_of(3, motor="tap"))
    events = [event(plan, 0.0, "chain_start", source="tap"), event(plan, 600.0, "motor_stop", "a", source="tap")]
    _, fold = played(plan, events, 601.0)
    assert [state.running for state in fold.evidence.stations] == [False, False, True]


def test_without_groups_stops_explain_one_another_by_the_film_between_them_alone() -> None:
    """Two motors that stop at once far from one another are two faults."""
    plan = plan_of(5)
    events = [*starts(plan), event(plan, 600.0, "motor_stop", "a"), event(plan, 600.1, "motor_stop", "e")]
    told = [line for line in alarms_of(plan, events, 602.0) if "raised act motor_lost" in line]
    assert told == ["600 raised act motor_lost:a", "600.1 raised act motor_lost:e"]


def test_groups_are_read_in_film_order() -> None:
    """However they are written."""
    text = "[[stations]]\nid = 'a'\nhouse = '1'\n[[stations]]\nid = 'b'\nhouse = '2'\npath_ft = 100\n"
    head = "format = 'festoon-plan/1'\ntitle = 'x'\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n"
    print_ = "[[print]]\nid = 'l'\nkind = 'leader'\nfeet = 60\n[[print]]\nid = 'f'\nkind = 'feature'\nfeet = 900\n"
    plan = parse_plan(f"{head}{print_}{text}[[stop_groups]]\nstations = ['b', 'a']\n", "x")
    assert plan.stop_groups == (("a", "b"),)
    assert plan.stopped_with == ((1,), (0,))


def test_a_lamp_behind_a_shut_douser_is_put_out_and_not_shown_to_film_that_stands() -> None:
    """Opening the douser, as is asked for where film runs, would burn what stands in the gate."""
    plan = plan_of(1)
    events = [*showing(plan, dousers=False), *stopped(plan), event(plan, 603.0, "douser_shut", "a", source="tap")]
    (alarm,) = [alarm for alarm in live(plan, events, 800.0).view().alarms if alarm.state != "returned"]
    assert alarm.kind == "douser_heat"
    assert "open" not in alarm.todo.lower()


def test_a_douser_that_was_said_to_be_shut_is_open_again_after_a_start() -> None:
    """Nobody is asked to tap that it opens, so the next stop asks again."""
    plan = plan_of(1)
    events = [
        *showing(plan, dousers=False),
        *stopped(plan, 1000.0),
        event(plan, 1003.0, "douser_shut", "a", source="tap"),
    ]
    events += [*starts(plan, 1100.0), *stopped(plan, 2000.0)]
    view = live(plan, events, 2002.0).view()
    assert [alarm.kind for alarm in view.alarms] == ["film_heat"]
    assert [prompt.kind for prompt in view.prompts] == ["shut_douser"]


def test_a_trip_stops_a_motor_that_no_contact_tells_of_and_those_that_are_wired_to_it() -> None:
    """It stands from then on: no strike is asked of it, and its links are as if somebody had told of the stop."""
    plan = grouped(plan_of(3, motor="tap", **WIRED))
    events = [*showing(plan), event(plan, 600.0, "film_trip", "a")]
    view = live(plan, events, 602.0).view()
    assert [station.phase for station in view.stations] == ["stopped", "stopped", "showing"]
    assert [prompt.station for prompt in view.prompts if prompt.kind == "shut_douser"] == ["a", "b"]
    trip = next(alarm for alarm in view.alarms if alarm.kind == "film_trip")
    assert "Stop House 3; 1 and 2 stand." in trip.todo


def test_a_second_trip_of_a_projector_makes_no_light_on_its_film_begin_again() -> None:
    """The film has stood since the first."""
    plan = plan_of(1, **WIRED)
    trips = [event(plan, at_s, "film_trip", "a") for at_s in (600.0, 603.0, 606.0)]
    assert heat(alarms_of(plan, [*showing(plan), *trips], 610.0)) == ["601 raised act film_heat:a < film_trip:a"]


def test_a_trip_that_no_stop_followed_does_not_run_out_by_the_estimate() -> None:
    """Its film stands where it tripped, however long ago."""
    plan = plan_of(1, **WIRED)
    told = heat(alarms_of(plan, [*showing(plan), event(plan, 6200.0, "film_trip", "a")], 9000.0))
    assert told == ["6201 raised act film_heat:a < film_trip:a"]


def test_in_a_long_chain_what_stands_is_named_and_not_what_runs() -> None:
    """Of a dozen names the few that matter."""
    plan = plan_of(12, **WIRED)
    events = [*showing(plan), event(plan, 900.0, "film_trip", "c"), event(plan, 900.1, "motor_stop", "c")]
    trip = next(alarm for alarm in live(plan, events, 900.5).view().alarms if alarm.kind == "film_trip")
    assert "Stop the chain: House 3 stands, all others run." in trip.todo


def test_a_douser_that_was_shut_while_the_film_stood_is_to_be_opened_after_the_start() -> None:
    """Also where the plan says that nothing tells of it, and by the start, not by a head of an hour ago."""
    plan = plan_of(1)
    events = [
        *showing(plan, dousers=False),
        *stopped(plan, 3000.0),
        event(plan, 3003.0, "douser_shut", "a", source="tap"),
    ]
    events += starts(plan, 3600.0)
    prompts = [one for one in live(plan, events, 3601.0).view().prompts if one.kind == "open_douser"]
    assert [(one.from_s, one.due_s) for one in prompts] == [(3585.0, 3600.0)]
    opened = event(plan, 3602.0, "douser_open", "a", source="tap")
    assert not [one for one in live(plan, [*events, opened], 3603.0).view().prompts if one.kind == "open_douser"]


def test_once_nothing_runs_people_are_told_to_look_and_no_more() -> None:
    """There is nothing left to stop, and no light to take off."""
    plan = plan_of(2, **WIRED)
    events = [*showing(plan), event(plan, 600.0, "film_trip", "a"), event(plan, 600.0, "motor_stop", "a")]
    events += [event(plan, 603.0, "motor_stop", "b"), *(event(plan, 604.0, "douser_shut", one) for one in "ab")]
    trip = next(alarm for alarm in live(plan, events, 610.0).view().alarms if alarm.kind == "film_trip")
    assert trip.todo == "Look at the film at this projector and on both sides, before anything is started."


def test_film_goes_on_at_once_after_a_start_though_its_douser_was_said_to_be_shut() -> None:
    """What is to come is worked out of the motors as they run, not as they stood."""
    plan = plan_of(2)
    shut = [event(plan, 1003.0, "douser_shut", one.id, source="tap") for one in plan.stations]
    events = [*showing(plan, dousers=False), *stopped(plan, 1000.0), *shut, *starts(plan, 1100.0)]
    view = live(plan, events, 1101.0).view()
    assert [round(station.rate, 3) for station in view.stations] == [1.0, 1.0]
