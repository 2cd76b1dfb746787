"""Parts of a view as desks are sent them: only what a screen shows, in the steps in which it can show it.

A time is shown to a tenth of a second at most, slack to a hundredth. What a desk goes on moving by itself, the film and
the slack, has a rate. Its digits are so many that it is right to the same step after a whole show.
"""

from typing import Any

from server.timeline.view import AlarmView, LinkView, PromptView, ReportView, RestartCard, StationView

TIME_STEP_S = 0.1
"""The least that a screen shows of a time that is expected, of its standard deviation and of where the film is."""

SLACK_STEP_S = 0.01
"""And of slack and its standard deviation."""

GONE_STEP_S = 1.0
"""And of when a reserve is likely gone, which is told as "in about"."""

Json = dict[str, Any]

EXPECTED = ("head_s", "credits_s", "end_s", "clear_s")
"""Times of a station that move as more is seen."""


def time_json(seconds: float | None) -> float | None:
    """Seconds of what happened, as they are sent: to a millisecond."""
    return None if seconds is None else round(seconds, 3)


def expected_json(seconds: float | None) -> float | None:
    """Seconds of what is expected, as they are sent."""
    return None if seconds is None else round(seconds, 1)


def station_json(view: StationView) -> Json:
    """A station as it is sent."""
    json = {"id": view.id} | seen_json(view) | {key: expected_json(getattr(view, key)) for key in EXPECTED}
    return json | motion_json(view)


def seen_json(view: StationView) -> Json:
    """What was seen of a station."""
    return {
        "phase": view.phase,
        "running": view.running,
        "started_s": time_json(view.started_s),
        "stopped_s": time_json(view.stopped_s),
        "lamp": view.lamp,
        "lamp_s": time_json(view.lamp_s),
        "douser": view.douser,
        "passes": {mark: round(at_s, 3) for mark, at_s in view.passes.items()},
    }


def motion_json(view: StationView) -> Json:
    """Where the film of a station is, and how it goes on: keys that belong together."""
    at_s = round(view.at_s, 1)
    return {
        "at_s": at_s,
        # That of the rounded instant: rounded by itself it would be off by as much as the film moved between the two.
        "count_s": round(view.count_s + (at_s - view.at_s) * view.rate, 2),
        "rate": round(view.rate, 8),
        "ahead_s": round(view.ahead_s, 2),
        "eta_var": [float(f"{part:.4g}") for part in view.eta_var],
    }


def link_json(view: LinkView) -> Json:
    """A link as it is sent."""
    return {"id": view.id, "reserve_s": view.reserve_s, "gone_s": gone_json(view)} | slack_json(view)


def slack_json(view: LinkView) -> Json:
    """How a link's slack is and how it goes on: keys that belong together."""
    at_s = round(view.at_s, 1)
    slack_s = None if view.slack_s is None else view.slack_s + (at_s - view.at_s) * (view.drift or 0.0)
    return {
        "at_s": at_s,
        "slack_s": _rounded(slack_s, 2),
        "drift": _rounded(view.drift, 7),
        "slack_var": None if view.slack_var is None else [float(f"{part:.4g}") for part in view.slack_var],
    }


def gone_json(view: LinkView) -> float | None:
    """When a link's reserve is likely gone: of the three times the one that screens show."""
    return _rounded(view.gone_s[1], 0)


def alarm_json(view: AlarmView) -> Json:
    """An alarm as it is sent."""
    json = view._asdict()
    return json | {key: time_json(json[key]) for key in ("since_s", "shelved_until_s", "off_s")}


def prompt_json(view: PromptView) -> Json:
    """A prompt as it is sent."""
    json = view._asdict()
    return json | {key: expected_json(json[key]) for key in ("from_s", "due_s", "until_s")}


def report_json(view: ReportView) -> Json:
    """A house's report as it is sent."""
    json = view._asdict()
    return json | {key: time_json(json[key]) for key in ("since_s", "over_s")}


def restart_json(card: RestartCard | None) -> Json | None:
    """The restart card as it is sent."""
    if card is None:
        return None
    return card._asdict() | {
        "start_s": time_json(card.start_s),
        "stations": [one._asdict() | {"ready_s": time_json(one.ready_s)} for one in card.stations],
        "links": [one._asdict() | {"slack_s": round(one.slack_s, 2)} for one in card.links],
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
