"""The sheets of a kept plan over HTTP: opened and printed in a browser, and the threading list for a tablet."""

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import lru_cache
from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, HTTPException, Path, Query, Response
from fastapi.responses import HTMLResponse, PlainTextResponse

from server.desk.access import PAPER_POLICY
from server.desk.debriefs import json_answer
from server.desk.messages import Reason
from server.desk.plan_folder import folder_told
from server.desk.plan_messages import MOST_PEOPLE
from server.desk.plans import PlanDesk
from server.desk.sheet_messages import SheetLine, SheetList, ThreadingList, ThreadingStep, ThreadingTick
from server.planning.cautions import FILM_CAUTIONS
from server.planning.findings import Finding
from server.planning.judge import judgement_of
from server.planning.lacing import NO_MOTOR, Lacing, lacing_of
from server.planning.leader import cut_ft
from server.planning.next_show import next_show_of
from server.planning.site_model import Site
from server.plans.check import checked
from server.plans.site_store import KeptSite
from server.plans.store import Kept, PlanFault
from server.sheets.folder import sheets_of
from server.sheets.page import page_of
from server.sheets.show import Show
from server.sheets.ticklist import Tick, TickStep, ticklist_of
from server.timeline.events import rfc3339
from server.timeline.faults import both
from server.timeline.naming import link_of
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule

MOST_JUDGED = 16
"""Chosen: more plans are not laced at the same time."""

NO_SHEET = "This plan has no such sheet: its overview links those that there are."

_ANSWERS: dict[int | str, dict[str, Any]] = {status: {"model": Reason} for status in (404, 409, 422, 503)}
_SENTENCE: dict[str, Any] = {"description": "The sentence alone.", "content": {"text/plain": {}}}
_PAGE: dict[int | str, dict[str, Any]] = {200: {"content": {"text/html": {}}}, **dict.fromkeys(_ANSWERS, _SENTENCE)}

Crew = Annotated[int, Path(ge=1, le=MOST_PEOPLE)]
AskedCrew = Annotated[int | None, Query(ge=1, le=MOST_PEOPLE)]


class _Whole(NamedTuple):
    """A kept plan that can be laced by; `at` is the site file that it names, None where none has that name."""

    kept: Kept
    plan: Plan
    schedule: Schedule
    at: KeptSite | None

    @property
    def site(self) -> Site | None:
        return None if self.at is None else self.at.site


class _Paper(NamedTuple):
    """A kept plan, and the show that its sheets are made of."""

    kept: Kept
    show: Show


def sheet_routes(desk: PlanDesk, now: Callable[[], datetime]) -> APIRouter:
    """The routes of the sheets of the plans that are kept; `now` is the wall clock."""
    router = APIRouter(prefix="/api/plans/kept/{name}", responses=_ANSWERS)

    @router.get("/sheets")
    def sheets(name: str, crew: AskedCrew = None) -> SheetList:
        """The sheets of a plan, the overview first; of a crew too, where somebody says how many people there are."""
        with folder_told("plans"):
            kept, show = _paper(desk, name, crew)
        lines = [SheetLine(name=sheet.name, title=sheet.title, about=sheet.about) for sheet in sheets_of(show)]
        return SheetList(**_kept_json(kept), against=_faults(show.judgement.findings), sheets=lines)

    @router.get("/sheets/{sheet}.html", response_class=HTMLResponse, responses=_PAGE)
    def page(name: str, sheet: str) -> Response:
        """One sheet, as a page of its own."""
        return _page(desk, name, sheet, None)

    @router.get("/sheets/crew-{crew}/{sheet}.html", response_class=HTMLResponse, responses=_PAGE)
    def page_for_crew(name: str, sheet: str, crew: Crew) -> Response:
        """The same for a crew of so many: the links of a page lead to pages for that crew."""
        return _page(desk, name, sheet, crew)

    @router.get("/threading", response_model=ThreadingList)
    def threading(name: str, crew: AskedCrew = None) -> Response:
        """What is to be laced and checked, to be ticked off on a tablet; by so many people."""
        with folder_told("plans"):
            whole = _whole(desk, name)
        lacing = lacing_of(whole.plan, whole.site, crew)
        return json_answer(_threading(whole, lacing, now()).model_dump())

    return router


def _page(desk: PlanDesk, name: str, sheet: str, crew: int | None) -> Response:
    """A sheet; where there is none a reader gets the sentence alone, for it stands in a tab of its own."""
    try:
        with folder_told("plans"):
            show = _paper(desk, name, crew).show
    except HTTPException as told:
        return PlainTextResponse(told.detail, told.status_code)
    found = next((one for one in sheets_of(show) if one.name == sheet), None)
    if found is None:
        return PlainTextResponse(NO_SHEET, 404)
    return HTMLResponse(page_of(found, show), headers={"content-security-policy": PAPER_POLICY})


def _paper(desk: PlanDesk, name: str, crew: int | None) -> _Paper:
    """The show of a plan as it is kept. Raises PlanFault, also of a plan that nobody can lace by."""
    kept, plan, schedule, _ = whole = _whole(desk, name)
    judgement, after = judgement_of(plan, whole.site, crew), next_show_of(plan, whole.site, crew)
    return _Paper(kept, Show(plan, schedule, judgement, after, crew=crew))


def _whole(desk: PlanDesk, name: str) -> _Whole:
    """A plan as it is kept. Raises PlanFault, also of a plan that nobody can lace by."""
    kept = desk.store.kept(name)
    found = checked(kept.text, judge=False, site_of=desk.sites.for_plan)
    if found.plan is None or found.schedule is None:
        count = len(found.faults)
        things = "1 thing" if count == 1 else f"{count} things"
        raise PlanFault(f"This plan is not whole yet, so it has no sheets: {things} to fill in or mend.", 409)
    missing = _without_path(found.plan)
    if missing:
        raise PlanFault(f"This plan has no sheets until every path is given: {both(missing)}.", 409)
    return _Whole(kept, found.plan, found.schedule, found.at)


def _without_path(plan: Plan) -> list[str]:
    return [link_of(plan, k) for k, link in enumerate(plan.links) if not link.path_m]


def _kept_json(kept: Kept) -> dict[str, str]:
    return {"name": kept.name, "base": kept.base, "saved_at": rfc3339(kept.at), "saved_by": kept.by}


def _faults(findings: Iterable[Finding]) -> int:
    return sum(finding.level == "fault" for finding in findings)


@lru_cache(maxsize=MOST_JUDGED)
def _against(plan: Plan, site: Site | None) -> int:
    """How much speaks against a plan, whoever laces it: tablets ask again and again, and it is seldom another."""
    return _faults(judgement_of(plan, site).findings)


def _threading(whole: _Whole, lacing: Lacing, now: datetime) -> ThreadingList:
    plan = whole.plan
    ticks = ticklist_of(plan, lacing)
    return ThreadingList(
        **_kept_json(whole.kept),
        title=plan.title,
        site=plan.site or "",
        zero=rfc3339(plan.zero),
        timezone=plan.timezone,
        now=rfc3339(now),
        against=_against(plan, whole.site),
        crew=lacing.crew,
        minutes=lacing.minutes,
        begin_s=lacing.begin_s,
        ready_s=lacing.ready_s,
        leader_ft=cut_ft(lacing.leader_ft),
        steps=[_step(step) for step in ticks.steps],
        marks=[_tick(tick) for tick in ticks.marks],
        machines=[_tick(tick) for tick in ticks.machines],
        cues=[_tick(tick) for tick in ticks.cues],
        rule=NO_MOTOR,
        cautions=list(FILM_CAUTIONS),
    )


def _tick(tick: Tick) -> ThreadingTick:
    return ThreadingTick(**tick._asdict())


def _step(step: TickStep) -> ThreadingStep:
    return ThreadingStep(
        **step.tick._asdict(), **{key: value for key, value in step._asdict().items() if key != "tick"}
    )
