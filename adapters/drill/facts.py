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
    "film_trip",
]


class Fact(NamedTuple):
    """One thing that happens, `at_s` after `motors_at`; `station` is None for the whole chain.

    `seconds` is the true slack for a `slack_read`. `with_chain`: a motor that starts or stops with all the others,
    which nobody taps on its own. `surprise`: nobody is watching for it, so a person notices late.
    """

    at_s: float
    kind: FactKind
    station: str | None = None
    mark: str | None = None
    seconds: float | None = None
    with_chain: bool = False
    surprise: bool = False
