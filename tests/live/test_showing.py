"""What a desk puts together from a snapshot and the changes after it, beside the run itself."""

import math
from collections.abc import Iterator
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from server.live.picture import Picture
from server.timeline.engine import Engine
from server.timeline.events import Event
from server.timeline.view import LinkView, RunView, StationView
from server.timeline.viewing import view_of
from tests.live.fakes import PLAN, tap

MARKS = [mark.id for mark in PLAN.marks]
KINDS = st.sampled_from(
    [
        *["slack_read"] * 4,
        *["mark_pass"] * 4,
        *["motor_start", "motor_stop", "lamp_lit", "lamp_out", "douser_open", "douser_shut", "ready", "relaced"],
        *["note", "ack", "shelve", "retract", "feed_down", "feed_up", "hold", "chain_stop", "report", "film_trip"],
    ]
)


SLACK_S = st.floats(-1.5, 1.5)
ALARMS = st.sampled_from(["slack_loose:a>b", "motor_lost:b", "strike_missed:a"])
OF_A_KIND: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "slack_read": {"station": st.just("b"), "seconds": SLACK_S},
    "relaced": {"station": st.just("b"), "seconds": SLACK_S},
    "mark_pass": {"mark": st.sampled_from(MARKS)},
    "ack": {"alarm": ALARMS},
    "shelve": {"alarm": ALARMS, "seconds": st.just(20.0)},
    "note": {"text": st.just("Looked at the rollers.")},
    "hold": {"station": st.none(), "seconds": st.floats(0.0, 600.0)},
    "report": {"what": st.just("no_sound")},
    "chain_stop": {"station": st.none()},
    "feed_down": {"station": st.none()},
    "feed_up": {"station": st.none()},
}
"""What an event of a kind says beside its station, which is either of the two where nothing is said here."""


@st.composite
def shows(draw: st.DrawFn) -> list[tuple[float, Event]]:
    """Both motors start, and then anything: (when it came, event), as the events come."""
    show = [(0.0, tap("a", 0.0)), (0.5, tap("b", 0.2, station="b"))]
    for number in range(draw(st.integers(1, 12))):
        came_s = show[-1][0] + draw(st.floats(0.1, 40.0))
        at_s = round(came_s - draw(st.sampled_from([0.0, 0.0, 0.3, 20.0])), 3)
        kind = draw(KINDS)
        keys = {key: draw(value) for key, value in OF_A_KIND.get(kind, {}).items()}
        if kind == "retract":
            keys["retracts"] = draw(st.sampled_from([event.id for _, event in show]))
        elif kind not in {"ack", "shelve", "note"}:
            keys.setdefault("station", draw(st.sampled_from(["a", "b"])))
        show.append((came_s, tap(f"e{number}", at_s, kind, **keys)))
    return show


class Shown:
    """A desk, as web/js/live/store.js puts a run together: a snapshot's view, and what is new of it."""

    def __init__(self, view: dict[str, Any]) -> None:
        self.view = dict(view)

    def hear(self, change: dict[str, Any]) -> None:
        for part in ("stations", "links"):
            news = {one["id"]: one for one in change.get(part, [])}
            self.view[part] = [one | news.get(one["id"], {}) for one in self.view[part]]
        self.view["alarms"] = self._by_key("alarms", change, "gone")
        place = {station["id"]: place for place, station in enumerate(self.view["stations"])}
        prompts = self._by_key("prompts", change, "prompts_gone")
        self.view["prompts"] = sorted(prompts, key=lambda one: (one["due_s"], place[one["station"]], one["key"]))
        self.view |= {key: change[key] for key in ("sources", "hold_s", "restart", "reports") if key in change}

    def _by_key(self, part: str, change: dict[str, Any], gone: str) -> list[dict[str, Any]]:
        items = {one["key"]: one for one in self.view[part]}
        for new in change.get(part, []):
            items[new["key"]] = items.get(new["key"], {}) | new
        return [one for key, one in items.items() if key not in change.get(gone, [])]


def without_order(view: dict[str, Any]) -> dict[str, Any]:
    """A view's alarms are sorted by the desk itself, and its time is told by the message."""
    return view | {"t_s": 0.0, "alarms": sorted(view["alarms"], key=lambda alarm: str(alarm["key"]))}


def views_of(show: list[tuple[float, Event]]) -> list[RunView]:
    """The run's view before its first event, before each and after it: made as a live run does, as time goes by."""
    engine = Engine(PLAN)
    engine.advance(-1_000_000)
    views = [engine.view()]
    for came_s, event in show:
        engine.advance(round(came_s * 1e6) - 1)
        views.append(engine.view())
        if engine.refusal(event) is None:
            engine.take(event, round(came_s * 1e6))
            views.append(engine.view())
    return views


def followed(show: list[tuple[float, Event]]) -> Iterator[tuple["Shown", Picture, RunView]]:
    """A desk that hears every change, what the server keeps of it, and what the engine says, after each change."""
    first, *views = views_of(show)
    picture = Picture(first)
    desk = Shown(picture.as_json())
    for view in views:
        desk.hear(picture.change(view))
        yield desk, picture, view


@given(shows())
@settings(max_examples=60, deadline=None)
def test_a_snapshot_and_its_changes_are_the_snapshot_of_now(show: list[tuple[float, Event]]) -> None:
    """A desk that followed every change shows, figure for figure, what one is sent that comes now."""
    for desk, picture, _ in followed(show):
        assert without_order(desk.view) == without_order(picture.as_json())


@given(shows())
@settings(max_examples=60, deadline=None)
def test_a_desk_is_never_a_step_off(show: list[tuple[float, Event]]) -> None:
    """What a desk shows is less than a step of its screen from what the engine says, whatever was left untold."""
    for desk, _, view in followed(show):
        for told, station in zip(desk.view["stations"], view.stations, strict=True):
            assert_station(told, station, view.t_s)
        for told, link in zip(desk.view["links"], view.links, strict=True):
            assert_link(told, link, view.t_s)
        assert_others(desk.view, view)


def assert_station(told: dict[str, Any], station: StationView, t_s: float) -> None:
    """What was seen is as it was seen; what is expected, and where the film is, within a tenth of a second."""
    seen = ("phase", "running", "lamp", "douser")
    assert [told[key] for key in seen] == [getattr(station, key) for key in seen]
    assert told["passes"] == {mark: round(at_s, 3) for mark, at_s in station.passes.items()}
    for key in ("started_s", "stopped_s", "lamp_s", "head_s", "credits_s", "end_s", "clear_s"):
        assert is_near(told[key], getattr(station, key), 0.1), key
    assert abs(print_at(told, t_s) - print_at(station._asdict(), t_s)) < 0.1
    for mark in PLAN.marks:
        told_s, pass_s = pass_of(told, mark.x_s), pass_of(station._asdict(), mark.x_s)
        if pass_s is not None and station.clear_s is not None and t_s <= pass_s <= station.clear_s:
            assert is_near(told_s, pass_s, 0.101)


def assert_link(told: dict[str, Any], link: LinkView, t_s: float) -> None:
    """Slack within a hundredth of a second, now and while nobody looks again."""
    assert (told["slack_s"] is None) == (link.slack_s is None)
    for after_s in (0.0, 300.0, 600.0):
        if link.slack_s is not None and link.drift is not None:
            slack_s = link.slack_s + (t_s + after_s - link.at_s) * link.drift
            assert abs(told["slack_s"] + (t_s + after_s - told["at_s"]) * told["drift"] - slack_s) < 0.01


def assert_others(told: dict[str, Any], view: RunView) -> None:
    """Every alarm as it is, every prompt with its words, its times within a tenth of a second."""
    assert {one["key"]: (one["state"], one["text"]) for one in told["alarms"]} == {
        alarm.key: (alarm.state, alarm.text) for alarm in view.alarms
    }
    asked = sorted((prompt.kind, prompt.station, prompt.text, prompt.due_s) for prompt in view.prompts)
    shown = sorted((one["kind"], one["station"], one["text"], one["due_s"]) for one in told["prompts"])
    assert [one[:3] for one in shown] == [one[:3] for one in asked]
    assert all(is_near(one[3], other[3], 0.1) for one, other in zip(shown, asked, strict=True))


def is_near(told: float | None, true: float | None, step_s: float) -> bool:
    if told is None or true is None:
        return told is true
    return abs(told - true) < step_s


def print_at(station: dict[str, Any], t_s: float) -> float:
    """`printAt` of web/js/picture/estimate.js."""
    return float(station["count_s"] + (t_s - station["at_s"]) * station["rate"] - station["ahead_s"])


def pass_of(station: dict[str, Any], x_s: float) -> float | None:
    """When `passOf` of web/js/picture/estimate.js expects what lies `x_s` behind the first gate."""
    if station["rate"] <= 0:
        return None
    return float(station["at_s"] + (x_s + station["ahead_s"] - station["count_s"]) / station["rate"])


@given(shows())
@settings(max_examples=60, deadline=None)
def test_a_view_made_of_what_changed_is_the_whole_view(show: list[tuple[float, Event]]) -> None:
    """A view that keeps what did not change is equal to one made from nothing, also after late and retracted events."""
    engine = Engine(PLAN)
    for came_s, event in show:
        for part in (0.3, 0.6, 1.0):
            engine.advance(round((came_s - 40.0 * (1.0 - part)) * 1e6))
            assert engine.view() == view_of(engine._fold)
        if engine.refusal(event) is None:
            engine.take(event, round(came_s * 1e6))
            assert engine.view() == view_of(engine._fold)


def test_a_note_makes_nothing_anew() -> None:
    """After a note every part of the view is the object that it was, and the desks are told nothing but the note."""
    engine = Engine(PLAN)
    for event in (tap("a", 0.0), tap("b", 0.2, station="b")):
        engine.take(event, 300_000)
    before = engine.view()
    engine.take(tap("n", 1.0, "note", text="Looked."), 1_000_000)
    after = engine.view()
    parts = ("stations", "links", "alarms", "prompts", "sources", "restart", "reports")
    assert all(getattr(after, part) is getattr(before, part) for part in parts)
    assert Picture(before).change(after) == {}


def test_a_lamp_makes_one_station_anew() -> None:
    """After a lamp the other stations and every link are the objects that they were."""
    engine = Engine(PLAN)
    for event in (tap("a", 0.0), tap("b", 0.2, station="b")):
        engine.take(event, 300_000)
    before = engine.view()
    engine.take(tap("l", 1.0, "lamp_lit"), 1_000_000)
    after = engine.view()
    assert [one is other for one, other in zip(before.stations, after.stations, strict=True)] == [False, True]
    assert after.links is before.links
    assert math.isclose(after.stations[0].lamp_s or 0.0, 1.0)
