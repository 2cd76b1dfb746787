"""What is told otherwise than it was: contacts that date late, foils that are seen twice, taps for the wrong house."""

from collections.abc import Sequence
from datetime import timedelta
from typing import NamedTuple

from adapters.drill import Truth
from adapters.drill.bounce import changes, foil_s
from adapters.drill.chance import Chance
from adapters.drill.observers import source_of
from server.timeline.events import Event, at_us
from server.timeline.plan import Plan


class Late(NamedTuple):
    """Contacts of one source that date all they tell `by_s` late (below 0 early), of what truly is from `from_s` on.

    With a `station` that is only its cue contact.
    """

    source: str
    by_s: float
    from_s: float
    station: str | None = None

    def tells(self, event: Event, plan: Plan) -> bool:
        """Whether it is one of these contacts that tells of an event, with its true date."""
        own = self.station is None or (event.station == self.station and event.kind == "mark_pass")
        return own and event.source == self.source and at_us(event, plan) / 1e6 >= self.from_s


class Stray(NamedTuple):
    """A second foil `film_s` of film behind that of a mark, which every detector takes for the mark's."""

    mark: str
    film_s: float


class Swapped(NamedTuple):
    """Two neighbouring houses; the pass of one mark at each was tapped for the other."""

    stations: tuple[str, str]
    mark: str


def moved(event: Event, by_s: float) -> Event:
    """The same event, dated otherwise."""
    return event.model_copy(update={"t": event.t + timedelta(microseconds=round(by_s * 1e6))})


def told_late(events: Sequence[Event], late: Late, plan: Plan) -> list[Event]:
    """All that was told, as these contacts date it."""
    return [moved(event, late.by_s) if late.tells(event, plan) else event for event in events]


def strays_of(truth: Truth, stray: Stray) -> list[Event]:
    """What the detectors tell of a second foil, each at its own gate."""
    plan, chance = truth.plan, Chance(truth.seed)
    place_s = truth.course.place_s(plan.mark(stray.mark).x_s) + stray.film_s
    found = []
    for k, station in enumerate(plan.stations):
        at_s = truth.course.curves[k].time_at(place_s + truth.course.ahead_s[k])
        if at_s is None or station.inputs.cue != "contact":
            continue
        rng = chance.stream("stray", station.id)
        (told, *_) = changes(rng, at_s + foil_s(rng, plan.film.frame_rate), closed=True)
        found.append(
            Event(
                id=f"stray-{station.id}",
                t=plan.zero + timedelta(microseconds=round(told.at_s * 1e6)),
                kind="mark_pass",
                station=station.id,
                mark=stray.mark,
                source=source_of("contact", station.booth),
            )
        )
    return found


def put_right(events: Sequence[Event], swapped: Swapped) -> list[Event]:
    """The taps of two houses, each for its own again."""
    first, second = swapped.stations
    right = {first: second, second: first}
    return [
        event.model_copy(update={"station": right[event.station]})
        for event in events
        if event.kind == "mark_pass" and event.mark == swapped.mark and event.station in right
    ]
