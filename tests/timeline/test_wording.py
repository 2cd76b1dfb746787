"""What an alarm says, of which place, and where it is to be dealt with."""

import pytest

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.naming import house_of, link_of
from server.timeline.wording import names_places, place_and_what, silent_text, text_of
from tests.timeline.story import plan_of

PLAN = plan_of(3)
STATION, LINK = PLAN.stations[1].id, PLAN.links[0].id


@pytest.mark.parametrize("kind", [kind for kind, row in ALARM_KINDS.items() if row.subject == "station" and row.text])
def test_of_a_house_its_name_is_the_place(kind: str) -> None:
    """A desk puts the place before what is to be done there, and shows no text in which it looked for it."""
    text = text_of(kind, house_of(PLAN, 1), "more")
    place, what = place_and_what(PLAN, kind, STATION, text)
    assert (place, f"{place}: {what}") == (house_of(PLAN, 1), text)


@pytest.mark.parametrize("kind", [kind for kind, row in ALARM_KINDS.items() if row.subject == "link"])
def test_of_a_link_the_place_is_short(kind: str) -> None:
    """Its two houses are enough: "1 to 2"."""
    place, what = place_and_what(PLAN, kind, LINK, text_of(kind, link_of(PLAN, 0), "more"))
    assert f"House {place}" == link_of(PLAN, 0)
    assert what.startswith("the ")


def test_a_source_has_a_name_and_a_file_no_path() -> None:
    """People look for a cable, not for an id; where a file lies, the event of its source says."""
    text = silent_text("contact:east", "cannot open /dev/serial/by-id/usb-1: no such device")
    assert text == "Contacts east: nothing is known from this source (cannot open usb-1: no such device)"
    assert place_and_what(PLAN, "feed_silent", "contact:east", text)[0] == "Contacts east"


def test_what_has_no_place_is_all_that_is_wrong() -> None:
    """The computer's clock is in no house."""
    text = text_of("clock_step", "+3.0 s")
    assert place_and_what(PLAN, "clock_step", "chain", text) == ("", text)


def test_a_stop_names_its_places_but_for_looking_at_its_own() -> None:
    """What still runs is stopped by name; to look is said of the place where it is."""
    assert names_places("motor_lost", "Stop the chain: House 2 still runs. Then look at this motor.")
    look = ALARM_KINDS["motor_lost"].look
    assert not names_places("motor_lost", look[0].upper() + look[1:])
    assert not names_places("dark_gate", ALARM_KINDS["dark_gate"].todo)


def test_a_colon_in_a_title_ends_no_place() -> None:
    """A sentence that begins with no place has none."""
    plan = plan_of(2)
    said = "House 1 saw Trailer: Salt Road 2.0 s late: wrong tap, or the film jumped"
    assert place_and_what(plan, "misfit", "a", said) == ("", said)
    told = "House 1 to 2: the path is 2.0 s of film longer than planned"
    assert place_and_what(plan, "misfit", "b", told) == ("House 1 to 2", told.partition(": ")[2])
