"""When nothing could be heard of a contact, as it truly was; and whether an edge of it came whole.

An edge came whole where its level lasted, while its feed was there, for as long as it takes to be read. All times are
seconds after the motors' true start.
"""

from collections.abc import Sequence
from math import inf
from typing import Any, Final, NamedTuple

from adapters.contacts.kinds import Input
from tests.bench.contact_shows.faults import STEADY_S, Fault
from tests.bench.contact_shows.script import POLL_MS, SAMPLING_MS, WIRES, Edge
from tests.bench.contact_shows.watching import Watched

BACK_S: Final = 4.0
"""A part that is back is heard within this: it is tried again every two seconds, and opening takes an answer, or
a sound line, of which there is one a second."""

SILENT_S: Final = 5.0
"""As the wiring's `silent_s`: lines that are held up for less come late, and whole."""

READ_S: Final = 0.010
"""What the answers of one round of Modbus take, or a line of text on its way. Chosen: what a quiet machine takes, and a
little more."""

TICK_S: Final = 0.05
"""How much longer than a second ser2net may take from one look to the next. Chosen."""

Span = tuple[float, float]


class Truth(NamedTuple):
    """An edge as it truly was: its first touch and its last, until when its level lasted, and whether it came whole.

    `told` says that nothing was wrong with its feed at its first touch.
    """

    edge: Edge
    at_s: float
    settled_s: float
    until_s: float
    told: bool
    whole: bool


def truths_of(watched: Watched) -> dict[Input, list[Truth]]:
    """Every edge of each wire, in order of time."""
    found: dict[Input, list[Truth]] = {}
    for wired in WIRES:
        edges = [
            (edge, [at - watched.started_at for at in watched.truth["edges"][str(number)]])
            for number, edge in enumerate(watched.script.edges)
            if edge.wired == wired
        ]
        blind = [*_blind(wired, watched), *_held(wired, [at for _, (at, _) in edges], watched)]
        starts_s = [at for _, (at, _) in edges] + [watched.script.ends_s - 1.0]
        found[wired] = [
            _truth(edge, (at_s, settled_s, starts_s[n + 1]), blind, watched)
            for n, (edge, (at_s, settled_s)) in enumerate(edges)
        ]
    return found


def _truth(edge: Edge, times_s: tuple[float, float, float], blind: Sequence[Span], watched: Watched) -> Truth:
    at_s, settled_s, until_s = times_s
    told = not any(early <= at_s < late for early, late in blind)
    if edge.wired.feed == "text":
        whole = _is_told(edge, (at_s, until_s), blind, watched)
    else:
        whole = any(late - early >= _needs_s(edge.wired) for early, late in without((settled_s, until_s), blind))
    return Truth(edge, at_s, settled_s, until_s, told, whole)


def _needs_s(wired: Input) -> float:
    """For how long a level has to last to be read for sure."""
    own_s = wired.debounce_us / 1e6 + POLL_MS / 1000 + READ_S
    return own_s + (SAMPLING_MS / 1000 + TICK_S if wired.feed == "lines" else 0.0)


def _is_told(edge: Edge, lasts_s: Span, blind: Sequence[Span], watched: Watched) -> bool:
    """Whether sound lines said the level for as long as it has to hold, before one said otherwise."""
    since_s: float | None = None
    debounce_s = edge.wired.debounce_us / 1e6
    for line in watched.truth["lines"]:
        at_s = line["at"] - watched.started_at
        level = _level_in(line, edge.wired) if line["sound"] else None
        if level is None or at_s < lasts_s[0] or any(early <= at_s < late for early, late in blind):
            continue
        if since_s is not None and level is not edge.on and at_s - since_s >= debounce_s + READ_S:
            return True
        if at_s >= lasts_s[1]:
            break
        since_s = (at_s if since_s is None else since_s) if level is edge.on else None
    return since_s is not None and lasts_s[1] - since_s >= debounce_s + READ_S


def _level_in(line: dict[str, Any], wired: Input) -> bool | None:
    """What a line says of a wire; None where nothing."""
    if line["kind"] == "L":
        return bool(line["says"][0][int(wired.place) - 1] == "1")
    return line["says"][1] == "1" if line["says"][0] == wired.place else None


def without(span: Span, gaps: Sequence[Span]) -> list[Span]:
    """What is left of a span outside of all gaps."""
    parts = [span]
    for early, late in gaps:
        parts = [
            (max(a, x), min(b, y)) for a, b in parts for x, y in ((-inf, early), (late, inf)) if max(a, x) < min(b, y)
        ]
    return parts


def _blind(wired: Input, watched: Watched) -> list[Span]:
    """When the feed of a wire, or its unit, was not there."""
    script = watched.script
    backs = {each["fault"]: each["back"] - watched.started_at for each in watched.truth["away"]}
    spans: list[Span] = [(-inf, script.begins_s + BACK_S)]
    spans += [(left_s, back_s + BACK_S) for left_s, back_s in watched.away_s]
    for number, fault in enumerate(script.faults):
        if str(fault.house) == wired.house and _takes_away(fault, wired, watched):
            spans.append((fault.at_s, backs.get(number, fault.until_s) + BACK_S))
    return spans


def _takes_away(fault: Fault, wired: Input, watched: Watched) -> bool:
    match fault.kind:
        case "modbus_killed" | "ser2net_killed" | "silent_start" | "lamp_out_unseen":
            return True
        case "unit_deaf":
            return wired.place.startswith(f"{fault.unit}/")
        case "ser2net_stalled":
            return wired.feed == "lines" or _last_line_s(watched, fault.at_s) + SILENT_S < fault.until_s + 1.0
        case "random_bytes":
            return wired.feed == "rtu"
        case _:
            return False


def _last_line_s(watched: Watched, before_s: float) -> float:
    at_s = [line["at"] - watched.started_at for line in watched.truth["lines"] if line["sound"]]
    return max((each for each in at_s if each < before_s), default=-inf)


def _held(wired: Input, edges_s: Sequence[float], watched: Watched) -> list[Span]:
    """From when a contact flickers until it has been steady for long enough."""
    spans = []
    for fault in watched.script.faults:
        if fault.kind == "lamp_flickers" and str(fault.house) == wired.house and wired.what == "lamp":
            until_s = fault.until_s + STEADY_S
            for at_s in edges_s:
                until_s = at_s + STEADY_S if fault.at_s <= at_s <= until_s else until_s
            spans.append((fault.at_s, until_s))
    return spans
