"""What an alarm says and what to do about it, in the words of the vocabulary."""

import re
from functools import lru_cache

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.naming import house_of, link_of, place_of, source_of
from server.timeline.plan import Plan

OTHERWISE = {
    "start_missing_unseen": "{subject}: nobody can tell whether the motor started: its contacts are silent",
    "mark_overdue_again": "{subject}: {more} is overdue at this gate too: its foil is off the print",
    "slack_forecast_now": "{subject}: the reserve is all but gone, if it is not gone already",
}
"""What some alarms of a kind say in place of what the others say, by the kind and a word more."""

_FOLDERS = re.compile(r"(?:/[\w.+-]+)+/(?=[\w.+-])")


@lru_cache(maxsize=4096)
def text_of(kind: str, subject: str, more: str = "") -> str:
    """Return the one sentence that says what is wrong.

    `subject` is a house or a link as people name it, a source or a figure, as the kind has it; `more` the mark or the
    reason, if any.
    """
    because = f" ({more})" if more else ""
    text = OTHERWISE[kind] if kind in OTHERWISE else ALARM_KINDS[kind].text
    return text.format(subject=subject, more=more, because=because)


def silent_text(source: str, why: str) -> str:
    """Return what is said of a silent source; of a file its name alone, for where it lies its own event says."""
    name = source_of(source)
    return text_of("feed_silent", name[:1].upper() + name[1:], _FOLDERS.sub("", why))


def place_and_what(plan: Plan, kind: str, subject: str, text: str) -> tuple[str, str]:
    """Return the place that a sentence begins with, a link's short ("8 to 7"), and what it says of that.

    The place is empty where it begins with none.
    """
    known = place_of(plan, subject)
    if text.startswith(f"{known}: "):
        short = known.removeprefix("House ") if ALARM_KINDS[kind].subject == "link" else known
        return short, text[len(known) + 2 :]
    place, _, what = text.partition(": ")
    # What does not fit is told in a sentence of its own, in which a title may have a colon.
    is_place = what and (kind != "misfit" or _is_place(plan, place))
    return (place, what) if is_place else ("", text)


def _is_place(plan: Plan, place: str) -> bool:
    houses = {house_of(plan, k) for k in range(len(plan.stations))}
    links = {link_of(plan, i) for i in range(len(plan.links))}
    return place in houses | links | {"All motors"} or place.startswith("Houses ")


def names_places(kind: str, todo: str) -> bool:
    """Return whether what is to be done about a stop says where: it does, but for looking at the place itself."""
    look = ALARM_KINDS[kind].look
    return look != "" and todo != look[0].upper() + look[1:]
