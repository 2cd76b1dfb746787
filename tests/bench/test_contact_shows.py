"""The measurement of whole shows by contacts: what it counts, and one show through the real parts."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from adapters.contacts.kinds import Input
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event
from tests.bench.contact_shows.blind import truths_of, without
from tests.bench.contact_shows.faults import KINDS, Fault
from tests.bench.contact_shows.judging import Judged, judge, judged, kind_of
from tests.bench.contact_shows.script import WIRES, Edge, Script, script_of
from tests.bench.contact_shows.summary import LEAST_WITHIN, Line, misses, summary
from tests.bench.contact_shows.watching import Act, Seen, Watched

STARTS = datetime(2026, 3, 14, 23, 50, tzinfo=UTC)
SEED = 4
QUIET = script_of(1)._replace(faults=())


def as_scripted(script: Script) -> dict[str, Any]:
    """The record of a stage that did everything at its time, with every line of text sound."""
    lines: list[dict[str, Any]] = []
    for edge in script.edges:
        if edge.wired.feed == "text":
            lines += [
                {"at": edge.at_s + touch_s, "sound": True, "kind": "C", "says": [edge.wired.place, str(int(on))]}
                for touch_s, on in zip(edge.touches_s, [edge.on, not edge.on] * 4, strict=False)
            ]
    edges = {str(n): (each.at_s, each.at_s + each.touches_s[-1]) for n, each in enumerate(script.edges)}
    return {"edges": edges, "away": [], "late": [], "line_late": [], "lines": lines}


@dataclass
class Heard:
    """A show of which everything was heard in the instant it happened, until a test has it otherwise."""

    script: Script = QUIET
    acts: tuple[Act, ...] = ()

    def __post_init__(self) -> None:
        self.record = as_scripted(self.script)
        edges = [edge for edge in self.script.edges if kind_of_edge(edge) is not None]
        self.seen = [seen(n, edge.at_s, edge) for n, edge in enumerate(edges)]

    def judged(self) -> Judged:
        watched = Watched(self.script, tuple(self.seen), self.acts, self.record, 0.0, (), (), 1.0, 1.0, None)
        return judge(watched, 60.0)

    def of(self, wired: Input) -> list[int]:
        """Where the events of a wire are among all."""
        return [n for n, each in enumerate(self.seen) if each.event.source == wired.source]


def kind_of_edge(edge: Edge) -> EventKind | None:
    kinds: dict[str, tuple[EventKind, EventKind | None]] = {
        "motor": ("motor_start", "motor_stop"),
        "lamp": ("lamp_lit", "lamp_out"),
        "douser": ("douser_open", "douser_shut"),
        "cue": ("mark_pass", None),
        "failsafe": ("film_trip", None),
    }
    return kinds[edge.wired.what][0 if edge.on else 1]


def seen(n: int, at_s: float, edge: Edge, sigma_s: float = 0.02) -> Seen:
    kind = kind_of_edge(edge)
    assert kind is not None
    t = STARTS + timedelta(seconds=at_s)
    event = Event(id=str(n), t=t, kind=kind, station=edge.wired.station, source=edge.wired.source, mark=edge.mark)
    return Seen(at_s, sigma_s, at_s, event)


def wire(feed: str, what: str) -> Input:
    return next(each for each in WIRES if (each.feed, each.what) == (feed, what))


def rows(show: Judged) -> dict[str, Line]:
    return {line.what: line for line in summary([show])}


def test_a_show_of_which_everything_was_heard_meets_every_target() -> None:
    """No miss is found where there is none."""
    show = Heard().judged()
    assert list(misses([show])) == []
    assert {line.met for line in summary([show]) if line.target} == {True}
    assert show.whole + show.not_whole == len(Heard().seen)


@pytest.mark.parametrize("feed", ["tcp", "rtu", "lines", "text"])
def test_an_edge_without_its_event_is_lost(feed: str) -> None:
    """And only it."""
    heard = Heard()
    del heard.seen[heard.of(wire(feed, "motor"))[0]]
    show = heard.judged()
    assert [words.partition(" at ")[0] for _, words in show.lost] == [f"motor_start of {wire(feed, 'motor').words}"]
    assert not rows(show)["edges that came whole and made no event"].met


def test_a_foil_of_another_mark_is_lost_and_not_explained() -> None:
    """A pass that was taken for the wrong mark is no pass of the right one."""
    heard = Heard()
    first, second = (heard.seen[n] for n in heard.of(wire("text", "cue"))[:2])
    wrong = first.event.model_copy(update={"mark": second.event.mark})
    heard.seen[heard.seen.index(first)] = first._replace(event=wrong)
    show = heard.judged()
    assert (len(show.lost), len(show.unexplained)) == (1, 1)


def test_an_event_of_no_edge_is_not_explained() -> None:
    """But for a douser that is told to be shut before it ever opened."""
    heard = Heard()
    lamp, douser = (
        next(each for each in heard.script.edges if each.wired == wire("rtu", what) and not each.on)
        for what in ("lamp", "douser")
    )
    heard.seen = [seen(900, -8.0, douser), *heard.seen, seen(901, 20.0, lamp)]
    assert heard.judged().unexplained == ((20.0, f"lamp_out of {wire('rtu', 'lamp').words} at 20.000 s"),)


def test_events_that_changed_places_are_out_of_order() -> None:
    """Each pass has its own time, and the log has the later one first."""
    heard = Heard()
    early, late = heard.of(wire("tcp", "cue"))[:2]
    heard.seen[early], heard.seen[late] = heard.seen[late], heard.seen[early]
    show = heard.judged()
    assert (len(show.disordered), show.lost) == (1, ())


def test_an_event_is_off_by_its_own_sigma() -> None:
    """A tenth of a second is too much for 20 ms, and nothing for 300."""
    for sigma_s, within in ((0.02, False), (0.3, True)):
        heard = Heard()
        for n in heard.of(wire("lines", "lamp")):
            heard.seen[n] = heard.seen[n]._replace(at_s=heard.seen[n].at_s + 0.1, sigma_s=sigma_s)
        row = rows(heard.judged())["events within 3 sigma of the truth"]
        assert row.met is within, row
        assert (float(row.told) >= LEAST_WITHIN) is within


def test_every_act_is_false() -> None:
    """Nothing is wrong with the film."""
    heard = Heard(acts=(Act(1.0, "start_missing:h2", "House 2: the motor has not started"),))
    assert rows(heard.judged())["acts told, all false"].met is False


def test_a_level_that_lasts_until_its_feed_is_back_came_whole() -> None:
    """A motor's start while the server was away has to be heard afterwards, a foil not."""
    fault = Fault("modbus_killed", 1, -2.0, 10.0)
    heard = Heard(QUIET._replace(faults=(fault,)))
    heard.record["away"] = [{"fault": 0, "back": 8.0}]
    watched = Watched(heard.script, (), (), heard.record, 0.0, (), (), 1.0, 1.0, None)
    truths = truths_of(watched)
    assert next((each.told, each.whole) for each in truths[wire("tcp", "motor")]) == (False, True)
    foils = [each for each in truths[wire("tcp", "cue")] if kind_of(each) is not None]
    assert (foils[0].told, foils[0].whole) == (False, False)
    assert foils[-1].told


def test_a_foil_comes_whole_where_its_level_lasts_for_a_poll_and_its_debounce() -> None:
    """10 ms of debounce, 20 of the poll and 10 for the answers."""
    heard = Heard()
    watched = Watched(heard.script, (), (), heard.record, 0.0, (), (), 1.0, 1.0, None)
    foils = [each for each in truths_of(watched)[wire("rtu", "cue")] if kind_of(each) is not None]
    assert [each.whole for each in foils] == [each.until_s - each.settled_s >= 0.04 for each in foils]


def test_a_line_of_text_that_was_damaged_does_not_tell() -> None:
    """A foil whose closing never came is no edge that came whole; a level that the next line tells is."""
    heard = Heard()
    for line in heard.record["lines"]:
        line["sound"] = line["says"][1] == "0"
    end_s = heard.script.edges[-1].at_s
    heard.record["lines"].append({"at": 6.0, "sound": True, "kind": "L", "says": ["11000"]})
    heard.record["lines"].sort(key=lambda line: line["at"])
    watched = Watched(heard.script._replace(ends_s=end_s), (), (), heard.record, 0.0, (), (), 1.0, 1.0, None)
    truths = truths_of(watched)
    assert not any(each.whole for each in truths[wire("text", "cue")] if kind_of(each) is not None)
    assert [each.whole for each in truths[wire("text", "motor")]] == [True, True]


def test_what_is_left_of_a_span_is_outside_of_all_gaps() -> None:
    """Gaps may overlap, and cover it all."""
    assert without((0.0, 10.0), [(-5.0, 1.0), (4.0, 6.0), (5.0, 7.0)]) == [(1.0, 4.0), (7.0, 10.0)]
    assert without((0.0, 10.0), [(-1.0, 11.0)]) == []


def test_every_fault_has_its_turn_and_every_edge_bounces() -> None:
    """A few seeds have each of them, bounces are of 5 to 30 ms, and a wire's edges do not overlap."""
    scripts = [script_of(seed) for seed in range(len(KINDS))]
    assert {fault.kind for script in scripts for fault in script.faults} == set(KINDS)
    for script in scripts:
        assert all(0.005 <= edge.touches_s[-1] <= 0.03 and len(edge.touches_s) % 2 == 1 for edge in script.edges)
        for wired in WIRES:
            edges = [edge for edge in script.edges if edge.wired == wired]
            assert all(a.at_s + a.touches_s[-1] < b.at_s and a.on is not b.on for a, b in pairwise(edges))


@pytest.mark.slow
@pytest.mark.long
def test_a_show_through_the_real_parts_is_heard() -> None:
    """A serial server stalls, the server is restarted: nothing that moved is lost, and no false act is told.

    But for foils, and times, which are for a machine at rest.
    """
    show = judged(SEED, first=False)
    assert show.fault is None
    assert show.whole > 30
    assert [one.words for one in show.lost if "mark_pass" not in one.words] == []
    assert (show.disordered, show.acts) == ((), ())
