"""What goes over the wire between a desk and the server, as models.

The server writes its messages straight from the engine's values, without these models: a test holds the two together.
What a desk sends is read with them. Times are seconds after the run's `zero` unless a key says otherwise.

The types of the browser code are made from these models (tests/wire.py).
"""

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, NamedTuple, TypeAlias, TypeVar, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, create_model

from server.timeline import view
from server.timeline.events import Event
from server.timeline.plan import StartKind


class Wire(BaseModel):
    """One JSON object: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


Keys: TypeAlias = Mapping[str, tuple[Any, Any]]
"""Keys of a model: the type of each, and its default, `...` where it has none."""

Model = TypeVar("Model", bound=Wire)


def having(keys: Keys) -> Callable[[type[Model]], type[Model]]:
    """Give a model these keys beside those of its own, so that what is said elsewhere is not said again."""

    def add(model: type[Model]) -> type[Model]:
        more: Any = {key: said for key, said in keys.items() if key not in model.model_fields}
        return create_model(model.__name__, __base__=model, __doc__=model.__doc__, __module__=model.__module__, **more)

    return add


class Reason(Wire):
    """Why a request was refused, in one sentence."""

    reason: str


class RunLine(Wire):
    """One live run of the list; `fault` as in a snapshot."""

    run: str
    title: str
    site: str | None
    timezone: str
    zero: str
    demo: bool
    fault: str | None


# What a run is


class FilmInfo(Wire):
    """The film, as far as a drawing needs it; `frames_per_foot` is of counter feet."""

    frame_mm: float
    speed_m_per_s: float
    frames_per_foot: float


class MarkInfo(Wire):
    """One mark: `x_s` film seconds behind the first gate at threading.

    `stations` are the gates at which something is to be done as it goes by; none where nothing is.
    """

    id: str
    title: str
    kind: str
    x_s: float
    cue: bool
    stations: list[str]


class SegmentInfo(Wire):
    """One piece of the print, in film order."""

    id: str
    kind: str
    title: str
    x_s: float
    length_s: float


class StationInfo(Wire):
    """One station: `ahead_s` film between the first gate and this one, `start_s` its planned start."""

    id: str
    house: str
    booth: str | None
    ahead_s: float
    start_s: float
    advertised: str | None
    inputs: dict[str, Literal["contact", "tap", "none"]]


class LinkInfo(Wire):
    """One link, written `upstream>downstream`."""

    id: str
    transit_s: float
    reserve_s: float


class RunInfo(Wire):
    """What stays the same through a run.

    `zero` is the planned start of the first motor (RFC 3339, UTC), `speed` the rate of the run's clock: 1 for a show.
    `tap_sigma_s` and `tap_lag_s` are those of the plan. A desk adds the uncertainty of its own clock to the first, for
    the `sigma_s` of a tap. The second is taken off every tap. `start` is how the chain is started. `booths` are those
    that can be called by name.
    """

    run: str
    title: str
    site: str | None
    timezone: str
    zero: str
    speed: float
    demo: bool
    film: FilmInfo
    marks: list[MarkInfo]
    segments: list[SegmentInfo]
    stations: list[StationInfo]
    links: list[LinkInfo]
    horizon_s: float
    tap_sigma_s: float
    tap_lag_s: float
    start: StartKind
    booths: list[str]


# How it stands: the shapes of server/timeline/view.py, in the steps that a screen shows (server/live/figures.py)


def _shown(of: type[NamedTuple]) -> Keys:
    """The keys of what the engine shows, with their types."""
    return {key: (type_, ...) for key, type_ in get_type_hints(of).items()}


@having(_shown(view.StationView))
class Station(Wire):
    """`StationView`."""


@having(_shown(view.LinkView))
class Link(Wire):
    """`LinkView`; `gone_s` is when its reserve is likely gone."""

    gone_s: float | None


@having(_shown(view.AlarmView))
class Alarm(Wire):
    """`AlarmView`."""


@having(_shown(view.PromptView))
class Prompt(Wire):
    """`PromptView`, with a name."""

    key: str


@having(_shown(view.ReportView))
class HouseReport(Wire):
    """`ReportView`."""


@having(_shown(view.StationReady))
class StationReady(Wire):
    """`StationReady` of view.py."""


@having(_shown(view.LinkReady))
class LinkReady(Wire):
    """`LinkReady` of view.py."""


@having(_shown(view.RestartCard))
class RestartCard(Wire):
    """`RestartCard` of view.py."""

    stations: list[StationReady]
    links: list[LinkReady]


@having(_shown(view.RunView))
class View(Wire):
    """`RunView`."""

    stations: list[Station]
    links: list[Link]
    alarms: list[Alarm]
    prompts: list[Prompt]
    restart: RestartCard | None
    reports: list[HouseReport]


_EVENT: Keys = {
    key: (field.annotation, ... if field.is_required() else field.default) for key, field in Event.model_fields.items()
}


@having(_EVENT)
class ObservedEvent(Wire):
    """One event as a recording has it; `t` is RFC 3339."""

    t: str


# Server to desk


class Snapshot(Wire):
    """Everything, as of change `seq`; `events` are the latest, oldest first.

    `epoch` names this life of the server: a desk that comes back gives it with the last `seq` it saw. `fault` says why
    the run no longer follows its events, and is null while it does. `warnings` are what a desk says of the run beside
    its alarms: its log cannot be written or lost something, or the computer's clock is wrong.
    """

    type: Literal["snapshot"]
    seq: int
    now_s: float
    epoch: str
    info: RunInfo
    view: View
    events: list[ObservedEvent]
    fault: str | None
    warnings: list[str]


def _new_of(part: type[Wire]) -> Keys:
    """The keys of a part, none of which has to be there."""
    return {key: (field.annotation, None) for key, field in part.model_fields.items()}


@having(_new_of(Station))
class StationChange(Wire):
    """What is new of a `Station`."""

    id: str


@having(_new_of(Link))
class LinkChange(Wire):
    """What is new of a `Link`."""

    id: str


@having(_new_of(Alarm))
class AlarmChange(Wire):
    """What is new of an `Alarm`; all of it where its key is."""

    key: str


@having(_new_of(Prompt))
class PromptChange(Wire):
    """What is new of a `Prompt`; all of it where its key is."""

    key: str


class Change(Wire):
    """What changed: what is new of stations and links, by id, of alarms and prompts, by key; what is absent stands.

    `gone` and `prompts_gone` are the keys of alarms and prompts that are no longer there. Prompts stand by deadline,
    those of one deadline in film order. `restart` is null where the card has gone. `events` were taken since the change
    before, oldest first.
    """

    type: Literal["change"]
    seq: int
    now_s: float
    stations: list[StationChange] | None = None
    links: list[LinkChange] | None = None
    alarms: list[AlarmChange] | None = None
    gone: list[str] | None = None
    prompts: list[PromptChange] | None = None
    prompts_gone: list[str] | None = None
    sources: dict[str, bool] | None = None
    hold_s: float | None = None
    restart: RestartCard | None = None
    reports: list[HouseReport] | None = None
    events: list[ObservedEvent] | None = None
    fault: str | None = None
    warnings: list[str] | None = None


class Beat(Wire):
    """Nothing changed since `seq`; the time is in that which answers a desk that came back."""

    type: Literal["beat"]
    seq: int
    now_s: float | None = None


class TakenAnswer(Wire):
    """The event is on disk; `seq` is its number in the log, `t` (RFC 3339) when it happened."""

    type: Literal["taken"]
    id: str
    seq: int
    t: str


class RefusedAnswer(Wire):
    """The message or event was not taken; `id` is null where none could be read.

    `again` says that the same event may be taken when it is sent again later. One that is `known` counts on every desk,
    and is only not written down yet.
    """

    type: Literal["refused"]
    id: str | None
    reason: str
    again: bool
    known: Literal[True] | None = None


class TimeAnswer(Wire):
    """The run's time when the question was answered, for the clock offset of RFC 5905, 8."""

    type: Literal["time"]
    c: int | float | str
    now_s: float


ServerMessage = Annotated[
    Snapshot | Change | Beat | TakenAnswer | RefusedAnswer | TimeAnswer, Field(discriminator="type")
]
server_messages: TypeAdapter[ServerMessage] = TypeAdapter(ServerMessage)

# Desk to server


@having(_EVENT)
class ReportedEvent(Wire):
    """One event as a desk sends it; where `t` is left out, it happened now."""

    id: str
    t: str | None = None
    # Any text: what is no event is refused in the words of the format, not in those of a model.
    kind: str
    what: str | None = None


class EventMessage(Wire):
    """One event to be taken."""

    type: Literal["event"]
    event: ReportedEvent


class TimeQuestion(Wire):
    """`c` comes back as it was sent."""

    type: Literal["time"]
    c: int | float | str


DeskMessage = Annotated[EventMessage | TimeQuestion, Field(discriminator="type")]
desk_messages: TypeAdapter[DeskMessage] = TypeAdapter(DeskMessage)
