"""The hub, with desks that keep what they are sent."""

from typing import Any

import orjson

from server.live import Hub, message_from_text
from server.live.hub import BEATS_BEHIND
from server.timeline.view import LinkView, RunView
from tests.live.fakes import ListDesk

LINK = LinkView("a>b", 0.0, 0.0, 0.0, (0.01, 0.0, 1e-8, 0.0), 2.0, (None, None, None))


def view(slack_s: float = 0.0, **parts: Any) -> RunView:
    return RunView(0.0, (), (LINK._replace(slack_s=slack_s),), (), (), {})._replace(**parts)


def opened(**options: int) -> Hub:
    hub = Hub(**options)
    hub.open({"run": "r1"}, view(), [], lambda: 1.23456)
    return hub


def desk_on(hub: Hub, seq: int | None = None, epoch: str | None = None) -> ListDesk:
    desk = ListDesk()
    hub.attach(desk, seq, epoch)
    return desk


def test_a_new_desk_begins_with_a_snapshot() -> None:
    """The first message is everything: what the run is, how it stands, its last events, and where the numbers are."""
    hub = opened()
    (snapshot,) = desk_on(hub).told()
    assert snapshot == {
        "type": "snapshot",
        "seq": 0,
        "now_s": 1.235,
        "epoch": hub.epoch,
        "info": {"run": "r1"},
        "view": {
            "t_s": 0.0,
            "stations": [],
            "links": [LINK._asdict() | {"gone_s": None, "slack_var": [0.01, 0.0, 1e-8, 0.0]}],
            "alarms": [],
            "prompts": [],
            "sources": {},
            "hold_s": 0.0,
            "restart": None,
            "reports": [],
        },
        "events": [],
        "fault": None,
        "warnings": [],
    }


def test_every_desk_gets_the_same_bytes() -> None:
    """A change is encoded once: what two desks are handed is one object."""
    hub = opened()
    one, other = desk_on(hub), desk_on(hub)
    hub.publish(view(0.5))
    assert one.messages[1] is other.messages[1]


def test_changes_are_numbered_without_gaps() -> None:
    """Each change has the next number, and what changes nothing has none."""
    hub = opened()
    desk = desk_on(hub)
    for slack_s in (0.5, 0.5, 0.7):
        hub.publish(view(slack_s))
    assert [(message["type"], message["seq"]) for message in desk.told()[1:]] == [("change", 1), ("change", 2)]


def test_an_event_that_changes_nothing_is_still_told() -> None:
    """A desk shows every event that was taken, also one that moves nothing."""
    hub = opened()
    desk = desk_on(hub)
    hub.publish(view(), [{"id": "e1"}])
    assert desk.told()[1] == {"type": "change", "seq": 1, "now_s": 1.235, "events": [{"id": "e1"}]}


def test_a_snapshot_has_the_last_200_events() -> None:
    """A new desk is told the last events, the oldest of them first."""
    hub = opened()
    for number in range(250):
        hub.publish(view(), [{"id": number}])
    assert [event["id"] for event in orjson.loads(hub.snapshot())["events"]] == list(range(50, 250))


def test_a_desk_that_returns_is_told_what_it_missed() -> None:
    """After `seq` come exactly the changes after it, then a beat with the time."""
    hub = opened()
    for slack_s in (1.0, 2.0, 3.0):
        hub.publish(view(slack_s))
    told = desk_on(hub, 1, hub.epoch).told()
    assert [(message["type"], message["seq"]) for message in told] == [("change", 2), ("change", 3), ("beat", 3)]


def test_a_desk_that_missed_nothing_is_told_the_time_only() -> None:
    """The last number is answered with a beat."""
    hub = opened()
    hub.publish(view(1.0))
    assert desk_on(hub, 1, hub.epoch).types() == ["beat"]


def test_a_desk_that_cannot_resume_gets_a_snapshot() -> None:
    """A number too old, of another life of the server, of none, or not given yet, is answered with everything."""
    hub = opened(ring=2)
    for slack_s in (1.0, 2.0, 3.0):
        hub.publish(view(slack_s))
    for seq, epoch in ((0, hub.epoch), (3, "another"), (3, None), (4, hub.epoch), (-1, hub.epoch), (None, hub.epoch)):
        assert desk_on(hub, seq, epoch).types() == ["snapshot"], (seq, epoch)
    assert desk_on(hub, 1, hub.epoch).types() == ["change", "change", "beat"]


def test_two_lives_of_a_server_have_two_names() -> None:
    """Numbers start again with every life, so its name must differ."""
    assert Hub().epoch != Hub().epoch


def test_idle_is_a_beat_and_nothing_else() -> None:
    """A beat is the number, in under 50 bytes a second with its frame: a desk that has heard the time keeps it."""
    hub = opened()
    desk = desk_on(hub)
    hub.beat()
    assert desk.told()[1:] == [{"type": "beat", "seq": 0}]
    assert len(desk.messages[1].frame) < 50


def test_a_change_is_a_sign_of_life() -> None:
    """After a change no beat follows until a whole beat's time has gone by without another."""
    hub = opened()
    desk = desk_on(hub)
    hub.publish(view(1.0))
    hub.beat()
    hub.beat()
    assert desk.types() == ["snapshot", "change", "beat"]


def test_a_slow_desk_misses_changes_and_is_brought_up_to_date() -> None:
    """While more waits for it than may, nothing is added; once it has read all, it gets one snapshot, then changes."""
    hub = opened(held_bytes=1000)
    slow, quick = desk_on(hub), desk_on(hub)
    slow.buffered_bytes = 1001
    hub.publish(view(1.0))
    hub.beat()
    slow.buffered_bytes = 1
    hub.publish(view(2.0))
    hub.beat()
    slow.buffered_bytes = 0
    hub.beat()
    hub.publish(view(3.0))
    assert slow.types() == ["snapshot", "snapshot", "beat", "change"]
    assert [message["seq"] for message in slow.told()] == [0, 2, 2, 3]
    assert quick.types() == ["snapshot", "change", "change", "beat", "change"]


def test_a_desk_that_does_not_read_is_dropped() -> None:
    """A desk that has not caught up in ten beats is closed and forgotten."""
    hub = opened(held_bytes=1000)
    desk = desk_on(hub)
    desk.buffered_bytes = 1001
    for _ in range(BEATS_BEHIND + 2):
        assert not desk.closed
        hub.beat()
    assert desk.closed
    desk.buffered_bytes = 0
    hub.beat()
    assert desk.types() == ["snapshot"]


def test_a_desk_that_left_is_told_nothing() -> None:
    """After `detach` nothing more is written, and a second one does no harm."""
    hub = opened()
    desk = desk_on(hub)
    hub.detach(desk)
    hub.detach(desk)
    hub.publish(view(1.0))
    assert desk.types() == ["snapshot"]


def test_a_fault_is_told_to_all_and_to_those_who_come() -> None:
    """Desks learn at once that a run no longer follows, and new ones from their snapshot."""
    hub = opened()
    desk = desk_on(hub)
    hub.publish_fault("broken")
    assert desk.told()[1] == {"type": "change", "seq": 1, "now_s": 1.235, "fault": "broken"}
    assert desk_on(hub).told()[0]["fault"] == "broken"


def test_a_frame_is_as_the_standard_says() -> None:
    """Final, text, unmasked, its length in 7, 16 or 64 bits (RFC 6455, 5.2 and the examples of 5.7)."""
    assert message_from_text(b"Hello").frame == bytes.fromhex("810548656c6c6f")
    assert message_from_text(b"x" * 125).frame[:2] == bytes.fromhex("817d")
    assert message_from_text(b"x" * 256).frame[:4] == bytes.fromhex("817e0100")
    assert message_from_text(b"x" * 65535).frame[:4] == bytes.fromhex("817effff")
    assert message_from_text(b"x" * 65536).frame[:10] == bytes.fromhex("817f0000000000010000")
