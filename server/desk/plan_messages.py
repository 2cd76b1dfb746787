"""What goes over HTTP about plans that are made and changed."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from server.desk.messages import RunInfo, Wire
from server.desk.schedules import ScheduleDocument
from server.plans.edits import Edit
from server.plans.keypaths import Value

PLAN_LENGTH = 200_000
"""Characters of a plan. Chosen: one of a hundred stations and fifty segments has 30,000."""

MOST_EDITS = 500
"""Chosen: a chain of a hundred houses whose paths all become others has 300."""


def _is_text(text: str) -> str:
    if not text.isascii() and any("\ud800" <= char <= "\udfff" for char in text):
        raise ValueError("a text in UTF-8 has no halves of characters")
    return text


PlanText = Annotated[str, Field(max_length=PLAN_LENGTH), AfterValidator(_is_text)]
By = Annotated[str, Field(max_length=60, pattern=r"^[^\p{Cc}\p{Cf}\p{Zl}\p{Zp}]*$")]


class PlanLine(Wire):
    """One plan of the list; `zero` is its start (RFC 3339), null where it has none, `houses` are in film order.

    `in_use` says that a live run goes by it.
    """

    name: str
    title: str
    site: str
    zero: str | None
    timezone: str
    houses: list[str]
    faults: int
    saved_at: str
    saved_by: str
    in_use: bool


class PlanList(Wire):
    """The plans there are, the latest saved first; `strange` are files beside them that cannot be opened here."""

    plans: list[PlanLine]
    strange: list[str]


class PlanFault(Wire):
    """One fault of a text: at the key `path`, empty where it is the text's, and in `line`, 0 where it has none.

    `meant` is the value that was likely meant, null where that cannot be told.
    """

    path: str
    line: int
    about: str
    text: str
    meant: Value | None


class PlanFinding(Wire):
    """One thing that speaks against a plan, or is worth knowing: what it is about, why it is so and what mends it."""

    code: str
    level: Literal["fault", "warning", "note"]
    about: str
    stations: list[str]
    text: str
    cause: str
    remedy: str


class PlanStretch(Wire):
    """A length of leader that is pulled in one piece, and how hard that is; `path_ft` is tape-measure feet."""

    from_house: str
    to_house: str
    path_ft: float
    rollers: int
    effort: str


class PlanLacing(Wire):
    """What it takes to lace the chain: when so many people begin, to be ready in time; seconds after `zero`."""

    leader_ft: float
    crew: int
    minutes: float
    begin_s: float
    ready_s: float
    stretches: list[PlanStretch]


class CheckedPlan(Wire):
    """A text gone through. `values` are those of its keys by path, null where it is no TOML.

    `counts` says how many entries each list has; `day` and `time` are the start by the house's clock. `info` and
    `schedule` are null while there are faults, `lacing` also while a path is missing. `refused` says why an edit was
    not made, empty where all were: `text` is then as it was. `judged` says whether it was asked what speaks against it.
    """

    text: str
    values: dict[str, Value] | None
    counts: dict[str, int]
    day: str
    time: str
    faults: list[PlanFault]
    judged: bool
    findings: list[PlanFinding]
    lacing: PlanLacing | None
    info: RunInfo | None
    schedule: ScheduleDocument | None
    refused: str


class CheckRequest(Wire):
    """A text, and what is to be changed in it first; `judge` asks what speaks against it, which takes as long again."""

    text: PlanText
    judge: bool = True
    edits: Annotated[list[Edit], Field(default_factory=list, max_length=MOST_EDITS)]


class OpenedPlan(Wire):
    """A plan of the store; `base` names its text, to be given when it is saved."""

    name: str
    base: str
    saved_at: str
    saved_by: str
    in_use: bool
    checked: CheckedPlan


class NewPlan(Wire):
    """A plan to be kept for the first time; it is called by its title, or `name` where it has none."""

    text: PlanText
    name: Annotated[str, Field(max_length=200), AfterValidator(_is_text)] = ""
    by: By = ""


class ChangedPlan(Wire):
    """A plan to be kept: `base` names the text that it was changed from."""

    text: PlanText
    base: Annotated[str, Field(max_length=64)]
    by: By = ""


class SavedPlan(Wire):
    """A plan that was kept. Where `copied`, a live run goes by the one that was changed, and this is another."""

    name: str
    base: str
    saved_at: str
    saved_by: str
    copied: bool


class SaveConflict(Wire):
    """Why a plan was not kept: it is not any more what was changed. `text` is what it is now, and `base` names that."""

    reason: str
    text: str
    base: str
    saved_at: str
    saved_by: str


class PlanVersion(Wire):
    """One saved version; `changes` say in words what became another in it."""

    number: int
    saved_at: str
    saved_by: str
    text: str
    changes: list[str]


class PlanVersions(Wire):
    """Every version of a plan, the latest first."""

    versions: list[PlanVersion]


class TwoTexts(Wire):
    """Two texts to be compared."""

    old: PlanText
    new: PlanText


class PlanChanges(Wire):
    """What became another from one text to the other, in words."""

    changes: list[str]


class PlanUsual(Wire):
    """What holds where a plan says nothing, by key; and how much a motor or a start may be off, by its kind."""

    values: dict[str, Value]
    spreads_s: dict[str, float]
    tolerances_ppm: dict[str, float]
