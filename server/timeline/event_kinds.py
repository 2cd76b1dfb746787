"""The kinds of event there are: one table, by their names. What each means for the film is in `evidence`.

To add a kind: its name and its row here, what it means, its row in the format, and a test. What a desk or a debrief
asks of a kind it asks of this table; `web/js/words/kinds.js` is made of it.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

EventKind = Literal[
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
    "feed_up",
    "feed_down",
    "retract",
    "ack",
    "note",
    "shelve",
    "clock_step",
    "ready",
    "relaced",
    "hold",
    "report",
    "report_over",
    "call",
]

Place = Literal["station", "link", "source", "booth", "chain", "none"]
Key = Literal["mark", "seconds", "retracts", "alarm", "what", "text"]
Sender = Literal["booth", "house", "server"]
Correcting = Literal["add", "take_back", "nothing"]

DAY_S: Final = 86_400.0
_ADRIFT_S: Final = 1e10  # chosen: what a clock can be off by before it is set; past it a value is a slip


class KindOfEvent(NamedTuple):
    """One kind: what it is called, where it is seen, and what goes with it.

    `words` are what was seen, in lower case and without the place; an event with a mark, a figure or a text says that
    beside them. A `station` names itself, a `link` the station that it feeds, a `source` may name one, a `booth` is
    whom it goes `to`. `asks` are the keys that it has beside its place, `may` those that it can have, and `seconds` is
    from what to what those are accepted. `senders` say who may send it: whoever is in a booth, whoever reports from a
    house, or only the server and its feeds. `of_film` is whether it is about film and machines, so that a run lasts as
    long as these come; `noted`, whether a debrief lists it among what was said. `debrief` is what a correction can do.
    """

    words: str
    place: Place
    asks: frozenset[Key] = frozenset()
    may: frozenset[Key] = frozenset()
    seconds: tuple[float, float] = (-DAY_S, DAY_S)
    senders: tuple[Sender, ...] = ("booth",)
    of_film: bool = False
    noted: bool = False
    debrief: Correcting = "nothing"


def _seen(
    words: str, place: Place = "station", *asks: Key, may: frozenset[Key] = frozenset(), noted: bool = False
) -> KindOfEvent:
    """A kind that is about film and machines, and that a debrief can add."""
    return KindOfEvent(words, place, frozenset(asks), may, of_film=True, noted=noted, debrief="add")


_MAY_SAY: Final[frozenset[Key]] = frozenset({"text"})

EVENT_KINDS: Final[Mapping[EventKind, KindOfEvent]] = MappingProxyType(
    {
        "chain_start": _seen("all motors started", "chain"),
        "chain_stop": _seen("all motors stopped", "chain"),
        "motor_start": _seen("motor started"),
        "motor_stop": _seen("motor stopped"),
        "lamp_lit": _seen("lamp lit"),
        "lamp_out": _seen("lamp out"),
        "douser_open": _seen("douser open"),
        "douser_shut": _seen("douser shut"),
        "mark_pass": _seen("passed", "station", "mark"),
        "slack_read": _seen("read", "link", "seconds"),
        "film_trip": _seen("failsafe tripped"),
        "feed_up": KindOfEvent("the source is back", "source", may=_MAY_SAY, senders=("server",)),
        "feed_down": KindOfEvent("the source went", "source", may=_MAY_SAY, senders=("server",)),
        "retract": KindOfEvent("taken back", "none", frozenset({"retracts"}), senders=("booth", "house")),
        "ack": KindOfEvent("acknowledged", "none", frozenset({"alarm"}), _MAY_SAY, debrief="take_back"),
        "note": KindOfEvent("note", "none", frozenset({"text"}), noted=True, debrief="add"),
        "shelve": KindOfEvent(
            "shelved", "none", frozenset({"alarm", "seconds"}), seconds=(0.0, DAY_S), debrief="take_back"
        ),
        "clock_step": KindOfEvent(
            "the computer's clock jumped",
            "none",
            frozenset({"seconds"}),
            seconds=(-_ADRIFT_S, _ADRIFT_S),
            senders=("server",),
        ),
        "ready": KindOfEvent("ready to start", "station", noted=True, debrief="take_back"),
        "relaced": _seen("laced anew", "link", may=frozenset({"seconds"}), noted=True),
        "hold": KindOfEvent("the start is set", "chain", frozenset({"seconds"}), noted=True, debrief="take_back"),
        "report": KindOfEvent(
            "reported", "station", frozenset({"what"}), _MAY_SAY, senders=("booth", "house"), noted=True
        ),
        "report_over": KindOfEvent("seen to", "station", may=frozenset({"what", "text"}), noted=True),
        "call": KindOfEvent("call", "booth", frozenset({"text"}), noted=True),
    }
)


_KEY_OF_PLACE: Final[Mapping[Place, str]] = {"station": "station", "link": "station", "booth": "to"}

KEYS_ASKED: Final[Mapping[EventKind, frozenset[str]]] = {
    kind: row.asks | {key for place, key in _KEY_OF_PLACE.items() if place == row.place}
    for kind, row in EVENT_KINDS.items()
}
"""The keys that an event of a kind must have, that of its place among them."""

KEYS_KNOWN: Final[Mapping[EventKind, frozenset[str]]] = {
    kind: KEYS_ASKED[kind] | row.may | ({"station"} if row.place == "source" else set())
    for kind, row in EVENT_KINDS.items()
}
"""The keys that it can have."""
