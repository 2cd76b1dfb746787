"""What there is to be seen at a station, in words: for whoever takes part in a rehearsal and has no film to look at."""

from typing import Final

from adapters.drill.facts import Fact, FactKind
from server.timeline.plan import Plan

_WORDS: Final[dict[FactKind, str]] = {
    "chain_start": "all motors have been started",
    "chain_stop": "all motors have been stopped",
    "motor_start": "the motor runs",
    "motor_stop": "the motor has stopped",
    "lamp_lit": "the lamp is lit",
    "lamp_out": "the lamp has gone out",
    "douser_open": "the douser is open",
    "douser_shut": "the douser has shut",
    "film_trip": "the failsafe has tripped",
}
STANDS: Final = "Helpers are on their way to take up what hangs loose: start again once they have called."
TAKEN_UP: Final = "Helpers: the film is taken up in every link. The chain can be started again."

RUN_OUT: Final = "the film has run out"
_MARKS: Final = {"head": "the first picture is at the gate", "end": "the last picture has left the gate"}


def sight_of(fact: Fact, plan: Plan) -> str:
    """One fact, as somebody at its station would call it out."""
    what = _pass(fact.mark, plan) if fact.mark is not None else _WORDS[fact.kind]
    if fact.kind == "film_trip" and not fact.surprise:
        what = RUN_OUT
    return f"{house_of(fact.station, plan)}: {what}"


def house_of(station: str | None, plan: Plan) -> str:
    """A station as the crew calls it; None is the whole chain."""
    return "The chain" if station is None else f"House {plan.stations[plan.station_index[station]].house}"


def link_of(link: str, plan: Plan) -> str:
    """A link as the crew calls it: "House 4 to 6"."""
    upstream, _, downstream = link.partition(">")
    return f"{house_of(upstream, plan)} to {house_of(downstream, plan).removeprefix('House ')}"


def mark_of(mark: str, plan: Plan) -> str:
    """A mark as the crew calls it."""
    return {"head": "the first picture", "end": "the last picture"}.get(mark) or plan.mark(mark).title


def _pass(mark: str, plan: Plan) -> str:
    return _MARKS.get(mark) or f"{plan.mark(mark).title} begins at the gate"
