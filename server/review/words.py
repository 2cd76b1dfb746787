"""Events in words, as a debrief tells them: what was seen, and where."""

from collections.abc import Mapping

from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.events import TO_ALL, Event
from server.timeline.naming import alarm_of, house_of, link_of
from server.timeline.people import HOLD_ASKED, TROUBLE_WORDS, is_hold_asked
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock


def place_in_words(event: Event, plan: Plan) -> str | None:
    """Return where it was: a house, a link by its houses, a booth, "the chain"; None for what is about none of them."""
    if EVENT_KINDS[event.kind].place == "chain":
        return "the chain"
    if event.to is not None:
        return "every booth" if event.to == TO_ALL else f"booth {event.to}"
    if event.station is None:
        return None
    if is_hold_asked(event.what, event.text):
        return "the lobby"
    k = plan.station_index[event.station]
    return link_of(plan, k - 1) if EVENT_KINDS[event.kind].place == "link" and k else house_of(plan, k)


def event_in_words(event: Event, plan: Plan, known: Mapping[str, Event] | None = None) -> str:
    """Return what was seen or said; `known` are the events by their ids, so that what is taken back can be named."""
    seconds, words = event.seconds or 0.0, EVENT_KINDS[event.kind].words
    match event.kind:
        case "mark_pass":
            return f"{plan.mark(event.mark or '').title} {words}"
        case "slack_read":
            return f"{words} a slack of {seconds:+z.2f} s"
        case "relaced":
            return f"{words}, slack {seconds:+z.2f} s"
        case "hold":
            return f"{words} for {house_clock(plan, seconds):%H:%M:%S}"
        case "report" | "report_over" | "call":
            return _said_in_words(event)
        case "retract":
            return _taken_back((known or {}).get(event.retracts or ""), plan)
        case "ack":
            return f"{words}: {alarm_of(plan, event.alarm or '')}"
        case "shelve":
            how = f"{words} for {seconds:g} s" if seconds else "no longer shelved"
            return f"{how}: {alarm_of(plan, event.alarm or '')}"
        case "clock_step":
            return f"{words} by {seconds:+z.1f} s"
        case _:
            return words


def told_in_words(event: Event, plan: Plan) -> str:
    """Return both in one: "House 4: ready to start"; what is about all of the chain needs no place."""
    where, what = place_in_words(event, plan), event_in_words(event, plan)
    if where is None or EVENT_KINDS[event.kind].place == "chain":
        return what[:1].upper() + what[1:]
    return f"{where}: {what}"


def _said_in_words(event: Event) -> str:
    """What people said to one another: a report from a house, that it was seen to, a call."""
    more = "" if event.text is None else f": {event.text}"
    if event.kind == "call":
        return f"call{more}"
    if event.kind == "report_over":
        return f"{'what was wrong' if event.what is None else TROUBLE_WORDS[event.what]}, seen to{more}"
    if is_hold_asked(event.what, event.text):
        return HOLD_ASKED
    return f"reported {TROUBLE_WORDS[event.what or 'other']}{more}"


def _taken_back(event: Event | None, plan: Plan) -> str:
    if event is None:
        return "taken back"
    where, what = place_in_words(event, plan), event_in_words(event, plan)
    return f"taken back: {what}" if where is None else f"taken back: {where}, {what}"
