"""What happens in one short show, by its seed: the plan, the wires, every contact that moves, and what goes wrong.

All times are seconds after the motors' true start, which need not be the plan's zero. The truth is the drill's, with no
fault of film, motor or lamp.
"""

import random
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import count
from typing import Final, NamedTuple

from adapters.contacts.kinds import Input, What
from adapters.drill import Scenario, simulate
from adapters.drill.facts import Fact
from adapters.drill.scenario import Crew
from adapters.drill.truth import Truth
from server.timeline.plan import Plan, parse_plan
from server.trials.show import Move, moves_of
from tests.bench.contact_shows.faults import STEADY_S, Fault, faults_of

PORTS: Final = {"tcp": "modbus over TCP", "rtu": "modbus RTU", "lines": "status lines", "text": "lines of text"}
"""The feed of each house, in film order, and what kind of port it has."""

POLL_MS: Final = 20
"""The quickest that a Modbus feed takes, and the usual of status lines."""

LEVEL_DEBOUNCE_MS: Final = 35
"""Of motors, lamps, dousers and failsafes: longer than the longest bounce here, so than any pause in one."""

FOIL_DEBOUNCE_MS: Final = {"tcp": 10, "rtu": 10, "text": 15}
"""A foil of 55 ms that bounces for 30 is steady for 25, so LEVEL_DEBOUNCE_MS would lose it. A bounce of 30 ms has room
for one pause of 15, so that one foil is two changes and never a flicker; a port that is polled wants all it can get.
Bounces are no second foil: that is one for 5 s."""

SAMPLING_MS: Final = 1000
"""ser2net looks at its status lines once a second."""

BOUNCE_S: Final = (0.005, 0.030)
FOIL_S: Final = (0.050, 0.060)

_FRAME_RATE: Final = 24
_GRACE_S: Final = 2.5
"""The plan's `start_grace_s`: a start behind ser2net is told up to a second late, and one whose line of text was
damaged with the next line of levels, or the one after that."""

_PATH_M: Final = 1.14
"""A path of 2.5 s at 0.456 m/s."""

_LAMP_OUT_SHARE: Final = 0.08
"""Lamps are put out so much sooner after the end than in the drill, where it is 20 to 90 s: shows are short here."""

_STRIKE_MARGIN_S: Final = 3.5
"""A lamp that the drill lights later than so long before its window closes is no show of ours: told a second late it
would be a missed strike."""

_LEAD_S: Final = 4.0
"""Before the first contact moves, in which the feeds come up."""

_SETTLE_S: Final = 3.5
_BACK_S: Final = 5.0

_CREW: Final = Crew(strike_after_s=1.0)


_WHATS: Final[tuple[What, ...]] = ("motor", "lamp", "douser", "cue", "failsafe")


def _wires() -> Iterator[Input]:
    """House 1 has two units; what trips in House 2 opens its contact; House 3 has four lines, and no detector."""
    by_house: tuple[tuple[str, Sequence[tuple[str, What]]], ...] = (
        (
            "tcp",
            (
                ("1/discrete/0", "motor"),
                ("1/discrete/1", "lamp"),
                ("1/discrete/2", "douser"),
                ("2/discrete/0", "cue"),
                ("2/coil/3", "failsafe"),
            ),
        ),
        ("rtu", [(f"5/discrete/{n}", what) for n, what in enumerate(_WHATS)]),
        ("lines", (("CTS", "motor"), ("DSR", "lamp"), ("DCD", "douser"), ("RI", "failsafe"))),
        ("text", [(str(n), what) for n, what in enumerate(_WHATS, 1)]),
    )
    for number, (feed, wires) in enumerate(by_house, 1):
        for place, what in wires:
            debounce_ms = FOIL_DEBOUNCE_MS[feed] if what == "cue" else LEVEL_DEBOUNCE_MS
            yield Input(
                feed=feed,
                place=place,
                station=f"h{number}",
                house=str(number),
                what=what,
                normally_closed=what == "failsafe" and feed == "rtu",
                debounce_us=1000 * debounce_ms,
            )


WIRES: Final = tuple(_wires())


class Edge(NamedTuple):
    """A contact that goes on or off at `at_s`, with a touch at each of `touches_s` after that: an odd number."""

    at_s: float
    wired: Input
    on: bool
    mark: str | None
    touches_s: tuple[float, ...]


class Script(NamedTuple):
    """One show. `shift_s` is the plan's zero; the server begins at `begins_s` and ends at `ends_s`."""

    seed: int
    reels: int
    edges: tuple[Edge, ...]
    faults: tuple[Fault, ...]
    shift_s: float
    begins_s: float
    ends_s: float


def script_of(seed: int) -> Script:
    """The show of a seed: always the same."""
    chance = random.Random(f"contact show {seed}")
    reels = chance.choice((2, 3))
    plan = plan_of(reels, datetime(2026, 3, 14, 23, 50, tzinfo=UTC))
    truth = _truth(plan, seed)
    edges = tuple(_edges(truth, plan, chance))
    faults = faults_of(seed, edges)
    shift_s = next((fault.for_s for fault in faults if fault.kind == "zero"), 0.0)
    return Script(seed, reels, edges, faults, shift_s, edges[0].at_s - _LEAD_S, _ends_s(edges, faults))


def plan_of(reels: int, zero: datetime) -> Plan:
    """The plan of such a show, with its motors at `zero`."""
    return parse_plan(plan_text(reels, zero), "contact_shows.plan.toml")


def plan_text(reels: int, zero: datetime) -> str:
    """Leader, two or three reels, credits and a short tail, through four houses."""
    reel_s = 7.0 if reels == 2 else 5.75
    segments = [("leader", "leader", 7.0), *((f"r{n}", "feature", reel_s) for n in range(1, reels + 1))]
    segments += [("credits", "credits", 6.0), ("tail", "tail", 4.0)]
    film = "".join(
        f'[[print]]\nid = "{name}"\nkind = "{kind}"\nframes = {round(seconds * _FRAME_RATE)}\n'
        f"cue = {str(kind in {'feature', 'credits'}).lower()}\n"
        for name, kind, seconds in segments
    )
    stations = "".join(
        f'[[stations]]\nid = "h{k}"\nhouse = "{k}"\nbooth = "{"North" if k < 3 else "South"}"\n'
        f"path_m = {_PATH_M if k > 1 else 0}\n"
        'inputs = { motor = "contact", lamp = "contact", douser = "contact", '
        f'cue = "{"none" if k == 3 else "contact"}" }}\n'
        for k in range(1, 5)
    )
    return (
        f'format = "festoon-plan/1"\ntitle = "Contact show"\n[timing]\nmotors_at = {zero.isoformat()}\n'
        f'start = "common"\nstart_spread_s = 0.1\nstart_grace_s = {_GRACE_S}\ntail_sigma_s = 0.5\n'
        f"[lamp]\nearliest_s = 14\nlatest_s = 2\n{film}{stations}"
    )


def wiring_text(addresses: Mapping[str, str]) -> str:
    """The wiring of all four houses, at these addresses by feed."""
    keys = {
        "tcp": f'kind = "modbus"\npoll_ms = {POLL_MS}',
        "rtu": f'kind = "modbus"\npoll_ms = {POLL_MS}\nbaud = 115200',
        "lines": f'kind = "modem"\npoll_ms = {POLL_MS}\nsampling_ms = {SAMPLING_MS}',
        "text": 'kind = "text"\nbaud = 115200',
    }
    feeds = "".join(f'[[feeds]]\nid = "{feed}"\n{keys[feed]}\nport = "{addresses[feed]}"\n' for feed in PORTS)
    inputs = "".join(
        f'[[inputs]]\nfeed = "{each.feed}"\ninput = "{each.place}"\nstation = "{each.station}"\nwhat = "{each.what}"\n'
        f'normally = "{"closed" if each.normally_closed else "open"}"\ndebounce_ms = {each.debounce_us // 1000}\n'
        for each in WIRES
    )
    return f'format = "festoon-contacts/1"\n{feeds}{inputs}'


def _truth(plan: Plan, seed: int) -> Truth:
    """The first of the drill's shows of this seed in which every lamp is lit in time, as in most."""
    scenario = Scenario("clean", "Nothing goes wrong.", crew=_CREW)
    drawn = (simulate(plan, scenario, 1000 * seed + n).truth for n in count())
    return next(truth for truth in drawn if _lit_in_time(truth))


def _lit_in_time(truth: Truth) -> bool:
    latest_s = truth.plan.stations[0].lamp.latest_s + _STRIKE_MARGIN_S
    lit = {fact.station: fact.at_s for fact in truth.facts if fact.kind == "lamp_lit"}
    return all(lit[station] <= truth.passes[station]["head"] - latest_s for station in truth.plan.station_index)


def _edges(truth: Truth, plan: Plan, chance: random.Random) -> list[Edge]:
    facts = [_sooner(fact, truth) for fact in truth.facts]
    marks = {(fact.station, fact.at_s): fact.mark for fact in facts if fact.kind == "mark_pass"}
    edges = []
    for move in moves_of(facts, WIRES, plan):
        if move.wired.what == "failsafe" and not move.on:
            continue  # it is armed already
        edges += _edges_of(move, marks, chance)
    return sorted(edges, key=lambda edge: edge.at_s)


def _edges_of(move: Move, marks: Mapping[tuple[str | None, float], str | None], chance: random.Random) -> list[Edge]:
    mark = marks.get((move.wired.station, move.at_s)) if move.wired.what == "cue" else None
    on = Edge(move.at_s, move.wired, move.on is not False, mark, _touches_s(chance))
    if move.on is not None:
        return [on]
    return [on, Edge(move.at_s + chance.uniform(*FOIL_S), move.wired, False, mark, _touches_s(chance))]


def _touches_s(chance: random.Random) -> tuple[float, ...]:
    """Two to six edges more than the one, over 5 to 30 ms."""
    last_s = chance.uniform(*BOUNCE_S)
    between = sorted(chance.uniform(0.0, last_s) for _ in range(2 * chance.randint(1, 3) - 1))
    return (0.0, *between, last_s)


def _sooner(fact: Fact, truth: Truth) -> Fact:
    end_s = truth.pass_s(fact.station or "", "end") if fact.kind == "lamp_out" and fact.station else None
    if end_s is None or fact.at_s < end_s:
        return fact
    return fact._replace(at_s=end_s + _LAMP_OUT_SHARE * (fact.at_s - end_s))


def _ends_s(edges: Sequence[Edge], faults: Sequence[Fault]) -> float:
    """When everything has been heard that is to be heard: a contact that flickered counts once it has been steady."""
    ends_s = [edges[-1].at_s + _SETTLE_S]
    for fault in faults:
        if fault.kind == "lamp_flickers":
            lamp_s = [edge.at_s for edge in edges if edge.wired.house == str(fault.house) and edge.wired.what == "lamp"]
            ends_s.append(max(fault.until_s, *lamp_s) + STEADY_S + _SETTLE_S)
        elif fault.kind != "zero":
            ends_s.append(fault.until_s + _BACK_S)
    return max(ends_s)
