"""What goes over the wire between a desk and the server, as models.

The server writes its messages straight from the engine's values, without these models: a test holds the two together.
What a desk sends is read with them. Times are seconds after the run's `zero` unless a key says otherwise.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, create_model

from server.timeline.plan import StartKind
from server.timeline.view import Level, Missing, Phase, PromptKind, Trouble


class Wire(BaseModel):
    """One JSON object: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


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
    `tap_sigma_s` and `tap_lag_s` are those of the plan: a desk adds the doubt of its own clock to the first, for the
    `sigma_s` of a tap, and the second is taken off every tap. `start` is how the chain is started. `booths` are those
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


# How it stands: the shapes of server/timeline/view.py


class Station(Wire):
    """`StationView`, in the steps that a screen shows (server/live/figures.py)."""

    id: str
    phase: Phase
    running: bool
    started_s: float | None
    stopped_s: float | None
    lamp: Literal["lit", "out"]
    lamp_s: float | None
    douser: Literal["open", "shut", "unknown"]
    at_s: float
    count_s: float
    rate: float
    ahead_s: float
    eta_var: tuple[float, float, float, float]
    passes: dict[str, float]
    head_s: float | None
    credits_s: float | None
    end_s: float | None
    clear_s: float | None


class Link(Wire):
    """`LinkView`; `gone_s` is when its reserve is likely gone."""

    id: str
    at_s: float
    slack_s: float | None
    slack_sd_s: float | None
    drift: float | None
    drift_sd: float | None
    reserve_s: float
    gone_s: float | None


class Alarm(Wire):
    """`AlarmView`."""

    key: str
    kind: str
    subject: str
    level: Level
    state: Literal["unacknowledged", "acknowledged", "returned"]
    cause: str | None
    told: bool
    since_s: float
    text: str
    todo: str
    acked_by: str | None
    shelved_until_s: float | None
    off_s: float | None


class Prompt(Wire):
    """`PromptView`, with a name."""

    key: str
    kind: PromptKind
    station: str
    from_s: float
    due_s: float
    text: str
    until_s: float | None
    mark: str | None


class HouseReport(Wire):
    """`ReportView`."""

    station: str
    what: Trouble
    text: str | None
    by: str | None
    since_s: float
    acked_by: str | None
    over_s: float | None
    over_by: str | None


class StationReady(Wire):
    """`StationReady` of view.py."""

    station: str
    ready_s: float | None
    ready_by: str | None
    missing: list[Missing]


class LinkReady(Wire):
    """`LinkReady` of view.py."""

    link: str
    known: Literal["read", "relaced", "none"]
    slack_s: float
    spent: bool


class RestartCard(Wire):
    """`RestartCard` of view.py."""

    before: Literal["start", "restart"]
    ready: bool
    start_s: float | None
    stations: list[StationReady]
    links: list[LinkReady]


class View(Wire):
    """`RunView`."""

    t_s: float
    stations: list[Station]
    links: list[Link]
    alarms: list[Alarm]
    prompts: list[Prompt]
    sources: dict[str, bool]
    hold_s: float
    restart: RestartCard | None
    reports: list[HouseReport]


class ObservedEvent(Wire):
    """One event as formats.md has it; `t` is RFC 3339."""

    id: str
    t: str
    kind: str
    station: str | None = None
    source: str
    sigma_s: float | None = None
    by: str | None = None
    mark: str | None = None
    seconds: float | None = None
    retracts: str | None = None
    alarm: str | None = None
    what: str | None = None
    to: str | None = None
    text: str | None = None


# Server to desk


class Snapshot(Wire):
    """Everything, as of change `seq`; `events` are the latest, oldest first.

    `epoch` names this life of the server: a desk that comes back gives it with the last `seq` it saw. `fault` says why
    the run no longer follows its events, and is null while it does. `warnings` are what a desk says of the run beside
    its alarms: that its log cannot be written or lost something, or that the computer's clock is wrong.
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


def _change_of(part: type[Wire], named: str) -> type[Wire]:
    """A model of `part` in which only its name has to be there: `named` is the key that has it."""
    fields: Any = {name: (field.annotation, None) for name, field in part.model_fields.items()} | {named: (str, ...)}
    return create_model(
        f"{part.__name__}Change", __base__=Wire, __doc__=f"What is new of a `{part.__name__}`.", **fields
    )


StationChange = _change_of(Station, "id")
LinkChange = _change_of(Link, "id")
AlarmChange = _change_of(Alarm, "key")
PromptChange = _change_of(Prompt, "key")


class Change(Wire):
    """What changed: what is new of stations and links, by id, of alarms and prompts, by key; what is absent stands.

    `gone` and `prompts_gone` are the keys of alarms and prompts that are no longer there; prompts stand by deadline,
    those of one deadline in film order. `restart` is null where the card has gone. `events` were taken since the change
    before, oldest first.
    """

    type: Literal["change"]
    seq: int
    now_s: float
    stations: list[StationChange] | None = None  # type: ignore[valid-type]
    links: list[LinkChange] | None = None  # type: ignore[valid-type]
    alarms: list[AlarmChange] | None = None  # type: ignore[valid-type]
    gone: list[str] | None = None
    prompts: list[PromptChange] | None = None  # type: ignore[valid-type]
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


class Taken(Wire):
    """The event is on disk; `seq` is its number in the log, `t` (RFC 3339) when it happened."""

    type: Literal["taken"] = "taken"
    id: str
    seq: int
    t: str


class Refused(Wire):
    """The message or event was not taken; `id` is null where none could be read.

    `again` says that the same event may be taken when it is sent again later; one that is `known` counts on every desk,
    and is only not written down yet.
    """

    type: Literal["refused"] = "refused"
    id: str | None
    reason: str
    again: bool
    known: Literal[True] | None = None


class TimeAnswer(Wire):
    """The run's time when the question was answered, for the clock offset of RFC 5905, 8."""

    type: Literal["time"] = "time"
    c: int | float | str
    now_s: float


ServerMessage = Annotated[Snapshot | Change | Beat | Taken | Refused | TimeAnswer, Field(discriminator="type")]
server_messages: TypeAdapter[ServerMessage] = TypeAdapter(ServerMessage)

# Desk to server


class ReportedEvent(ObservedEvent):
    """One event as a desk sends it; where `t` is left out, it happened now."""

    t: str | None = None  # type: ignore[assignment]


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
