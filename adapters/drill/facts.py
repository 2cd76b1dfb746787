"""What truly happens in a drill, before anybody has seen it."""

from typing import Literal, NamedTuple, TypeAlias

FactKind: TypeAlias = Literal[
    "chain_start",
    "chain_stop",
    "motor_start",
    "motor_stop",
    "lamp_lit",
    "lamp_out",
    "douser_open",
    "douser_shut",
    "mark_pass",
    "slack_read",
    "relaced",
    "film_trip",
    "ready",
    "hold",
]


class Fact(NamedTuple):
    """One thing that happens, `at_s` after `motors_at`; `station` is None for the whole chain.

    `seconds` is the true slack of a link that was read or laced anew, and for a `hold` when the chain is to start.
    `with_chain`: a motor that starts or stops with all the others, which nobody taps on its own. `surprise`: nobody is
    watching for it, so a person notices late; a `film_trip` that is none is the film's end, run out as it should.
    """

    at_s: float
    kind: FactKind
    station: str | None = None
    mark: str | None = None
    seconds: float | None = None
    with_chain: bool = False
    surprise: bool = False
