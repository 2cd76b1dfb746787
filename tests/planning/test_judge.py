"""The judge: every warning of a schedule with cause and remedy, in words that people use."""

import json
import re
from pathlib import Path

import pytest

from server.planning.findings import Finding, clock_text, gravest_first, span_text
from server.planning.judge import judge, judgement_of
from server.planning.next_show import next_show_of
from server.planning.plain import plain_from, plan_document
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import chain, site

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"
GOOD = sorted(PLANS.glob("*.plan.toml"))
LONGEST_WORDS = 25  # of a sentence, or of an entry of what one lists


def plan_at(path: Path) -> Plan:
    return parse_plan(path.read_text(), path.name)


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_every_warning_of_the_schedule_is_judged(path: Path) -> None:
    """What the schedule warns of the judge says too, of the same stations, with a cause and a remedy."""
    plan = plan_at(path)
    told = {(finding.code, station) for finding in judge(plan, None) for station in finding.stations}
    for warning in schedule_from_plan(plan).warnings:
        # A reserve that the planned start alone spends is told as that, and has no life to tell.
        if (warning.code, warning.station) == ("reserve_short_lived", "b"):
            assert ("offset_over_reserve", "b") in told
        elif warning.station is not None:
            assert (warning.code, warning.station) in told
        else:
            assert warning.code in {code for code, _ in told}


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_findings_are_whole_sentences_about_houses(path: Path) -> None:
    """Text, cause and remedy each end as sentences, say something of their own, and name no station by its id."""
    plan = plan_at(path)
    ids = {station.id for station in plan.stations if len(station.id) > 1}
    for finding in judge(plan, None):
        for text in (finding.text, finding.cause, finding.remedy):
            assert re.search(r"[.?]$", text), text
            assert "  " not in text
            assert max(len(sentence.split()) for sentence in re.split(r"[.?:;] ", text)) <= LONGEST_WORDS
            assert not ids & set(re.findall(r"\w+", text))
        assert len({finding.text, finding.cause, finding.remedy}) == 3
        assert finding.about in {"the chain", "the crew"} or finding.about.startswith("House")


def test_the_gravest_come_first() -> None:
    """Faults, then warnings, then notes; those of one level keep their order."""
    levels = [finding.level for finding in judge(plan_at(PLANS / "warned.plan.toml"), None)]
    assert levels == sorted(levels, key=["fault", "warning", "note"].index)
    assert set(levels) == {"fault", "warning", "note"}
    notes = [Finding("a", "note", "", (), "", "", ""), Finding("b", "note", "", (), "", "", "")]
    fault = Finding("c", "fault", "", (), "", "", "")
    assert gravest_first([*notes, fault]) == (fault, *notes)


def test_a_sound_plan_has_nothing_to_tell() -> None:
    """A chain with good paths, reserves, motors and times has no finding at all."""
    assert judge(plan_at(PLANS / "pair.plan.toml"), None) == ()


def test_motors_that_spend_their_reserve() -> None:
    """Induction motors are a fault, with how soon; a reserve that one show in some spends is a warning."""
    (induction,) = judge(chain((100.0, 8), timing='motors = "induction"'), None)
    assert (induction.code, induction.level, induction.about) == ("reserve_short_lived", "fault", "House 11 to 12")
    assert re.search(r"in 9\d % of shows .*: in 5 % within 4\.\d minutes, in half within 1\d minutes\.", induction.text)
    (hands,) = judge(chain((100.0, 8), timing="start_spread_s = 0.7"), None)
    assert (hands.code, hands.level) == ("reserve_short_lived", "warning")
    assert "start 0.7 s off" in hands.cause


def test_two_machines_of_one_name_are_told() -> None:
    """Nobody could tell which is meant: by its name, whatever the case of its letters."""
    plan = chain((100.0, 8), (100.0, 8))
    named = tuple(
        one.model_copy(update={"house": name}) for one, name in zip(plan.stations, ("4a", "5", "4A"), strict=True)
    )
    (finding,) = (one for one in judge(plan.model_copy(update={"stations": named}), None) if one.code == "house_twice")
    assert (finding.about, finding.stations) == ("House 4a", ("st0", "st2"))


def test_a_house_that_the_site_does_not_have() -> None:
    """A name that is not in the site file is told: nothing of the file holds for it."""
    plan = chain(*[(100.0, 8)] * 10)
    (finding,) = (one for one in judge(plan, site()) if one.code == "house_not_in_site")
    assert (finding.about, finding.stations) == ("House 21", ("st10",))


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_what_is_judged_is_told_to_programs(path: Path) -> None:
    """Judgement, lacing and next show are plain JSON, with every figure of the values they come of."""
    plan = plan_at(path)
    judgement, after = judgement_of(plan, None, 2), next_show_of(plan, None, 2)
    told = json.loads(json.dumps(plan_document(judgement, after, judgement.findings[:1])))
    assert set(told) == {"judgement", "lacing", "next_show"}
    assert [one["code"] for one in told["judgement"]["findings"]] == [one.code for one in judgement.findings]
    assert told["judgement"]["crew"]["least"] == judgement.crew.least
    assert len(told["judgement"]["crew"]["people"]) == len(judgement.crew.people)
    assert [one["spent_before_out"] for one in told["judgement"]["reserves"]] == [
        life.spent_before_out for life in judgement.lives
    ]
    assert [step["caution"] for step in told["lacing"]["steps"]] == [step.caution for step in judgement.lacing.steps]
    assert told["lacing"]["leader_ft"] == judgement.lacing.leader_ft
    assert told["next_show"]["behind"]["saves_min"] == after.behind.saves_min
    assert len(told["next_show"]["conflicts"]) == len(judgement.findings[:1])


def test_what_json_has_not_is_refused() -> None:
    """A value that JSON has no form for is our own mistake, and said so."""
    assert plain_from(((1, "a"), {"b": (None, True, 0.5)})) == [[1, "a"], {"b": [None, True, 0.5]}]
    with pytest.raises(TypeError, match="object has no plain form"):
        plain_from((object(),))


def test_a_time_on_another_day_has_its_date() -> None:
    """Times of the day of the start are bare; those past midnight, and before it, say on which day."""
    plan = chain((100.0, 8), motors_at="2026-03-14T23:59:00-05:00")
    assert clock_text(plan, 59.4) == "23:59:59"
    assert clock_text(plan, 59.6) == "00:00:00 on 2026-03-15"
    assert clock_text(plan, -86_400.0) == "23:59:00 on 2026-03-13"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.25, "0.2 s"),
        (9.96, "10.0 s"),
        (40.4, "40 s"),
        (119.9, "120 s"),
        (120.0, "2.0 minutes"),
        (1500.0, "25 minutes"),
        (7200.0, "2.0 hours"),
    ],
)
def test_how_long_is_said_no_finer_than_matters(seconds: float, text: str) -> None:
    """Seconds to two minutes, then minutes, then hours."""
    assert span_text(seconds) == text
