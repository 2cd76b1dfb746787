"""The types that the plan desk is checked against, beside the server's models."""

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from server.desk import plan_messages
from server.plans import edits

TEXT = (Path(__file__).parents[2] / "web/js/plan-messages.d.ts").read_text(encoding="utf-8")
INTERFACE = re.compile(r"^export interface (\w+) \{$(.*?)^\}$", re.MULTILINE | re.DOTALL)
KEY = re.compile(r"^  (\w+)\??:", re.MULTILINE)
INTERFACES = {name: set(KEY.findall(body)) for name, body in INTERFACE.findall(TEXT) if name != "PlanSchedule"}
"""All but the schedule, of which the desk reads a part."""


def model_named(name: str) -> type[BaseModel]:
    model: type[BaseModel] = getattr(plan_messages, name, None) or getattr(edits, name)
    assert issubclass(model, BaseModel)
    return model


@pytest.mark.parametrize("name", sorted(INTERFACES))
def test_a_type_has_the_keys_of_its_model(name: str) -> None:
    """What the browser code reads and says is what the server sends and takes."""
    assert INTERFACES[name] == set(model_named(name).model_fields)


def test_every_model_of_the_plan_desk_has_its_type() -> None:
    """No message is left that the browser code is not checked against."""
    models = {
        name
        for name, model in vars(plan_messages).items()
        if getattr(model, "__module__", "") == plan_messages.__name__
    }
    assert {name for name in models if name[0].isupper()} - INTERFACES.keys() == {"TwoTexts"}
