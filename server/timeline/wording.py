"""What an alarm says and what to do about it, in the words of the vocabulary."""

from functools import lru_cache

_TEXTS = {
    "film_trip": "{subject}: the failsafe tripped: no film in the projector, or film too tight",
    "start_missing": "{subject}: the motor has not started; the others have",
    "start_unseen": "{subject}: nobody can tell whether the motor started: its contacts are silent",
    "motor_lost": "{subject}: the motor stopped before its tail was out",
    "film_heat": "{subject}: film stands in the light{because}",
    "strike_missed": "{subject}: the strike window has closed and the lamp is not lit",
    "strike_unconfirmed": "{subject}: the strike window has closed and nobody has confirmed the lamp",
    "dark_gate": "{subject}: the picture is at the gate and the lamp is not lit",
    "lamp_lost": "{subject}: the lamp went out with the picture on screen",
    "douser_heat": "{subject}: the lamp has been lit against a shut douser for too long",
    "mark_overdue": "{subject}: {more} is overdue at the gate",
    "reserve_spent": "{subject}: the reserve is spent: {more}",
    "slack_tight": "{subject}: the film is running tight",
    "slack_loose": "{subject}: the film is running loose",
    "slack_forecast": "{subject}: the reserve will be gone {more}",
    "slack_forecast_now": "{subject}: the reserve is all but gone, if it is not gone already",
    "feed_silent": "{subject}: nothing is known from this source{because}",
    "house_report": "{subject}: {more}",
    "call": "Call to {subject}: {more}",
    "clock_step": "The computer's clock jumped by {subject}; no event was moved",
}

_WHAT_TO_DO = {
    "film_heat": "Shut the douser, or put the lamp out.",
    "strike_missed": "Strike the lamp now: housing closed, douser shut.",
    "strike_unconfirmed": "Look: is the lamp lit? Confirm it, or strike it now.",
    "dark_gate": "Strike the lamp now: housing closed, douser shut. Open the douser when it burns.",
    "lamp_lost": "Douser shut; strike again as the site's rules allow.",
    "douser_heat": "Open the douser, or put the lamp out.",
    "mark_overdue": "Look: is the film where it should be, and is the cue detector working?",
    "slack_tight": "Go to this link, and keep your hands off the film. Be ready to stop the chain before it is taut.",
    "slack_loose": "Go to this link. Be ready to stop the chain before film falls off its rollers.",
    "slack_forecast": "Go and read this link's slack; report what you see.",
    "misfit": "Check what was reported, and take back a wrong tap.",
    "feed_silent": "Check its cable and power. Until it is back, report by hand.",
    "call": "Acknowledge it, so that whoever calls knows that it was heard.",
    "clock_step": "Nothing to do; check what sets the computer's clock.",
}


@lru_cache(maxsize=4096)
def text_of(kind: str, subject: str, more: str = "") -> str:
    """Return the one sentence that says what is wrong.

    `subject` is a house or a link as people name it, a source or a figure, as the kind has it; `more` the mark or the
    reason, if any.
    """
    because = f" ({more})" if more else ""
    return _TEXTS[kind].format(subject=subject, more=more, because=because)


def todo_of(kind: str) -> str:
    """Return what a person does about an alarm of this kind; empty where that is not the same for all of them."""
    return _WHAT_TO_DO.get(kind, "")
