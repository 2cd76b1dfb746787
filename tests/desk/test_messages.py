"""The models of the wire follow from the engine's own shapes."""

import pytest
from pydantic import ValidationError

from server.desk.messages import Alarm, Link, ObservedEvent, PromptChange, ReportedEvent
from server.timeline.events import Event
from server.timeline.view import AlarmView, LinkView

ALARM = AlarmView(
    "call:h3", "call", "h3", "watch", "unacknowledged", None, True, 1.0, "x", "y", None, None, None, "", "x", False
)


def test_a_model_has_the_keys_and_types_of_what_the_engine_shows() -> None:
    """What the engine begins to show, or shows otherwise, the OpenAPI document and the browser's types say at once."""
    assert set(Alarm.model_fields) == set(AlarmView._fields)
    Alarm.model_validate(ALARM._asdict())
    for key, wrong in {"level": "loud", "told": "perhaps", "since_s": None}.items():
        with pytest.raises(ValidationError):
            Alarm.model_validate(ALARM._asdict() | {key: wrong})


def test_what_a_model_says_itself_counts() -> None:
    """Of the three times at which a reserve is gone desks are told one."""
    assert Link.model_fields["gone_s"].annotation == float | None
    assert set(Link.model_fields) == set(LinkView._fields)


def test_of_a_change_only_the_name_has_to_be_there() -> None:
    """What is absent stands as it was."""
    assert PromptChange.model_validate({"key": "start h3"}).model_dump(exclude_unset=True) == {"key": "start h3"}
    with pytest.raises(ValidationError):
        PromptChange.model_validate({"text": "Start"})


def test_an_event_has_the_keys_of_the_format() -> None:
    """A desk is sent what a recording would have, and sends the same."""
    assert set(ObservedEvent.model_fields) == set(ReportedEvent.model_fields) == set(Event.model_fields)
