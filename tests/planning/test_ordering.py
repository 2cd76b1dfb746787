"""The order of houses as it is answered: its figures, what was traded for it, what comes next, why there is none."""

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from server.planning import ordering_trades
from server.planning.ordering import Fixed, OrderFaults, Wanted, ordering_of
from server.planning.ordering_problem import Problem
from server.planning.ordering_search import Found, SearchEnded, found_orders
from server.planning.ordering_wanted import LEADER_S
from server.planning.site_model import House, Path, Site
from server.timeline.plan import ThreadingRules
from tests.planning.published_orders import P01, opened, rows_of

SEVEN = datetime(2026, 3, 14, 19, 0, tzinfo=UTC)
CHICAGO = ZoneInfo("America/Chicago")
SPEED = 0.456  # 35 mm at 24 frames/s, metres a second: SMPTE 102-2002's pitch


def site_of(names: str, paths: dict[str, float], **more: Any) -> Site:
    """A site of these houses, each a letter; a path in metres between the two letters of each key."""
    return Site(
        site="Example Hall",
        houses=tuple(House(house=name) for name in names),
        paths=tuple(
            Path(houses=(key[0], key[1]), path_m=path_m, rollers=4, doorways=1) for key, path_m in paths.items()
        ),
        **more,
    )


# A row of four houses; from the end of the row back to its beginning it is far.
ROW = site_of("ABCD", {"AB": 20.0, "BC": 21.0, "CD": 22.0, "AC": 45.0, "BD": 47.0, "AD": 80.0})


def wanted(houses: str = "ABCD", at: dict[str, float] | None = None, **more: Any) -> Wanted:
    """What is wanted, with times as minutes after seven."""
    advertised = {house: SEVEN + timedelta(minutes=minutes) for house, minutes in (at or {}).items()}
    return Wanted(tuple(houses), advertised, **more)


def test_sixteen_houses_of_a_published_round_trip() -> None:
    """P01's fifteen cities, the first there again as the last: sixteen houses and the published 291 metres."""
    rows = opened(rows_of(P01))
    names = "ABCDEFGHIJKLMNOP"
    paths = {names[i] + names[j]: float(rows[i][j]) for i in range(16) for j in range(i) if rows[i][j]}
    best = ordering_of(site_of(names, paths), wanted(names, fixed=Fixed(first=("A",), last=("P",)))).best
    assert best.path_m == pytest.approx(291.0)
    assert best.is_proven


def test_the_figures_of_an_order() -> None:
    """Path, leader by the site's rules, rollers, doorways, and a head for each foot of path at the film's speed."""
    site = ROW.model_copy(update={"threading": ThreadingRules(ends_ft=100.0, spare_percent=20.0)})
    answer = ordering_of(site, wanted(start=SEVEN))
    best = answer.best
    assert [chain.houses for chain in best.chains] == [("A", "B", "C", "D")]
    assert best.path_m == pytest.approx(63.0)
    assert best.leader_m == pytest.approx(63.0 * 1.2 + 30.48)
    assert (best.rollers, best.doorways, best.missed) == (12, 3, ())
    assert [stop.after_s for stop in best.stops] == pytest.approx([0.0, 20 / SPEED, 41 / SPEED, 63 / SPEED])
    heads = [(stop.head - SEVEN).total_seconds() for stop in best.stops if stop.head]
    assert heads == pytest.approx([LEADER_S + stop.after_s for stop in best.stops])
    assert answer.can_be_turned
    assert answer.trades == ()


def test_the_next_best_come_after_the_best() -> None:
    """Three others, none of them the best turned about, by their path."""
    answer = ordering_of(ROW, wanted())
    paths = [order.path_m for order in (answer.best, *answer.next_best)]
    assert paths == sorted(paths)
    assert len(answer.next_best) == 3
    assert {("D", "C", "B", "A"), ("A", "B", "C", "D")}.isdisjoint(order.chains[0].houses for order in answer.next_best)


def test_what_the_times_cost() -> None:
    """Times that turn the row about cost no path; times that ask for another order cost what it is longer."""
    turned = ordering_of(ROW, wanted(at={"D": 0.0, "A": 2.0}, early_s=30.0, late_s=30.0))
    assert turned.best.chains[0].houses == ("D", "C", "B", "A")
    assert [(trade.code, trade.path_m) for trade in turned.trades] == [("times", 0.0)]
    # B first, then A: 20, 45 and 22 m by way of C; C would otherwise come before A.
    other = ordering_of(ROW, wanted(at={"B": 0.0, "A": 0.0, "D": 3.0}, early_s=0.0, late_s=60.0))
    assert other.best.chains[0].houses[:2] in {("A", "B"), ("B", "A")}
    (trade,) = other.trades
    assert trade.path_m == pytest.approx(other.best.path_m - 63.0, abs=0.1)
    assert not other.best.missed


def test_the_start_that_is_told_puts_the_latest_head_on_time_or_no_head_too_early() -> None:
    """A row that takes 138 s end to end: with 60 s early at most its last head is 78 s late, and nothing is missed."""
    answer = ordering_of(ROW, wanted(at=dict.fromkeys("ABCD", 0.0)))
    late = [stop.late_s for stop in answer.best.stops]
    assert late == pytest.approx([-60.0, 20 / SPEED - 60.0, 41 / SPEED - 60.0, 63 / SPEED - 60.0])
    alone = ordering_of(ROW, wanted(at={"A": 0.0}))
    assert [stop.late_s for stop in alone.best.stops if stop.late_s is not None] == [0.0]
    chain = alone.best.chains[0]
    assert chain.start is not None
    assert chain.start + timedelta(seconds=LEADER_S) == chain.stops[0].head


def test_times_that_no_order_meets_are_answered_with_the_nearest() -> None:
    """The head that comes outside of what is accepted is named, with by how much."""
    answer = ordering_of(ROW, wanted(at=dict.fromkeys("ABCD", 0.0), early_s=0.0, late_s=10.0))
    houses = answer.best.chains[0].houses
    assert answer.best.missed == houses[1:]
    assert answer.trades[0].code == "missed"
    assert f"House {houses[-1]} 2.3 minutes late; accepted" in answer.trades[0].text  # 63 m at 0.456 m/s: 138 s


def test_what_is_settled_and_what_it_costs() -> None:
    """B first and C last is a longer way, and by how much is told."""
    answer = ordering_of(ROW, wanted(fixed=Fixed(first=("B",), last=("C",))))
    (only, *_) = answer.best.chains
    assert (only.houses[0], only.houses[-1]) == ("B", "C")
    (trade,) = answer.trades
    assert trade.code == "fixed"
    assert trade.path_m == pytest.approx(answer.best.path_m - 63.0)
    assert "House B first; House C last" in trade.text


def test_two_chains_leave_the_longest_path_out_and_take_two_prints() -> None:
    """Of the row AB and CD remain; the leader has four ends then."""
    answer = ordering_of(ROW, wanted(chains=2))
    assert sorted(chain.houses for chain in answer.best.chains) == [("A", "B"), ("C", "D")]
    assert answer.best.leader_m == pytest.approx(42.0 * 1.1 + 2 * 180 * 0.3048)
    (trade,) = answer.trades
    assert trade.path_m == pytest.approx(42.0 - 63.0)
    assert "two prints" in trade.text


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (wanted("ABX"), ["Example Hall has no House X: its houses are A, B, C and D."]),
        (wanted("ABA"), ["House A is wanted twice."]),
        (wanted("ABC", chains=2), ["Found 3 houses for 2 chains; accepted 4 or more, 2 for each."]),
        (wanted("AB", at={"C": 0.0}), ["House C has a time and is not among the houses wanted."]),
        (wanted("AB", fixed=Fixed(first=("C",))), ["House C first: House C is not among the houses wanted."]),
        (
            wanted(fixed=Fixed(before=(("A", "A"),))),
            ["House A before A: found A and A; accepted two different houses."],
        ),
        (wanted(fixed=Fixed(first=("A", "B"))), ["Houses A and B cannot all be first: there is 1 for each chain."]),
        (
            wanted(fixed=Fixed(first=("A",), before=(("B", "A"),), last=("D",))),
            ["No order along the measured paths keeps all of these: House A first; House B before A."],
        ),
    ],
)
def test_what_cannot_be_asked_is_told(asked: Wanted, told: list[str]) -> None:
    """Each fault is a sentence; of wishes that contradict one another only those are named that do."""
    with pytest.raises(OrderFaults) as refused:
        ordering_of(ROW, asked)
    assert refused.value.faults == told


@pytest.mark.parametrize(
    ("paths", "told"),
    [
        ({"AB": 20.0, "CD": 20.0}, "No path is measured between Houses A and B and Houses C and D: measure one"),
        ({"AB": 20.0, "AC": 20.0, "AD": 20.0}, "The measured paths make no one chain through all of these houses"),
    ],
)
def test_paths_that_nobody_measured_are_told(paths: dict[str, float], told: str) -> None:
    """Where the measured paths lead through no chain, that is said and not guessed over."""
    with pytest.raises(OrderFaults) as refused:
        ordering_of(site_of("ABCD", paths), wanted())
    assert refused.value.faults[0].startswith(told)


def test_one_house_is_an_order() -> None:
    """It has no path and nothing comes next."""
    answer = ordering_of(ROW, wanted("C", at={"C": 0.0}))
    assert ([chain.houses for chain in answer.best.chains], answer.best.path_m) == ([("C",)], 0.0)
    assert answer.next_best == ()


# 15 U.S.C. 260a: at 02:00 on the second Sunday of March the clock goes forward, on the first of November back.
@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        (datetime(2026, 3, 8, 1, 58, tzinfo=CHICAGO), datetime(2026, 3, 8, 3, 0, tzinfo=CHICAGO)),
        (datetime(2026, 11, 1, 1, 58, tzinfo=CHICAGO), datetime(2026, 11, 1, 1, 0, tzinfo=CHICAGO, fold=1)),
    ],
    ids=["spring", "autumn"],
)
def test_across_a_change_of_the_clock_minutes_are_true(earlier: datetime, later: datetime) -> None:
    """Two minutes pass between these two, whatever zone the moments come in: the answer is that of the same in UTC."""
    at = {"A": earlier, "D": later}
    in_utc = {house: moment.astimezone(UTC) for house, moment in at.items()}
    assert (in_utc["D"] - in_utc["A"]).total_seconds() == 120.0
    for start in (None, "A"):
        local = Wanted(tuple("ABCD"), at, start=at[start] if start else None)
        answer = ordering_of(ROW, local)
        assert answer == ordering_of(ROW, local._replace(advertised=in_utc, start=in_utc[start] if start else None))
        assert not answer.best.missed
        assert {stop.head.tzinfo for stop in answer.best.stops if stop.head} == {UTC}


def gives_up(problem: Problem, count: int) -> tuple[Found, ...]:
    """A solver that finds nothing."""
    raise SearchEnded


def proves_nothing(problem: Problem, count: int) -> tuple[Found, ...]:
    """A solver that finds the best and does not know."""
    return tuple(found._replace(is_proven=False) for found in found_orders(problem, count))


TIMED = wanted(at={"D": 0.0, "A": 2.0}, early_s=30.0, late_s=30.0)
SETTLED = wanted(fixed=Fixed(first=("B",), last=("C",)))
FREE = wanted(fixed=Fixed(first=("A",)))
SPLIT = wanted(chains=2)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (TIMED, "The times may cost path: no order without them was found in the time given."),
        (
            FREE,
            "What is settled (House A first) may cost path: no order without it was found in the time given.",
        ),
        (
            SPLIT,
            (
                "Two chains take two prints. What path they save is not known: "
                "no chain of all houses was found in the time given."
            ),
        ),
    ],
)
def test_a_trade_that_the_solver_gave_up_on_is_told_as_not_known(
    asked: Wanted, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is not left out, as though nothing were traded."""
    monkeypatch.setattr(ordering_trades, "found_orders", gives_up)
    (trade,) = ordering_of(ROW, asked).trades
    assert (trade.text, trade.path_m, trade.is_proven) == (told, None, False)


@pytest.mark.parametrize(
    ("asked", "told", "not_told"),
    [
        (TIMED, "The times may cost path: no shorter order without them was found", "no order without"),
        (FREE, "that there is none is not proven", "no order without"),
        (SETTLED, "of path. The least that was found without it: A, B, C, D.", "The least without"),
        (SETTLED, "costs about ", "The least without"),
        (SPLIT, "They save about 69 ft (21.0 m) of path", "They save 69 ft"),
        (SPLIT, "against one chain of all houses, the least that was found.", "all houses."),
    ],
)
def test_a_trade_that_is_not_proven_is_not_told_as_proven(
    asked: Wanted, told: str, not_told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it compares with is the best that was found."""
    assert not_told in ordering_of(ROW, asked).trades[0].text
    monkeypatch.setattr(ordering_trades, "found_orders", proves_nothing)
    (trade,) = ordering_of(ROW, asked).trades
    assert told in trade.text
    assert not_told not in trade.text
    assert not trade.is_proven


def test_wishes_that_may_cost_time_are_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """D first puts A late; without that it is on time, and where nothing is proven the wish is not blamed."""
    asked = wanted(at={"A": 0.0, "D": 2.0}, early_s=0.0, late_s=30.0, fixed=Fixed(first=("D",)))
    told = {trade.code: trade for trade in ordering_of(ROW, asked).trades}["fixed"]
    assert "What is settled (House D first) costs time" in told.text
    assert told.is_proven
    monkeypatch.setattr(ordering_trades, "found_orders", proves_nothing)
    told = {trade.code: trade for trade in ordering_of(ROW, asked).trades}["fixed"]
    assert "What is settled (House D first) may cost time" in told.text
    assert not told.is_proven
