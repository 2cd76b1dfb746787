"""What an alarm says and what to do about it, in the words of the vocabulary."""

from functools import lru_cache

from server.timeline.alarm_kinds import ALARM_KINDS

_OTHERWISE = {
    "start_unseen": "{subject}: nobody can tell whether the motor started: its contacts are silent",
    "foil_missing": "{subject}: {more} is overdue at this gate too: its foil is off the print",
    "slack_forecast_now": "{subject}: the reserve is all but gone, if it is not gone already",
}
"""What some alarms of a kind say in place of what the others say."""


@lru_cache(maxsize=4096)
def text_of(kind: str, subject: str, more: str = "") -> str:
    """Return the one sentence that says what is wrong.

    `subject` is a house or a link as people name it, a source or a figure, as the kind has it; `more` the mark or the
    reason, if any.
    """
    because = f" ({more})" if more else ""
    text = _OTHERWISE[kind] if kind in _OTHERWISE else ALARM_KINDS[kind].text
    return text.format(subject=subject, more=more, because=because)
