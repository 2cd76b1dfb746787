"""Making and changing plans over HTTP."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, Depends, Query, Response
from fastapi.responses import JSONResponse

from server.desk.debriefs import json_answer
from server.desk.messages import Reason
from server.desk.plan_answers import checked_json, line_json, usual_json
from server.desk.plan_folder import folder_told
from server.desk.plan_messages import (
    ChangedPlan,
    CheckedPlan,
    CheckRequest,
    NewPlan,
    OpenedPlan,
    PlanChanges,
    PlanList,
    PlanUsual,
    PlanVersion,
    PlanVersions,
    SaveConflict,
    SavedPlan,
    TwoTexts,
)
from server.desk.plan_sites import add_site_routes
from server.desk.visitors import Visitor, booth_of
from server.plans.beginnings import empty_plan, example_moved
from server.plans.check import Checked, checked
from server.plans.comparison import changes_in_words
from server.plans.edits import EditFault, edited
from server.plans.site_store import SiteStore
from server.plans.store import SUFFIX, Kept, PlanFault, PlanStore, SavedMeanwhile
from server.timeline.events import rfc3339

UNNAMED = "this computer"
"""Who saved, where nobody said who."""

_ANSWERS: dict[int | str, dict[str, Any]] = {404: {"model": Reason}, 422: {"model": Reason}, 503: {"model": Reason}}
_CONFLICT: dict[int | str, dict[str, Any]] = {409: {"model": SaveConflict}}

Who = Annotated[Visitor, Depends(booth_of)]


class PlanDesk(NamedTuple):
    """Where plans are kept, the text of an invented one to begin with, and where sites are kept."""

    store: PlanStore
    example: str
    sites: SiteStore


class InUse(NamedTuple):
    """The plan that a live run goes by: what its file was called, and its text."""

    file_name: str
    text: str


def plan_routes(desk: PlanDesk, in_use: Callable[[], Iterable[InUse]], now: Callable[[], datetime]) -> APIRouter:
    """The routes of the plan desk; `in_use` are the plans of the live runs, `now` is the wall clock."""
    router = APIRouter(prefix="/api/plans", responses=_ANSWERS)
    _add_beginnings(router, desk, now)
    _add_reading(router, desk, in_use)
    _add_changing(router, desk, in_use, now)
    add_site_routes(router, desk.sites)
    return router


def _add_beginnings(router: APIRouter, desk: PlanDesk, now: Callable[[], datetime]) -> None:
    @router.get("/usual", response_model=PlanUsual)
    def usual() -> Response:
        """What holds where a plan says nothing."""
        return json_answer(usual_json())

    @router.get("/beginnings/empty", response_model=CheckedPlan)
    def empty(zone: Annotated[str, Query(max_length=100)] = "UTC") -> Response:
        """The least that asks for the rest, for the evening to come."""
        return json_answer(checked_json(_at_site(desk, empty_plan(zone, now()))))

    @router.get("/beginnings/example", response_model=CheckedPlan)
    def invented() -> Response:
        """An invented plan, for the evening to come."""
        return json_answer(checked_json(_at_site(desk, example_moved(desk.example, now()))))


def _add_reading(router: APIRouter, desk: PlanDesk, in_use: Callable[[], Iterable[InUse]]) -> None:
    store = desk.store

    @router.get("", response_model=PlanList)
    def plans() -> Response:
        """The plans there are."""
        live = list(in_use())
        with folder_told("plans"):
            lines = [line_json(store, name, in_use=_is_used(store, name, live)) for name in store.names()]
            lines.sort(key=lambda line: str(line["saved_at"]), reverse=True)
            return json_answer({"plans": lines, "strange": store.strange()})

    @router.get("/kept/{name}", response_model=OpenedPlan)
    def opened(name: str) -> Response:
        """A plan as it is now."""
        with folder_told("plans"):
            kept = store.kept(name)
            told = _kept_json(kept) | {"in_use": _is_used(store, name, in_use())}
            return json_answer(told | {"checked": checked_json(_at_site(desk, kept.text))})

    @router.get("/kept/{name}/versions")
    def versions(name: str) -> PlanVersions:
        """Every version of a plan, and what changed in each."""
        with folder_told("plans"):
            return PlanVersions(versions=_versions(store, name))


def _add_changing(
    router: APIRouter, desk: PlanDesk, in_use: Callable[[], Iterable[InUse]], now: Callable[[], datetime]
) -> None:
    store = desk.store

    @router.post("/check", response_model=CheckedPlan)
    def check(asked: CheckRequest, who: Who) -> Response:
        """A text with edits made in it, gone through; nothing is kept."""
        del who
        with folder_told("plans"):
            return json_answer(_checked(desk, asked))

    @router.post("/compare")
    def compare(asked: TwoTexts, who: Who) -> PlanChanges:
        """What became another from one text to the other."""
        del who
        return PlanChanges(changes=changes_in_words(asked.old, asked.new))

    @router.post("", status_code=201)
    def create(asked: NewPlan, who: Who) -> SavedPlan:
        """Keep a new plan."""
        wanted = str((checked(asked.text).values or {}).get("title", "")) or asked.name
        with folder_told("plans"):
            return _saved(store.create(wanted, asked.text, now(), _name_of(who, asked.by)))

    @router.post("/kept/{name}", response_model=SavedPlan, responses=_CONFLICT)
    def save(name: str, asked: ChangedPlan, who: Who) -> Response:
        """Keep a changed plan; one that a live run goes by is left as it is, and this becomes another."""
        by = _name_of(who, asked.by)
        try:
            with folder_told("plans"):
                copied = store.kept(name).text != asked.text and _is_used(store, name, in_use())
                kept = (
                    store.create(name, asked.text, now(), by)
                    if copied
                    else store.save(name, asked.text, asked.base, now(), by)
                )
        except SavedMeanwhile as meanwhile:
            return JSONResponse(_conflict(meanwhile).model_dump(), 409)
        return json_answer(_saved(kept, copied=copied).model_dump())


def _at_site(desk: PlanDesk, text: str, *, judge: bool = True, crew: int | None = None) -> Checked:
    return checked(text, judge=judge, site_of=desk.sites.for_plan, crew=crew)


def _checked(desk: PlanDesk, asked: CheckRequest) -> dict[str, Any]:
    try:
        text = edited(asked.text, asked.edits)
        return checked_json(_at_site(desk, text, judge=asked.judge, crew=asked.crew))
    except EditFault as fault:
        return checked_json(_at_site(desk, asked.text, crew=asked.crew), str(fault))
    except ValueError:
        why = "The text cannot be read: mend it first." if asked.edits else ""
        return checked_json(_at_site(desk, asked.text, crew=asked.crew), why)


def _is_used(store: PlanStore, name: str, live: Iterable[InUse]) -> bool:
    """Whether a live run goes by a plan: by its text, or by an earlier version of the same file."""
    used = list(live)
    if not used:
        return False
    try:
        versions = {version.text for version in store.versions(name)}
        text = store.kept(name).text
    except PlanFault:
        return False
    return any(one.text == text or (one.file_name == f"{name}{SUFFIX}" and one.text in versions) for one in used)


def _versions(store: PlanStore, name: str) -> list[PlanVersion]:
    told: list[PlanVersion] = []
    before = None
    for version in store.versions(name):
        told.append(
            PlanVersion(
                number=version.number,
                saved_at=rfc3339(version.at),
                saved_by=version.by,
                text=version.text,
                changes=[] if before is None else changes_in_words(before, version.text),
            )
        )
        before = version.text
    return told[::-1]


def _name_of(who: Visitor, said: str) -> str:
    return who.name or said.strip() or UNNAMED


def _kept_json(kept: Kept) -> dict[str, Any]:
    return {"name": kept.name, "base": kept.base, "saved_at": rfc3339(kept.at), "saved_by": kept.by}


def _saved(kept: Kept, *, copied: bool = False) -> SavedPlan:
    return SavedPlan(**_kept_json(kept), copied=copied)


def _conflict(meanwhile: SavedMeanwhile) -> SaveConflict:
    kept = meanwhile.kept
    told = {key: value for key, value in _kept_json(kept).items() if key != "name"}
    return SaveConflict(reason=str(meanwhile), text=kept.text, **told)
