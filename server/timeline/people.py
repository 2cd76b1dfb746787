"""What people say to one another: what is wrong in a house, and a word from one booth to another."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from server.timeline.alarm_kinds import WHOLE_CHAIN
from server.timeline.events import TO_ALL, Event
from server.timeline.plan import Plan
from server.timeline.view import Level, Trouble

CALL: Final = "call"
HOUSE_REPORT: Final = "house_report"

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

HOLD_ASKED_MIN: Final = 5
HOLD_ASKED: Final = f"Please hold the start {HOLD_ASKED_MIN} minutes"
"""What the lobby says that asks for a hold: the answer is a later start."""
HOLD_TODO: Final = "Hold the start, or touch Not held and tell the lobby why."


def is_hold_asked(what: Trouble | None, text: str | None) -> bool:
    """Whether a report asks for a hold, where nothing is wrong in the house."""
    return what == "other" and text == HOLD_ASKED


class Report(NamedTuple):
    """What somebody says is wrong in a house, since when, and when it was seen to (None: not yet), and by whom."""

    station: int
    what: Trouble
    since_us: int
    by: str | None
    text: str | None
    over_us: int | None = None
    over_by: str | None = None
    id: str = ""

    @property
    def asks_to_hold(self) -> bool:
        """Whether the lobby asks for a later start, where nothing is wrong in the house."""
        return is_hold_asked(self.what, self.text)

    @property
    def todo(self) -> str:
        """What a booth does about it."""
        return HOLD_TODO if self.asks_to_hold else TROUBLE_TODO[self.what]

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
        return People((*others, Report(station, what, at_us, event.by, event.text, id=event.id)), self.calls)

    def _seen_to(self, station: int, event: Event, at_us: int) -> "People":
        return self._over(event, at_us, lambda one: one.station == station and event.what in {None, one.what})

    def start_settled(self, event: Event, at_us: int) -> "People":
        """The start was moved later, or a motor has started: whoever asked for a hold has the answer."""
        return self._over(event, at_us, lambda one: one.asks_to_hold)

    def _over(self, event: Event, at_us: int, is_meant: Callable[[Report], bool]) -> "People":
        reports = tuple(
            one._replace(over_us=at_us, over_by=event.by) if one.over_us is None and is_meant(one) else one
            for one in self.reports
        )
        return People(reports, self.calls)

    def is_known_by(self, ack: Event, plan: Plan) -> bool:
        """Whether an acknowledgement is of all that a house reports: where it names reports, of those.

        A tablet without a connection has not heard what was reported meanwhile: that calls on.
        """
        kind, _, subject = (ack.alarm or "").partition(":")
        station = plan.station_index.get(subject)
        if kind != HOUSE_REPORT or station is None or ack.text is None:
            return True
        named = ack.text.splitlines()
        return all(one.id in named for one in self.open_at(station))

    def reported_at(self) -> frozenset[int]:
        """The stations at which something is wrong that was not seen to."""
        return frozenset(one.station for one in self.reports if one.over_us is None)

    def open_at(self, station: int) -> list[Report]:
        """What is wrong in a house, and was not seen to."""
        return [one for one in self.reports if one.station == station and one.over_us is None]
