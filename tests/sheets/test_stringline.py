"""The stringline chart: a file of its own, with every mark, every house at its film distance, every strike window."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from server.sheets.stringline import WIDTH, lines_of, stringline_svg
from server.timeline.plan import Plan
from tests.planning.chains import chain
from tests.sheets.shows import NAMES, Read, pages_of, plan_named, show_of

SVG = "{http://www.w3.org/2000/svg}"


def drawn(plan: Plan) -> ET.Element:
    return ET.fromstring(stringline_svg(show_of(plan)))


def of_class(svg: ET.Element, name: str) -> list[ET.Element]:
    return [one for one in svg.iter() if name in one.get("class", "").split()]


def points(line: ET.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in line.attrib["points"].split())]


@pytest.mark.parametrize("name", NAMES)
def test_each_mark_is_a_line_through_every_gate(name: str) -> None:
    """One line for each point of the print that has a mark, later at each gate down the chain, all within the frame."""
    plan = plan_named(name)
    svg = drawn(plan)
    lines = of_class(svg, "mark")
    assert len(lines) == len({round(mark.x_s, 6) for mark in plan.marks}) == len(lines_of(plan))
    for line in lines:
        at = points(line)
        assert len(at) == len(plan.stations)
        assert all(one[0] <= other[0] and one[1] <= other[1] for one, other in pairwise(at))
        assert all(0.0 < x < WIDTH for x, _ in at)


def test_houses_stand_at_their_film_distance() -> None:
    """Three times the path is three times the gap."""
    svg = drawn(chain((50.0, 6), (150.0, 6)))
    first, second, third = (float(gate.attrib["y1"]) for gate in of_class(svg, "gate"))
    assert (third - second) / (second - first) == pytest.approx(3.0, rel=0.01)


def test_a_strike_window_is_a_bar_before_the_head() -> None:
    """90 to 15 s before the head at each gate, on the gate's own line; none where nobody tells of a lamp."""
    plan = chain((50.0, 6), (50.0, 6), feature="10:00", stations={1: 'inputs = { lamp = "none" }'})
    svg = drawn(plan)
    bars = of_class(svg, "strike")
    head = next(
        points(line) for line, one in zip(of_class(svg, "mark"), lines_of(plan), strict=True) if "Head" in one.title
    )
    assert len(bars) == 2
    for bar, (x, y) in zip(bars, (head[0], head[2]), strict=True):
        left, right = float(bar.attrib["x"]), float(bar.attrib["x"]) + float(bar.attrib["width"])
        assert (x - left) / (x - right) == pytest.approx(6.0, rel=0.02)
        assert float(bar.attrib["y"]) + 4.0 == pytest.approx(y, abs=0.1)


@pytest.mark.parametrize("stations", [1, 2, 30])
def test_names_do_not_touch(stations: int) -> None:
    """Of one house, of two, and of thirty that stand near each other, each name has its line of text in the picture."""
    svg = drawn(chain(*[(1.0, 1)] * (stations - 1)))
    rows = [float(one.attrib["y"]) for one in svg.iter(f"{SVG}text") if one.get("text-anchor") == "end"]
    assert len(rows) == stations
    assert all(other - one >= 14.9 for one, other in pairwise(rows))
    height = float(svg.attrib["viewBox"].split()[3])
    assert max(rows) < height


def test_houses_without_a_path_are_drawn_all_the_same() -> None:
    """A plan whose paths nobody has measured has a chart, of lines without length."""
    svg = drawn(chain((0.0, 0), (0.0, 0)))
    assert len({y for line in of_class(svg, "mark") for _, y in points(line)}) == 1


def test_the_day_stands_under_its_first_hour() -> None:
    """A show over midnight has the second day's date under the axis."""
    texts = [one.text for one in drawn(plan_named("sixteen")).iter(f"{SVG}text")]
    assert texts.count("Sat 18 Jul") == 1


def test_the_chart_has_its_table() -> None:
    """Beside the picture every house has every mark's time, and its strike window, to the second."""
    plan = plan_named("larkspur")
    rows = Read(pages_of(show_of(plan))["chart"]).rows
    assert ["3", "18:52:00", "18:53:15", "0"] in rows
    assert ["3", "18:52:30", "18:53:30", "18:55:50", "18:57:35", "19:00:05", "19:02:10"] in rows
    houses = [row[0] for row in rows if row[0] != "House"]
    tables = 1 + -(-len(lines_of(plan)) // 6)
    assert houses == [station.house for station in plan.stations] * tables
