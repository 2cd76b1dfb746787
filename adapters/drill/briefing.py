"""What somebody is told before a rehearsal: what is theirs to do, and how."""

from collections.abc import Iterator

from adapters.drill.duties import Duties, Thing

_CREWS = {
    "contacts": "A simulated crew does what contacts report. Yours are:",
    "all": "A simulated crew does everything. You may step in at any time, as somebody has:",
    "none": "There is no crew but you. Yours are:",
}
_THINGS: dict[Thing, str] = {
    "lamp": "the lamps of",
    "douser": "the dousers of",
    "cue": "the first picture, to be confirmed, and what changes, at",
}


def briefing_of(duties: Duties, seed: int, start_s: float = 0.0) -> list[str]:
    """A few lines; they say nothing of what will go wrong. `start_s` is when they come, after `motors_at`."""
    return [
        f"A drill: {duties.plan.title} (--seed {seed}). Nothing real moves.",
        *_begun(start_s),
        _CREWS[duties.crew],
        *(f"  - {what}" for what in _yours(duties)),
        'At the booth desk a tap does what it says: "Lamp lit" strikes that lamp, "All motors stopped" stops the film.',
        "What there is to be seen at a gate is called out here and at that desk, by the lookout.",
    ]


def _begun(start_s: float) -> Iterator[str]:
    minutes = round(start_s / 60.0)
    if minutes > 0:
        yield f"You come to it in mid-show: the motors have run for {minutes} minute{'s' if minutes > 1 else ''}."


def _yours(duties: Duties) -> Iterator[str]:
    if duties.motors:
        yield 'the motors: start them by "All motors started"'
    for thing, words in _THINGS.items():
        houses = _houses(duties, thing)
        if houses:
            yield f"{words} {houses}"
    yield "stopping the film when it has to be stopped"


def _houses(duties: Duties, thing: Thing) -> str:
    stations = duties.plan.stations
    yours = [station.house for station in stations if duties.yours(station, thing)]
    if len(yours) == len(stations) > 1:
        return "every house"
    return f"House{'s' if len(yours) > 1 else ''} {', '.join(yours)}" if yours else ""
