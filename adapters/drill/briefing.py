"""What somebody is told before a rehearsal: what is theirs to do, and how."""

from collections.abc import Iterator

from adapters.drill.duties import Duties, Thing
from adapters.drill.sights import house_of

_CREWS = {
    "contacts": "The simulated crew does what contacts report. The rest is yours:",
    "all": "The simulated crew does everything. You may step in at any time: it is yours",
    "none": "There is no simulated crew. Everything is yours:",
}

_THINGS: dict[Thing, str] = {"lamp": "the lamps of", "douser": "the dousers of", "cue": "to tap the passes at"}


def briefing_of(duties: Duties) -> list[str]:
    """A few sentences, each a line."""
    yours = [*_yours(duties), "to stop the film when it has to be stopped"]
    return [
        f"{_CREWS[duties.crew]} {'; '.join(yours)}.",
        'On the pad a tap does what it says: "Lamp lit" strikes that lamp, "All motors stopped" stops the film.',
        "What there is to be seen at a gate is called out here and on the pad by the lookout. Nothing real moves.",
    ]


def _yours(duties: Duties) -> Iterator[str]:
    if duties.motors:
        yield "to start the motors"
    for thing, words in _THINGS.items():
        houses = _houses(duties, thing)
        if houses:
            yield f"{words} {houses}"


def _houses(duties: Duties, thing: Thing) -> str:
    stations = duties.plan.stations
    yours = [station for station in stations if duties.yours(station, thing)]
    if len(yours) == len(stations) > 1:
        return "every house"
    return ", ".join(house_of(station.id, duties.plan) for station in yours)
