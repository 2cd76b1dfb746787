"""Sources that are known to be silent: what they should have told is not known."""

from collections.abc import Mapping
from typing import Literal, NamedTuple

from server.timeline.observed import SourceState


class Silence(NamedTuple):
    """A source that is known to be silent, and since when."""

    source: str
    since_us: int


def silence_of(
    station: str,
    what: Literal["lamp", "mark", "motor"],
    told_by: Mapping[str, str],
    sources: Mapping[str, SourceState],
) -> Silence | None:
    """Return which source is silent that would tell of a station's lamp, marks or motor; None where none is.

    That is the source that told of them last, or the feed that it is a part of; `told_by` is which source told of what.
    Until one has, it is a source that names the station, or the feed of whatever was told of it: as a rule one box
    serves all contacts of a station. A motor of whose station no contact has told may be any silent feed's.
    """
    wire = told_by.get(what) or told_by.get("motor") or next(iter(told_by.values()), "")
    silent = [(source, state) for source, state in sources.items() if not state.up]
    told = (
        Silence(source, state.since_us)
        for source, state in silent
        if f"{wire}/".startswith(f"{source}/")
        or (what not in told_by and _may_tell(source, state, station, what, wire))
    )
    return min(told, key=lambda one: (one.since_us, one.source), default=None)


def _may_tell(source: str, state: SourceState, station: str, what: str, wire: str) -> bool:
    """Whether a source of which nothing has come about a station may be the one that would tell."""
    if state.station is not None:
        return state.station == station
    return what == "motor" and not wire and source.startswith("contact")
