"""What is wrong with a request is told in plain words: where, what was found, what is accepted."""

from collections.abc import Iterator
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Literal

import httpx
import pytest
from fastapi import FastAPI
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from server.desk.refusals import tell_faults
from server.timeline.patterns import IN_WORDS, SEEN_LINE
from server.timeline.wrong_values import A_DAY, A_TIME
from tests.wire import document


class Level(StrEnum):
    """Two words."""

    ACT = "act"
    WATCH = "watch"


class Asked(BaseModel):
    """A request with one key of each sort."""

    model_config = ConfigDict(extra="forbid", strict=False)

    houses: list[str] = []
    seconds: Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)] = 1.0
    count: Annotated[int, Field(ge=0, lt=9)] = 0
    demo: bool = False
    level: Level = Level.ACT
    order: Literal["house", "starts"] = "house"
    day: date | None = None
    at: AwareDatetime | None = None
    title: Annotated[str, Field(min_length=1, max_length=4)] = "a"
    pair: Annotated[list[str], Field(min_length=2, max_length=2)] = ["a", "b"]
    since: datetime | None = None
    feet: Annotated[float, Field(le=4_000_000, allow_inf_nan=False)] = 0.0
    share: Annotated[float, Field(ge=0.1)] = 1.0
    name: Annotated[str, Field(pattern=SEEN_LINE)] = "a"


async def answer_to(body: dict[str, Any]) -> str:
    api = FastAPI()

    @api.post("/asked")
    async def asked(body: Asked) -> None:
        """Take it."""

    asked.__annotations__["body"] = Asked
    tell_faults(api)
    async with httpx.AsyncClient(transport=httpx.ASGITransport(api), base_url="http://desk") as client:
        answer = await client.post("/asked", json=body)
    assert answer.status_code == 422, answer.text
    reason: str = answer.json()["reason"]
    return reason


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"houses": ["3", 4]}, "houses.1: found 4; accepted is a text"),
        ({"houses": "3"}, "houses: found '3'; accepted is a list"),
        ({"seconds": "soon"}, "seconds: found 'soon'; accepted is a number"),
        ({"seconds": 0}, "seconds: found 0; accepted is more than 0"),
        ({"seconds": 61}, "seconds: found 61; accepted is 60 or less"),
        ({"count": 1.5}, "count: found 1.5; accepted is a whole number"),
        ({"count": "many"}, "count: found 'many'; accepted is a whole number"),
        ({"count": -1}, "count: found -1; accepted is 0 or more"),
        ({"count": 9}, "count: found 9; accepted is less than 9"),
        ({"demo": "perhaps"}, "demo: found 'perhaps'; accepted is true or false"),
        ({"level": "loud"}, "level: found 'loud'; accepted is 'act' or 'watch'"),
        ({"order": "film"}, "order: found 'film'; accepted is 'house' or 'starts'"),
        ({"day": "14 March"}, f"day: found '14 March'; accepted is {A_DAY}"),
        ({"at": "8 pm"}, f"at: found '8 pm'; accepted is {A_TIME}"),
        ({"at": "2026-03-14T18:50:00"}, f"at: found '2026-03-14T18:50:00'; accepted is {A_TIME}"),
        ({"since": [1]}, f"since: found […]; accepted is {A_TIME}"),
        ({"title": ""}, "title: found ''; accepted is a text of at least 1 character"),
        ({"title": "abcde"}, "title: found 'abcde'; accepted is a text of at most 4 characters"),
        ({"pair": ["a"]}, "pair: found […]; accepted is a list of at least 2 values"),
        ({"feet": 4_000_001}, "feet: found 4000001; accepted is 4000000 or less"),
        ({"feet": "nan"}, "feet: found 'nan'; accepted is a finite number"),
        ({"share": 0}, "share: found 0; accepted is 0.1 or more"),
        (
            {"name": "a\nb"},
            f"name: found 'a\\nb'; accepted is {IN_WORDS[SEEN_LINE]}",
        ),
        ({"colour": "red"}, "colour: found an unknown key; accepted is a request without it"),
    ],
)
async def test_each_wrong_value_gets_one_plain_sentence(body: dict[str, Any], said: str) -> None:
    """Where it is, what was found and what is accepted, and no word of a library's."""
    assert await answer_to(body) == said


def test_every_pattern_of_a_request_has_its_words(tmp_path: Path) -> None:
    """A text of the wrong form is told what form is accepted."""
    assert set(_patterns(document(tmp_path))) - set(IN_WORDS) == set()


def _patterns(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (said for key, said in value.items() if key == "pattern" and isinstance(said, str))
        yield from value.get("patternProperties", ())
    if isinstance(value, (dict, list)):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _patterns(inner)
