"""Events in words: what was seen, and where."""

from typing import get_args

import pytest

from server.review.words import event_in_words, place_in_words, told_in_words
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event
from server.timeline.people import HOLD_ASKED
from server.timeline.plan import parse_plan
from tests.timeline.story import event

PLAN = parse_plan(
    'format = "festoon-plan/1"\ntitle = "Words"\ntimezone = "America/Chicago"\n'
    "[timing]\nmotors_at = 2026-03-14T18:50:00-05:00\n"
    '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
    '[[print]]\nid = "t1"\nkind = "trailer"\ntitle = "Salt Road"\nduration = "2:20"\n'
    '[[stations]]\nid = "h4"\nhouse = "4"\n[[stations]]\nid = "h6"\nhouse = "6"\npath_ft = 100\n',
    "words",
)
OF_KINDS: dict[str, dict[str, object]] = {
    "mark_pass": {"station": "h6", "mark": "t1"},
    "slack_read": {"station": "h6", "seconds": -0.25},
    "relaced": {"station": "h6", "seconds": 0.2},
    "hold": {"seconds": 600.0},
    "report": {"station": "h6", "what": "no_sound", "text": "left side"},
    "report_over": {"station": "h6", "what": "no_sound"},
    "call": {"to": "all", "text": "Stand by."},
    "note": {"text": "all quiet"},
    "retract": {"retracts": "x"},
    "ack": {"alarm": "slack_tight:h4>h6"},
    "shelve": {"alarm": "film_trip:h6", "seconds": 300.0},
    "clock_step": {"seconds": -1.5},
    "chain_start": {},
    "chain_stop": {},
    "feed_up": {},
    "feed_down": {},
}


def seen(kind: str, **changed: object) -> Event:
    more = {**OF_KINDS.get(kind, {"station": "h6"}), **changed}
    station = more.pop("station", None)
    return event(PLAN, 10.0, kind, None if station is None else str(station), **more)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("motor_start", "House 6: motor started"),
        ("douser_shut", "House 6: douser shut"),
        ("mark_pass", "House 6: Salt Road passed"),
        ("slack_read", "House 4 to 6: read a slack of -0.25 s"),
        ("relaced", "House 4 to 6: laced anew, slack +0.20 s"),
        ("ready", "House 6: ready to start"),
        ("hold", "The start is set for 19:00:00"),
        ("chain_stop", "All motors stopped"),
        ("report", "House 6: reported no sound: left side"),
        ("report_over", "House 6: no sound, seen to"),
        ("call", "every booth: call: Stand by."),
        ("ack", "Acknowledged: slack tight, House 4 to 6"),
        ("shelve", "Shelved for 300 s: failsafe trip, House 6"),
        ("clock_step", "The computer's clock jumped by -1.5 s"),
        ("retract", "Taken back"),
    ],
)
def test_an_event_is_told_as_people_say_it(kind: str, says: str) -> None:
    """Houses, links and marks have their names, and times are the house's."""
    assert told_in_words(seen(kind), PLAN) == says


def test_who_asked_for_a_hold_reported_nothing_of_a_house() -> None:
    """It is about the start of the chain, and nothing is wrong in the house that it was sent from."""
    asked = seen("report", what="other", text=HOLD_ASKED)
    assert told_in_words(asked, PLAN) == "the lobby: Please hold the start 5 minutes"


def test_what_is_not_given_is_nothing() -> None:
    """A link that was laced anew without a figure is as threaded; an alarm that is shelved for nothing is not."""
    assert event_in_words(seen("relaced", seconds=None), PLAN) == "laced anew, slack +0.00 s"
    assert event_in_words(seen("shelve", seconds=0.0), PLAN) == "no longer shelved: failsafe trip, House 6"
    assert event_in_words(seen("hold", seconds=0.0), PLAN) == "the start is set for 18:50:00"


def test_what_was_taken_back_is_named() -> None:
    """A retraction says what it takes back, where that is known."""
    wrong = seen("slack_read", id="x")
    assert event_in_words(seen("retract"), PLAN, {"x": wrong}) == "taken back: House 4 to 6, read a slack of -0.25 s"


@pytest.mark.parametrize("kind", get_args(EventKind))
def test_every_kind_has_words_and_no_id(kind: str) -> None:
    """No word of a file stands in the account, nor any station's id."""
    said = f"{place_in_words(seen(kind), PLAN)} {event_in_words(seen(kind), PLAN)}"
    assert "_" not in said
    assert "h4" not in said
    assert "h6" not in said
