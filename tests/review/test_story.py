"""The story of a run: what happened, in a few sentences, each with its moment."""

import re
from collections.abc import Iterable

import pytest

from server.review import sentences
from server.review.account import Account, Clock, Observed
from server.review.reading import Reading
from server.review.report import report_html
from server.review.story import MOST, Story, more_in_words, state_of, story_json, text_of
from server.timeline.events import Event, at_us
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from server.timeline.view import Phase
from tests.review.shows import LATE_S, account, plan
from tests.timeline.story import HEAD_S, TRANSIT_S, event, lamps, plan_of, starts

HOUSES = 3


def told(given: Plan, events: Iterable[Event], clock: Clock = "now") -> Story:
    """The story of these events, each known at once."""
    ordered = sorted(events, key=lambda one: at_us(one, given))
    observed = [Observed(seq, one, at_us(one, given)) for seq, one in enumerate(ordered, 1)]
    return Reading(Account(given, observed), clock).story


def texts(given: Plan, events: Iterable[Event]) -> list[str]:
    return [text_of(one, given) for one in told(given, events).sentences]


def ends(given: Plan) -> list[Event]:
    """Every lamp out and every motor stopped once its film is out."""
    found = []
    for times in schedule_from_plan(given).stations:
        found.append(event(given, times.passes["end"] + 25.0, "lamp_out", times.id))
        found.append(event(given, times.clear_s + 30.0, "motor_stop", times.id))
    return found


def whole(given: Plan, dark: Iterable[str] = ()) -> list[Event]:
    """A show from its start to its end; in the houses that are `dark` nobody strikes the lamp."""
    lit = [one for one in lamps(given) if one.station not in set(dark)]
    return [*starts(given), *lit, *ends(given)]


def test_a_quiet_show_is_one_sentence_with_its_figures() -> None:
    """That nothing went wrong, which houses ran from when to when, and what was left of the reserves."""
    given = plan_of(HOUSES)
    story = told(given, whole(given))
    (only,) = story.sentences
    assert re.fullmatch(
        r"A quiet show, and nothing went wrong: 3 houses ran from 23:50 to \d\d:\d\d, "
        r"and no link used more than \d+ % of its reserve \(House \d to \d\)\.",
        text_of(only, given),
    )
    assert (only.at_us, only.level, story.more, story.state) == (0, None, 0, "over")


def test_what_was_found_out_is_told_after_the_troubles() -> None:
    """A path that is longer than planned is no trouble, and needs putting right before the next show."""
    given = plan_of(HOUSES)
    late_s = {"a": 0.0, "b": 3.0, "c": 3.0}
    passes = [
        event(given, mark.x_s + ahead_s + late_s[station.id], "mark_pass", station.id, mark=mark.id)
        for station, ahead_s in zip(given.stations, given.ahead_s, strict=True)
        for mark in (given.mark("t1"), given.mark("t2"))
    ]
    quiet, found = texts(given, [*whole(given), *passes])
    assert quiet.startswith("No alarm was raised: 3 houses ran from 23:50")
    path = r"House 1 to 2: the path is 3\.0 s of film \([0-9.]+ ft by the tape\) longer than planned; that is no slack"
    assert re.fullmatch(path + r"; seen at 23:5\d\.", found)


def test_one_trouble_is_one_sentence_with_what_was_done() -> None:
    """What follows from a first-out is told within it; who saw it, and how it ended, with their times."""
    given = plan_of(HOUSES)
    head_s = HEAD_S + TRANSIT_S
    done = [
        event(given, head_s - 10.0, "ack", alarm="strike_missed:b", by="Ada"),
        event(given, head_s + 20.0, "lamp_lit", "b"),
    ]
    story = told(given, [*whole(given, dark="b"), *done])
    (only,) = story.sentences
    assert text_of(only, given) == (
        "At 23:51:31 House 2's strike window closed with the lamp not lit; acknowledged by Ada at 23:51:36; "
        "the picture came to a dark gate at 23:51:48; lit at 23:52:06."
    )
    assert only.level == "act"
    assert only.at_us == pytest.approx((head_s - 15.0) * 1e6, abs=1e6)


def test_a_kind_of_alarm_without_words_of_its_own_is_told_by_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind that is added to the table of alarms breaks no debrief."""
    monkeypatch.delitem(sentences._LEADS, "strike_missed")
    given = plan_of(HOUSES)
    (only,) = texts(given, whole(given, {"b"}))
    assert re.match(r'At \d\d:\d\d:\d\d House \d had the alarm "strike missed"; ', only)


def test_five_are_told_and_the_others_counted() -> None:
    """The worst five, in order of time; how many were left out is said."""
    given = plan_of(7)
    darks = [station.id for station in given.stations]
    late = [event(given, HEAD_S + given.ahead_s[k] + 30.0, "lamp_lit", id_) for k, id_ in enumerate(darks)]
    story = told(given, [*whole(given, dark=darks), *late])
    assert len(story.sentences) == MOST
    assert [one.at_us for one in story.sentences] == sorted(one.at_us for one in story.sentences)
    assert more_in_words(story) == "And 2 more troubles: see the alarms."


def test_what_comes_alike_at_once_is_one_sentence() -> None:
    """Lamps that go out together are told together, with the last to be lit again, or where one stayed out."""
    given = plan_of(HOUSES)
    out_s = HEAD_S + 3 * TRANSIT_S
    out = [event(given, out_s + n, "lamp_out", one.id) for n, one in enumerate(given.stations)]
    seen = [event(given, out_s + 8.0, "ack", alarm=f"lamp_lost:{one.id}", by="Ada") for one in given.stations]
    lit = [event(given, out_s + 20.0 + 5.0 * n, "lamp_lit", one.id) for n, one in enumerate(given.stations)]
    (only,) = texts(given, [*whole(given), *out, *seen, *lit])
    assert re.fullmatch(
        r"At (\S+) the lamps of Houses 1, 2 and 3 went out with the picture on screen; all acknowledged at \S+; "
        r"the last was over at (\S+)\.",
        only,
    ), only
    assert "acknowledged" not in texts(given, [*whole(given), *out, seen[1], *lit])[0], "nobody saw two of them"
    again = [event(given, out_s + 90.0, "lamp_out", "a"), event(given, out_s + 110.0, "lamp_lit", "a")]
    twice = texts(given, [*whole(given), *out, *lit, *again])
    assert [one.endswith("it was raised 2 times.") for one in twice] == [True, False]
    stayed = texts(given, [*starts(given), *lamps(given), *out, *lit[:2]])
    assert next(one for one in stayed if "went out" in one).endswith("; it stayed so in House 3.")


def test_the_worse_of_two_is_kept_where_not_all_can_be_told() -> None:
    """A motor that was lost late is told, though five lamps before it were not lit in time."""
    given = plan_of(7)
    darks = [station.id for station in given.stations[:6]]
    late = [event(given, HEAD_S + given.ahead_s[k] + 30.0, "lamp_lit", id_) for k, id_ in enumerate(darks)]
    events = [*whole(given, dark=darks), *late, event(given, 2000.0, "motor_stop", "g")]
    assert any("House 7's motor stopped before its tail was out" in text for text in texts(given, events))


def test_a_show_that_was_stopped_says_where_film_stood() -> None:
    """Without an alarm before it a stop of the chain is told by itself; the account ends with it."""
    given = plan_of(HOUSES)
    stop = event(given, 500.0, "chain_stop", source="tap:pad", by="Ada", sigma_s=0.05)
    motors = [event(given, 500.0 + 0.1 * k, "motor_stop", station) for k, station in enumerate("abc")]
    shut = [event(given, 500.3, "lamp_out", station) for station in "abc"]
    story = told(given, [*starts(given), *lamps(given), stop, *motors, *shut])
    (only,) = [text_of(one, given) for one in story.sentences]
    assert re.fullmatch(
        r"At 23:58:(19|20) the chain was stopped by Ada with film in Houses 1, 2 and 3; it was not started again\.",
        only,
    )
    assert story.state == "standing"


def test_a_stop_for_a_trouble_is_told_with_it() -> None:
    """One motor is lost and the chain is stopped for it: one sentence, with what stood in the light."""
    given = plan_of(HOUSES)
    first = event(given, 500.0, "motor_stop", "b")
    rest = [event(given, 504.0, "chain_stop", source="tap:pad", sigma_s=0.05)]
    rest += [event(given, 504.0 + 0.1 * k, "motor_stop", station) for k, station in enumerate("ac")]
    told_of = texts(given, [*starts(given), *lamps(given), first, *rest])
    assert len(told_of) == 1
    assert told_of[0].startswith("At 23:58:20 House 2's motor stopped before its tail was out; ")
    assert "the chain was stopped at 23:58:2" in told_of[0]
    assert told_of[0].count("film stood in the light") == 1
    assert "it was not started again" in told_of[0]


def test_a_show_that_goes_on_after_a_stop_says_when() -> None:
    """A stop is not the end of the account where motors ran again."""
    given = plan_of(HOUSES)
    stops = [event(given, 500.0 + 0.1 * k, "motor_stop", station) for k, station in enumerate("abc")]
    out = [event(given, 500.4, "lamp_out", station) for station in "abc"]
    again = [event(given, 800.0, "motor_start", station) for station in "abc"]
    story = texts(given, [*starts(given), *lamps(given), *stops, *out, *again])
    assert "; it was started again at 00:03." in story[0]


def test_a_run_without_an_end_says_how_far_it_is_known() -> None:
    """Where film is left at the last that was seen, nobody is told that the show was quiet."""
    given = plan_of(HOUSES)
    story = told(given, [*starts(given), *lamps(given), event(given, 900.0, "note", text="x", by="Ada")])
    first, last = (text_of(one, given) for one in story.sentences)
    assert first.startswith("No alarm was raised: 3 houses ran from 23:50 to ")
    assert re.fullmatch(r"The account goes to \d\d:\d\d:\d\d, with film still in Houses 1, 2 and 3\.", last)
    assert story.state == "running"


def test_a_run_that_never_ran_says_so() -> None:
    """No motor, no quiet show."""
    given = plan_of(HOUSES)
    assert texts(given, []) == ["No motor was seen to start."]
    assert told(given, []).state == "waiting"


def test_what_damage_took_is_part_of_the_story() -> None:
    """The note of a damaged log is told, and that nothing went wrong is not."""
    given = plan_of(HOUSES)
    words = "The log was damaged: events 31 to 40 of this run were lost."
    note = event(given, 700.0, "note", source="contact:log", text=words)
    told_of = texts(given, [*whole(given), note])
    assert words in told_of
    assert any(text.startswith("No alarm was raised: ") for text in told_of)


def test_a_link_is_told_with_its_readings_and_whether_its_reserve_lasted() -> None:
    """Slack that was told, read and laced anew is one sentence, however often it was told."""
    given = plan_of(HOUSES, timing="tap_lag_s = 0.0")
    read = event(given, 600.0, "slack_read", "b", seconds=-1.4, source="tap:pad", sigma_s=0.05, by="Ada")
    ack = event(given, 740.0, "ack", alarm="slack_tight:a>b", by="Bo")
    again = event(given, 700.0, "slack_read", "b", seconds=-1.4, source="tap:pad", sigma_s=0.05, by="Ada")
    laced = event(given, 900.0, "relaced", "b", seconds=0.0, source="tap:pad", sigma_s=0.05, by="Ada")
    (only,) = [text for text in texts(given, [*whole(given), read, ack, again, laced]) if "tight" in text]
    assert only.startswith("At 00:01:40 House 1 to 2 ran tight; ")
    assert "acknowledged by Bo at 00:02:20" in only
    assert "laced anew at 00:05; the reserve lasted, 1." in only
    assert only.endswith(" s of 2.0 s used at most.")


def test_what_was_taken_back_is_no_part_of_it_as_it_is_known_now() -> None:
    """The two clocks tell what each of them knows."""
    given = plan_of(HOUSES)
    wrong = event(given, 600.0, "motor_stop", "b", id="wrong")
    events = [*whole(given), wrong, event(given, 640.0, "retract", retracts="wrong", by="Ada")]
    assert not any("motor stopped" in text_of(one, given) for one in told(given, events).sentences)
    assert any("motor stopped" in text_of(one, given) for one in told(given, events, "then").sentences)


def test_a_late_strike_of_the_small_show_is_told_with_who_saw_it() -> None:
    """The show of the other debrief tests, a late tap and a wrong one in it."""
    given = plan()
    reading = Reading(account(given))
    first = text_of(reading.story.sentences[0], given)
    assert LATE_S > 0.0
    assert first.startswith("At 23:51:31 House 2's strike window closed with the lamp not lit; ")
    assert "acknowledged by Ada" in first


def test_programs_get_each_moment_as_a_moment() -> None:
    """A page says it on its own clock; put together the parts are the sentence."""
    given = plan_of(HOUSES)
    story = told(given, whole(given))
    parts = story_json(story)["sentences"][0]["parts"]
    moments = [part["at_s"] for part in parts if part["text"] is None]
    assert moments[0] == 0.0
    assert all((part["text"] is None) is (part["at_s"] is not None) for part in parts)


def test_the_report_begins_with_the_story() -> None:
    """The same sentences, before every chart and table."""
    given = plan()
    reading = Reading(account(given))
    page = report_html(reading)
    at = [page.index(text_of(one, given).split("'")[0]) for one in reading.story.sentences]
    assert at == sorted(at)
    assert at[-1] < page.index("<h2>Stringline</h2>") < page.index("<h2>Summary</h2>")


@pytest.mark.parametrize(
    ("phases", "state"),
    [
        (["threaded", "threaded"], "waiting"),
        (["threaded", "rolling"], "running"),
        (["clear", "tail"], "running"),
        (["stopped", "showing"], "running"),
        (["clear", "stopped"], "standing"),
        (["clear", "clear"], "over"),
    ],
)
def test_how_a_run_stands_follows_from_its_stations(phases: list[Phase], state: str) -> None:
    """Film that runs first, then film that stands."""
    assert state_of(phases) == state
