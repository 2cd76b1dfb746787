"""The table of event kinds."""

from typing import get_args

from server.timeline.event_kinds import EVENT_KINDS, KEYS_ASKED, KEYS_KNOWN, EventKind
from server.timeline.events import Event


def test_every_kind_has_its_row_and_every_row_its_kind() -> None:
    """Whoever adds the one is told to add the other; they stand in one order."""
    assert tuple(EVENT_KINDS) == get_args(EventKind)


def test_a_kind_has_keys_of_events_only() -> None:
    """What it asks for can be said, and what it asks for it also knows."""
    for kind in EVENT_KINDS:
        assert KEYS_ASKED[kind] <= KEYS_KNOWN[kind] <= set(Event.model_fields)


def test_every_kind_has_words_and_somebody_who_sends_it() -> None:
    """No list of events shows an empty line, and no kind is refused of everybody."""
    assert all(row.words and row.senders for row in EVENT_KINDS.values())


def test_what_a_debrief_adds_is_what_people_see() -> None:
    """Nobody adds afterwards what the server says of itself, or what was said for that moment only."""
    for kind, row in EVENT_KINDS.items():
        if row.debrief == "add":
            assert "booth" in row.senders
            assert row.of_film or kind == "note"
