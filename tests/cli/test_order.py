"""`festoon order`: what it prints and tells programs, and what it says of what cannot be used."""

import json
from importlib import util
from pathlib import Path

import pytest

from server.commands import order as command
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
