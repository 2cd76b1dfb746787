"""The forms that short texts must have, each with its words beside it."""

from typing import Final

ONE_LINE: Final = r"^[^\p{Cc}\p{Zl}\p{Zp}]+$"
SEEN_LINE: Final = r"^[^\p{Cc}\p{Cf}\p{Zl}\p{Zp}]+$"
KEY: Final = "^[a-z_]+$"

IN_WORDS: Final = {
    ONE_LINE: "a text on one line, not empty, without control characters",
    SEEN_LINE: "a text on one line, not empty, without control or invisible characters",
    KEY: "a key of small letters from a to z and underscores",
}
"""What each accepts, as it follows "accepted is"."""
