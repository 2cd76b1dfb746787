"""The review holds what was done against the truth: worked examples, to be checked by hand."""

import json

import pytest

from adapters.drill.review import TapReview
from adapters.drill.review_words import Told, json_of, review_in_words
from adapters.drill.scenario import FeedLost, LampOut, LateMotor, LateStrike, MotorStop, RateFault, TripAt
from server.timeline.plan import Plan
from tests.adapters.rehearsing import Somebody, exact
from tests.adapters.shows import chain_plan

TAPS = ("contact", "tap", "tap", "tap")
LEADER_S = 40.0
"""60 counter feet of 16 frames at 24 frames a second."""


def houses(stations: int = 2) -> Plan:
    return chain_plan(stations, minutes=20, inputs=TAPS)


@pytest.mark.parametrize(
    ("struck_s", "verdict", "said"),
    [
        (LEADER_S - 100.0, "early", "10 s early"),
        (LEADER_S - 60.0, "in time", "in time"),
        (LEADER_S - 5.0, "late", "10 s late"),
        (LEADER_S + 30.0, "late", "45 s late, gate dark for 30 s"),
        (None, "never", "never lit"),
    ],
)
def test_a_strike_is_marked_by_its_true_window(struck_s: float | None, verdict: str, said: str) -> None:
    """90 to 15 s before the picture, by the plan's default lamp."""
    plan = houses(1)
    somebody = Somebody(plan, exact())
    if struck_s is not None:
        somebody.wait(struck_s)
        somebody.tap("lamp_lit", "s0")
    somebody.wait(200.0)
    (strike,) = somebody.review.strikes
    assert (strike.opens_s, strike.closes_s) == pytest.approx((LEADER_S - 90.0, LEADER_S - 15.0))
    assert (strike.verdict, strike.yours) == (verdict, True)
    assert rows(somebody, "Lamps, by their true windows")[0][-1] == said


def rows(somebody: Somebody, title: str, *told: Told) -> tuple[tuple[str, ...], ...]:
    sections = review_in_words(somebody.review, told, somebody.plan).sections
    return next(section.rows for section in sections if section.title == title)


def taps(somebody: Somebody) -> list[TapReview]:
    return list(somebody.review.taps)


def test_taps_are_marked_by_their_true_passes() -> None:
    """Right within three of the plan's standard deviations, else late, at another house, or again."""
    plan = houses()
    somebody = Somebody(plan, exact())
    lag_s, transit_s = plan.timing.tap_lag_s, plan.links[0].transit_s
    somebody.wait(LEADER_S + lag_s + 0.5)
    somebody.tap("mark_pass", "s0", "head")
    somebody.wait(LEADER_S + 3.0)
    somebody.tap("mark_pass", "s0", "head")
    somebody.wait(LEADER_S + transit_s + lag_s + 4.0)
    somebody.tap("mark_pass", "s1", "head")
    somebody.wait(LEADER_S + 600.0 + lag_s)
    somebody.tap("mark_pass", "s1", "r1")
    somebody.wait(LEADER_S + 900.0)
    assert [(tap.station, tap.mark, tap.verdict, tap.meant) for tap in taps(somebody)] == [
        ("s0", "head", "right", None),
        ("s0", "head", "again", None),
        ("s1", "head", "late", None),
        ("s1", "r1", "wrong house", "s0"),
    ]
    errors = [tap.error_s for tap in taps(somebody) if tap.verdict in {"right", "late"}]
    assert errors == pytest.approx([0.5, 4.0], abs=0.01)
    told = [row[-1] for row in rows(somebody, "Passes to tap, by their true times")]
    assert told == [
        "right (0.5 s late)",
        "tapped twice",
        "4.0 s late",
        "wrong house: it was House 0",
    ]


def test_a_tap_for_another_mark_or_for_nothing_is_told_apart() -> None:
    """Both are wrong, and differently."""
    plan = houses(1)
    somebody = Somebody(plan, exact())
    somebody.wait(LEADER_S + 600.2)
    somebody.tap("mark_pass", "s0", "end")
    somebody.wait(LEADER_S + 800.0)
    somebody.tap("mark_pass", "s0", "end")
    verdicts = [(tap.verdict, tap.meant) for tap in taps(somebody) if tap.verdict != "missed"]
    assert verdicts == [("wrong mark", "r1"), ("not there", None)]


def test_a_tap_that_was_taken_back_is_not_marked() -> None:
    """Whoever notices and takes it back has done right; the pass is still to be tapped."""
    somebody = Somebody(houses(1), exact())
    somebody.wait(20.0)
    wrong = somebody.tap("mark_pass", "s0", "head")
    somebody.report(
        wrong.model_copy(update={"id": "back", "kind": "retract", "station": None, "mark": None, "retracts": wrong.id})
    )
    somebody.wait(100.0)
    assert [tap.verdict for tap in taps(somebody)] == ["missed"]


def test_two_marks_at_one_point_are_one_sight() -> None:
    """The first picture is the first reel's first frame: either name is right, and nothing is missed."""
    somebody = Somebody(houses(1), exact())
    somebody.wait(LEADER_S + 0.25)
    somebody.tap("mark_pass", "s0", "r0")
    somebody.wait(100.0)
    assert [tap.verdict for tap in taps(somebody)] == ["right"]


def test_a_house_is_dark_without_lamp_or_douser_and_while_the_film_stands() -> None:
    """60 s before both are on, and 100 s of standing; the douser that the failsafe shut stays shut for 30 s more."""
    somebody = Somebody(houses(1), exact())
    somebody.wait(0.0)
    somebody.tap("lamp_lit", "s0")
    somebody.wait(LEADER_S + 60.0)
    somebody.tap("douser_open", "s0")
    somebody.wait(200.0)
    somebody.tap("chain_stop")
    somebody.wait(300.0)
    somebody.tap("chain_start")
    somebody.wait(330.0)
    somebody.tap("douser_open", "s0")
    somebody.wait(600.0)
    (dark,) = somebody.review.dark
    assert dark.standing_s == pytest.approx(100.0, abs=0.1)
    assert dark.dark_s == pytest.approx(60.0 + 100.0 + 30.0, abs=0.3)
    assert (
        "Picture: 1 of 1 houses went dark, 190 s in all."
        in review_in_words(somebody.review, (), somebody.plan).sentences
    )


def test_the_reserve_left_is_that_of_the_worst_moment() -> None:
    """A motor 500 ppm fast for a thousand seconds takes half a second out of the link that feeds it."""
    plan = chain_plan(2, minutes=30)
    somebody = Somebody(plan, exact(RateFault("s1", 300.0, 500.0, 1300.0)))
    somebody.wait(1500.0)
    (link,) = somebody.review.links
    assert (link.slack_s, link.left_s) == pytest.approx((-0.5, 1.5), abs=0.01)
    assert (link.spilled_ft, link.pulled_ft) == (0.0, 0.0)
    sentences = review_in_words(somebody.review, (), plan).sentences
    assert "Film: none was lost." in sentences
    assert "Reserve: at the worst 1.50 s was left, at House 0 to 1." in sentences


def test_what_went_wrong_is_said_with_its_time() -> None:
    """Every kind of fault in plain words; what had not come yet says so."""
    plan = chain_plan(3, minutes=30)
    faults = (
        LateMotor("s2", 0.5),
        LampOut("s1", 400.0, 20.0),
        FeedLost("North", 500.0, 300.0),
        RateFault("s0", 450.0, 200.0),
        TripAt("s0>s1", 1.5),
        LateStrike("s1", 30.0),
        MotorStop("s0", 1500.0),
    )
    somebody = Somebody(plan, exact(*faults))
    somebody.wait(600.0)
    assert [text for _, text in rows(somebody, "What went wrong")] == [
        "The failsafe at House 0 to 1 trips at 1.5 s of slack, whatever the plan says",
        "House 2's motor was to start 0.5 s late",
        "House 1's lamp was struck 15 s after the picture",
        "House 1's lamp went out",
        "House 0's motor ran fast: by one second of film every 83 min",
        "The contacts of North were not seen for 5 min",
        "House 0's motor stopped by itself",
    ]
    assert [when for when, _ in rows(somebody, "What went wrong")][-1] == "it did not come"


def test_delays_count_from_when_the_trouble_began() -> None:
    """What was told and what was done, each with how long after the fault; zero is 23:50 UTC."""
    plan = chain_plan(2)
    somebody = Somebody(plan, exact(MotorStop("s1", 600.0)))
    somebody.wait(612.0)
    somebody.tap("chain_stop")
    told = Told("act", "House 1: the motor stopped", None, 600.5, 604.0, None)
    assert rows(somebody, "What you did, and how long after the trouble began") == (
        ("00:00:12", "12 s", "The chain", "you stopped all motors"),
    )
    assert rows(somebody, "What the desks showed you, and how long after the trouble began", told) == (
        ("00:00:00", "0.5 s", "act", "House 1: the motor stopped", "after 3.5 s", "still open"),
    )
    sentences = review_in_words(somebody.review, (told,), plan).sentences
    assert "Reserve: spent first at 00:00:02; you stopped the film 10 s later." in sentences
    assert "Alarms to act on, acknowledged: 1 of 1." in sentences


def test_an_alarm_that_nobody_can_have_read_is_counted_and_not_listed() -> None:
    """At eight times life a second is eight seconds of the show."""
    somebody = Somebody(chain_plan(2), exact())
    somebody.wait(200.0)
    told = (
        Told("act", "gone", None, 100.0, None, 107.0),
        Told("act", "read", None, 100.0, None, 109.0),
        Told("act", "on", None, 199.0, None, None),
    )
    account = review_in_words(somebody.review, told, somebody.plan, 8.0)
    (alarms,) = [section.rows for section in account.sections if section.title.startswith("What the desks showed")]
    assert [row[3] for row in alarms] == ["read", "on"]
    assert "Not listed: 1 alarm that came and went within a second." in account.sentences
    assert "Alarms to act on, acknowledged: 0 of 2." in account.sentences


def test_the_review_is_a_document() -> None:
    """All of it goes through JSON and back; taps, strikes and links are under their own names."""
    somebody = Somebody(houses(), exact(MotorStop("s1", 600.0)))
    somebody.wait(650.0)
    somebody.tap("chain_stop")
    document = json.loads(json.dumps(json_of(somebody.review, (Told("act", "x", None, 600.5, None, None),))))
    assert document["format"] == "festoon-review/1"
    assert document["links"][0]["spilled_ft"] == pytest.approx(1.5 * 48.0, abs=0.1)
    assert document["done"] == [{"at_s": 650.0, "kind": "chain_stop", "station": None, "by": None, "changed": True}]
    assert document["alarms"][0]["told_s"] == 600.5
    assert {strike["verdict"] for strike in document["strikes"]} == {"never"}
