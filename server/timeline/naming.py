"""Houses, links and motors as people name them; ids are for files and machines."""

from collections.abc import Iterable

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.faults import both
from server.timeline.plan import Plan


def house_of(plan: Plan, station: int) -> str:
    """Return "House 4" for a station, by its index in film order."""
    return f"House {plan.stations[station].house}"


def link_of(plan: Plan, link: int) -> str:
    """Return "House 4 to 6" for a link, by its index in film order."""
    return f"House {plan.stations[link].house} to {plan.stations[link + 1].house}"


def houses_of(plan: Plan, stations: Iterable[int]) -> str:
    """Return "House 4", or "Houses 4, 6 and 7"."""
    names = [plan.stations[k].house for k in stations]
    return f"House{'s' if len(names) > 1 else ''} {both(names)}"


def numbers_of(plan: Plan, stations: Iterable[int]) -> str:
    """Return the names alone: "4, 6 and 7"."""
    return both(plan.stations[k].house for k in stations)


def place_of(plan: Plan, subject: str) -> str:
    """Return what an alarm's subject is called: a house, a link, "the chain", a source."""
    if subject in plan.station_index:
        return house_of(plan, plan.station_index[subject])
    if subject == "chain":
        return "the chain"
    return next((link_of(plan, i) for i, link in enumerate(plan.links) if link.id == subject), source_of(subject))


def source_of(source: str) -> str:
    """Return what a source of events is called: "contacts east", "the taps"; a recording has no name of its own."""
    kind, _, name = source.partition(":")
    if kind == "contact":
        return f"contacts {name}" if name else "the contacts"
    return {"tap": "the taps", "recording": "the recording"}.get(kind, kind)


def alarm_of(plan: Plan, key: str) -> str:
    """Return what an alarm is called by its key: "motor lost, House 4"."""
    kind, _, subject = key.partition(":")
    if kind == "call":
        return f"call to {'every booth' if subject == 'chain' else f'booth {subject}'}"
    if kind == "house_report":
        return f"report from {place_of(plan, subject)}"
    return f"{ALARM_KINDS[kind].name}, {place_of(plan, subject)}"
