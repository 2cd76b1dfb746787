"""The models of the wire are the engine's own shapes."""

from typing import NamedTuple, get_type_hints

import pytest

from server.desk import messages
from server.timeline import view
from server.timeline.events import Event


@pytest.mark.parametrize(
    ("model", "shape"),
    [
        (messages.View, view.RunView),
        (messages.Station, view.StationView),
        (messages.Link, view.LinkView),
        (messages.Alarm, view.AlarmView),
        (messages.Prompt, view.PromptView),
    ],
)
def test_a_model_has_the_keys_of_what_the_engine_shows(model: type[messages.Wire], shape: type[NamedTuple]) -> None:
    """What the engine begins to show, the OpenAPI document and the browser's types show; a prompt has a name there."""
    name = ["key"] if model is messages.Prompt else []
    assert list(model.model_fields) == [*name, *get_type_hints(shape)]


def test_an_event_has_the_keys_of_the_format() -> None:
    """A desk is sent what a recording would have, and sends the same."""
    assert set(messages.ObservedEvent.model_fields) == set(Event.model_fields)
    assert set(messages.ReportedEvent.model_fields) == set(Event.model_fields)
