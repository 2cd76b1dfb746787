"""Sources that are known to be silent: what they should have told is not known."""

from collections.abc import Mapping
from typing import Literal, NamedTuple

from server.timeline.observed import SourceState


class Silence(NamedTuple):
    """A source that is known to be silent, and since when."""

    source: str
    since_us: int


def silence_of(
    station: str, what: Literal["lamp", "mark"], told_by: Mapping[str, str], sources: Mapping[str, SourceState]
) -> Silence | None:
    """Return which source is silent that would tell of a station's lamp or marks; None where none is.

    That is the source that told of them last, or the feed that it is a part of; `told_by` is which source told of what.
    Until one has, it is a source that names the station, or its motor's: as a rule one box serves all contacts of a
    station.
    """
    wire = told_by.get(what) or told_by.get("motor", "")
    silent = (
        Silence(source, state.since_us)
        for source, state in sources.items()
        if not state.up and (f"{wire}/".startswith(f"{source}/") or (what not in told_by and state.station == station))
    )
    return min(silent, key=lambda one: (one.since_us, one.source), default=None)
