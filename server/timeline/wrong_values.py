"""What pydantic found wrong with a value, told in our words: at a request and at a command alike."""

from collections.abc import Mapping
from typing import Any, Final

from server.timeline.amounts import amount
from server.timeline.faults import found_text
from server.timeline.patterns import IN_WORDS

A_DAY: Final = "a day such as 2026-03-14"
A_TIME: Final = "a time with its offset, such as 2026-03-14T18:50:00-05:00"

_WITHOUT_VALUE: Final = {
    "missing": "found nothing; accepted is a value",
    "extra_forbidden": "found an unknown key; accepted is a request without it",
    "model_attributes_type": "found no JSON object; accepted is one",
    "json_invalid": "found no JSON; accepted is JSON in UTF-8",
}
"""Faults in which the value that was found says nothing, by pydantic's own names of them."""

_ACCEPTED: Final = {
    "string_type": "a text",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing_size": "a whole number of fewer digits",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "an object",
    "model_type": "an object",
    "literal_error": "{expected}",
    "enum": "{expected}",
    "greater_than": "more than {gt}",
    "greater_than_equal": "{ge} or more",
    "less_than": "less than {lt}",
    "less_than_equal": "{le} or less",
    "union_tag_invalid": "{expected_tags} as {discriminator}",
    "union_tag_not_found": "an object with {discriminator}",
    **dict.fromkeys(("date_type", "date_parsing", "date_from_datetime_parsing", "date_from_datetime_inexact"), A_DAY),
    **dict.fromkeys(("datetime_type", "datetime_parsing", "datetime_from_date_parsing"), A_TIME),
    "timezone_aware": A_TIME,
}
"""What is accepted, by pydantic's own names of what was wrong."""

_COUNTED: Final = {
    "string_too_short": ("a text of at least", "min_length", "character"),
    "string_too_long": ("a text of at most", "max_length", "character"),
    "too_short": ("a list of at least", "min_length", "value"),
    "too_long": ("a list of at most", "max_length", "value"),
}
"""What is accepted where something is counted: the words before the number, the number's key, and the thing."""


def wrong_value_text(fault: Mapping[str, Any]) -> str:
    """One of a ValidationError's `errors()`: what was found and what is accepted, or the sentence of who raised it."""
    kind = fault["type"]
    if kind in _WITHOUT_VALUE:
        return _WITHOUT_VALUE[kind]
    accepted = _accepted(kind, fault.get("ctx", {}))
    if accepted is None:
        return str(fault["msg"]).removeprefix("Value error, ")
    return f"found {found_text(fault['input'])}; accepted is {accepted}"


def _accepted(kind: str, context: Mapping[str, Any]) -> str | None:
    if kind in _COUNTED:
        said, key, thing = _COUNTED[kind]
        return f"{said} {amount(context[key], thing)}"
    if kind == "string_pattern_mismatch":
        return IN_WORDS.get(context["pattern"])
    if kind in _ACCEPTED:
        return _ACCEPTED[kind].format(**{key: _in_full(value) for key, value in context.items()})
    return None


def _in_full(value: object) -> object:
    """A bound with all its digits: 4000000, and not 4e+06 or 4000000.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value
