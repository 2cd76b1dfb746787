"""`festoon order`: what it prints and tells programs, and what it says of what cannot be used."""

import json
from datetime import datetime
from importlib import util
from pathlib import Path

import pytest

from server.commands import order as command
from server.planning import ordering_search
from server.planning.ordering_problem import Problem
from server.planning.ordering_search import Found, SearchEnded
from tests.commands.logs import said

FIXTURES = Path(__file__).parents[2] / "fixtures"
LARCH, YARD = FIXTURES / "sites" / "larch.site.toml", FIXTURES / "sites" / "yard.site.toml"
PLAN = """
format = "festoon-plan/1"
title = "Evening"
timezone = "America/Chicago"
[timing]
motors_at = 2026-03-14T18:50:00-05:00
[[print]]
id = "leader"
kind = "leader"
feet = 90
[[print]]
id = "film"
kind = "feature"
duration = "1:40:00"
"""


def stations(*houses: tuple[str, str]) -> str:
    """The stations of a plan with their advertised times."""
    return "\n".join(
        f'[[stations]]\nid = "h{house}"\nhouse = "{house}"\npath_ft = {70 if k else 0}\nadvertised = "{at}"'
        for k, (house, at) in enumerate(houses)
    )


def test_people_get_the_order_its_trades_and_the_next_best() -> None:
    """Houses by name, times on the house's clock, within 80 columns, with the cautions for film."""
    times = ("--at", "1=19:00", "--at", "5=19:05", "--on", "2026-03-14")
    done = said("order", LARCH, *times, "--first", "1", "--together", "4,5")
    assert (done.status, done.err) == (0, "")
    assert max(len(line) for line in done.out.splitlines()) <= 80
    assert "The least leader that meets the times, 8 houses" in done.out
    assert "on 2026-03-14" in done.out
    for words in ("What was traded:", "House 1 first; Houses 4 and 5 together", "The next best", "way out"):
        assert words in done.out


def test_programs_get_the_same() -> None:
    """`--json` has the best, the trades and three next best, with instants on the site's clock."""
    told = json.loads(said("order", LARCH, "--at", "3=19:00", "--on", "2026-03-14", "--chains", "1", "--json").out)
    assert told["format"] == "festoon-order/1"
    assert len(told["next_best"]) == 3
    (chain,) = told["best"]["chains"]
    assert {stop["house"] for stop in chain["houses"]} == set("12345678")
    assert [stop["advertised"] for stop in chain["houses"] if stop["house"] == "3"] == ["2026-03-14T19:00:00-05:00"]
    assert told["best"]["is_proven"] is True


def test_a_plan_gives_houses_times_film_and_leader(tmp_path: Path) -> None:
    """Its houses alone are ordered, on its day, and motors start its head leader before the first head."""
    plan = tmp_path / "evening.plan.toml"
    plan.write_text(PLAN + stations(("6", "19:00"), ("2", "19:00"), ("1", "19:05")))
    (chain,) = json.loads(said("order", LARCH, "--plan", plan, "--at", "2=19:02", "--json").out)["best"]["chains"]
    at = {stop["house"]: stop["advertised"][11:16] for stop in chain["houses"]}
    assert at == {"6": "19:00", "2": "19:02", "1": "19:05"}
    heads = [stop["head"] for stop in chain["houses"]]
    assert chain["start"].startswith("2026-03-14T1")
    # 90 counter feet of 35 mm at 24 frames/s are 60 s.
    minutes = [int(moment[11:13]) * 60 + int(moment[14:16]) for moment in (chain["start"], heads[0])]
    assert minutes[1] - minutes[0] == 1


def test_a_night_goes_past_midnight() -> None:
    """23:50 and 00:05 are a quarter of an hour apart, the second on the next day."""
    words = ("--houses", "A,B,C", "--at", "A=23:58", "--at", "C=00:00", "--on", "2026-03-14", "--json")
    (chain,) = json.loads(said("order", YARD, *words).out)["best"]["chains"]
    days = {stop["house"]: stop["advertised"][:10] for stop in chain["houses"] if stop["advertised"]}
    assert days == {"A": "2026-03-14", "C": "2026-03-15"}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--at", "3=7:05pm"), "--at 3: found '7:05pm'; accepted a time of the house's clock"),
        (("--at", "3=7:05pm"), ': write "19:05"'),
        (("--at", "3=7:05"), 'write "07:05" in the morning, "19:05" in the evening'),
        (("--at", "3 19:05"), "accepted a house and its time, as '3=19:05': write 3=19:05"),
        (("--at", "3=19:05", "--at", "3=19:10"), "--at: House 3 has two times; accepted one"),
        (("--start", "25:00"), "--start: found '25:00'"),
        (("--houses", "House 3,4"), "--houses: found 'House 3'; accepted a house of the site: 1, 2,"),
        (("--houses", "House 3,4"), ": write 3"),
        (("--first", "11"), "--first: found '11'"),
        (("--together", "4"), "--together: found '4'; accepted two houses or more"),
        (("--houses", "3,4", "--last", "5"), "House 5 last: House 5 is not among the houses wanted."),
        (("--houses", "3,4", "--chains", "2"), "Found 2 houses for 2 chains; accepted 4 or more"),
        (("--first", "3", "--before", "4,3"), "keeps all of these: House 3 first; House 4 before 3."),
        (("--chains", "3"), "--chains"),
        (("--late", "-1"), "--late"),
        (("--on", "14.3.2026"), "--on"),
    ],
)
def test_what_cannot_be_used_is_told_with_what_was_meant(words: tuple[str, ...], told: str) -> None:
    """One sentence for each fault, nothing printed, status 2."""
    done = said("order", LARCH, *words)
    assert (done.status, done.out) == (2, "")
    assert told in done.err


def test_faults_of_both_files_come_at_once(tmp_path: Path) -> None:
    """A site that is a plan and a plan that is not there are told together."""
    done = said("order", FIXTURES / "plans" / "pair.plan.toml", "--plan", tmp_path / "none.plan.toml")
    assert (done.status, done.out) == (2, "")
    assert "a plan; accepted 'festoon-site/1'" in done.err
    assert "none.plan.toml: there is no such file" in done.err


def test_without_the_solver_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named in one sentence; what is wrong with the asking is told before."""
    monkeypatch.setattr(command, "find_spec", lambda name: None if name == "ortools" else util.find_spec(name))
    done = said("order", LARCH)
    assert (done.status, done.out, done.err) == (2, "", f"{command.NOT_INSTALLED}\n")
    assert "pip install 'festoon[order]'" in done.err
    assert "Found 2 houses" in said("order", LARCH, "--houses", "3,4", "--chains", "2").err


# America/Chicago goes from 01:59 to 03:00 on 2026-03-08, and from 01:59 back to 01:00 on 2026-11-01 (15 U.S.C. 260a).
@pytest.mark.parametrize(
    ("on", "at", "told"),
    [
        ("2026-03-08", ("01:40", "03:10"), ("2026-03-08T01:40:00-06:00", "2026-03-08T03:10:00-05:00")),
        ("2026-03-08", ("01:40", "02:10"), ("2026-03-08T01:40:00-06:00", "2026-03-08T03:10:00-05:00")),
        ("2026-03-07", ("23:40", "03:10"), ("2026-03-07T23:40:00-06:00", "2026-03-08T03:10:00-05:00")),
        ("2026-11-01", ("01:50", "02:05"), ("2026-11-01T01:50:00-06:00", "2026-11-01T02:05:00-06:00")),
        ("2026-11-01", ("00:50", "01:10"), ("2026-11-01T00:50:00-05:00", "2026-11-01T01:10:00-05:00")),
        ("2026-11-01", ("00:50", "02:05"), ("2026-11-01T00:50:00-05:00", "2026-11-01T02:05:00-06:00")),
    ],
)
def test_times_across_a_change_of_the_clock(on: str, at: tuple[str, str], told: tuple[str, str]) -> None:
    """Each is the instant at which the house's clock shows it, and what a head is off is the true time between."""
    words = ("--houses", "1,2,3", "--at", f"1={at[0]}", "--at", f"3={at[1]}", "--on", on, "--json")
    (chain,) = json.loads(said("order", LARCH, *words).out)["best"]["chains"]
    stops = {stop["house"]: stop for stop in chain["houses"]}
    assert (stops["1"]["advertised"], stops["3"]["advertised"]) == told
    for stop in (stops["1"], stops["3"]):
        true_s = (datetime.fromisoformat(stop["head"]) - datetime.fromisoformat(stop["advertised"])).total_seconds()
        assert stop["late_s"] == pytest.approx(true_s, abs=1e-5)


@pytest.mark.parametrize("offset", ["-05:00", "-06:00"])
def test_a_plan_tells_which_of_two_hours_is_meant(offset: str, tmp_path: Path) -> None:
    """01:10 comes twice on that night: it is the one after the plan's motors."""
    plan = tmp_path / "late.plan.toml"
    text = PLAN.replace("2026-03-14T18:50:00-05:00", f"2026-11-01T01:05:00{offset}")
    plan.write_text(text + stations(("1", "01:10"), ("2", "01:15")))
    (chain,) = json.loads(said("order", LARCH, "--plan", plan, "--json").out)["best"]["chains"]
    told = {stop["house"]: stop["advertised"] for stop in chain["houses"]}
    assert told == {"1": f"2026-11-01T01:10:00{offset}", "2": f"2026-11-01T01:15:00{offset}"}


@pytest.mark.parametrize(
    ("on", "at", "start", "told"),
    [
        ("2026-03-08", "03:01", "01:58", "2026-03-08T01:58:00-06:00"),
        ("2026-11-01", "02:01", "01:58", "2026-11-01T01:58:00-06:00"),
        ("2026-11-01", "01:01", "00:59", "2026-11-01T00:59:00-05:00"),
    ],
)
def test_a_start_across_a_change_of_the_clock(on: str, at: str, start: str, told: str) -> None:
    """Motors that start two or three minutes before a head's time start then, and not an hour off."""
    words = ("--houses", "1,2,3", "--first", "1", "--at", f"1={at}", "--start", start, "--on", on, "--json")
    best = json.loads(said("order", LARCH, *words).out)["best"]
    assert best["chains"][0]["start"] == told
    assert abs(best["late_s"]) < 180.0


def test_people_get_true_minutes_across_a_change_of_the_clock() -> None:
    """01:40 and 03:10 are 30 minutes apart on that night; no hour is printed that the clock does not show."""
    times = ("--at", "1=01:40", "--at", "3=03:10", "--on", "2026-03-08")
    told = said("order", LARCH, "--houses", "1,2,3", *times).out
    assert "27:30 late" in told  # House 3's head is 90 s after House 1's, and a minute early: 30 - 1.5 - 1 minutes
    assert "Motors at 03:06:" in told
    assert "03:10" in told
    assert " 02:" not in told
    assert "The house's clock is changed between these times" in told
    assert "clock is changed" not in said("order", LARCH, "--houses", "1,2,3", *times[:4], "--on", "2026-03-14").out


def test_a_search_that_was_given_up_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """That there is no other order is only said where it is known, to people and to programs."""
    answer = ordering_search._least

    def least(problem: Problem, widened: int | None, gone: list[Found]) -> Found | None:
        if gone:
            raise SearchEnded
        return answer(problem, widened, gone)

    no_other, may_be = "There is no other order that keeps what is settled.", "there may be other orders."
    words = ("order", LARCH, "--houses", "3,4")
    people, programs = said(*words).out, json.loads(said(*words, "--json").out)
    assert (no_other in people, may_be in people, programs["is_complete"]) == (True, False, True)
    monkeypatch.setattr(ordering_search, "_least", least)
    people, programs = said(*words).out, json.loads(said(*words, "--json").out)
    assert (no_other in people, may_be in people, programs["is_complete"]) == (False, True, False)


def test_next_best_that_are_not_proven_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another order may come between those that are printed."""
    answer = ordering_search._least

    def least(problem: Problem, widened: int | None, gone: list[Found]) -> Found | None:
        found = answer(problem, widened, gone)
        return found._replace(is_proven=False) if found is not None and gone else found

    words, not_proven = ("order", LARCH, "--houses", "1,2,3"), "That no order was passed over between these"
    assert not_proven not in said(*words).out
    monkeypatch.setattr(ordering_search, "_least", least)
    assert not_proven in said(*words).out
