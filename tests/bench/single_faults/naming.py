"""What the engine says is wrong, as kinds and subjects: the one place that knows how it says so."""

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple, get_args

from server.timeline.fold import Fold

FaultKind = Literal[
    "motor_rate",
    "all_rates",
    "film_lost",
    "path",
    "leader",
    "splice",
    "foil_missing",
    "foil_doubled",
    "late_contact",
    "clock",
    "taps_swapped",
    "tail",
]
FAULT_KINDS: tuple[FaultKind, ...] = get_args(FaultKind)
_FOIL = re.compile(r": (?P<mark>.*) is overdue at this gate too: its foil is off the print")
WHOLE_PRINT = "print"
WHOLE_CHAIN = "chain"

_MOTOR = re.compile(r"\(House (?P<house>[^)]*)'s motor runs (?:fast|slow)\)")


class Named(NamedTuple):
    """One fault that is told as what it is.

    `subject` is the id of a station, a link, a mark or a source, or WHOLE_PRINT or WHOLE_CHAIN.
    """

    kind: FaultKind
    subject: str


def named(fold: Fold) -> frozenset[Named]:
    """Return what is told of as what it is, by now; what leaves open which of two things is so names neither.

    "Wrong tap, or the film jumped" names no tap, and a mark that is overdue no foil.
    """
    return frozenset((*_told(fold), *_foils(fold), *_motors(fold)))


def _told(fold: Fold) -> Iterator[Named]:
    """Film more or less before the first picture is the leader's."""
    head_s = fold.plan.mark("head").x_s
    for kind, subject in fold.evidence.faults:
        if kind == "film_jumped":
            yield Named("film_lost", subject)
        elif kind == "splice" and fold.plan.mark(subject).x_s == head_s:
            yield Named("leader", WHOLE_PRINT)
        else:
            yield Named(kind, subject)


def _foils(fold: Fold) -> Iterator[Named]:
    """A mark that is overdue at a second gate too."""
    for alarm in fold.board.alarms.values():
        named_by = _FOIL.search(alarm.text) if alarm.on and alarm.kind == "mark_overdue" else None
        if named_by is not None:
            yield Named("foil_missing", next(one.id for one in fold.plan.marks if one.title == named_by["mark"]))


def _motors(fold: Fold) -> Iterator[Named]:
    """An alarm of slack that is on names the motor that is off, where that is known."""
    for alarm in fold.board.alarms.values():
        named_by = _MOTOR.search(alarm.text) if alarm.on and alarm.kind.startswith("slack_") else None
        if named_by is not None:
            yield Named("motor_rate", next(one.id for one in fold.plan.stations if one.house == named_by["house"]))
