"""Sites over HTTP: what stays from plan to plan, listed, read and kept."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi.responses import JSONResponse

from server.desk.debriefs import json_answer
from server.desk.messages import Reason
from server.desk.plan_folder import folder_told
from server.desk.plan_messages import KeptSite as KeptAnswer
from server.desk.plan_messages import NewSite, SiteConflict, SiteInfo, SiteList, SiteRefusal
from server.desk.visitors import Visitor, booth_of
from server.planning.site import SiteFaults
from server.plans.site_store import SUFFIX, KeptSite, SiteStore, SiteThere, faults_of
from server.timeline.tables import toml_data

_KEEPING: dict[int | str, dict[str, Any]] = {409: {"model": SiteConflict}, 422: {"model": SiteRefusal}}
_READING: dict[int | str, dict[str, Any]] = {404: {"model": Reason}}
_OF_DECK = ("deck_core_mm", "deck_roll_mm")
"""What of a house no plan has a key for."""

Json = dict[str, Any]


def add_site_routes(router: APIRouter, store: SiteStore) -> None:
    """Add the routes of the sites."""

    @router.get("/sites", response_model=SiteList)
    def sites() -> Response:
        """The sites there are."""
        with folder_told("sites"):
            return json_answer({"sites": [_line_json(kept) for kept in store.sites()]})

    @router.get("/sites/{name}", response_model=SiteInfo, responses=_READING)
    def site(name: str) -> Response:
        """What a plan can take from a site."""
        with folder_told("sites"):
            found = next((kept for kept in store.sites() if kept.name == name), None)
        if found is None or found.site is None:
            raise HTTPException(404, "There is no site file of this name here that can be used.")
        return json_answer(site_json(found))

    @router.post("/sites", response_model=KeptAnswer, responses=_KEEPING)
    def keep(asked: NewSite, who: Annotated[Visitor, Depends(booth_of)]) -> Response:
        """Keep a site file; one of this name that is another is replaced only where it is named."""
        del who
        try:
            with folder_told("sites"):
                kept, changed = store.keep(asked.text.removeprefix("\ufeff"), asked.base)
        except SiteThere as there:
            named = {key: getattr(there.kept, key) for key in ("name", "called", "base")}
            return JSONResponse({"reason": str(there), **named}, 409)
        except SiteFaults as faults:
            told = [fault._asdict() for fault in faults_of(faults)]
            return JSONResponse({"reason": "This site file is not kept: it has faults.", "faults": told}, 422)
        return json_answer({"name": kept.name, "called": kept.called, "changed": changed})


def _line_json(kept: KeptSite) -> Json:
    return {
        "name": kept.name,
        "called": kept.called or f"{kept.name}{SUFFIX}",
        "houses": 0 if kept.site is None else len(kept.site.houses),
        "paths": 0 if kept.site is None else len(kept.site.paths),
        "faults": [fault._asdict() for fault in kept.faults],
    }


def site_json(kept: KeptSite) -> Json:
    """What a plan can take from a site without faults, as a SiteInfo: values as the file has them, in its own units."""
    data = toml_data(kept.text)
    return {
        "name": kept.name,
        "called": kept.called,
        "houses": [{"house": house["house"], "values": _of_station(house)} for house in data["houses"]],
        "paths": [_path_json(path) for path in data.get("paths", ())],
    }


def _of_station(house: Json) -> Json:
    return {key: value for key, value in house.items() if key not in _OF_DECK}


def _path_json(path: Json) -> Json:
    key = "path_ft" if "path_ft" in path else "path_m"
    return {"houses": [path["from"], path["to"]], "key": key, "length": path[key], "rollers": path.get("rollers")}
