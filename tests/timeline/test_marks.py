"""Any point of the print can be a mark, asked for at each gate at its own time; an intermission asks for its steps."""

import pytest

from server.timeline.events import Event
from server.timeline.plan import Plan, PlanFaults, parse_plan
from server.timeline.schedule import schedule_from_plan
from server.timeline.view import PromptView
from tests.timeline.story import alarms_of, event, live

HEAD = (
    'format = "festoon-plan/1"\ntitle = "Marks"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n[lamp]\nearliest_s = 30\n'
)
PRINT = (
    '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
    '[[print]]\nid = "first"\nkind = "feature"\nduration = "10:00"\n'
    '[[print]]\nid = "pause"\nkind = "intermission"\nduration = "{pause}"\n'
    '[[print]]\nid = "second"\nkind = "feature"\nduration = "10:00"\n'
    '[[print]]\nid = "names"\nkind = "credits"\nduration = "2:00"\n'
    '[[print]]\nid = "tail"\nkind = "tail"\nfeet = 150\n'
)
INPUTS = 'inputs = { motor = "contact", lamp = "contact", douser = "tap", cue = "tap" }\n'
STATIONS = f'[[stations]]\nid = "a"\nhouse = "1"\n{INPUTS}[[stations]]\nid = "b"\nhouse = "2"\npath_m = 45.6\n{INPUTS}'
FLAT = '[[marks]]\nid = "flat"\nafter = "first"\nduration = "0:40"\nsay = "Lens and masking to flat"\n'


def plan_with(marks: str = "", pause: str = "5:00") -> Plan:
    return parse_plan(HEAD + PRINT.format(pause=pause) + STATIONS + marks, "marks.plan.toml")


def started(plan: Plan) -> list[Event]:
    return [event(plan, 0.0, "motor_start", station.id) for station in plan.stations]


def asked(plan: Plan, events: list[Event], now_s: float, kind: str) -> list[PromptView]:
    return [prompt for prompt in live(plan, events, now_s).view().prompts if prompt.kind == kind]


def test_a_mark_is_a_point_of_the_print_like_any_other() -> None:
    """It lies so far behind its segment's first frame, and goes through every gate at its own time."""
    schedule = schedule_from_plan(plan_with(FLAT))
    assert [station.passes["flat"] for station in schedule.stations] == pytest.approx([80.0, 180.0])


def test_what_a_mark_says_is_asked_for_at_each_gate_and_ticked_off_by_its_pass() -> None:
    """Twenty seconds before it is there, and not again where somebody tapped it."""
    plan = plan_with(FLAT)
    prompts = asked(plan, started(plan), 10.0, "change")
    assert [(p.station, p.mark, p.text) for p in prompts] == [
        ("a", "flat", "House 1: Lens and masking to flat"),
        ("b", "flat", "House 2: Lens and masking to flat"),
    ]
    times = [(round(p.from_s), round(p.due_s), round(p.until_s or 0.0)) for p in prompts]
    assert times == [(60, 80, 140), (160, 180, 240)]
    done = event(plan, 80.2, "mark_pass", "a", mark="flat", source="tap:pad")
    assert [p.station for p in asked(plan, [*started(plan), done], 90.0, "change")] == ["b"]


def test_a_mark_is_asked_for_where_it_is_to_be_and_moves_with_the_film() -> None:
    """In House 2 alone, whose motor started two seconds late, with a notice of its own."""
    plan = plan_with(FLAT + 'houses = ["2"]\nnotice_s = 5\n')
    events = [event(plan, 0.0, "motor_start", "a"), event(plan, 2.0, "motor_start", "b")]
    (prompt,) = asked(plan, events, 10.0, "change")
    assert (prompt.station, round(prompt.due_s, 1), round(prompt.from_s, 1)) == ("b", 182.0, 177.0)


def test_a_mark_with_a_foil_is_expected_of_its_contact() -> None:
    """It is a cue like that of a segment, without a word to say."""
    plan = plan_with('[[marks]]\nid = "tape"\nafter = "first"\nframes = 24\ncue = true\n')
    assert [mark.id for mark in plan.marks if mark.cue] == ["tape"]
    assert asked(plan, started(plan), 10.0, "change") == []


def test_a_mark_without_a_length_is_at_the_first_frame() -> None:
    """The segment's first frame is the zero."""
    plan = plan_with('[[marks]]\nid = "lights"\nafter = "second"\nsay = "House lights down"\n')
    assert plan.mark("lights").x_s == plan.mark("second").x_s


@pytest.mark.parametrize(
    ("marks", "fault"),
    [
        ('[[marks]]\nid = "head"\nafter = "first"\n', "marks[0].id: found the reserved 'head'; accepted an id other"),
        ('[[marks]]\nid = "first"\nafter = "first"\n', "marks[0].id: found 'first', which print[1] has too; accepted"),
        (FLAT + FLAT, "marks[1].id: found 'flat', which marks[0] has too; accepted the id of one mark only"),
        (
            '[[marks]]\nid = "x"\nafter = "last"\n',
            "marks[0].after: found 'last'; accepted a segment: leader, first",
        ),
        ('[[marks]]\nid = "x"\nafter = "tail"\nduration = "9:00"\n', "found a mark 440 s after the print's last frame"),
        ('[[marks]]\nid = "x"\nafter = "first"\nhouses = ["9"]\n', "found '9'; accepted each once, and only 1 or 2"),
        (
            '[[marks]]\nid = "x"\nafter = "first"\nfeet = 3\nframes = 3\n',
            "found frames and feet; accepted exactly one",
        ),
        (
            '[[marks]]\nid = "x"\nafter = "first"\nnotice = 3\n',
            "found an unknown key; accepted id, after, cue",
        ),
    ],
)
def test_what_is_wrong_with_a_mark_is_said(marks: str, fault: str) -> None:
    """Where, what was found and what is accepted."""
    with pytest.raises(PlanFaults) as found:
        plan_with(marks)
    assert any(fault in line for line in found.value.faults), found.value.faults


def test_an_intermission_asks_for_the_light_to_go_and_for_it_to_come_back() -> None:
    """Douser, lamp and lights before it; the lamp and the douser again before the second part."""
    plan = plan_with()
    lit = [event(plan, 20.0, "lamp_lit", "a"), event(plan, 39.0, "douser_open", "a", source="tap:pad")]
    (first, _) = asked(plan, [*started(plan), *lit], 100.0, "intermission")
    text = "House 1: intermission: shut the douser, put the lamp out, house lights up"
    assert (first.station, round(first.from_s), round(first.due_s), first.text) == ("a", 620, 640, text)
    dark = [event(plan, 641.0, "douser_shut", "a", source="tap:pad"), event(plan, 643.0, "lamp_out", "a")]
    events = [*started(plan), *lit, *dark]
    assert [p.station for p in asked(plan, events, 650.0, "intermission")] == ["b"]
    strike = next(p for p in asked(plan, events, 650.0, "strike") if p.station == "a")
    assert (round(strike.from_s), round(strike.due_s)) == (910, 925)
    again = [*events, event(plan, 915.0, "lamp_lit", "a")]
    douser = next(p for p in asked(plan, again, 920.0, "open_douser") if p.station == "a")
    assert (round(douser.due_s), douser.text) == (940, "House 1: open the douser, and house lights down")


def test_a_lamp_that_goes_out_for_an_intermission_is_not_lost_and_is_missed_after_it() -> None:
    """Nobody is called while the film is dark; a lamp that is not lit for the second part is a missed strike."""
    plan = plan_with()
    events = [*started(plan), event(plan, 20.0, "lamp_lit", "a"), event(plan, 643.0, "lamp_out", "a")]
    of_a = [line for line in alarms_of(plan, events, 1000.0) if line.split(" <")[0].endswith(":a")]
    assert [line.split(" <")[0] for line in of_a] == [
        "925 raised act strike_missed:a",
        "941.883 raised act dark_gate:a",
    ]
    early = [*started(plan), event(plan, 20.0, "lamp_lit", "a"), event(plan, 600.0, "lamp_out", "a")]
    assert any("raised act lamp_lost:a" in line for line in alarms_of(plan, early, 610.0))


def test_a_short_intermission_leaves_the_lamp_lit_behind_its_douser() -> None:
    """A minute is borne by the douser; two and a half are too long, and are told while it is shut."""
    short = plan_with(pause="1:00")
    (first, _) = asked(short, started(short), 100.0, "intermission")
    assert first.text == "House 1: intermission: shut the douser, house lights up"
    plan = plan_with()
    shut = event(plan, 641.0, "douser_shut", "a", source="tap:pad")
    events = [*started(plan), event(plan, 20.0, "lamp_lit", "a"), shut]
    assert any(line.startswith("760.75 raised act douser_heat:a") for line in alarms_of(plan, events, 800.0))


def test_the_credits_of_each_house_have_a_time() -> None:
    """When the doors are wanted, by the film as it runs there."""
    plan = plan_with()
    stations = live(plan, started(plan), 10.0).view().stations
    assert [round(station.credits_s or 0.0) for station in stations] == [1540, 1640]
