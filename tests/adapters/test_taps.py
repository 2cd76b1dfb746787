"""Taps: a message is an event or one clear refusal, whatever is sent."""

import json
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.taps import MOST_BYTES, event_from_tap
from server.timeline.events import Event, EventFault
from tests.adapters.shows import ZERO

PASS = {"id": "p1", "kind": "mark_pass", "station": "h3", "mark": "t1"}
KEYS = tuple(Event.model_fields)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def test_a_tap_without_a_time_happened_now() -> None:
    """`t` may be left out; the source is always a tap."""
    event = event_from_tap(PASS, ZERO)
    assert (event.t, event.source, event.mark) == (ZERO, "tap", "t1")


def test_a_tap_keeps_its_own_time() -> None:
    """A tap made without a connection is sent later and counts when it was made."""
    event = event_from_tap({**PASS, "t": "2026-03-14T18:49:30-05:00"}, ZERO)
    assert event.t == ZERO - timedelta(seconds=30)


@pytest.mark.parametrize(
    ("given_source", "device", "source"),
    [
        (None, None, "tap"),
        (None, "tablet 2", "tap:tablet 2"),
        ("tap", "tablet 2", "tap:tablet 2"),
        ("tap:mine", None, "tap:mine"),
        ("tap:mine", "tablet 2", "tap:tablet 2"),
    ],
)
def test_the_source_is_the_device_that_is_known(given_source: str | None, device: str | None, source: str) -> None:
    """A desk cannot pass for another one where the port knows which it is."""
    assert event_from_tap({**PASS, "source": given_source}, ZERO, device).source == source


def test_text_bytes_and_objects_are_read_alike() -> None:
    """A websocket brings text, a request bytes, a test an object."""
    text = json.dumps(PASS)
    assert event_from_tap(text, ZERO) == event_from_tap(text.encode(), ZERO) == event_from_tap(PASS, ZERO)


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ("{", "found no JSON"),
        (b"\xff\xfe{}", "found no JSON"),
        ("[" * 5000, "found no JSON"),
        ("[1]", "found JSON that is a list; accepted one JSON object"),
        (json.dumps({**PASS, "by": "x" * MOST_BYTES}), f"accepted at most {MOST_BYTES}"),
        ({**PASS, "colour": "red"}, "colour: found an unknown key"),
        ({**PASS, "kind": "mark_passed"}, "kind: found 'mark_passed'"),
        ({**PASS, "source": "contact:north"}, "source: found 'contact:north'; accepted tap"),
        ({"id": "f", "kind": "feed_down"}, "found 'feed_down', which nobody taps"),
        ({"id": "c", "kind": "clock_step", "seconds": 1.0}, "found 'clock_step', which nobody taps"),
        ({"kind": "note", "text": "hello"}, "id: found nothing"),
        ({**PASS, "t": "18:50"}, "t: found '18:50'"),
    ],
)
def test_a_refusal_says_what_was_found_and_what_is_accepted(
    message: str | bytes | dict[str, object], words: str
) -> None:
    """Whoever tapped reads one line and knows what to change."""
    with pytest.raises(EventFault) as caught:
        event_from_tap(message, ZERO)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=8), VALUES, max_size=8))
def test_any_object_is_a_tap_or_a_refusal(message: dict[str, object]) -> None:
    """No object, however wrong, gives anything but an event from a tap or an EventFault."""
    try:
        event = event_from_tap(message, ZERO)
    except EventFault:
        return
    assert event.is_tap
    assert event.kind not in {"feed_up", "feed_down", "clock_step"}


@given(st.binary(max_size=200) | st.text(max_size=200))
def test_any_bytes_are_a_tap_or_a_refusal(message: bytes | str) -> None:
    """Nor do any bytes."""
    with pytest.raises(EventFault):  # none so short and so random is a whole event
        event_from_tap(message, ZERO)


@given(st.data(), st.sampled_from(["lamp_lit", "mark_pass", "note", "retract", "slack_read"]))
def test_a_tap_with_one_key_spoiled_is_refused_or_means_the_same(data: st.DataObject, kind: str) -> None:
    """A right message with one value changed at random is never taken for another station, mark or kind."""
    asked: dict[str, dict[str, object]] = {
        "lamp_lit": {"station": "h1"},
        "mark_pass": {"station": "h1", "mark": "t1"},
        "note": {"text": "t"},
        "retract": {"retracts": "y"},
        "slack_read": {"station": "h1", "seconds": 0.5},
    }
    right: dict[str, object] = {"id": "x", "kind": kind, **asked[kind]}
    spoiled = {**right, data.draw(st.sampled_from(sorted(right))): data.draw(VALUES)}
    try:
        event = event_from_tap(spoiled, ZERO)
    except EventFault:
        return
    held = event.model_dump(exclude_none=True)
    assert all(held.get(key) == value for key, value in spoiled.items() if value is not None)
