"""The types that the browser code is checked against, beside the server's models of the wire."""

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from server.desk import contacts, debrief_messages, messages
from server.desk.pairings import Me, PairingCode, PairingLine
from server.desk.schedules import ScheduledStation

TYPES = [Path(__file__).parents[2] / "web/js" / name for name in ("messages.d.ts", "debrief-messages.d.ts")]
INTERFACE = re.compile(r"^export interface (\w+) \{$(.*?)^\}$", re.MULTILINE | re.DOTALL)
KEY = re.compile(r"^  (\w+)\??:", re.MULTILINE)
MODELS: dict[str, type[BaseModel]] = {
    "StationSchedule": ScheduledStation,
    "Me": Me,
    "PairingCode": PairingCode,
    "PairingLine": PairingLine,
    "ContactPort": contacts.ContactPort,
    "ContactInput": contacts.ContactInput,
    "ContactState": contacts.ContactState,
}


def interfaces() -> dict[str, set[str]]:
    text = "".join(path.read_text(encoding="utf-8") for path in TYPES)
    return {name: set(KEY.findall(body)) for name, body in INTERFACE.findall(text) if name != "Schedule"}


def model_named(name: str) -> type[BaseModel]:
    model = MODELS.get(name) or getattr(messages, name, None) or getattr(debrief_messages, name)
    assert issubclass(model, BaseModel)
    return model


@pytest.mark.parametrize("name", sorted(interfaces()))
def test_a_type_has_the_keys_of_its_model(name: str) -> None:
    """What the browser code reads of a message is what the server sends in it."""
    assert interfaces()[name] == set(model_named(name).model_fields)


def test_every_message_of_the_server_has_its_type() -> None:
    """No message is left that the browser code is not checked against."""
    wanted = {
        "Snapshot",
        "Change",
        "Beat",
        "Taken",
        "Refused",
        "TimeAnswer",
        "Station",
        "Link",
        "Alarm",
        "Prompt",
        "RunInfo",
    }
    assert wanted <= interfaces().keys()
