"""What the engine says is wrong, as kinds and subjects: the one place that knows how it says so."""

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
WHOLE_PRINT = "print"
WHOLE_CHAIN = "chain"

_TAIL_WAS_SHORT = "the film ran out, and nothing was wrong: the tail is"


class Named(NamedTuple):
    """One fault that is told as what it is.

    `subject` is the id of a station, a link, a mark or a source, or WHOLE_PRINT or WHOLE_CHAIN.
    """

    kind: FaultKind
    subject: str


def named(fold: Fold) -> frozenset[Named]:
    """Return what is told of as what it is, by now; what leaves open which of two things is so names neither.

    An alarm of slack names no motor, "wrong tap, or the film jumped" no tap, and a mark that is overdue no foil.
    """
    clocks = (Named("clock", feed) for feed in fold.evidence.told_clocks)
    return frozenset((*_splices(fold), *_tail(fold), *clocks))


def _splices(fold: Fold) -> Iterator[Named]:
    """Film more or less before the first picture is the leader's."""
    head_s = fold.plan.mark("head").x_s
    for from_s in fold.evidence.told_splices:
        mark = next(mark.id for mark in fold.plan.marks if mark.x_s == from_s)
        yield Named("leader", WHOLE_PRINT) if from_s == head_s else Named("splice", mark)


def _tail(fold: Fold) -> Iterator[Named]:
    if any(_TAIL_WAS_SHORT in state.misfit_text for state in fold.evidence.stations):
        yield Named("tail", WHOLE_PRINT)
