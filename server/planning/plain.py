"""What was worked out, as plain values that JSON has."""

from collections.abc import Mapping, Sequence

from server.planning.findings import Finding
from server.planning.judge import Judgement
from server.planning.next_show import NextShow


def plain_from(value: object) -> object:
    """Return named tuples as objects and other tuples as lists, all the way down; TypeError for what JSON has not."""
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        value = value._asdict()
    if isinstance(value, Mapping):
        return {str(key): plain_from(inner) for key, inner in value.items()}
    if isinstance(value, Sequence):
        return [plain_from(inner) for inner in value]
    raise TypeError(f"{type(value).__name__} has no plain form")


def plan_document(judgement: Judgement, next_show: NextShow, between: tuple[Finding, ...]) -> dict[str, object]:
    """Return `judgement`, `lacing` and `next_show`: what `festoon plan --json` has beside the schedule.

    Times are seconds after `motors_at` and no number is rounded. `between` is what was found between the shows of a
    night.
    """
    judged = {
        "findings": judgement.findings,
        "best_start": judgement.best,
        "crew": judgement.crew,
        "reserves": judgement.lives,
    }
    return {
        "judgement": plain_from(judged),
        "lacing": plain_from(judgement.lacing),
        "next_show": plain_from({**next_show._asdict(), "conflicts": between}),
    }
