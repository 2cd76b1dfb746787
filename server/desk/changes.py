"""What changes what debriefs see: a recording that is dropped, and a run that is put right."""

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Response

from server.desk.corrections import NOT_OF_A_FILE, Corrections
from server.desk.debrief_messages import Corrected, Correction, Dropped, DroppedRecording
from server.desk.debriefs import ANSWERS, json_answer, opener, rejected_json
from server.desk.records import Opened, RecordFault, Records
from server.desk.visitors import Visitor, booth_of
from server.timeline.events import EventFault, RecordingFault
from server.timeline.plan import PlanFaults

Who = Annotated[Visitor, Depends(booth_of)]


def change_routes(records: Records, corrections: Corrections) -> APIRouter:
    """The routes of both."""
    router = APIRouter(prefix="/api", responses=ANSWERS, dependencies=[Depends(booth_of)])
    named = Annotated[Opened, Depends(opener(records))]

    @router.post("/recordings", response_model=Dropped, status_code=201)
    def drop(given: DroppedRecording) -> Response:
        """Take a recording, to be gone through for as long as the server runs and others do not push it out."""
        return _drop(records, given)

    @router.post("/debriefs/{id_}/corrections", response_model=Corrected)
    async def correct(run: named, asked: Correction, who: Who) -> Response:
        """Take an event back, or add one; 422 is no event, 409 is refused by the run, and 503 may be sent again."""
        if run.source.run_id is None:
            raise HTTPException(409, NOT_OF_A_FILE)
        said = asked.model_copy(update={"by": who.name or asked.by})
        try:
            return json_answer((await corrections.make(run.id, run.plan, said)).model_dump())
        except EventFault as fault:
            return json_answer({"reason": f"{str(fault).removesuffix('.')}."}, 422)
        except RecordFault as fault:
            return json_answer({"reason": str(fault)}, fault.status)

    return router


def _drop(records: Records, given: DroppedRecording) -> Response:
    plan = (given.plan.name, given.plan.text) if given.plan else None
    try:
        taken = records.drop(given.recording.name, given.recording.text, plan)
    except PlanFaults as faults:
        what = "This plan" if given.plan else "The plan that this recording carries"
        return json_answer({"reason": f"{what} cannot be used.", "faults": faults.faults}, 422)
    except RecordingFault as fault:
        return json_answer({"reason": f"{fault}."}, 422)
    except RecordFault as fault:
        return json_answer({"reason": str(fault)}, fault.status)
    return json_answer({"id": taken.id, "rejected": rejected_json(taken)}, 201)
