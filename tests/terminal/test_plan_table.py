"""The printed plan: on 80 columns of plain text, on the house's clock, with what is found of it."""

import io
from pathlib import Path

import pytest
from rich.console import Console

from server.planning.cautions import FILM_CAUTIONS, LAMP_CAUTIONS, SITE_RULES, STOP_CAUTION, WHOSE_LAMPS
from server.planning.judge import judge, judgement_of
from server.planning.next_show import next_show_of
from server.planning.night import judge_night
from server.planning.pull import ASSUMED
from server.planning.site_model import Site
from server.terminal.plan_table import Judged, print_plan
from server.timeline.plan import parse_plan
from server.timeline.schedule import schedule_from_plan

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"


def printed(text: str, width: int = 80, *, crew: int | None = None, site: Site | None = None, later: str = "") -> str:
    plan = parse_plan(text, "test.plan.toml")
    plans = [plan, *([parse_plan(later, "later.plan.toml")] if later else [])]
    judged = Judged(
        plan,
        schedule_from_plan(plan),
        judgement_of(plan, site, crew),
        next_show_of(plan, site, crew),
        judge_night(plans, site, crew),
    )
    out = io.StringIO()
    print_plan(judged, crew, Console(file=out, width=width))
    return out.getvalue()


def rows(text: str) -> list[list[str]]:
    return [line.split() for line in text.splitlines()]


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_a_pipe_gets_plain_text_of_80_columns(path: Path) -> None:
    """Printed to a file, no line is wider than 80 columns, cut short or coloured."""
    text = printed(path.read_text(), crew=1, later=path.read_text())
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert "…" not in text


def test_times_are_on_the_house_clock_and_windows_are_not_widened() -> None:
    """The second station's head, 106.842 s after 18:50:00 local, bounds a window rounded inward."""
    pair = (PLANS / "pair.plan.toml").read_text()
    text = printed(pair.replace('title = "Pair"', 'title = "Pair"\ntimezone = "America/Chicago"'))
    assert "Motors at 2026-03-14 18:50:00, clock of America/Chicago." in text
    times = ["18:50:00", "18:50:17", "18:51:31", "18:51:46", "19:01:47", "19:03:27"]
    assert ["2", *times] in rows(text)


def test_the_chain_and_its_lacing_are_shown() -> None:
    """Links come with transit and reserve, stretches with feet, rollers and pull, steps with people and minutes."""
    text = printed((PLANS / "pair.plan.toml").read_text())
    found = rows(text)
    assert ["2", "100.0", "8", "66.8", "2.0", "2.99"] in found
    assert ["1", "2", "100", "8", "0", "4", "easy"] in found
    assert "Leader, 215 ft in all:" in text
    assert ["1", "Lace", "100", "ft", "of", "leader", "over", "8", "House", "1", "to", "2", "2", "1.0"] in [
        row[:14] for row in found
    ]
    assert "6 minutes for 2 people: begin at 23:29:12 to be ready at 23:35:00." in text
    assert all(f"- {line}" in printed((PLANS / "pair.plan.toml").read_text(), 300) for line in ASSUMED)


def listed(text: str, width: int = 300, crew: int | None = None) -> dict[str, list[str]]:
    """The lines of each list that is printed, by its heading, where there is room on one line."""
    found: dict[str, list[str]] = {}
    heading = ""
    for line in printed(text, width, crew=crew).splitlines():
        if line.startswith("- "):
            found.setdefault(heading, []).append(line.rstrip()[2:])
        elif line:
            heading = line.rstrip()
    return found


def test_what_is_to_be_done_as_a_mark_goes_by_is_shown_with_its_times_and_houses() -> None:
    """Of another point of the print: where, and when at the first and the last gate; a foil has nothing to be done."""
    table = rows(printed((PLANS / "interval.plan.toml").read_text(), 120))
    assert ["organ", "House", "music", "2", "and", "5", "21:44:55", "21:45:44"] in table
    assert ["splice", "all", "cue", "20:56:12", "20:58:29"] in table


def test_findings_are_shown_whole_and_before_the_tables() -> None:
    """Every finding can be read with cause and remedy, above what it is about; without any there is no such list."""
    text = (PLANS / "warned.plan.toml").read_text()
    findings = judge(parse_plan(text, "x"), None)
    lines = [line.strip() for line in printed(text, 300).splitlines()]
    for finding in findings:
        at = lines.index(f"- {finding.level.capitalize()}. {finding.text}")
        assert lines[at + 1 : at + 3] == [f"Cause: {finding.cause}", f"Remedy: {finding.remedy}"]
    assert printed(text).index("Look at:") < printed(text).index("Times")
    assert not any(finding.code in printed(text) for finding in findings)
    assert "Look at:" not in printed((PLANS / "pair.plan.toml").read_text())


def test_a_time_past_midnight_has_its_date() -> None:
    """A show over midnight has the date above every time of the next day, and says of which day the others are."""
    text = printed((PLANS / "sixteen.plan.toml").read_text())
    assert ["11", "23:58:30", "23:57:48", "23:59:03", "23:59:18", "00:00", "2026-07-18", "2026-07-18"] in rows(text)
    assert "A time with a date is on that day; the others are on 2026-07-17." in text
    assert "A time with a date" not in printed((PLANS / "larkspur.plan.toml").read_text())


def test_who_is_where_is_shown_when_somebody_asks() -> None:
    """For a crew each person has a table of their own; without one only the number is told."""
    text = (PLANS / "interval.plan.toml").read_text()
    alone, three = listed(text, crew=1)["Crew:"], printed(text, crew=3)
    assert alone[0] == "3 people are enough for this show by its plan, and one more for what does not go by it."
    assert alone[1].startswith("Not done by 1: House 5, start the motor, by 20:30:00 (")
    assert [three.count(f"Person {number}") for number in (1, 2, 3, 4)] == [1, 1, 1, 0]
    assert ["River", "2", "start", "the", "motor", "20:30:00", "20:30:00", "0"] in rows(three)
    assert "Person 1" not in printed(text)


def test_the_life_of_each_reserve_is_shown() -> None:
    """Links have the time until their reserve is spent and the chance that it is before the print is out."""
    induction = (PLANS / "pair.plan.toml").read_text().replace("[timing]", '[timing]\nmotors = "induction"')
    assert ["House", "1", "to", "2", "2.0", "4.0", "minutes", "12", "minutes", "52", "%"] in rows(printed(induction))
    steady = ["House", "1", "to", "2", "2.0", "3.6", "hours", "9.5", "hours", "under", "0.1", "%"]
    assert steady in rows(printed((PLANS / "pair.plan.toml").read_text()))


def test_what_comes_after_is_shown() -> None:
    """When the first machine is free, where the print lies, and what leader behind the tail saves."""
    found = listed((PLANS / "larkspur.plan.toml").read_text())["After the show:"]
    assert found[0] == "House 3 may be laced again from 20:53:35."
    assert "then lies on the take-up of House 7." in found[1]
    assert any("spliced on behind the tail" in line and "minutes sooner" in line for line in found)


def test_the_other_shows_of_a_night_are_held_against_it() -> None:
    """What is wrong between two shows is told after what is wrong with this one."""
    text = (PLANS / "pair.plan.toml").read_text()
    assert "Between the shows:" not in printed(text)
    assert printed(text, later=text).index("Between the shows:") < printed(text, later=text).index("Times")


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_cautions_stand_with_what_they_are_about(path: Path) -> None:
    """Those of lamps are under the lamps, those of film under the threading, and the site's rules come before all."""
    found = listed(path.read_text())
    assert found["Lamps:"][-len(LAMP_CAUTIONS) :] == [*LAMP_CAUTIONS]
    assert found["Film:"] == [*FILM_CAUTIONS]
    assert found["Start and stop:"][-1] == STOP_CAUTION
    text = printed(path.read_text(), 300)
    assert text.index(SITE_RULES) < text.index("Times")
    said = " ".join(FILM_CAUTIONS)
    assert "never grab it" in said
    assert "nitrate" in said


@pytest.mark.parametrize(
    ("timing", "says"),
    [
        ("", "Each motor has a timer of its own, to within 0.1 s (one standard deviation)."),
        ('start = "common"', "One button starts all motors, to within 0.05 s (one standard deviation)."),
        (
            'start = "hands"\nstart_spread_s = 1',
            "Each motor is started by hand, to within 1 s (one standard deviation).",
        ),
    ],
)
def test_how_the_chain_is_started_is_said(timing: str, says: str) -> None:
    """Whoever reads the schedule knows who starts what, and how far apart that may be."""
    pair = (PLANS / "pair.plan.toml").read_text()
    assert listed(pair.replace("[timing]", f"[timing]\n{timing}"))["Start and stop:"][0] == says


def test_what_stops_together_and_what_does_not_is_said() -> None:
    """Groups are named by their houses, and so is every house that no other motor stops."""
    sixteen = listed((PLANS / "sixteen.plan.toml").read_text())["Start and stop:"]
    assert sixteen[1:-1] == [
        "Houses 11, 12, 10, 9 and 13 are wired to stop together.",
        "Houses 5, 6, 3 and 4 are wired to stop together.",
        "Wired to stop with no other: Houses 16, 14, 15, 1, 2, 7 and 8.",
    ]
    pair = (PLANS / "pair.plan.toml").read_text()
    alone = "No motors are wired to stop together, by this plan: a stop of one leaves the others running."
    assert listed(pair)["Start and stop:"][1:-1] == [alone]
    both = listed(pair + '\n[[stop_groups]]\nstations = ["b", "a"]\n')["Start and stop:"][1:-1]
    assert both == ["Houses 1 and 2 are wired to stop together."]


def test_what_lamps_may_is_said_to_be_for_their_maker_to_say() -> None:
    """The figures that strikes are planned by are shown, house by house where they differ, with whose they are."""
    pair = (PLANS / "pair.plan.toml").read_text()
    stands = "Film may stand in the light for 1 s."
    own = f"lit 90 to 15 s before the head, at most 120 s against a shut douser. {stands}"
    assert listed(pair)["Lamps:"][:2] == [f"All: {own}", WHOSE_LAMPS]
    assert "maker" in WHOSE_LAMPS
    other = listed(pair.replace('house = "2"', 'house = "2"\nlatest_s = 20'))["Lamps:"][:3]
    assert other == [f"House 1: {own}", f"House 2: {own.replace('15', '20')}", WHOSE_LAMPS]


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_no_id_is_printed(path: Path) -> None:
    """Houses and links are named as people say them: no station's id, where it is not its house's name too."""
    plan = parse_plan(path.read_text(), path.name)
    words = set(printed(path.read_text(), 300).replace(",", " ").replace(":", " ").replace(">", " ").split())
    assert {station.id for station in plan.stations if len(station.id) > 1} & words == set()
    assert ">" not in printed(path.read_text())


def test_a_plan_cannot_style_what_is_printed() -> None:
    """Brackets and colons in a plan's texts are printed as they are."""
    pair = (PLANS / "pair.plan.toml").read_text()
    styled = pair.replace('title = "Pair"', 'title = "[red]Pair[/] :film_projector:"').replace(
        "A Short Walk", "[b]Walk"
    )
    text = printed(styled.replace('house = "1"', 'house = "[1]"'))
    assert "[red]Pair[/] :film_projector:" in text
    assert "[b]Walk" in text
    assert "[1]" in text


def test_long_names_are_folded_and_lose_nothing() -> None:
    """A name that is wider than its column goes on in the next line, in a heading too."""
    pair = (PLANS / "pair.plan.toml").read_text()
    text = printed(pair.replace('house = "2"', 'house = "' + "Z" * 30 + '"'))
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("Z") >= 4 * 30
    assert text.count("Z") % 30 == 0
    assert "…" not in text


ONE = """format = "festoon-plan/1"
title = "One"
timing = { motors_at = 2026-03-14T18:50:00-05:00 }
print = [{ id = "leader", kind = "leader", feet = 60 }, { id = "f", kind = "feature", duration = "1:40:00" }]
stations = [{ id = "h3", house = "3" }]
"""


def test_a_chain_of_one_house_has_no_words_for_others() -> None:
    """Nothing is said of stretches, other motors or a last house, and each time stands once."""
    text = printed(ONE, 300)
    assert "Stretches" not in text
    assert "the others running" not in text
    assert "All houses" not in text
    assert "all at once" not in text
    assert text.count("At House 3") == 1
    assert "- A timer starts the motor, to within 0.1 s" in text
    assert "- House 3 is clear at" in text
