"""`festoon plan`: what it prints and tells programs, and what it says of files that are no use."""

import json
import re
from pathlib import Path

import pytest

from server.planning.judge import judgement_of
from server.planning.site import parse_site
from server.timeline.plan import parse_plan
from server.timeline.schedule import schedule_from_plan
from tests.commands.logs import said

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"
RECORDINGS = Path(__file__).parents[2] / "fixtures" / "recordings" / "good"
PAIR, INTERVAL = PLANS / "pair.plan.toml", PLANS / "interval.plan.toml"

SITE = """
format = "festoon-site/1"
site = "Harbour Row"
timezone = "Europe/Lisbon"
[[houses]]
house = "2"
booth = "River"
deck_core_mm = 600
deck_roll_mm = 900
[[houses]]
house = "5"
booth = "River"
[[houses]]
house = "3"
booth = "Yard"
[[paths]]
from = "2"
to = "5"
path_ft = 74
rollers = 6
turns_deg = 180
[[walks]]
from = "River"
to = "Yard"
walk_s = 75
"""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "harbour.site.toml"
    path.write_text(SITE)
    return path


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_programs_get_the_schedule_as_it_was_and_more(path: Path) -> None:
    """Every key of festoon-schedule/1 is there with the same value; judgement, lacing and next_show are beside them."""
    done = said("plan", path, "--json")
    told = json.loads(done.out)
    schedule = json.loads(json.dumps(schedule_from_plan(parse_plan(path.read_text(), path.name)).as_json()))
    assert done.status == 0
    assert {key: told[key] for key in schedule} == schedule
    assert set(told) - set(schedule) == {"judgement", "lacing", "next_show"}


def test_a_site_and_a_crew_are_judged_with(site: Path) -> None:
    """Decks, turns and walks of the site file, and the number of people, are what the judgement goes by."""
    told = json.loads(said("plan", INTERVAL, "--site", site, "--crew", 2, "--json").out)
    plan, place = parse_plan(INTERVAL.read_text(), "x"), parse_site(SITE, "x")
    expected = judgement_of(plan, place, 2)
    assert [one["text"] for one in told["judgement"]["findings"]] == [one.text for one in expected.findings]
    codes = {one["code"] for one in told["judgement"]["findings"]}
    assert {"print_over_deck", "crew_too_few"} <= codes
    assert "walk_untimed" not in codes
    assert told["lacing"]["stretches"][0]["turns_deg"] == 180.0
    assert told["lacing"]["crew"] == len(told["judgement"]["crew"]["people"]) == 2


def test_the_other_shows_of_the_night_are_held_against_it() -> None:
    """Each plan after --next is one more show of the night."""
    told = json.loads(said("plan", PAIR, "--next", PAIR, "--next", INTERVAL, "--json").out)
    codes = [one["code"] for one in told["next_show"]["conflicts"]]
    assert {"house_in_use", "print_not_back"} <= set(codes)
    assert json.loads(said("plan", PAIR, "--json").out)["next_show"]["conflicts"] == []


def test_people_get_the_judgement_with_houses_by_name(site: Path) -> None:
    """Printed, faults come with cause and remedy, nobody has an id, and a crew is told who is where."""
    text = said("plan", INTERVAL, "--site", site, "--crew", 2).out
    assert "- Fault. House 2:" in text
    assert text.count("Cause:") == text.count("Remedy:") >= 3
    assert not re.search(r"\bh[235]\b", text)
    assert "Person 2" in text
    assert "Person 3" not in text


def test_every_fault_of_every_file_is_told_at_once(tmp_path: Path) -> None:
    """A plan, a site and another plan that are no use are told together: nothing is printed, and the status is 2."""
    bad_site, bad_plan = tmp_path / "bad.site.toml", tmp_path / "bad.plan.toml"
    bad_site.write_text('format = "festoon-site/1"\nsite = 7\n')
    bad_plan.write_text(PAIR.read_text().replace("path_ft = 100", 'path_ft = 100\nadvertised = "7:05pm"'))
    done = said("plan", bad_plan, "--site", bad_site, "--next", tmp_path / "none.plan.toml")
    assert (done.status, done.out) == (2, "")
    assert "advertised: found '7:05pm'; accepted a text 'HH:MM' from '00:00' to '23:59': write \"19:05\"" in done.err
    assert f"{bad_site}: line 2: site: found 7" in done.err
    assert "none.plan.toml: there is no such file" in done.err


def test_a_file_in_another_place_is_said_to_be_that(site: Path) -> None:
    """A site or a recording for a plan, a plan for a site or a recording: one line each that says what it is."""
    recording = RECORDINGS / "pair.events.jsonl"
    for words, told in (
        (("plan", site), f"{site}: found a site file; accepted a plan"),
        (("plan", recording), f"{recording}: found a recording; accepted a plan"),
        (("replay", PAIR, PAIR), f"{PAIR}: found a plan; accepted a recording"),
        (("replay", recording, PAIR), f"{recording}: found a recording; accepted a plan"),
        (("debrief", recording, PAIR), f"{recording}: found a recording; accepted a plan"),
    ):
        done = said(*words)
        assert (done.status, done.out) == (2, "")
        assert done.err.startswith(told)
        assert done.err.count("\n") == 1
    refused = said("plan", PAIR, "--site", PAIR)
    assert refused.status == 2
    assert "a plan; accepted 'festoon-site/1'" in refused.err


def test_until_takes_the_houses_clock() -> None:
    """A time of the evening is the same instant as RFC 3339 says, and one that is nearly right says what to write."""
    recording = RECORDINGS / "pair.events.jsonl"
    by_clock = said("replay", PAIR, recording, "--json", "--until", "23:52")
    assert by_clock == said("replay", PAIR, recording, "--json", "--until", "2026-03-14T23:52:00Z")
    assert by_clock.status == 0
    assert by_clock.out != said("replay", PAIR, recording, "--json").out
    wrong = said("replay", PAIR, recording, "--until", "11:52pm")
    assert wrong.status == 2
    assert wrong.err.rstrip().endswith(': write "23:52"')


@pytest.mark.parametrize("crew", ["0", "-1", "many"])
def test_a_crew_of_nobody_is_wrong_usage(crew: str) -> None:
    """A crew is one person or more."""
    assert said("plan", PAIR, "--crew", crew).status == 2
