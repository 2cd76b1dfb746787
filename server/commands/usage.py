"""Wrong options and arguments, told as everything else is: what was found and what is accepted."""

from typing import TYPE_CHECKING

import typer
from pydantic import ValidationError
from typer.core import TyperGroup

from server.timeline.wrong_values import A_DAY, wrong_value_text

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails
    from typer._click import Context

FORMATS = {"'%Y-%m-%d'": A_DAY, "'%Y-%m'": "a month such as 2026-03"}
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
    said = wrong_value_text(error)
    for code, example in FORMATS.items():
        said = said.replace(f"does not match the formats {code}", f"is not {example}")
    return said
