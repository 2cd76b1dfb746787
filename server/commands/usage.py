"""Wrong options and arguments, told as everything else is: what was found and what is accepted."""

from typing import TYPE_CHECKING

import typer
from pydantic import ValidationError
from typer.core import TyperGroup

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails
    from typer._click import Context

ACCEPTED = {
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_parsing": "a number",
    "greater_than_equal": "{ge:g} or more",
    "greater_than": "more than {gt:g}",
    "less_than_equal": "{le:g} or less",
    "less_than": "less than {lt:g}",
}
"""What is accepted, by pydantic's own names of what was wrong; the rest says it in its message."""
FORMATS = {"'%Y-%m-%d'": "a day such as 2026-03-14", "'%Y-%m'": "a month such as 2026-03"}
"""The formats of times that commands take, as people write them."""


class PlainUsage(TyperGroup):
    """Commands whose wrong options are told in one sentence each, without the words of a library."""

    def invoke(self, ctx: "Context") -> object:
        """Do what was asked for. Raises typer.BadParameter, in plain words."""
        try:
            return super().invoke(ctx)
        except typer.BadParameter as bad:
            if isinstance(bad.__cause__, ValidationError):
                bad.message = "; ".join(_sentence(error) for error in bad.__cause__.errors())
            raise


def _sentence(error: "ErrorDetails") -> str:
    accepted = ACCEPTED.get(error["type"])
    if accepted:
        return f"found {error['input']}; accepted {accepted.format(**error.get('ctx', {}))}"
    said = error["msg"].removeprefix("Value error, ")
    for code, example in FORMATS.items():
        said = said.replace(f"does not match the formats {code}", f"is not {example}")
    return said
