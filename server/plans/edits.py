"""Changes of a plan, each to one key or one entry of a list, made in its text. All else in it stays as it was."""

import json
import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import date, datetime, time, timedelta
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from server.plans.keypaths import at_path, path_from_text
from server.plans.spans import KeyPath
from server.plans.texts import add_entry, giving_way, move_entry, remove_entry, set_key
from server.timeline.patterns import KEY
from server.timeline.tables import toml_data

MOST_ENTRIES = 1_000
"""Of a list. Chosen: what a plan may have of segments, and five times what it may have of stations."""

ListName = Literal["print", "stations", "marks", "stop_groups"]

_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?", re.ASCII)

NOT_IN_PLACE = "This part of the text is written in a way that can only be changed as text."


class EditFault(Exception):
    """A change that cannot be made in this text, in one sentence; the text is unchanged."""


def _encodable(text: str) -> str:
    if any("\ud800" <= char <= "\udfff" for char in text):
        raise ValueError("half a character is no text")
    return text


def _key_path(text: str) -> str:
    path_from_text(text)
    return text


Text = Annotated[str, Field(max_length=2_000), AfterValidator(_encodable)]
KeyText = Annotated[str, Field(max_length=200), AfterValidator(_key_path)]
Place = Annotated[int, Field(ge=0, lt=MOST_ENTRIES)]
Written = bool | int | float | Text | list[Text]
"""What a field gives; a text also where the key wants a number and it is none: it is written, and told as a fault."""


class _Edit(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SetKey(_Edit):
    """Give a key a value; null takes the key out, so that its default holds.

    Of keys that stand for one thing (`path_ft` and `path_m`; `feet`, `frames` and `duration`) the one that is there
    gives way, in its place.
    """

    do: Literal["set"]
    path: KeyText
    value: Written | None


class Add(_Edit):
    """Put a new entry into a list, before the one at `at`, or at its end; a table in it is written on one line."""

    do: Literal["add"]
    list: ListName
    at: Place
    values: dict[Annotated[str, Field(pattern=KEY)], Written | dict[str, Text]]


class Remove(_Edit):
    """Take an entry out of a list, with the comments that are about it."""

    do: Literal["remove"]
    list: ListName
    at: Place


class Move(_Edit):
    """Put an entry of a list elsewhere: at `to` once it is out."""

    do: Literal["move"]
    list: ListName
    at: Place
    to: Place


class SetStart(_Edit):
    """Set the start of the motors by the house's clock, `2026-03-14` and `18:50` or `18:50:00`.

    Of an hour that the clock goes through twice it is the first. What is no day or time is written as it is, and told
    as a fault.
    """

    do: Literal["start"]
    day: Text
    time: Text


class SetZone(_Edit):
    """Set the time zone: the start stays at the same time of the house's clock."""

    do: Literal["zone"]
    name: Text


Edit = Annotated[SetKey | Add | Remove | Move | SetStart | SetZone, Field(discriminator="do")]


def edited(text: str, edits: Sequence[Edit]) -> str:
    """The text with the edits made, one after another.

    Raises EditFault where one cannot be made, ValueError where the text is no TOML.
    """
    text = text.removeprefix("\ufeff")
    data = toml_data(text)
    for edit in edits:
        for change in _changes(edit, data):
            wanted = _made_in_data(data, change)
            text = _made_in_text(text, change)
            try:
                data = toml_data(text)
            except ValueError:  # what was asked for cannot stand in a text: a key of an entry that is no key
                raise EditFault(NOT_IN_PLACE) from None
            # The one promise of this module, so it is looked after where it is made: nothing else has become another.
            if _canonical(data) != _canonical(wanted):
                raise EditFault(NOT_IN_PLACE)
    return text


class _Set(_Edit):
    """SetKey with its path taken apart, and a value that may be a date."""

    path: KeyPath
    value: Written | datetime | None


Change = _Set | Add | Remove | Move


def _changes(edit: Edit, data: Mapping[str, object]) -> list[Change]:
    """What an edit comes to in the text."""
    match edit:
        case SetKey():
            return [_Set(path=path_from_text(edit.path), value=edit.value)]
        case SetStart():
            start = start_from_clock(edit.day, edit.time, zone_of(data)) or f"{edit.day}T{edit.time}"
            return [_Set(path=("timing", "motors_at"), value=start)]
        case SetZone():
            return [_Set(path=("timezone",), value=edit.name or None), *_start_moved(edit.name, data)]
        case _:
            return [edit]


def _start_moved(name: str, data: Mapping[str, object]) -> list[Change]:
    start = at_path(data, ("timing", "motors_at"))
    old, new = zone_of(data), zone_of({"timezone": name})
    if not isinstance(start, datetime) or start.tzinfo is None or old is None or new is None:
        return []
    try:
        moved = start.astimezone(old).replace(tzinfo=new)
    except OverflowError:  # a start in the year 1 or 9999 is told as a fault, and stays
        return []
    return [_Set(path=("timing", "motors_at"), value=_with_offset(moved))]


def zone_of(data: Mapping[str, object]) -> ZoneInfo | None:
    """The zone of a parsed text's house clock: UTC where it names none, None where the name is none."""
    name = data.get("timezone") or "UTC"
    try:
        return ZoneInfo(name) if isinstance(name, str) else None
    except (KeyError, ValueError, OSError):
        return None


def start_from_clock(day: str, clock: str, zone: ZoneInfo | None) -> datetime | None:
    """The instant of a day and a time of day by a zone's clock; None where there is no such thing."""
    if zone is None or not _DAY.fullmatch(day) or not _CLOCK.fullmatch(clock):
        return None
    try:
        return _with_offset(datetime.combine(date.fromisoformat(day), time.fromisoformat(clock), zone))
    except ValueError:  # the 30th of February
        return None


def _with_offset(moment: datetime) -> datetime:
    """The same with a plain offset, as a file has it, in whole seconds."""
    offset = moment.utcoffset() or timedelta(0)
    local = moment.replace(tzinfo=None, microsecond=0)
    return datetime.fromisoformat(f"{local.isoformat()}{_offset_text(offset)}")


def _offset_text(offset: timedelta) -> str:
    # TOML has offsets in whole minutes; zones before about 1930 do not.
    minutes = round(offset / timedelta(minutes=1))
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"


def _made_in_text(text: str, change: Change) -> str:
    try:
        match change:
            case _Set():
                return set_key(text, change.path, change.value)
            case Add():
                return add_entry(text, change.list, change.at, change.values)
            case Remove():
                return remove_entry(text, change.list, change.at)
            case Move():
                return move_entry(text, change.list, change.at, change.to)
    except (ValueError, KeyError, IndexError, TypeError) as error:
        raise EditFault(NOT_IN_PLACE) from error


def _made_in_data(data: dict[str, Any], change: Change) -> dict[str, Any]:
    """The parsed text as it should be after a change."""
    new = deepcopy(data)
    if isinstance(change, _Set):
        _set_in_data(new, change.path, change.value)
        return new
    entries = new.setdefault(change.list, [])
    if not isinstance(entries, list) or (not isinstance(change, Add) and change.at >= len(entries)):
        raise EditFault(f"This plan has no {change.list}[{change.at}]: look at its text.")
    match change:
        case Add():
            entries.insert(change.at, deepcopy(change.values))
        case Remove():
            del entries[change.at]
        case Move():
            entries.insert(change.to, entries.pop(change.at))
    if not entries:
        del new[change.list]
    return new


def _set_in_data(data: dict[str, Any], path: KeyPath, value: object | None) -> None:
    holder: Any = data
    for part in path[:-1]:
        if isinstance(part, str) and value is not None and isinstance(holder, dict):
            holder = holder.setdefault(part, {})
        else:
            holder = at_path(holder, (part,))
    if not isinstance(holder, dict):
        if value is None and holder is None:
            return
        raise EditFault(NOT_IN_PLACE)
    if value is None:
        holder.pop(path[-1], None)
        return
    for key in giving_way(path[-1]):
        holder.pop(key, None)
    holder[path[-1]] = value


def _canonical(data: dict[str, Any]) -> str:
    """Equal for equal data, whatever the order of keys; empty tables are as none, because they say nothing."""
    return json.dumps(_without_empty(data), sort_keys=True, default=str)


def _without_empty(value: object) -> object:
    if isinstance(value, dict):
        return {key: inner for key, old in value.items() if (inner := _without_empty(old)) != {}}
    return [_without_empty(entry) for entry in value] if isinstance(value, list) else value
