"""What a show's events are worth, held against what truly happened."""

import time
from collections.abc import Sequence
from functools import cache
from math import inf
from typing import Final, NamedTuple

from adapters.contacts.kinds import Input
from server.timeline.events import Event
from tests.bench.contact_shows.blind import Truth, truths_of
from tests.bench.contact_shows.faults import FaultKind
from tests.bench.contact_shows.script import WIRES
from tests.bench.contact_shows.watching import Act, Seen, Watched, watch

SIGMAS: Final = 3.0

FAR_S: Final = 5.0
FAR_SIGMAS: Final = 6.0
"""An event that is further from an edge than both of these is not of that edge. Chosen."""

FLICKER_S: Final = 1.5
"""An event of a flickering contact is told no later than this after it. Chosen: ser2net looks once a second."""

ABOUT_S: Final = 0.1

_ON_OFF: Final = {
    "motor": ("motor_start", "motor_stop"),
    "lamp": ("lamp_lit", "lamp_out"),
    "douser": ("douser_open", "douser_shut"),
    "cue": ("mark_pass", None),
    "failsafe": ("film_trip", None),
}


class Heard(NamedTuple):
    """An event that tells of an edge: how far it is off, and whether nothing was wrong with its feed just then."""

    feed: str
    at_s: float
    error_s: float
    sigma_s: float
    told: bool
    words: str

    @property
    def sigmas(self) -> float:
        return abs(self.error_s) / self.sigma_s


class At(NamedTuple):
    """An edge or an event in words, and when it was."""

    at_s: float
    words: str


class Judged(NamedTuple):
    """One show. `whole` is how many edges came whole, `lost` those of them without an event, `not_whole` and
    `not_whole_heard` the others; `short` and `short_heard` are those of them that were foils too short to be sure of.
    `unexplained` are events of no edge, `flickered` those that only a contact's flickering explains.
    """

    seed: int
    faults: tuple[str, ...]
    kinds: tuple[FaultKind, ...]
    whole: int
    lost: tuple[At, ...]
    not_whole: int
    not_whole_heard: int
    short: int
    short_heard: int
    disordered: tuple[At, ...]
    unexplained: tuple[At, ...]
    flickered: tuple[At, ...]
    heard: tuple[Heard, ...]
    acts: tuple[Act, ...]
    late: tuple[tuple[float, float], ...]
    stage_late: tuple[tuple[float, float], ...]
    line_late: tuple[tuple[float, float], ...]
    cpu_s: float
    load: float
    took_s: float
    fault: str | None


def latest_s(late: Sequence[tuple[float, float]], about_s: float | None = None) -> float:
    """How late something was at the worst, or at the worst just then."""
    return max((by_s for at_s, by_s in late if about_s is None or abs(at_s - about_s) < ABOUT_S), default=0.0)


def judged(seed: int, *, first: bool) -> Judged:
    """Play the show of a seed, and judge it."""
    began = time.monotonic()
    watched = watch(seed, first=first)
    return judge(watched, time.monotonic() - began)


def judge(watched: Watched, took_s: float) -> Judged:
    """Match the events of every wire with its edges, and count."""
    counts = _Counts(watched)
    for wired, truths in truths_of(watched).items():
        counts.take(wired, truths)
    return Judged(
        watched.script.seed,
        tuple(map(str, watched.script.faults)),
        tuple(fault.kind for fault in watched.script.faults),
        counts.whole,
        tuple(counts.lost),
        counts.not_whole,
        counts.not_whole_heard,
        counts.short,
        counts.short_heard,
        tuple(counts.disordered),
        tuple(counts.unexplained),
        tuple(counts.flickered),
        tuple(counts.heard),
        watched.acts,
        watched.late,
        tuple((at_s, late_s) for at_s, late_s in watched.truth["late"]),
        tuple((at - watched.started_at, late_s) for at, late_s in watched.truth["line_late"]),
        watched.cpu_s,
        watched.load,
        took_s,
        watched.fault,
    )


class _Counts:
    """What has been counted of a show so far."""

    def __init__(self, watched: Watched) -> None:
        self.whole = self.not_whole = self.not_whole_heard = self.short = self.short_heard = 0
        self.lost: list[At] = []
        self.disordered: list[At] = []
        self.unexplained: list[At] = []
        self.flickered: list[At] = []
        self.heard: list[Heard] = []
        self._watched = watched

    def take(self, wired: Input, truths: Sequence[Truth]) -> None:
        """Count one wire."""
        seen = [each for each in self._watched.seen if each.event.source == wired.source and _tells(wired, each.event)]
        edges = [truth for truth in truths if kind_of(truth) is not None]
        pairs = paired(edges, seen)
        self._count_edges(truths, {edges[n].at_s for n in pairs})
        self._count_events(wired, edges, seen, {event: edge for edge, event in pairs.items()})

    def _count_edges(self, truths: Sequence[Truth], heard_s: set[float]) -> None:
        """An edge back to the level that was told last has nothing to tell."""
        level = False
        for truth in truths:
            if kind_of(truth) is None:
                level = False
                continue
            heard = truth.at_s in heard_s
            if truth.whole and (heard or level is not truth.edge.on):
                self.whole += 1
                if not heard:
                    self.lost.append(At(truth.at_s, words_of(truth)))
            elif not truth.whole:
                self.not_whole += 1
                self.not_whole_heard += heard
                if truth.told and truth.edge.mark is not None and truth.edge.wired.feed != "text":
                    self.short += 1
                    self.short_heard += heard
            level = truth.edge.on if heard else level

    def _count_events(
        self, wired: Input, edges: Sequence[Truth], seen: Sequence[Seen], edge_of: dict[int, int]
    ) -> None:
        last = -1
        at_s = -inf
        for n, each in enumerate(seen):
            words = f"{each.event.kind} of {wired.words} at {each.at_s:.3f} s"
            if n not in edge_of:
                if not (n == 0 and _is_at_rest(wired, each, edges)):
                    found = self.flickered if self._flickers(wired, each) else self.unexplained
                    found.append(At(each.at_s, words))
            else:
                truth = edges[edge_of[n]]
                error_s = each.at_s - truth.at_s
                words = f"{words}, {error_s:+.3f} s"
                self.heard.append(Heard(wired.feed, truth.at_s, error_s, each.sigma_s, truth.told, words))
                if edge_of[n] < last or each.at_s < at_s:
                    self.disordered.append(At(each.at_s, words))
                last = max(last, edge_of[n])
            at_s = max(at_s, each.at_s)

    def _flickers(self, wired: Input, each: Seen) -> bool:
        return wired.what == "lamp" and any(
            fault.kind == "lamp_flickers"
            and str(fault.house) == wired.house
            and fault.at_s - FLICKER_S <= each.at_s <= fault.until_s + FLICKER_S
            for fault in self._watched.script.faults
        )


def kind_of(truth: Truth) -> str | None:
    """The kind of event that an edge makes; None where it makes none."""
    return _ON_OFF[truth.edge.wired.what][0 if truth.edge.on else 1]


def words_of(truth: Truth) -> str:
    """An edge, for whoever looks for it."""
    mark = f" {truth.edge.mark}" if truth.edge.mark else ""
    lasted = f", which lasted {truth.until_s - truth.settled_s:.3f} s" if truth.until_s - truth.at_s < 2.0 else ""
    return f"{kind_of(truth)}{mark} of {truth.edge.wired.words} at {truth.at_s:.3f} s{lasted}"


def paired(edges: Sequence[Truth], seen: Sequence[Seen]) -> dict[int, int]:
    """Which event tells of which edge: in order of time, as many as can be, and of those the nearest in all."""
    order = sorted(range(len(seen)), key=lambda n: seen[n].at_s)

    @cache
    def best(edge: int, event: int) -> tuple[int, float, tuple[tuple[int, int], ...]]:
        """How many are left alone and how far the pairs are apart, from these on; and the pairs."""
        if edge == len(edges) or event == len(order):
            return len(edges) - edge + len(order) - event, 0.0, ()
        alone, far, pairs = best(edge + 1, event)
        found = [(alone + 1, far, pairs)]
        alone, far, pairs = best(edge, event + 1)
        found.append((alone + 1, far, pairs))
        apart = _apart(edges[edge], seen[order[event]])
        if apart is not None:
            alone, far, pairs = best(edge + 1, event + 1)
            found.append((alone, far + apart, ((edge, order[event]), *pairs)))
        return min(found, key=lambda one: one[:2])

    return dict(best(0, 0)[2])


def _apart(truth: Truth, each: Seen) -> float | None:
    """How many of its own deviations an event is from an edge; None where it cannot be of that one."""
    off_s = abs(each.at_s - truth.at_s)
    fits = each.event.kind == kind_of(truth) and each.event.mark == truth.edge.mark
    return off_s / each.sigma_s if fits and off_s <= max(FAR_S, FAR_SIGMAS * each.sigma_s) else None


def _is_at_rest(wired: Input, each: Seen, edges: Sequence[Truth]) -> bool:
    """Whether an event says how a douser was before it first moved, which nothing had told."""
    first_s = edges[0].at_s if edges else inf
    return wired.what == "douser" and each.event.kind == "douser_shut" and each.at_s - each.sigma_s <= first_s


def _tells(wired: Input, event: Event) -> bool:
    return event.kind in _ON_OFF[wired.what]


assert {each.what for each in WIRES} == set(_ON_OFF)
