"""What goes wrong with the parts that bring contacts in, by the seed of a show; the film itself is as it should be."""

import random
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, Literal, NamedTuple, get_args

if TYPE_CHECKING:
    from tests.bench.contact_shows.script import Edge

FaultKind = Literal[
    "zero",
    "modbus_killed",
    "unit_deaf",
    "ser2net_killed",
    "ser2net_stalled",
    "lines_lost",
    "random_bytes",
    "lamp_flickers",
    "silent_start",
    "restart",
    "lamp_out_unseen",
]
KINDS: Final[tuple[FaultKind, ...]] = get_args(FaultKind)

MOST: Final = 3
"""So many go wrong in one show at the most: each kind has its turn as the first, the others are drawn."""

STEADY_S: Final = 12.0
"""A contact that flickered counts again ten seconds after its last change, and once a second that is looked at."""

_SHIFTS_S: Final = (6.0, 3600.0, -90.0, -3600.0)
"""Where the plan's zero can be: motors start with it a little ahead, an hour ahead, past, an hour past."""

_LONG_BEFORE_S: Final = 60.0
"""Before the server begins."""

_AT_S: Final = (-3.0, 36.0)
_HOUSES: Final[dict[FaultKind, tuple[int, ...]]] = {
    "modbus_killed": (1, 2),
    "unit_deaf": (1,),
    "ser2net_killed": (3, 4),
    "ser2net_stalled": (3, 4),
    "lines_lost": (4,),
    "random_bytes": (2, 3, 4),
    "lamp_flickers": (1, 2, 3, 4),
    "silent_start": (1, 2, 3, 4),
    "lamp_out_unseen": (1, 2, 3, 4),
}
_FOR_S: Final[dict[FaultKind, tuple[float, float]]] = {
    "modbus_killed": (1.0, 5.0),
    "unit_deaf": (2.0, 6.0),
    "ser2net_killed": (1.0, 5.0),
    "ser2net_stalled": (2.0, 7.0),
    "lines_lost": (2.0, 5.0),
    "random_bytes": (1.0, 2.0),
    "lamp_flickers": (2.0, 4.0),
    "restart": (1.0, 2.5),
}


class Fault(NamedTuple):
    """Something that is wrong with `house` (0: all) from `at_s` for `for_s`; of a `zero`, `for_s` is where it lies.

    `unit` is the one that is deaf. A lamp that is put out unseen is so because its house's part is gone, or where
    `house` is 0, the server.
    """

    kind: FaultKind
    house: int
    at_s: float
    for_s: float
    unit: int = 0

    @property
    def until_s(self) -> float:
        return self.at_s + self.for_s

    def __str__(self) -> str:
        if self.kind == "zero":
            return f"zero at {self.for_s:+.0f} s"
        where = f" unit {self.unit}" if self.unit else ""
        what = f"House {self.house}" if self.house else "the server"
        return f"{self.kind} of {what}{where} at {self.at_s:.1f} s for {self.for_s:.1f} s"


def faults_of(seed: int, edges: "Sequence[Edge]") -> tuple[Fault, ...]:
    """One to three of KINDS. No two take the same part away, and the server is restarted once at the most."""
    chance = random.Random(f"contact faults {seed}")
    first = KINDS[seed % len(KINDS)]
    others = [kind for kind in KINDS if kind != first]
    found: list[Fault] = []
    for kind in (first, *chance.sample(others, chance.randint(0, MOST - 1))):
        taken = {fault.house for fault in found if fault.kind != "zero"}
        fault = _fault(kind, taken, edges, chance)
        if fault is not None:
            found.append(fault)
    return tuple(found)


def _fault(kind: FaultKind, taken: set[int], edges: "Sequence[Edge]", chance: random.Random) -> Fault | None:
    """One fault of a kind, in a house that has none yet; None where that cannot be."""
    if kind == "zero":
        return Fault(kind, 0, 0.0, chance.choice(_SHIFTS_S))
    if kind == "restart":
        return None if 0 in taken else Fault(kind, 0, chance.uniform(2.0, _AT_S[1]), chance.uniform(*_FOR_S[kind]))
    houses = [house for house in _HOUSES[kind] if house not in taken]
    if not houses:
        return None
    house = chance.choice(houses)
    if kind == "lamp_out_unseen":
        return _unseen(house, edges, chance, by_server=0 not in taken and chance.random() < 0.5)
    if kind == "silent_start":
        return Fault(kind, house, -_LONG_BEFORE_S, _LONG_BEFORE_S + chance.uniform(3.0, 8.0))
    for_s = chance.uniform(*_FOR_S[kind])
    if kind == "lamp_flickers":
        lit_s, out_s = _lamp_s(house, edges)
        return Fault(kind, house, chance.uniform(lit_s + 1.0, out_s - for_s - 1.0), for_s)
    return Fault(kind, house, chance.uniform(*_AT_S), for_s, chance.choice((1, 2)) if kind == "unit_deaf" else 0)


def _unseen(house: int, edges: "Sequence[Edge]", chance: random.Random, *, by_server: bool) -> Fault:
    """From just before a lamp is put out until just after; the server is then away for no other house's lamp either."""
    _, out_s = _lamp_s(house, edges)
    at_s = out_s - chance.uniform(0.5, 1.5)
    return Fault("lamp_out_unseen", 0 if by_server else house, at_s, out_s + chance.uniform(0.5, 2.0) - at_s)


def _lamp_s(house: int, edges: "Sequence[Edge]") -> tuple[float, float]:
    """When its lamp was lit for good, and when it was put out."""
    lamp = [edge for edge in edges if edge.wired.house == str(house) and edge.wired.what == "lamp"]
    return max(edge.at_s for edge in lamp if edge.on), lamp[-1].at_s
