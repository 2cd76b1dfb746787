"""What people say to one another: what is wrong in a house, and a word from one booth to another."""

from dataclasses import dataclass
from typing import Final, NamedTuple

from server.timeline.alarm_kinds import WHOLE_CHAIN
from server.timeline.events import TO_ALL, Event
from server.timeline.plan import Plan
from server.timeline.view import Level, Trouble

CALL: Final = "call"

TROUBLE_WORDS: Final[dict[Trouble, str]] = {
    "no_picture": "no picture",
    "no_sound": "no sound",
    "unsteady": "picture unsteady",
    "out_of_focus": "out of focus",
    "people": "trouble among the people",
    "other": "something is wrong",
}
TROUBLE_LEVELS: Final[dict[Trouble, Level]] = {"no_picture": "act"}
"""What is not in here is a watch."""

TROUBLE_TODO: Final[dict[Trouble, str]] = {
    "no_picture": "Look: is the lamp lit, the douser open, and film in the gate?",
    "no_sound": "Look at the sound head, and at the sound of this house.",
    "unsteady": "Look at the loops and the gate; keep your hands off film that moves.",
    "out_of_focus": "Focus the lens of this house.",
    "people": "Call whoever looks after the house.",
    "other": "Ask the house what is wrong.",
}


class Report(NamedTuple):
    """What somebody says is wrong in a house, since when, and when it was seen to (None: not yet), and by whom."""

    station: int
    what: Trouble
    since_us: int
    by: str | None
    text: str | None
    over_us: int | None = None
    over_by: str | None = None

    @property
    def in_words(self) -> str:
        """What is wrong, as it was said."""
        words = TROUBLE_WORDS[self.what]
        if self.text is None:
            return words
        return self.text if self.what == "other" else f"{words} ({self.text})"


class Call(NamedTuple):
    """A word to a booth, or to all of them, that nobody has acknowledged yet."""

    id: str
    to: str
    at_us: int
    by: str | None
    text: str

    @property
    def subject(self) -> str:
        """What its alarm is about."""
        return WHOLE_CHAIN if self.to == TO_ALL else self.to

    def is_heard_by(self, ack: Event) -> bool:
        """Whether an acknowledgement is of this call: of those that it names, or of all where it names none."""
        named = ack.text.splitlines() if ack.text is not None else [self.id]
        return ack.alarm == f"{CALL}:{self.subject}" and self.id in named


@dataclass(frozen=True)
class People:
    """What was said and stands; a change gives another one.

    `reports` are the latest of each house and kind of trouble, in the order in which they came; `calls` wait to be
    acknowledged.
    """

    reports: tuple[Report, ...] = ()
    calls: tuple[Call, ...] = ()

    def after(self, event: Event, at_us: int, plan: Plan) -> "People":
        """Take a report, that one is over, a call, or an acknowledgement; what that says of nothing changes nothing."""
        match event.kind:
            case "report":
                return self._reported(plan.station_index[event.station or ""], event, at_us)
            case "report_over":
                return self._seen_to(plan.station_index[event.station or ""], event, at_us)
            case "call":
                return People(
                    self.reports, (*self.calls, Call(event.id, event.to or TO_ALL, at_us, event.by, event.text or ""))
                )
            case _:
                return People(self.reports, tuple(call for call in self.calls if not call.is_heard_by(event)))

    def _reported(self, station: int, event: Event, at_us: int) -> "People":
        """Something is wrong; said again while it is, it is the same trouble, in the newer words."""
        what = event.what or "other"
        others = tuple(one for one in self.reports if (one.station, one.what) != (station, what))
        return People((*others, Report(station, what, at_us, event.by, event.text)), self.calls)

    def _seen_to(self, station: int, event: Event, at_us: int) -> "People":
        reports = tuple(
            one._replace(over_us=at_us, over_by=event.by)
            if one.station == station and one.over_us is None and event.what in {None, one.what}
            else one
            for one in self.reports
        )
        return People(reports, self.calls)

    def open_at(self, station: int) -> list[Report]:
        """What is wrong in a house, and was not seen to."""
        return [one for one in self.reports if one.station == station and one.over_us is None]
