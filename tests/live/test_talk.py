"""What a desk says and what it is answered."""

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import orjson
import pytest

from server.live import converse
from tests.live.fakes import ListDesk, Stage, tap


async def said(*texts: str) -> AsyncIterator[str]:
    for text in texts:
        yield text


def text_of(**message: Any) -> str:
    return orjson.dumps(message).decode()


async def answers(stage: Stage, *texts: str) -> list[Any]:
    """What one desk is sent after its snapshot, but for the changes."""
    desk = ListDesk()
    await converse(stage.run, desk, said(*texts))
    return [message for message in desk.told()[1:] if message["type"] != "change"]


async def test_a_tap_is_answered() -> None:
    """A tap without a time happened now, and is answered with its number and that time."""
    with (stage := Stage(at_s=10.0)).live():
        event = {"id": "e1", "kind": "motor_start", "station": "a", "source": "tap"}
        assert await answers(stage, text_of(type="event", event=event)) == [
            {"type": "taken", "id": "e1", "seq": 1, "t": "2026-03-14T23:50:10Z"}
        ]


async def test_a_tap_sent_again_has_the_time_it_was_given_first() -> None:
    """A desk that never saw the answer sends the same again, later: it is the same tap."""
    with (stage := Stage(at_s=10.0)).live():
        text = text_of(type="event", event={"id": "e1", "kind": "motor_start", "station": "a", "source": "tap"})
        first = await answers(stage, text)
        stage.clock.pass_s(5.0)
        assert await answers(stage, text) == first
        assert len(stage.log.stored) == 1


async def test_a_tap_sent_again_while_the_disk_is_slow_is_the_same_tap() -> None:
    """The time it was given stands from the first moment, not only once it is on disk."""
    with (stage := Stage(at_once=False)).live():
        text = text_of(type="event", event={"id": "e1", "kind": "motor_start", "station": "a", "source": "tap"})
        first = asyncio.ensure_future(answers(stage, text))
        await asyncio.sleep(0)
        stage.clock.pass_s(5.0)
        second = asyncio.ensure_future(answers(stage, text))
        await asyncio.sleep(0)
        stage.log.commit()
        assert await first == await second
        assert len(stage.log.stored) == 1


async def test_a_refusal_has_the_id_and_the_reason() -> None:
    """What is no event, and what this run refuses, comes back under its id, not to be sent again."""
    with (stage := Stage()).live():
        unknown = {"id": "e1", "kind": "motor_start", "station": "z", "source": "tap"}
        none = {"id": "e2", "kind": "wave", "source": "tap"}
        told = await answers(stage, text_of(type="event", event=unknown), text_of(type="event", event=none))
        assert [(answer["type"], answer["id"], answer["again"]) for answer in told] == [
            ("refused", "e1", False),
            ("refused", "e2", False),
        ]
        assert "station" in told[0]["reason"]
        assert "kind" in told[1]["reason"]


@pytest.mark.parametrize("mark", [7, 1.5, "x"])
async def test_the_time_is_told_with_the_mark_of_the_question(mark: object) -> None:
    """A desk measures how far its clock is off (RFC 5905, 8) by questions that it tells apart."""
    with (stage := Stage(at_s=2.5)).live():
        assert await answers(stage, text_of(type="time", c=mark)) == [{"type": "time", "c": mark, "now_s": 2.5}]


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "7", "{}", '{"type":"time"}', '{"type":"event","event":[1]}', "[" * 2000]
)
async def test_nonsense_is_refused_and_the_talk_goes_on(text: str) -> None:
    """Whatever comes is answered in words, and what comes after it is heard."""
    with (stage := Stage()).live():
        refused, time = await answers(stage, text, text_of(type="time", c=1))
        assert (refused["type"], refused["id"]) == ("refused", None)
        assert "accepted" in refused["reason"]
        assert time["type"] == "time"


async def test_a_desk_is_told_changes_only_while_it_talks() -> None:
    """A desk is attached for as long as its texts come, and is forgotten after."""
    with Stage().live() as run:
        desk = ListDesk()
        await converse(run, desk, said(text_of(type="time", c=1)))
        await run.take(tap("e1", 0.0))
        assert desk.types() == ["snapshot", "time"]


async def test_a_desk_that_asks_and_does_not_read_is_dropped() -> None:
    """Answers that nobody reads do not pile up."""
    with Stage(held_bytes=1000).live() as run:
        desk = ListDesk()
        desk.buffered_bytes = 1000 + (1 << 16) + 1
        await converse(run, desk, said(text_of(type="time", c=1)))
        assert desk.closed
