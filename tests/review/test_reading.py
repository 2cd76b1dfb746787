"""The tables and the report of a run."""

import xml.etree.ElementTree as ET
from typing import Any

import pytest

from server.review.account import Account, Observed
from server.review.charts import slack_svg, stringline_svg
from server.review.reading import Reading
from server.review.report import cell_text, report_html
from server.review.series import series_of
from server.review.tables import Cell, Column, Unit, csv_from_table, rounded, table
from server.timeline.events import at_us
from server.timeline.plan import Plan, parse_plan
from tests.review.shows import LATE_S, account, plan
from tests.timeline.story import HEAD_S, TRANSIT_S, event, plan_of

READING = Reading(account(plan()))


def rows(table_id: str, reading: Reading = READING) -> list[dict[str, Cell]]:
    given = next(one for one in reading.tables if one.id == table_id)
    keys = [column.key for column in given.columns]
    return [dict(zip(keys, row, strict=True)) for row in given.rows]


def by(key: str, table_id: str) -> dict[Cell, dict[str, Cell]]:
    return {row[key]: row for row in rows(table_id)}


def test_every_row_has_a_cell_for_every_column() -> None:
    """Tables are whole, their ids and their columns' keys told apart."""
    assert len({one.id for one in READING.tables}) == len(READING.tables)
    for one in READING.tables:
        assert len({column.key for column in one.columns}) == len(one.columns)
        assert {len(row) for row in one.rows} <= {len(one.columns)}


def test_starts_are_held_against_the_plan() -> None:
    """Who started when, by whom it was told, and when it stopped."""
    start = by("house", "starts")["2"]
    assert (start["planned_s"], start["started_s"], start["late_s"], start["source"]) == (0.0, 0.0, 0.0, "contact")
    assert start["stopped_s"] == 500.1


def test_a_start_of_the_whole_chain_is_every_stations() -> None:
    """Where motors are on no contact, whoever told of the chain's start told of theirs."""
    given = plan_of(2, motor="tap")
    start = event(given, 2.0, "chain_start", source="tap:pad", by="Ada")
    reading = Reading(Account(given, [Observed(1, start, at_us(start, given))]))
    told = [(row["started_s"], row["late_s"], row["source"], row["by"]) for row in rows("starts", reading)]
    assert told == [(1.75, 1.75, "tap:pad", "Ada")] * 2


def test_strikes_are_held_against_their_windows() -> None:
    """A lamp lit in time, and one lit after its window had closed, by how much."""
    strikes = by("house", "strikes")
    assert strikes["1"]["verdict"] == "in its window"
    head_b_s = HEAD_S + TRANSIT_S + 0.4
    assert strikes["2"]["closes_s"] == pytest.approx(head_b_s - 15.0, abs=1e-6)
    assert strikes["2"]["lit_s"] == pytest.approx(head_b_s + 19.6, abs=1e-6)
    assert strikes["2"]["verdict"] == "34.6 s late"


def test_passes_are_planned_expected_and_observed() -> None:
    """Every mark at every gate, late against the plan and against what was expected."""
    passes = {(row["house"], row["mark"]): row for row in rows("passes")}
    assert len(passes) == 3 * len(READING.plan.marks)
    seen = passes["2", "t1"]
    assert (seen["after_plan_s"], seen["believed"]) == (0.4, "yes")
    assert passes["2", "Head"] == seen | {"mark": "Head"}
    unseen = passes["2", "End of the tail"]
    assert (unseen["observed_s"], unseen["after_plan_s"], unseen["believed"]) == (None, None, None)


def test_a_wrong_tap_is_among_the_events_and_nowhere_else() -> None:
    """What was taken back is kept, with what took it back; the account goes on without it."""
    wrong = by("id", "events")["wrong"]
    assert by("id", "events")[wrong["retracted_by"]]["retracts"] == "wrong"
    assert {(row["house"], row["mark"]): row for row in rows("passes")}["3", "t1"]["after_plan_s"] == 0.4


def test_events_say_when_they_came() -> None:
    """A late tap has both its times."""
    late = max(rows("events"), key=lambda row: float(row["arrived_s"] or 0.0) - float(row["at_s"] or 0.0))
    assert float(late["arrived_s"] or 0.0) - float(late["at_s"] or 0.0) == pytest.approx(LATE_S)


def test_slack_has_no_more_rows_for_an_event_of_another_year() -> None:
    """A wrong date makes a long span, not a long table."""
    given = plan_of(2)
    seen = (event(given, 0.0, "motor_start", "a"), event(given, 10 * 365 * 86400.0, "motor_stop", "a"))
    observed = [Observed(number, each, at_us(each, given)) for number, each in enumerate(seen, 1)]
    at_s = [row["at_s"] for row in rows("slack", Reading(Account(given, observed)))]
    assert 2000 <= len(at_s) <= 2002
    assert at_s[-1] == 10 * 365 * 86400.0


def test_notes_are_told_with_their_author() -> None:
    """What the crew wrote is in the report."""
    assert rows("notes") == [{"at_s": 300.0, "by": "Ada", "text": "b ran late at its lamp"}]


def test_links_say_how_near_they_came() -> None:
    """The tightest and the loosest, of the reserve either way, and the drift while both motors ran."""
    link = by("link", "links")["House 1 to 2"]
    used = 100.0 * max(abs(float(link[key] or 0.0)) for key in ("tightest_s", "loosest_s")) / 2.0
    assert link["used_percent"] == pytest.approx(used, abs=0.06)
    assert abs(float(link["drift_ppm"] or 0.0)) < 1000.0


def numbers(value: Any) -> list[float]:
    """Every number of a JSON value."""
    if isinstance(value, dict | list):
        return [one for part in (value.values() if isinstance(value, dict) else value) for one in numbers(part)]
    return [value] if isinstance(value, float) else []


def test_charts_and_tables_have_the_same_figures() -> None:
    """A pass and an alarm of the series are those of the tables."""
    series = series_of(READING, 11)
    assert [one["observed_s"] for one in series["passes"]] == [row["observed_s"] for row in rows("passes")]
    assert [one["told_s"] for one in series["alarms"]] == [row["told_s"] for row in rows("alarms")]
    assert len(series["slack"]["t_s"]) == 11
    assert all(number == number for number in numbers(series))  # noqa: PLR0124 - no NaN goes over the wire


@pytest.mark.parametrize("chart", [stringline_svg, slack_svg])
def test_a_chart_is_well_formed_and_stays_in_its_frame(chart: Any) -> None:
    """Every point of a line is inside the picture."""
    drawing = ET.fromstring(chart(READING))
    _, _, width, height = map(float, drawing.attrib["viewBox"].split())
    points = [
        tuple(map(float, pair.split(",")))
        for line in drawing.iter("{http://www.w3.org/2000/svg}polyline")
        if line.attrib["class"] != "planned"
        for pair in line.attrib["points"].split()
    ]
    assert len(points) > 10
    assert all(0.0 <= x <= width and 0.0 <= y <= height for x, y in points)


def hostile() -> Reading:
    given = plan()
    text = "<script>alert(1)</script> & co"
    note = event(given, 5.0, "note", text=text, by="<b>")
    return Reading(Account(given, [Observed(1, note, at_us(note, given))]))


def test_a_report_shows_texts_as_texts() -> None:
    """Whatever somebody wrote into a note is not part of the page's own markup."""
    page = report_html(hostile())
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; co" in page


def test_a_report_of_nothing_is_one() -> None:
    """A run that never began has a report that says so."""
    page = report_html(Reading(Account(plan(), [])))
    assert page.count("None.") >= 2


@pytest.mark.parametrize(
    ("cell", "unit", "text"),
    [
        (3600.25, "clock", "00:50:00.2"),
        (0.99999, "clock", "23:50:01.0"),
        (-0.001, "s", "0.00 s"),
        (12.3456, "ppm", "12 ppm"),
        (-0.3, "ppm", "0 ppm"),
        (None, "s", ""),
        ("x", "number", "x"),
        (7, "count", "7"),
    ],
)
def test_cells_are_read_on_the_houses_clock(cell: Cell, unit: Unit, text: str) -> None:
    """Times as the crew's clocks showed them, lengths with their unit."""
    assert cell_text(cell, unit, plan()) == text


def test_no_cell_of_a_csv_file_is_a_formula() -> None:
    """A note that begins like a formula is kept as a text; a number stays a number."""
    given = table("t", "T", (Column("a", "A"), Column("b", "B", "s")), [("=1+1", -2.5), ("-x", None), ("a, b", 0.0)])
    assert csv_from_table(given) == "a,b\r\n'=1+1,-2.5\r\n'-x,\r\n\"a, b\",0.0\r\n"


def test_a_figure_that_is_none_is_nothing() -> None:
    """Not a number is no figure, and a negative nothing is nothing."""
    assert (rounded(float("nan")), rounded(-0.00001), rounded(None), rounded(1.23456)) == (None, 0.0, None, 1.2346)


def lone() -> Plan:
    text = (
        'format = "festoon-plan/1"\ntitle = "One"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n'
        '[[print]]\nid = "l"\nkind = "leader"\nfeet = 60\n[[print]]\nid = "f"\nkind = "feature"\nduration = "2:00"\n'
        '[[stations]]\nid = "a"\nhouse = "1"\n'
    )
    return parse_plan(text, "one")


def test_a_chain_of_one_has_an_account() -> None:
    """One station, no link: every table, chart and report is there."""
    given = lone()
    start = event(given, 0.5, "motor_start", "a")
    reading = Reading(Account(given, [Observed(1, start, at_us(start, given))]))
    assert rows("starts", reading)[0]["late_s"] == 0.5
    assert rows("links", reading) == []
    assert "<svg" in report_html(reading)
    assert series_of(reading, 3)["slack"]["links"] == []
