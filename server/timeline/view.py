"""What a desk is shown: plain values, every time in seconds after `motors_at`.

A desk animates from a state and a rate, so nothing here has to be sent again while nothing changes:
the film fed by a station at time `t` is `count_s + (t - at_s) * rate`.
"""

from typing import Literal, NamedTuple

Phase = Literal["threaded", "rolling", "showing", "tail", "clear", "stopped"]
Level = Literal["act", "watch", "note"]
RecordState = Literal["raised", "level", "acked", "cleared"]
PromptKind = Literal[
    "start",
    "strike",
    "open_douser",
    "confirm_head",
    "shut_douser",
    "shut_lamp",
    "house_clear",
    "intermission",
    "change",
]
Trouble = Literal["no_picture", "no_sound", "unsteady", "out_of_focus", "people", "other"]
Missing = Literal["ready", "douser_shut", "lamp_lit", "lamp_out"]


class StationView(NamedTuple):
    """One station as it is known.

    `count_s` film fed at `at_s`; `rate` film seconds per second from then on, 0.0 while the motor stands.
    `ahead_s` film between the first gate and this one, path error included: mark `m` reaches the gate when the count
    is `x_s[m] + ahead_s`. `eta_var` `(a, b, c, w)`: the variance, in s², of a pass `d` seconds after `at_s` is
    `(a + b*d + c*d² + w*d³) / rate²`. `passes` holds believed passes only. The head, credits, end and clear times are
    observed where they were seen and estimated where not; None while the motor stands and nothing was seen.
    """

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


class LinkView(NamedTuple):
    """One link: slack at time `t` is `slack_s + (t - at_s) * drift`, over (+) or under (-) what was threaded.

    `slack_var` are the coefficients `a, b, c, w` of its variance `d` seconds after `at_s`: `a + b d + c d^2 + w d^3`.
    `gone_s` are the times at which the reserve is spent with 5, 50 and 95 % probability, each None where that lies
    well beyond the plan's horizon; a desk shows those within it. Slack and drift are None once the film's end has left
    the upstream gate: a free end has no slack.
    """

    id: str
    at_s: float
    slack_s: float | None
    drift: float | None
    slack_var: tuple[float, float, float, float] | None
    reserve_s: float
    gone_s: tuple[float | None, float | None, float | None]


class AlarmView(NamedTuple):
    """One alarm that is on, or that went off at `off_s` before anybody acknowledged it (`returned`).

    `told` is false for what follows from an alarm that is still open, and while shelved: it is shown under its cause.
    `todo` says what a person does about it; where it `names_places` it says where, too. `text` is `what` is wrong after
    its `place`, which is short here and empty where there is none: "8 to 7", "the film is running tight".
    """

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
    place: str
    what: str
    names_places: bool


class PromptView(NamedTuple):
    """The next thing to do at a station: from `from_s` on, by `due_s`, and no more after `until_s` if that is given.

    A `change` is done by whoever taps its `mark`.
    """

    kind: PromptKind
    station: str
    from_s: float
    due_s: float
    text: str
    until_s: float | None = None
    mark: str | None = None


class ReportView(NamedTuple):
    """What somebody says is wrong in a house: the latest of its kind there.

    `acked_by` is who has it, None while nobody has acknowledged it; `over_s` when it was seen to, None before that.
    """

    station: str
    what: Trouble
    text: str | None
    by: str | None
    since_s: float
    acked_by: str | None
    over_s: float | None
    over_by: str | None


class StationReady(NamedTuple):
    """One station on the restart card: who said at `ready_s` that it is ready, and what is missing.

    `ready_by` is None where nobody said so or gave a name, `ready_s` where nobody said so.
    """

    station: str
    ready_s: float | None
    ready_by: str | None
    missing: tuple[Missing, ...]


class LinkReady(NamedTuple):
    """One link on the restart card: how it is known since the stop, and the slack that is then assumed.

    `spent` is whether that is past its reserve, so that it wants putting right first.
    """

    link: str
    known: Literal["read", "relaced", "none"]
    slack_s: float
    spent: bool


class RestartCard(NamedTuple):
    """What has to be so before a chain that stands may start (`before` is "start"), or start again ("restart").

    `ready` is whether nothing is missing. `start_s` is when it is to start: as planned and held, or as was said since
    the stop; None where nobody has said. Stations and links are those that still have film, in film order; before the
    first start there are no links.
    """

    before: Literal["start", "restart"]
    ready: bool
    start_s: float | None
    stations: tuple[StationReady, ...]
    links: tuple[LinkReady, ...]

    def as_json(self) -> dict[str, object]:
        """Write it as an object of plain values."""
        parts = {"stations": [one._asdict() for one in self.stations], "links": [one._asdict() for one in self.links]}
        return self._asdict() | parts


class RunView(NamedTuple):
    """A whole run as of `t_s`; stations and links in film order, alarms worst first, prompts by deadline.

    `hold_s` is how much later than planned the first start is to be. `restart` is there while the chain stands.
    `reports` are what the houses said, in the order in which they came.
    """

    t_s: float
    stations: tuple[StationView, ...]
    links: tuple[LinkView, ...]
    alarms: tuple[AlarmView, ...]
    prompts: tuple[PromptView, ...]
    sources: dict[str, bool]
    hold_s: float = 0.0
    restart: RestartCard | None = None
    reports: tuple[ReportView, ...] = ()


class AlarmRecord(NamedTuple):
    """One change of one alarm, at the instant its condition came true; `told` as in `AlarmView`, but for shelving.

    `todo` as it was told then.
    """

    at_us: int
    key: str
    kind: str
    level: Level
    subject: str
    state: RecordState
    cause: str | None
    text: str
    told: bool
    todo: str = ""


class PhaseRecord(NamedTuple):
    """A station entering a phase."""

    at_us: int
    station: str
    phase: Phase


Record = AlarmRecord | PhaseRecord
