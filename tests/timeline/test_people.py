"""What a house reports and one booth says to another is told until somebody has it, and until it is over."""

import pytest

from server.timeline.events import Event, refusal
from server.timeline.people import HOLD_TODO
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import AlarmView
from tests.timeline.story import alarms_of, event, live, plan_of

BOOTHS = ("North", "South")


def booths_plan() -> Plan:
    """Two houses, each in a booth of its own."""
    text = (
        'format = "festoon-plan/1"\ntitle = "Booths"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n'
        '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
        '[[print]]\nid = "film"\nkind = "feature"\nduration = "1:40:00"\n'
    )
    for k, booth in enumerate(BOOTHS):
        text += f'[[stations]]\nid = "{chr(97 + k)}"\nhouse = "{k + 1}"\nbooth = "{booth}"\npath_ft = {100 * k}\n'
    return parse_plan(text, "booths.plan.toml")


PLAN = booths_plan()


def said(at_s: float, kind: str, station: str | None = None, **more: object) -> Event:
    """Somebody says it, so that it counts at `at_s`."""
    return event(PLAN, at_s + PLAN.timing.tap_lag_s, kind, station, source="tap:pad", **more)


def shown(events: list[Event], now_s: float) -> dict[str, AlarmView]:
    return {alarm.key: alarm for alarm in live(PLAN, events, now_s).view().alarms}


@pytest.mark.parametrize(("what", "level"), [("no_picture", "act"), ("no_sound", "watch"), ("people", "watch")])
def test_what_is_wrong_in_a_house_calls_its_booth(what: str, level: str) -> None:
    """A dark screen is an act, all else a watch; it says who reports it, and what to do."""
    alarm = shown([said(5.0, "report", "a", what=what, by="Ida")], 10.0)["house_report:a"]
    assert (alarm.level, alarm.state, alarm.told, alarm.since_s) == (level, "unacknowledged", True, 5.0)
    assert alarm.text.startswith("House 1: ")
    assert alarm.text.endswith(", reported by Ida")
    assert alarm.todo


def test_the_usher_sees_who_has_it_and_when_it_is_over() -> None:
    """Reported, acknowledged by the booth, seen to: each shows in the report itself."""
    events = [said(5.0, "report", "a", what="no_sound", by="Ida", text="left side")]
    (report,) = live(PLAN, events, 6.0).view().reports
    assert (report.station, report.what, report.text, report.by) == ("a", "no_sound", "left side", "Ida")
    assert (report.since_s, report.acked_by, report.over_s) == (5.0, None, None)
    events.append(said(8.0, "ack", alarm="house_report:a", by="Bo"))
    assert live(PLAN, events, 9.0).view().reports[0].acked_by == "Bo"
    events.append(said(60.0, "report_over", "a", by="Bo"))
    (over,) = live(PLAN, events, 70.0).view().reports
    assert (over.over_s, over.over_by, over.acked_by) == (60.0, "Bo", None)
    assert shown(events, 70.0) == {}


def test_more_that_is_wrong_in_a_house_calls_again_and_the_worst_comes_first() -> None:
    """The booth had the sound; then the picture goes as well."""
    events = [
        said(5.0, "report", "a", what="no_sound", by="Ida"),
        said(8.0, "ack", alarm="house_report:a", by="Bo"),
        said(20.0, "report", "a", what="no_picture", by="Ida"),
    ]
    alarm = shown(events, 21.0)["house_report:a"]
    assert (alarm.level, alarm.state) == ("act", "unacknowledged")
    assert alarm.text == "House 1: no picture, no sound, reported by Ida"
    heard = shown([*events, said(22.0, "ack", alarm="house_report:a", by="Bo")], 23.0)["house_report:a"]
    assert (heard.state, heard.acked_by) == ("acknowledged", "Bo")
    events.append(said(30.0, "report_over", "a", what="no_picture", by="Bo"))
    alarm = shown(events, 31.0)["house_report:a"]
    assert (alarm.level, alarm.text) == ("watch", "House 1: no sound, reported by Ida")


def test_a_report_that_is_taken_back_is_over_and_nobody_reported_anything() -> None:
    """The usher stood in the wrong house."""
    report = said(5.0, "report", "a", what="no_picture", by="Ida")
    events = [report, said(9.0, "retract", retracts=report.id)]
    assert live(PLAN, events, 10.0).view().reports == ()
    assert not any(alarm.state != "returned" for alarm in shown(events, 10.0).values())


ASKED = "Please hold the start 5 minutes"


def test_a_hold_is_the_answer_to_whoever_asked_for_one() -> None:
    """The booth confirms once: what was asked calls nobody any more, and a second booth finds nothing to confirm."""
    events = [
        said(-300.0, "report", "a", what="other", text=ASKED, by="Otto"),
        said(-299.0, "report", "b", what="other", text="rain", by="Otto"),
    ]
    alarm = shown(events, -290.0)["house_report:a"]
    assert (alarm.text, alarm.todo) == (f"Lobby: {ASKED} (Otto)", HOLD_TODO)
    events.append(said(-280.0, "hold", seconds=300.0, by="Ines"))
    assert set(shown(events, -270.0)) == {"house_report:b"}
    asked, rain = live(PLAN, events, -270.0).view().reports
    assert (asked.over_s, asked.over_by, rain.over_s) == (-280.0, "Ines", None)


def test_a_start_that_is_moved_back_or_taken_back_leaves_an_ask_open() -> None:
    """Only a later start is what was asked for."""
    asked = said(-300.0, "report", "a", what="other", text=ASKED, by="Otto")
    earlier = said(-280.0, "hold", seconds=0.0, by="Ines")
    held = said(-280.0, "hold", seconds=300.0, by="Ines")
    for events in ([asked, earlier], [asked, held, said(-270.0, "retract", retracts=held.id)]):
        (report,) = live(PLAN, events, -260.0).view().reports
        assert report.over_s is None


def test_nobody_is_asked_to_hold_a_start_that_is_over() -> None:
    """The motors started: what was asked before calls on for nothing."""
    events = [
        said(-30.0, "report", "a", what="other", text=ASKED, by="Otto"),
        event(PLAN, 0.0, "motor_start", "a"),
    ]
    assert "house_report:a" not in shown(events, 5.0)


@pytest.mark.parametrize("what", ["no_sound", None])
def test_whoever_has_seen_to_it_had_it(what: str | None) -> None:
    """One touch is enough: nobody is told afterwards that nobody had it; what else is wrong there calls on."""
    over = said(9.0, "report_over", "a", by="Bo", **({"what": what} if what else {}))
    events = [said(5.0, "report", "a", what="no_sound", by="Ida"), over]
    assert shown(events, 10.0) == {}
    assert [line for line in alarms_of(PLAN, events, 10.0) if "house_report" in line] == [
        "5 raised watch house_report:a",
        "9 acked watch house_report:a",
        "9 cleared watch house_report:a",
    ]
    if what:
        more = shown([said(4.0, "report", "a", what="people", by="Ida"), *events], 10.0)["house_report:a"]
        assert more.state == "unacknowledged"


def test_a_report_that_a_tablet_did_not_know_of_is_not_acknowledged_by_it() -> None:
    """It was without a connection and had the sound; the dark screen that was reported meanwhile calls on."""
    events = [
        said(5.0, "report", "a", what="no_sound", by="Ida", id="r1"),
        said(20.0, "report", "a", what="no_picture", by="Ida", id="r2"),
        said(22.0, "ack", alarm="house_report:a", by="Bo", text="r1"),
    ]
    assert shown(events, 23.0)["house_report:a"].state == "unacknowledged"
    events.append(said(24.0, "ack", alarm="house_report:a", by="Bo", text="r2\nr1"))
    assert shown(events, 25.0)["house_report:a"].acked_by == "Bo"


def test_a_call_rings_until_it_is_acknowledged_and_is_over_by_that() -> None:
    """It clears when it is acknowledged, and does not return."""
    events = [said(5.0, "call", to="South", text="Stand by to start.", by="Ida")]
    alarm = shown(events, 600.0)["call:South"]
    assert (alarm.level, alarm.state) == ("watch", "unacknowledged")
    assert alarm.text == "Call to booth South: Stand by to start. (Ida)"
    events.append(said(601.0, "ack", alarm="call:South", by="Bo"))
    assert shown(events, 602.0) == {}


def test_a_call_to_all_is_about_the_chain_and_calls_to_booths_are_their_own() -> None:
    """Acknowledging one leaves the others ringing."""
    events = [
        said(5.0, "call", to="all", text="Hold."),
        said(6.0, "call", to="North", text="Come to the doorway.", by="Ida"),
        said(7.0, "call", to="North", text="Now, please.", by="Ida"),
    ]
    alarms = shown(events, 8.0)
    assert set(alarms) == {"call:chain", "call:North"}
    assert alarms["call:chain"].text == "Call to every booth: Hold. (no name given)"
    assert alarms["call:North"].text == "Call to booth North: Now, please.; Come to the doorway. (Ida)"
    assert set(shown([*events, said(9.0, "ack", alarm="call:North")], 10.0)) == {"call:chain"}


def test_a_call_after_an_acknowledgement_rings_anew() -> None:
    """What was heard before says nothing of it."""
    events = [
        said(5.0, "call", to="North", text="Ready?", by="Ida"),
        said(6.0, "ack", alarm="call:North", by="Bo"),
        said(7.0, "call", to="North", text="Ready now?", by="Ida"),
    ]
    alarm = shown(events, 8.0)["call:North"]
    assert (alarm.state, alarm.since_s, alarm.text) == ("unacknowledged", 7.0, "Call to booth North: Ready now? (Ida)")


def test_an_acknowledgement_that_is_taken_back_lets_the_call_ring_on() -> None:
    """As if nobody had heard it."""
    ack = said(6.0, "ack", alarm="call:North", by="Bo")
    events = [said(5.0, "call", to="North", text="Ready?", by="Ida"), ack, said(8.0, "retract", retracts=ack.id)]
    assert shown(events, 9.0)["call:North"].state == "unacknowledged"


def test_a_call_that_came_late_and_was_heard_before_is_no_call() -> None:
    """A tablet without a connection: the call was made before the acknowledgement of all that was said by then."""
    call = said(5.0, "call", to="North", text="Ready?", by="Ida")
    ack = said(6.0, "ack", alarm="call:North", by="Bo")
    assert shown([ack, call], 9.0) == {}


def test_an_acknowledgement_that_names_what_it_heard_leaves_the_rest_ringing() -> None:
    """A tablet without a connection acknowledges what it knew of; what was said meanwhile rings on."""
    events = [
        said(5.0, "call", to="North", text="Ready?", by="Ida", id="c1"),
        said(6.0, "call", to="North", text="Ready now?", by="Ida", id="c2"),
        said(7.0, "ack", alarm="call:North", by="Bo", text="c1"),
    ]
    alarm = shown(events, 8.0)["call:North"]
    assert (alarm.state, alarm.text) == ("unacknowledged", "Call to booth North: Ready now? (Ida)")


def test_a_call_that_comes_in_after_a_later_one_was_heard_rings() -> None:
    """It was said before, on a tablet without a connection, and nobody has heard it."""
    events = [
        said(6.0, "call", to="North", text="Ready now?", by="Ida", id="c2"),
        said(7.0, "ack", alarm="call:North", by="Bo", text="c2"),
        said(5.0, "call", to="North", text="Ready?", by="Eva", id="c1"),
    ]
    alarm = shown(events, 8.0)["call:North"]
    assert (alarm.state, alarm.text) == ("unacknowledged", "Call to booth North: Ready? (Eva)")


def test_a_call_is_not_heard_by_an_acknowledgement_of_the_one_before_it() -> None:
    """Acknowledged twice by a finger that came down again, and called anew a moment later."""
    events = [
        said(5.0, "call", to="North", text="Ready?"),
        said(6.0, "ack", alarm="call:North", by="Bo", id="a1"),
        said(6.5, "ack", alarm="call:North", by="Bo", id="a2"),
        said(7.0, "call", to="North", text="Ready now?"),
    ]
    assert shown(events, 8.0)["call:North"].state == "unacknowledged"


def test_a_call_to_a_booth_that_is_not_there_names_those_that_are() -> None:
    """`all` is always one."""
    fault = refusal(said(5.0, "call", to="East", text="?"), PLAN)
    assert fault == "to: found 'East'; accepted North, South or all"
    plan = plan_of(1)
    assert refusal(event(plan, 5.0, "call", to="North", text="?"), plan) == "to: found 'North'; accepted all"


def test_what_people_say_moves_nothing_of_the_show() -> None:
    """The estimate, the phases and the links are as without it."""
    show = [event(PLAN, 0.0, "motor_start", station) for station in ("a", "b")]
    words = [said(5.0, "report", "a", what="unsteady"), said(6.0, "call", to="all", text="?")]
    quiet, talked = (live(PLAN, events, 60.0).view() for events in (show, [*show, *words]))
    assert (quiet.stations, quiet.links, quiet.prompts) == (talked.stations, talked.links, talked.prompts)


def test_records_of_a_call_say_when_it_rang_and_when_it_was_heard() -> None:
    """Raised, acknowledged, cleared, in that order."""
    events = [said(5.0, "call", to="North", text="Ready?"), said(9.0, "ack", alarm="call:North", by="Bo")]
    assert alarms_of(PLAN, events, 10.0) == [
        "5 raised watch call:North",
        "9 acked watch call:North",
        "9 cleared watch call:North",
    ]
