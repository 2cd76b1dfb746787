"""The simulated show of a plan as what its wired contacts do."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from adapters.contacts.kinds import Input, What
from adapters.drill import CATALOGUE, scenario_for, simulate
from adapters.drill.facts import Fact, FactKind
from server.timeline.plan import Plan

SHOWS: Final[Mapping[str, str]] = {
    name: entry.text
    for name, entry in CATALOGUE.items()
    if name not in {"careless", "reading", "wrong_taps", "missing_inputs"}
}
"""The shows that can be played, and what happens: in the others it is told by people, or by no contact."""

_MOVES: Final[Mapping[FactKind, tuple[What, bool | None]]] = {
    "motor_start": ("motor", True),
    "motor_stop": ("motor", False),
    "lamp_lit": ("lamp", True),
    "lamp_out": ("lamp", False),
    "douser_open": ("douser", True),
    "douser_shut": ("douser", False),
    "mark_pass": ("cue", None),
    "film_trip": ("failsafe", True),
}
"""What of a station is moved by what happens there, on or off; None for a moment."""


class Move(NamedTuple):
    """One contact goes on or off, or is on for a moment (None), `at_s` after the show's motors start."""

    at_s: float
    wired: Input
    on: bool | None


def moves_of_show(name: str, plan: Plan, inputs: Sequence[Input], seed: int) -> list[Move]:
    """What the wired contacts do in one of SHOWS, in order of time."""
    truth = simulate(plan, scenario_for(name, plan, seed), seed).truth
    return moves_of(truth.facts, inputs, plan)


def moves_of(facts: Sequence[Fact], inputs: Sequence[Input], plan: Plan) -> list[Move]:
    """What the wired contacts do as this happens, in order of time. A failsafe is armed as its motor starts."""
    wired: dict[tuple[str, What], Input] = {}
    for each in inputs:
        wired.setdefault((each.station, each.what), each)
    moves: list[Move] = []
    for fact in sorted(facts, key=lambda fact: fact.at_s):
        if fact.kind == "mark_pass" and not plan.marks_by_id[fact.mark or ""].cue:
            continue  # people see it, and no detector does
        for what, on in _moved_by(fact):
            found = wired.get((fact.station or "", what))
            if found is not None:
                moves.append(Move(fact.at_s, found, on))
    return moves


def _moved_by(fact: Fact) -> Iterator[tuple[What, bool | None]]:
    if fact.kind == "motor_start":
        yield "failsafe", False
    if fact.kind in _MOVES:
        yield _MOVES[fact.kind]
