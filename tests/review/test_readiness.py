"""What the account has of a start that was moved, of who said ready, of film in the light and of film that ran out."""

import math
import re
import xml.etree.ElementTree as ET

import pytest

from server.review.account import Account, Observed
from server.review.charts import slack_svg, stringline_svg
from server.review.library import trouble_of
from server.review.reading import Reading
from server.review.report import report_html
from server.review.series import series_of
from server.review.tables import Cell
from server.timeline.engine import replay
from server.timeline.events import Event, at_us, order_key
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import AlarmRecord
from tests.timeline.story import event

HOLD_S = 300.0
TEXT = (
    'format = "festoon-plan/1"\ntitle = "Story"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\ntap_lag_s = 0.0\n'
    '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
    '[[print]]\nid = "film"\nkind = "feature"\nduration = "10:00"\n'
    '[[print]]\nid = "tail"\nkind = "tail"\nfeet = 300\n'
)
PLAN = parse_plan(
    TEXT
    + "".join(
        f'[[stations]]\nid = "h{house}"\nhouse = "{house}"\npath_ft = {100 * k}\n'
        'inputs = { motor = "contact", lamp = "contact", douser = "contact", cue = "tap" }\n'
        for k, house in enumerate(("4", "6", "7"))
    ),
    "story",
)
STATIONS = ("h4", "h6", "h7")


def reading_of(events: list[Event], plan: Plan = PLAN) -> Reading:
    ordered = sorted(events, key=lambda one: order_key(one, plan))
    return Reading(Account(plan, [Observed(n, one, at_us(one, plan)) for n, one in enumerate(ordered, 1)]))


def rows(reading: Reading, table_id: str) -> list[dict[str, Cell]]:
    given = next(one for one in reading.tables if one.id == table_id)
    keys = [column.key for column in given.columns]
    return [dict(zip(keys, row, strict=True)) for row in given.rows]


def summary(reading: Reading) -> dict[Cell, Cell]:
    return {row["what"]: row["value"] for row in rows(reading, "summary")}


def lit_and_open(plan: Plan = PLAN) -> list[Event]:
    """Every lamp lit in its window, every douser opened with the head, of a show that began five minutes late."""
    told = []
    for k, station in enumerate(STATIONS):
        head_s = HOLD_S + 40.0 + plan.ahead_s[k]
        told += [event(plan, head_s - 50.0, "lamp_lit", station), event(plan, head_s, "douser_open", station)]
    return told


def before_the_start() -> list[Event]:
    return [
        event(PLAN, -900.0, "ready", "h4", source="tap:pad", by="Ines"),
        event(PLAN, -600.0, "hold", seconds=60.0, source="tap:pad", by="Ada"),
        event(PLAN, -300.0, "hold", seconds=HOLD_S, source="tap:pad", by="Ada"),
        event(PLAN, -200.0, "ready", "h4", source="tap:pad", by="Bo"),
        event(PLAN, -100.0, "ready", "h6", source="tap:pad", by="Bo"),
        *(event(PLAN, HOLD_S + 0.2 * k, "motor_start", station) for k, station in enumerate(STATIONS)),
    ]


def stopped_in_the_light() -> list[Event]:
    """One motor stops in the middle of the picture, and then the chain; one douser is shut 20 s late, one never."""
    return [
        *before_the_start(),
        *lit_and_open(),
        event(PLAN, HOLD_S + 400.0, "motor_stop", "h6"),
        *(event(PLAN, HOLD_S + 401.5, "motor_stop", station) for station in ("h4", "h7")),
        event(PLAN, HOLD_S + 400.5, "douser_shut", "h7"),
        event(PLAN, HOLD_S + 420.0, "douser_shut", "h6"),
        event(PLAN, HOLD_S + 460.0, "relaced", "h6", seconds=0.1, source="tap:pad", by="Ines"),
        event(PLAN, HOLD_S + 500.0, "note", text="h6 jumped a sprocket", source="tap:pad", by="Ada"),
    ]


def run_out() -> list[Event]:
    """A whole show: each failsafe finds no film at the end of the tail, and its motor is stopped."""
    told = [*before_the_start(), *lit_and_open()]
    for k, station in enumerate(STATIONS):
        out_s = HOLD_S + 840.0 + PLAN.ahead_s[k]
        told += [
            event(PLAN, out_s - 195.0, "douser_shut", station),
            event(PLAN, out_s - 190.0, "lamp_out", station),
            event(PLAN, out_s, "film_trip", station),
            event(PLAN, out_s + 1.0, "motor_stop", station),
        ]
    return told


HELD = reading_of(before_the_start())
STOPPED = reading_of(stopped_in_the_light())
OUT = reading_of(run_out())


def test_starts_are_late_against_what_they_were_moved_to() -> None:
    """A start that was moved by five minutes and came then is not five minutes late; the plan's time stands beside."""
    by_house = {row["house"]: row for row in rows(HELD, "starts")}
    assert [by_house[house]["late_s"] for house in ("4", "6", "7")] == [0.0, 0.2, 0.4]
    assert (by_house["6"]["planned_s"], by_house["6"]["held_s"], by_house["6"]["started_s"]) == (0.0, 300.0, 300.2)
    assert summary(HELD)["Seconds by which the start was moved"] == HOLD_S


def test_who_said_ready_stands_beside_each_start() -> None:
    """The last that was said before a motor started counts; a house of which nobody said it has nothing there."""
    said = {row["house"]: (row["ready_s"], row["ready_by"]) for row in rows(HELD, "starts")}
    assert said == {"4": (-200.0, "Bo"), "6": (-100.0, "Bo"), "7": (None, None)}
    assert summary(HELD)["Houses said to be ready"] == 2


def test_a_start_that_nobody_moved_was_moved_to_nothing() -> None:
    """Without a hold there is no time that a start was moved to."""
    plain = reading_of([event(PLAN, 0.5, "motor_start", "h4")])
    row = rows(plain, "starts")[0]
    assert (row["held_s"], row["late_s"], row["ready_s"]) == (None, 0.5, None)
    assert summary(plain)["Seconds by which the start was moved"] == 0.0


def test_a_hold_that_was_taken_back_moved_nothing() -> None:
    """What is known now goes by what stands."""
    taken_back = event(PLAN, -250.0, "retract", retracts="late", source="tap:pad", by="Ada")
    hold = event(PLAN, -300.0, "hold", seconds=HOLD_S, id="late", source="tap:pad", by="Ada")
    reading = reading_of([hold, taken_back, event(PLAN, 0.5, "motor_start", "h4")])
    assert summary(reading)["Seconds by which the start was moved"] == 0.0
    assert rows(reading, "notes") == []


def test_a_hold_that_came_while_motors_ran_says_so() -> None:
    """A tablet without a connection did not know that they had started: it moved nothing, and nobody reads it did."""
    hold = event(PLAN, 20.25, "hold", seconds=HOLD_S, source="tap:pad", by="Ada")
    reading = reading_of([event(PLAN, 0.5, "motor_start", "h4"), hold])
    assert summary(reading)["Seconds by which the start was moved"] == 0.0
    assert [row["text"] for row in rows(reading, "notes")] == ["The start is set for 23:55:00: too late, motors ran"]


def test_what_was_said_of_the_start_is_told_in_words_with_who_and_when() -> None:
    """Ready, laced anew and moved stand among the notes, in the order of time; the report has them too."""
    assert [(row["at_s"], row["by"], row["text"]) for row in rows(STOPPED, "notes")] == [
        (-900.0, "Ines", "House 4: ready to start"),
        (-600.0, "Ada", "The start is set for 23:51:00"),
        (-300.0, "Ada", "The start is set for 23:55:00"),
        (-200.0, "Bo", "House 4: ready to start"),
        (-100.0, "Bo", "House 6: ready to start"),
        (HOLD_S + 460.0, "Ines", "House 4 to 6: laced anew, slack +0.10 s"),
        (HOLD_S + 500.0, "Ada", "h6 jumped a sprocket"),
    ]
    page = report_html(STOPPED)
    assert "House 4 to 6: laced anew, slack +0.10 s" in page
    assert "The start is set for 23:55:00" in page


def test_film_that_stood_in_the_light_is_in_the_account() -> None:
    """Each house where film stood in the light is counted and has its alarm; the one that was shut in time has none."""
    heat = [row for row in rows(STOPPED, "alarms") if str(row["alarm"]).startswith("film in the light")]
    assert {row["alarm"] for row in heat} == {"film in the light, House 4", "film in the light, House 6"}
    assert summary(STOPPED)["Houses where film stood in the light"] == 2
    assert trouble_of(STOPPED)["film_heat"] == 2
    sixth = next(row for row in heat if row["alarm"] == "film in the light, House 6")
    assert sixth["since_s"] == pytest.approx(HOLD_S + 401.0)
    assert sixth["over_s"] == pytest.approx(HOLD_S + 420.0)


def test_what_to_do_is_what_was_told_then() -> None:
    """An alarm's advice is the one that people read when it was raised, which names what then still ran."""
    told = {one["key"]: one["todo"] for one in series_of(STOPPED, 3)["alarms"]}
    events = sorted(stopped_in_the_light(), key=lambda one: order_key(one, PLAN))
    records, _ = replay(PLAN, events, STOPPED.walk.span.to_us)
    raised = {one.key: one.todo for one in records if isinstance(one, AlarmRecord) and one.state == "raised"}
    assert told
    assert all(told.values())
    assert {key: raised[key] for key in told} == told


def test_a_link_whose_film_has_run_out_has_no_slack() -> None:
    """Once the film's end has left the gate above, a chart's line ends and a table's cell is empty."""
    left_s = [HOLD_S + 840.0 + PLAN.ahead_s[k] for k in (0, 1)]
    slack = rows(OUT, "slack")
    for link, at_s in zip(("House 4 to 6", "House 6 to 7"), left_s, strict=True):
        of_link = [row for row in slack if row["link"] == link]
        late = [row for row in of_link if float(row["at_s"] or 0.0) > at_s + 1.0]
        early = [row for row in of_link if float(row["at_s"] or 0.0) < at_s - 1.0]
        assert late
        assert all((row["slack_s"], row["slack_sd_s"]) == (None, None) for row in late)
        assert early
        assert all(isinstance(row["slack_s"], float) for row in early)
    series = series_of(OUT, 200)["slack"]
    for link, at_s in zip(series["links"], left_s, strict=True):
        free = [at for at, value in zip(series["t_s"], link["slack_s"], strict=True) if value is None]
        assert free == [at for at in series["t_s"] if at >= free[0]]
        assert free[0] == pytest.approx(at_s, abs=series["t_s"][1] - series["t_s"][0] + 3.0)


def test_a_run_out_is_a_pass_that_was_expected_before_it_was_seen() -> None:
    """The film's end is observed where a failsafe found no film, and what was expected of it is from before that."""
    ends = [row for row in rows(OUT, "passes") if row["mark"] == "End of the tail"]
    assert [row["believed"] for row in ends] == ["yes"] * 3
    assert [row["observed_s"] for row in ends] == pytest.approx([HOLD_S + 840.0 + PLAN.ahead_s[k] for k in range(3)])
    first, _, third = (float(row["expected_sd_s"] or 0.0) for row in ends)
    assert first > third > 0.0  # the first showed the others how long the tail is
    assert rows(OUT, "alarms") == []


@pytest.mark.parametrize("reading", [STOPPED, OUT], ids=["stopped", "run out"])
def test_no_table_and_no_chart_names_an_id(reading: Reading) -> None:
    """Houses and links are named as people say them, in every cell that is not somebody's own words."""
    own_words = {"id", "retracts", "retracted_by", "text", "source"}
    for given in reading.tables:
        for row in rows(reading, given.id):
            said = " ".join(str(cell) for key, cell in row.items() if key not in own_words)
            assert not re.search(r"\bh[467]\b|>", said), (given.id, said)
    for chart in (stringline_svg(reading), slack_svg(reading)):
        named = [text.text for text in ET.fromstring(chart).iter("{http://www.w3.org/2000/svg}text")]
        assert "House 4" in named or "House 4 to 6" in named
        assert not any(re.search(r"\bh[467]\b|>", name or "") for name in named)


def test_a_long_name_is_cut_on_a_chart_and_can_be_read_whole() -> None:
    """A name that has no room left of a chart keeps it as its title."""
    name = "The Great Hall above the Market & Baths"
    text = TEXT + f'[[stations]]\nid = "a"\nhouse = "{name}"\n[[stations]]\nid = "b"\nhouse = "2"\npath_ft = 100\n'
    plan = parse_plan(text, "long")
    drawing = ET.fromstring(stringline_svg(Reading(Account(plan, []))))
    labels = {text.text: text.find("{*}title") for text in drawing.iter("{http://www.w3.org/2000/svg}text")}
    assert labels["House 2"] is None
    title = labels["House The Great…"]
    assert title is not None
    assert title.text == f"House {name}"


def test_a_line_of_slack_ends_and_begins_again_with_the_film() -> None:
    """No line is drawn over a time in which a link had a free end."""
    drawing = ET.fromstring(slack_svg(OUT))
    lines = [one for one in drawing.iter("{http://www.w3.org/2000/svg}polyline") if one.attrib["class"] == "slack"]
    assert len(lines) == 2
    ends = [float(line.attrib["points"].split()[-1].split(",")[0]) for line in lines]
    assert (
        ends[0] < ends[1] < max(float(one.attrib["x2"]) for one in drawing.iter() if one.attrib.get("class") == "rest")
    )
    assert not math.isnan(sum(ends))
