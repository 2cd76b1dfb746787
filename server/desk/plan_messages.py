"""What goes over HTTP about plans that are made and changed."""

import unicodedata
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from server.desk.messages import RunInfo, Wire
from server.desk.schedules import ScheduleDocument
from server.plans.edits import Edit
from server.plans.keypaths import Value

PLAN_LENGTH = 200_000
"""Characters of a plan. Chosen: one of a hundred stations and fifty segments has 30,000."""

MOST_EDITS = 500
"""Chosen: a chain of a hundred houses whose paths all become others has 300."""

NAME_LENGTH: Final = 200
"""Characters of who saved: as many as a correction may have, for a browser keeps one name for both."""

_UNSEEN: Final = {"Cc", "Cf", "Cs", "Zl", "Zp"}
"""Unicode's categories of what no name has: controls, formats, halves of characters, ends of lines and paragraphs."""

MOST_PEOPLE = 200
"""Chosen: as many as a plan may have stations."""

_TOO_LONG: Final = "The name of who saves has {length} characters: it may have at most {most}."
_HAS_UNSEEN: Final = "The name of who saves has a character that cannot be seen, such as a tab: write it anew."


def _is_text(text: str) -> str:
    if not text.isascii() and any("\ud800" <= char <= "\udfff" for char in text):
        raise ValueError("a text in UTF-8 has no halves of characters")
    return text


PlanText = Annotated[str, Field(max_length=PLAN_LENGTH), AfterValidator(_is_text)]


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


class PlanTask(Wire):
    """One duty of a person, after `walk_s` of walking from the one before; seconds after `zero`."""

    house: str
    booth: str | None
    what: str
    begin_s: float
    by_s: float
    walk_s: float


class TakenSite(Wire):
    """The site file that a plan names by its `site`; `base` names its text. Of one with faults nothing is taken."""

    name: str
    called: str
    base: str
    faults: int


class CheckedPlan(Wire):
    """A text gone through. `values` are those of its keys by path, null where it is no TOML.

    `counts` says how many entries each list has; `day` and `time` are the start by the house's clock. `info` and
    `schedule` are null while there are faults, `lacing` also while a path is missing. `refused` says why an edit was
    not made, empty where all were: `text` is then as it was. `judged` says whether it was asked what speaks against it.
    `people` has for each of the crew what they do, in order, null where no crew was asked about. `site` is null where
    no site file has the name that the plan says.
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
    people: list[list[PlanTask]] | None
    site: TakenSite | None
    info: RunInfo | None
    schedule: ScheduleDocument | None
    refused: str


class CheckRequest(Wire):
    """A text, and what is to be changed in it first; `judge` asks what speaks against it, which takes as long again.

    `crew` is how many people there are, null where that is not asked.
    """

    text: PlanText
    judge: bool = True
    crew: Annotated[int, Field(ge=1, le=MOST_PEOPLE)] | None = None
    edits: Annotated[list[Edit], Field(default_factory=list, max_length=MOST_EDITS)]


class OpenedPlan(Wire):
    """A plan of the store; `base` names its text, to be given when it is saved."""

    name: str
    base: str
    saved_at: str
    saved_by: str
    in_use: bool
    checked: CheckedPlan


class _Signed(Wire):
    """What is saved, and by whom; a name that cannot be kept is refused in a sentence that a person reads as it is."""

    by: str = ""

    @model_validator(mode="after")
    def _has_a_name(self) -> Self:
        # The model refuses it, not the field: a field's refusal is told with its key in front.
        if len(self.by) > NAME_LENGTH:
            raise PydanticCustomError("name_too_long", _TOO_LONG, {"length": len(self.by), "most": NAME_LENGTH})
        if any(unicodedata.category(char) in _UNSEEN for char in self.by):
            raise PydanticCustomError("name_unseen", _HAS_UNSEEN)
        return self


class NewPlan(_Signed):
    """A plan to be kept for the first time; it is called by its title, or `name` where it has none."""

    text: PlanText
    name: Annotated[str, Field(max_length=200), AfterValidator(_is_text)] = ""


class ChangedPlan(_Signed):
    """A plan to be kept: `base` names the text that it was changed from."""

    text: PlanText
    base: Annotated[str, Field(max_length=64)]


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


class SiteFault(Wire):
    """One fault of a site file; `line` is 0 where it has none."""

    line: int
    text: str


class SiteLine(Wire):
    """One site of the list: the name of its file, what it is called, and what it has; of one with faults only these."""

    name: str
    called: str
    houses: int
    paths: int
    faults: list[SiteFault]


class SiteList(Wire):
    """The sites there are, by the names of their files."""

    sites: list[SiteLine]


class SiteHouse(Wire):
    """A house of a site: `values` are what a station of a plan takes of it."""

    house: str
    values: dict[str, Value | dict[str, str]]


class SitePath(Wire):
    """A measured path between two houses, whichever way, in the unit that the file has it in."""

    houses: tuple[str, str]
    key: Literal["path_ft", "path_m"]
    length: float
    rollers: int | None


class SiteInfo(Wire):
    """What a plan can take from a site."""

    name: str
    called: str
    houses: list[SiteHouse]
    paths: list[SitePath]


class NewSite(Wire):
    """A site file to be kept; `base` names the text of the one that it is to replace, empty where it replaces none."""

    text: PlanText
    base: Annotated[str, Field(max_length=64)] = ""


class KeptSite(Wire):
    """A site file that was kept; `changed` says whether it is new, or another than before."""

    name: str
    called: str
    changed: bool


class SiteConflict(Wire):
    """A site of this name is kept already, and is another: it is replaced where its `base` is given."""

    reason: str
    name: str
    called: str
    base: str


class SiteRefusal(Wire):
    """A text that is no site file, with all of its faults."""

    reason: str
    faults: list[SiteFault]
