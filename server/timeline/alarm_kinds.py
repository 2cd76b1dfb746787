"""The kinds of alarm there are: one table, by their names. When each is raised is in `conditions`.

To add a kind: its row here, its condition, its row in MODEL.md, and a test.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

from server.timeline.faults import either, found_text
from server.timeline.plan import Plan

Subject = Literal["station", "link", "source", "booth", "chain"]

WHOLE_CHAIN: Final = "chain"
"""What an alarm about all of the chain is about; also a call that is for every booth."""


class AlarmKind(NamedTuple):
    """One kind: what it is about, what it is called, what it says, and what a person does about it.

    In `text`, `{subject}` is a house or a link as people name it, a source or a figure; `{more}` what else is known,
    and `{because}` that in brackets. An empty one is written anew for each alarm. `todo` is empty where it is not the
    same for all of the kind; `look` is what remains to do about a stop, after the light and the motors. `own` asks for
    something of its own, so that people are told of it whatever it is under. `harm` is its place among what went wrong
    in a debrief, the worst first.
    """

    subject: Subject
    name: str
    text: str
    todo: str = ""
    look: str = ""
    own: bool = False
    # chosen: film that is lost or burnt first, then what a guest sees, then what only may come to that
    harm: int = 5


ALARM_KINDS: Final[Mapping[str, AlarmKind]] = MappingProxyType(
    {
        "film_trip": AlarmKind(
            "station",
            "failsafe trip",
            "{subject}: the failsafe tripped: no film in the projector, or film too tight",
            look="look at the film at this projector and on both sides, before anything is started.",
            harm=1,
        ),
        "start_missing": AlarmKind(
            "station",
            "start missing",
            "{subject}: the motor has not started; the others have",
            look="look at this motor, and read the links beside it, before anything is started.",
            harm=2,
        ),
        "motor_lost": AlarmKind(
            "station",
            "motor lost",
            "{subject}: the motor stopped before its tail was out",
            look="look at this motor, and at the film on both sides, before anything is started.",
            harm=1,
        ),
        "film_heat": AlarmKind(
            "station",
            "film in the light",
            "{subject}: film stands in the light{because}",
            "Shut the douser, or put the lamp out.",
            own=True,
            harm=0,
        ),
        "strike_missed": AlarmKind(
            "station",
            "strike missed",
            "{subject}: the strike window has closed and the lamp is not lit",
            "Strike the lamp now: housing closed, douser shut.",
            harm=3,
        ),
        "strike_unconfirmed": AlarmKind(
            "station",
            "strike not confirmed",
            "{subject}: the strike window has closed and nobody has confirmed the lamp",
            "Look: is the lamp lit? Confirm it, or strike it now.",
        ),
        "dark_gate": AlarmKind(
            "station",
            "dark gate",
            "{subject}: the picture is at the gate and the lamp is not lit",
            "Strike the lamp now: housing closed, douser shut. Open the douser when it burns.",
            harm=2,
        ),
        "lamp_lost": AlarmKind(
            "station",
            "lamp lost",
            "{subject}: the lamp went out with the picture on screen",
            "Douser shut; strike again as the site's rules allow.",
            harm=2,
        ),
        "douser_heat": AlarmKind(
            "station",
            "hot douser",
            "{subject}: the lamp has been lit against a shut douser for too long",
            "Open the douser, or put the lamp out.",
            harm=3,
        ),
        "mark_overdue": AlarmKind(
            "station",
            "mark overdue",
            "{subject}: {more} is overdue at the gate",
            "Look: is the film where it should be, and is the cue detector working?",
        ),
        "reserve_spent": AlarmKind(
            "link",
            "reserve spent",
            "{subject}: the reserve is spent: {more}",
            look="take up the film by hand, and read the link or lace it anew, before anything is started.",
            own=True,
            harm=0,
        ),
        "slack_tight": AlarmKind(
            "link",
            "slack tight",
            "{subject}: the film is running tight{because}",
            "Go to this link, and keep your hands off the film. Be ready to stop the chain before it is taut.",
            harm=3,
        ),
        "slack_loose": AlarmKind(
            "link",
            "slack loose",
            "{subject}: the film is running loose{because}",
            "Go to this link. Be ready to stop the chain before film falls off its rollers.",
            harm=3,
        ),
        "slack_forecast": AlarmKind(
            "link",
            "slack forecast",
            "{subject}: the reserve will be gone {more}",
            "Go and read this link's slack; report what you see.",
        ),
        "misfit": AlarmKind(
            "station", "event that does not fit", "", "Check what was reported, and take back a wrong tap."
        ),
        "feed_silent": AlarmKind(
            "source",
            "silent feed",
            "{subject}: nothing is known from this source{because}",
            "Check its cable and power. Until it is back, report by hand.",
        ),
        "clock_step": AlarmKind(
            "chain",
            "clock step",
            "The computer's clock jumped by {subject}; no event was moved",
            "Nothing to do; check what sets the computer's clock.",
        ),
        "house_report": AlarmKind("station", "report from a house", "{subject}: {more}", harm=4),
        "call": AlarmKind(
            "booth",
            "call",
            "Call to {subject}: {more}",
            "Acknowledge it, so that whoever calls knows that it was heard.",
        ),
    }
)

OF_LINKS: Final = frozenset(kind for kind, row in ALARM_KINDS.items() if row.subject == "link")
"""The kinds that tell of slack."""


def alarm_refusal(key: str, plan: Plan) -> str | None:
    """Say why no run of this plan can have an alarm of that key, `kind:subject`; None where one can."""
    kind, _, subject = key.partition(":")
    if kind not in ALARM_KINDS:
        return f"alarm: found {found_text(key)}; accepted KIND:SUBJECT, where KIND is {either(ALARM_KINDS)}"
    subjects = subjects_of(ALARM_KINDS[kind].subject, plan)
    if subjects is None and subject:
        return None
    if subjects is None:
        return f"alarm: found {found_text(key)}; accepted {kind}:SOURCE"
    if subject in subjects:
        return None
    if not subjects:
        return f"alarm: found {found_text(key)}; accepted no {kind}, as a chain of one station has no link"
    return f"alarm: found {found_text(key)}; accepted {either([f'{kind}:{each}' for each in subjects])}"


def subjects_of(subject: Subject, plan: Plan) -> tuple[str, ...] | None:
    """Return all that an alarm of a plan can be about; None where that is any source."""
    match subject:
        case "station":
            return tuple(plan.station_index)
        case "link":
            return tuple(link.id for link in plan.links)
        case "booth":
            return (*plan.booths, WHOLE_CHAIN)
        case "chain":
            return (WHOLE_CHAIN,)
        case "source":
            return None
