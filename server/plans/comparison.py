"""What differs between two texts of a plan, in words."""

from typing import Any, Final

from server.plans.edits import zone_of
from server.plans.keypaths import Value, at_path, path_from_text, values_of
from server.plans.naming import entry_name, label_of, place_name
from server.timeline.tables import toml_data

MOST = 60
"""Chosen: a list that somebody reads; what is past it is counted."""

_NAMES: Final = {"print": "piece of the print", "stations": "house", "marks": "mark", "stop_groups": "stop group"}
_LISTS: Final = tuple(_NAMES)
_UNSEEN: Final = frozenset({"id"})
_ONLY_WRITTEN: Final = "Only how it is written, or a comment."

Data = dict[str, Any]


def changes_in_words(old: str, new: str) -> list[str]:
    """What became another from one text to the other, a line each; none where they are the same."""
    if old == new:
        return []
    before, after = _parsed(old), _parsed(new)
    if before is None or after is None:
        which = "Both texts" if before is after else "The earlier text" if before is None else "The later text"
        return [f"{which} cannot be read as a plan: look at the text itself."]
    lines = [*_table_changes(before, after)]
    for name in _LISTS:
        lines += _list_changes(name, _entries(before, name), _entries(after, name), before, after)
    if len(lines) > MOST:
        lines = [*lines[:MOST], f"And {len(lines) - MOST} more."]
    return lines or [_ONLY_WRITTEN]


def _parsed(text: str) -> Data | None:
    try:
        return toml_data(text.removeprefix("\ufeff"))
    except ValueError:
        return None


def _entries(data: Data, name: str) -> list[Data]:
    found = data.get(name)
    return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []


def _table_changes(before: Data, after: Data) -> list[str]:
    old, new = (values_of({key: value for key, value in data.items() if key not in _LISTS}) for data in (before, after))
    moment = "timing.motors_at"
    for values, data in ((old, before), (new, after)):
        if moment in values:
            values[moment] = _moment(data)
    return _value_changes("", old, new)


def _moment(data: Data) -> str:
    """The start by the house's clock, with its zone where that is what differs."""
    start, zone = at_path(data, ("timing", "motors_at")), zone_of(data)
    if zone is None or not hasattr(start, "astimezone"):
        return str(start)
    return f"{start.astimezone(zone):%Y-%m-%d %H:%M:%S}".removesuffix(":00")


def _value_changes(where: str, old: dict[str, Value], new: dict[str, Value]) -> list[str]:
    """One line for each thing that has another value; what stands for one thing is one line."""
    lines: dict[str, str] = {}
    for key in [*old, *(key for key in new if key not in old)]:
        label, _ = label_of(path_from_text(key))
        was, now = _shown(key, old), _shown(key, new)
        if was == now or key in _UNSEEN:
            continue
        was = was or next((_shown(other, old) for other in old if _label(other) == label and other not in new), "")
        now = now or next((_shown(other, new) for other in new if _label(other) == label and other not in old), "")
        lines[label] = f"{where}{label} {_from_to(was, now)}"
    return [line[:1].upper() + line[1:] for line in lines.values()]


def _label(key: str) -> str:
    return label_of(path_from_text(key))[0]


def _from_to(was: str, now: str) -> str:
    if not was:
        return f"{now}; it was not given before."
    return f"{now}, was {was}." if now else f"is not given any more, was {was}."


def _shown(key: str, values: dict[str, Value]) -> str:
    if key not in values:
        return ""
    value = values[key]
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = ", ".join(value) if isinstance(value, list) else f"{value:g}" if isinstance(value, float) else str(value)
    unit = label_of(path_from_text(key))[1]
    return f"{text} {unit}".strip()


def _list_changes(name: str, old: list[Data], new: list[Data], before: Data, after: Data) -> list[str]:
    """Entries are known again by their ids; those without one by their places."""
    was = {_id(entry, place): place for place, entry in enumerate(old)}
    now = {_id(entry, place): place for place, entry in enumerate(new)}
    lines = [f"Taken out: {_called(before, name, was[key])}." for key in was if key not in now]
    lines += [
        f"Added: {_called(after, name, now[key])}{_behind(after, name, now[key])}." for key in now if key not in was
    ]
    both_old = [key for key in was if key in now]
    if both_old != [key for key in now if key in was]:
        lines.append(f"Order: {_order(after, name, len(new))}.")
    for key in both_old:
        where = f"{entry_name(after, (name, now[key]))}: "
        lines += _value_changes(where, _flat(old[was[key]]), _flat(new[now[key]]))
    return lines


def _id(entry: Data, place: int) -> str:
    found = entry.get("id")
    return found if isinstance(found, str) else f"[{place}]"


def _flat(entry: Data) -> dict[str, Value]:
    return {key: value for key, value in values_of(entry).items() if "[" not in key}


def _called(data: Data, name: str, place: int) -> str:
    called = entry_name(data, (name, place))
    return called if name == "stations" or called.startswith("The ") else f"{_NAMES[name]} {called}"


def _behind(data: Data, name: str, place: int) -> str:
    if name in {"marks", "stop_groups"}:
        return ""
    return f", after {entry_name(data, (name, place - 1))}" if place else ", first"


def _order(data: Data, name: str, count: int) -> str:
    return ", ".join(place_name(data, (name, place)).removeprefix("House ") for place in range(count))
