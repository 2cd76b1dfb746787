"""Events: one thing observed, at a station, at an instant, by a source.

The order of arrival means nothing: events are told apart by `id` and ordered by `order_key`.
"""

import json
import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Annotated, Final, NamedTuple, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StrictStr, ValidationError, model_validator

from server.timeline.alarm_kinds import alarm_refusal
from server.timeline.event_kinds import DAY_S, EVENT_KINDS, KEYS_ASKED, KEYS_KNOWN, EventKind
from server.timeline.faults import both, either, found_text
from server.timeline.file_kinds import RECORDING, in_anothers_place
from server.timeline.patterns import ONE_LINE
from server.timeline.plan import Plan
from server.timeline.view import Trouble

FORMAT: Final = "festoon-events/1"

TO_ALL: Final = "all"
"""Whom a call goes to that is for every booth."""

_KEYS_OF_KINDS: Final = ("station", "mark", "seconds", "retracts", "alarm", "what", "to", "text")

_HEAD_LINES: Final = 100  # chosen: of a plan or a site file, within which its format stands
# Chosen: past these a value is a slip of its source.
_ID_LENGTH: Final = 200
_TEXT_LENGTH: Final = 2000
_YEARS: Final = (1900, 2199)
_RFC3339: Final = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt](?:[01][0-9]|2[0-3]):[0-5][0-9]:([0-5][0-9]|60)(?:\.([0-9]+))?"
    r"(?:[Zz]|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])"
)
_TIME: Final = "a time as RFC 3339 with its offset, at most microseconds, such as '2026-03-14T18:50:00.25-05:00'"
_ONE_LINE: Final = f"a text on one line, 1 to {_ID_LENGTH} characters"
_ACCEPTED: Final = {
    "t": _TIME,
    "kind": either(get_args(EventKind)),
    "source": "tap, contact or recording, and after a colon a name if it has one",
    "sigma_s": f"a number from 0 to {DAY_S:.0f}",
    "seconds": "a number",
    "what": either(get_args(Trouble)),
    "text": f"a text of 1 to {_TEXT_LENGTH} characters",
}


class EventFault(ValueError):
    """What is wrong with one event: what was found and what is accepted, on one line."""


class RecordingFault(ValueError):
    """A recording that cannot be used at all, in one line that names it."""


def time_from_rfc3339(text: str) -> datetime:
    """Read an RFC 3339 time with its offset; in UTC.

    Raises EventFault for anything else, for more digits than microseconds and for a leap second.
    """
    match = _RFC3339.fullmatch(text)
    if not match:
        raise EventFault(f"found {found_text(text)}; accepted {_TIME}")
    if match[1] == "60":
        raise EventFault(f"found the leap second {found_text(text)}; accepted seconds 00 to 59")
    if match[2] and len(match[2]) > 6:
        raise EventFault(f"found {len(match[2])} digits after the point in {found_text(text)}; accepted at most 6")
    try:
        moment = datetime.fromisoformat(text.upper()).astimezone(UTC)
    except (ValueError, OverflowError):
        moment = None
    if moment is None or not _YEARS[0] <= moment.year <= _YEARS[1]:
        raise EventFault(f"found {found_text(text)}; accepted a day that exists, years {_YEARS[0]} to {_YEARS[1]}")
    return moment


def rfc3339(moment: datetime) -> str:
    """Write an aware time as RFC 3339 in UTC, `Z`, with as many digits of a second as it needs."""
    text = moment.astimezone(UTC).replace(tzinfo=None).isoformat()
    return (text.rstrip("0") if "." in text else text) + "Z"


def _moment(value: object) -> datetime:
    if isinstance(value, str):
        return time_from_rfc3339(value)
    if isinstance(value, datetime) and value.tzinfo:
        return value.astimezone(UTC)
    raise EventFault(f"found {found_text(value)}; accepted {_TIME}")


_OneLine = Annotated[StrictStr, Field(max_length=_ID_LENGTH, pattern=ONE_LINE)]
_Source = Annotated[
    StrictStr, Field(max_length=_ID_LENGTH, pattern=r"^(tap|contact|recording)(:[^\p{Cc}\p{Zl}\p{Zp}]+)?$")
]


class Event(BaseModel):
    """One thing observed; `t` is when it happened as its source wrote it down, kept in UTC.

    The keys after `by` are None unless the kind asks for them; a key that the kind does not use is refused.
    `sigma_s` is one standard deviation of `t`, None for the default of its source. `shelve` sets an alarm aside for
    `seconds` (0 ends it), `clock_step` says that the computer's clock jumped by `seconds`, `relaced` that the link
    which feeds the station was laced anew with that slack (0 where it is not given), and `hold` that the start of the
    whole chain is moved to `seconds` after the plan's. `report` says what is wrong in a house, `report_over` that it
    was seen to (all of it where `what` is not given), and `call` is a word to a booth by its name, or to all.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    id: _OneLine
    t: Annotated[datetime, BeforeValidator(_moment)]
    kind: EventKind
    station: _OneLine | None = None
    source: _Source
    sigma_s: Annotated[float, Field(strict=True, ge=0.0, le=DAY_S)] | None = None
    by: _OneLine | None = None
    mark: _OneLine | None = None
    seconds: Annotated[float, Field(strict=True)] | None = None
    retracts: _OneLine | None = None
    alarm: _OneLine | None = None
    what: Trouble | None = None
    to: _OneLine | None = None
    text: Annotated[StrictStr, Field(min_length=1, max_length=_TEXT_LENGTH)] | None = None

    @property
    def is_tap(self) -> bool:
        """Whether somebody tapped it, so that it counts at `t` less the plan's `tap_lag_s`."""
        return self.source.partition(":")[0] == "tap"

    @model_validator(mode="after")
    def _holds_what_its_kind_asks(self) -> "Event":
        faults = [fault for key in _KEYS_OF_KINDS if (fault := self._fault_of(key))]
        if faults:
            raise EventFault(_one_text(faults))
        return self

    def _fault_of(self, key: str) -> str | None:
        value = getattr(self, key)
        required = key in KEYS_ASKED[self.kind]
        if value is None:
            return f"{key}: found nothing; accepted {_ACCEPTED.get(key, _ONE_LINE)}" if required else None
        if key not in KEYS_KNOWN[self.kind]:
            return f"{key}: found {found_text(value)}; accepted no {key} in a {self.kind}"
        if key == "seconds":
            low, high = EVENT_KINDS[self.kind].seconds
            return None if low <= value <= high else f"seconds: found {value:g}; accepted {low:g} to {high:g}"
        if key == "retracts" and value == self.id:
            return f"retracts: found its own id {found_text(value)}; accepted the id of another event"
        return None


_KEYS: Final = tuple(Event.model_fields)


def event_from_json(text: str | bytes | Mapping[str, object]) -> Event:
    """Read one event, from JSON or from an object already parsed.

    Raises EventFault with everything that is wrong with it; a null counts as an absent key.
    """
    data = text if isinstance(text, Mapping) else _object_from_json(text)
    try:
        return Event.model_validate(data)
    except ValidationError as error:
        raise EventFault(_one_text(_worded(error))) from None


def _worded(error: ValidationError) -> list[str]:
    return [
        _fault(str(fault["loc"][0]) if fault["loc"] else "", fault["type"], fault["msg"], fault["input"])
        for fault in error.errors(include_url=False, include_context=False)
    ]


def _fault(key: str, kind: str, message: str, value: object) -> str:
    if kind == "value_error":  # our own words, behind pydantic's
        text = message.removeprefix("Value error, ")
        return f"{key}: {text}" if key else text
    if kind == "missing":
        return f"{key}: found nothing; accepted {_ACCEPTED.get(key, _ONE_LINE)}"
    if kind == "extra_forbidden":
        shown = key if key.isidentifier() else found_text(key)
        return f"{shown}: found an unknown key; accepted {either(_KEYS)}"
    return f"{key}: found {found_text(value)}; accepted {_ACCEPTED.get(key, _ONE_LINE)}"


def _one_text(faults: list[str]) -> str:
    return "; also ".join(faults)


def _object_from_json(text: str | bytes) -> dict[str, object]:
    try:
        decoded = text if isinstance(text, str) else text.decode()
        value = _DECODER.decode(decoded.removeprefix("\ufeff"))
    except EventFault:
        raise
    except UnicodeDecodeError:
        raise EventFault("found bytes that are not UTF-8; accepted one JSON object") from None
    except json.JSONDecodeError as error:
        raise EventFault(f"found no JSON ({error.msg}, column {error.colno}); accepted one JSON object") from None
    except (ValueError, RecursionError):  # an integer of thousands of digits, lists in lists without end
        raise EventFault("found a value too long or too deep; accepted one JSON object") from None
    if not isinstance(value, dict):
        raise EventFault(f"found {found_text(value)}; accepted one JSON object")
    return value


def _once_each(pairs: list[tuple[str, object]]) -> dict[str, object]:
    values = dict(pairs)
    if len(values) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise EventFault(f"found the key {found_text(twice)} twice; accepted each key once")
    return values


def _no_constant(name: str) -> object:
    raise EventFault(f"found {name}; accepted finite numbers")


_DECODER: Final = json.JSONDecoder(object_pairs_hook=_once_each, parse_constant=_no_constant)


def json_from_event(event: Event) -> dict[str, object]:
    """Write an event as the object of a recording's line: `t` in UTC, keys that are None left out."""
    values = {key: value for key in _KEYS if (value := getattr(event, key)) is not None}
    return values | {"t": rfc3339(event.t)}


def at_us(event: Event, plan: Plan) -> int:
    """When an event counts, in microseconds after the plan's zero: `t`, for a tap less `tap_lag_s`."""
    after_zero = (event.t - plan.zero) // timedelta(microseconds=1)
    return after_zero - round(plan.timing.tap_lag_s * 1e6) if event.is_tap else after_zero


def sigma_s(event: Event, plan: Plan) -> float:
    """One standard deviation of an event's time: its own, else its source's; a recording's is a contact's."""
    if event.sigma_s is not None:
        return event.sigma_s
    return plan.timing.tap_sigma_s if event.is_tap else plan.timing.contact_sigma_s


def order_key(event: Event, plan: Plan) -> tuple[int, str]:
    """What events are put in order by: when they count, then their ids."""
    return at_us(event, plan), event.id


def refusal(event: Event, plan: Plan) -> str | None:
    """Say why an event cannot belong to this plan; None where it can.

    That is a station, a mark or a booth that the plan does not have, the link before the first gate, or an alarm that
    no run of it can have.
    """
    if event.station is not None and event.station not in plan.station_index:
        return f"station: found {found_text(event.station)}; accepted {either(plan.station_index)}"
    if EVENT_KINDS[event.kind].place == "link" and event.station == plan.stations[0].id:
        fed = [station.id for station in plan.stations[1:]]
        accepted = either(fed) if fed else "no such event in a chain of one station"
        return f"station: found {found_text(event.station)}, which no link feeds; accepted {accepted}"
    if event.to is not None and event.to not in {*plan.booths, TO_ALL}:
        return f"to: found {found_text(event.to)}; accepted {either((*plan.booths, TO_ALL))}"
    if event.mark is not None and event.mark not in plan.marks_by_id:
        return f"mark: found {found_text(event.mark)}; accepted {either(plan.marks_by_id)}"
    return None if event.alarm is None else alarm_refusal(event.alarm, plan)


class Rejected(NamedTuple):
    """One line of a recording that is not taken, and why; lines count from 1."""

    line: int
    text: str


class Recording(NamedTuple):
    """A recording as read: its header (empty without one), events in order, rejected lines in order."""

    header: dict[str, object]
    events: list[Event]
    rejected: list[Rejected]


def read_recording(lines: Iterable[str | bytes], plan: Plan, name: str) -> Recording:
    """Read the lines of a recording; `name` is what messages call it.

    Lines may be bytes, so that one that is not UTF-8 is rejected by itself. A bad line is rejected and the rest
    stands. Raises RecordingFault where the header names a format other than this one, or this is another file of ours.
    """
    numbered = [(number, line) for number, line in enumerate(lines, 1) if line.strip()]
    if fault := in_anothers_place(_beginning(numbered), name, RECORDING):
        raise RecordingFault(fault)
    header = _header(numbered[0], name) if numbered else None
    copies: dict[str, list[tuple[int, Event]]] = {}
    rejected: list[Rejected] = []
    for number, line in numbered if header is None else numbered[1:]:
        try:
            event = event_from_json(line)
        except EventFault as fault:
            rejected.append(Rejected(number, str(fault)))
        else:
            copies.setdefault(event.id, []).append((number, event))
    events = _accepted(copies, plan, rejected)
    return Recording(header or {}, sorted(events, key=lambda event: order_key(event, plan)), sorted(rejected))


def _beginning(numbered: list[tuple[int, str | bytes]]) -> str:
    """As much of a file as tells which one it is."""
    lines = (line for _, line in numbered[:_HEAD_LINES])
    return "\n".join(line if isinstance(line, str) else line.decode(errors="replace") for line in lines)


def _header(numbered: tuple[int, str | bytes], name: str) -> dict[str, object] | None:
    """Take the first line for a header if it has a `format`; None where it has none."""
    number, line = numbered
    try:
        data = _object_from_json(line)
    except EventFault:
        return None
    if "format" in data and data["format"] != FORMAT:
        raise RecordingFault(
            f"{name}: line {number}: format: found {found_text(data['format'])}; accepted {found_text(FORMAT)}"
        )
    return data if "format" in data else None


def _accepted(copies: dict[str, list[tuple[int, Event]]], plan: Plan, rejected: list[Rejected]) -> list[Event]:
    """Keep one event an id, and reject every line of an id that cannot be kept."""
    events: dict[str, Event] = {}
    for event_id, lines in copies.items():
        fault = _conflict(lines) or refusal(lines[0][1], plan)
        if fault:
            rejected += [Rejected(number, fault) for number, _ in lines]
        else:
            events[event_id] = lines[0][1]
    while unknown := [event for event in events.values() if event.retracts and event.retracts not in events]:
        for event in unknown:  # as many rounds as retracts hang on one another
            del events[event.id]
            fault = f"retracts: found {found_text(event.retracts)}; accepted the id of an event of the recording"
            rejected += [Rejected(number, fault) for number, _ in copies[event.id]]
    return list(events.values())


def _conflict(lines: list[tuple[int, Event]]) -> str | None:
    if all(event == lines[0][1] for _, event in lines):
        return None
    where = both(str(number) for number, _ in lines)
    return (
        f"id: found different contents under {found_text(lines[0][1].id)} in lines {where}; accepted identical copies"
    )
