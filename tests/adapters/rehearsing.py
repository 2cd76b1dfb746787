"""A rehearsal with somebody in it: the time is moved by hand, and every report has its effect at once."""

from datetime import timedelta

from adapters.drill.duties import CrewKind
from adapters.drill.rehearsal import Rehearsal
from adapters.drill.review import Review, review_of
from adapters.drill.scenario import EXACT, Crew, Scenario
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event
from server.timeline.plan import Plan

START_S = -120.0


def exact(*faults: object, name: str = "test") -> Scenario:
    """A chain and a crew that do exactly what the plan says, but for the faults."""
    return Scenario(name, "A test.", faults, nature=EXACT, crew=Crew(exact=True))  # type: ignore[arg-type]


class Somebody:
    """Whoever takes part: `events` is what the drill has posted, `reported` what was tapped."""

    def __init__(
        self, plan: Plan, scenario: Scenario, crew: CrewKind = "contacts", seed: int = 1, start_s: float = START_S
    ) -> None:
        self.plan = plan
        self.rehearsal = Rehearsal(plan, scenario, seed, crew, start_s)
        self.events: list[Event] = list(self.rehearsal.past)
        self.reported: list[Event] = []

    def wait(self, until_s: float) -> None:
        """Let the drill go on, from one thing that happens to the next, as a feed does."""
        while (next_s := self.rehearsal.next_s()) is not None and next_s <= until_s and self.rehearsal.end is None:
            self.events += self.rehearsal.advance(next_s)
        self.events += self.rehearsal.advance(until_s)

    def tap(
        self, kind: EventKind, station: str | None = None, mark: str | None = None, seconds: float | None = None
    ) -> Event:
        """Report something now, as the booth desk does."""
        t = self.plan.zero + timedelta(seconds=self.rehearsal.at_s)
        number = f"tap{len(self.reported)}"
        event = Event(id=number, t=t, kind=kind, source="tap", station=station, mark=mark, seconds=seconds)
        return self.report(event)

    def report(self, event: Event) -> Event:
        """Report any event."""
        self.reported.append(event)
        self.rehearsal.take(event)
        self.events += self.rehearsal.advance(self.rehearsal.at_s)
        return event

    def seen(self, kind: str, station: str | None = None) -> list[float]:
        """When events of a kind at a station were, in seconds after `motors_at`."""
        found = [event for event in self.events if event.kind == kind and station in (None, event.station)]
        return [(event.t - self.plan.zero).total_seconds() for event in found]

    @property
    def called(self) -> list[str]:
        """What the lookout has called out."""
        return [event.text or "" for event in self.events if event.kind == "note"]

    @property
    def review(self) -> Review:
        return review_of(self.rehearsal, self.reported)
