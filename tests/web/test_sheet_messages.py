"""The types that the sheets and the threading list are checked against, beside the server's models."""

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from server.desk import sheet_messages

TEXT = (Path(__file__).parents[2] / "web/js/sheet-messages.d.ts").read_text(encoding="utf-8")
INTERFACE = re.compile(r"^export interface (\w+) \{$(.*?)^\}$", re.MULTILINE | re.DOTALL)
KEY = re.compile(r"^  (\w+)\??:", re.MULTILINE)
INTERFACES = {name: set(KEY.findall(body)) for name, body in INTERFACE.findall(TEXT)}
MODELS: dict[str, type[BaseModel]] = {
    name: model
    for name, model in vars(sheet_messages).items()
    if getattr(model, "__module__", "") == sheet_messages.__name__
}


def test_every_model_has_its_type_and_every_type_its_model() -> None:
    """No message is left that the browser code is not checked against."""
    assert INTERFACES.keys() == MODELS.keys()


@pytest.mark.parametrize("name", sorted(MODELS))
def test_a_type_has_the_keys_of_its_model(name: str) -> None:
    """What the browser code reads is what the server sends."""
    assert INTERFACES[name] == set(MODELS[name].model_fields)
