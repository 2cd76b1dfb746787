"""What the plan desk is told of a text, as JSON."""

from collections.abc import Iterable
from typing import Any

from server.live import run_info
from server.planning.crew import Task
from server.planning.lacing import Lacing
from server.plans.check import Checked, checked
from server.plans.keypaths import Value
from server.plans.site_store import KeptSite
from server.plans.store import PlanFault, PlanStore
from server.timeline.events import rfc3339
from server.timeline.film import Film
from server.timeline.plan import Inputs, Lamp, ThreadingRules, Timing
from server.timeline.plan_model import RATE_TOLERANCE_PPM, START_SPREAD_S

Json = dict[str, Any]


def checked_json(found: Checked, refused: str = "") -> Json:
    """A text gone through, as a CheckedPlan; `refused` says why an edit was not made."""
    plan, schedule, judged = found.plan, found.schedule, found.judged
    return {
        "text": found.text,
        "values": found.values,
        "counts": found.counts,
        "day": found.day,
        "time": found.time,
        "faults": [fault._asdict() for fault in found.faults],
        "judged": judged is not None,
        "findings": [] if judged is None else [finding._asdict() for finding in judged.findings],
        "lacing": None if judged is None or judged.lacing is None else _lacing_json(judged.lacing),
        "people": None if judged is None or judged.crew is None else [_tasks_json(one) for one in judged.crew.people],
        "site": None if found.at is None else _taken_json(found.at),
        "info": None if plan is None else run_info("", plan, 1.0, demo=False),
        "schedule": None if schedule is None else schedule.as_json(),
        "refused": refused,
    }


def _lacing_json(lacing: Lacing) -> Json:
    told = {key: getattr(lacing, key) for key in ("leader_ft", "crew", "minutes", "begin_s", "ready_s")}
    stretches = [
        {key: getattr(pull, key) for key in ("from_house", "to_house", "path_ft", "rollers", "effort")}
        for pull in lacing.stretches
    ]
    return told | {"stretches": stretches}


def _tasks_json(tasks: Iterable[Task]) -> list[Json]:
    return [
        {key: getattr(task.duty, key) for key in ("house", "booth", "what", "by_s")}
        | {"begin_s": task.begin_s, "walk_s": task.walk_s}
        for task in tasks
    ]


def _taken_json(kept: KeptSite) -> Json:
    return {"name": kept.name, "called": kept.called, "base": kept.base, "faults": len(kept.faults)}


def line_json(store: PlanStore, name: str, *, in_use: bool) -> Json:
    """A plan of the list, as a PlanLine; a file that cannot be read has a fault."""
    try:
        kept = store.kept(name)
    except (PlanFault, OSError) as fault:
        why = str(fault) if isinstance(fault, PlanFault) else f"It cannot be read: {fault.strerror or 'no reason'}."
        told: Json = {"title": name, "site": why, "zero": None, "timezone": "UTC", "houses": [], "faults": 1}
        return {"name": name, **told, "saved_at": "", "saved_by": "", "in_use": in_use}
    found = checked(kept.text, judge=False)
    values = found.values or {}
    houses = [str(values.get(f"stations[{place}].house", "")) for place in range(found.counts["stations"])]
    return {
        "name": name,
        "title": str(values.get("title", name)),
        "site": str(values.get("site", "")),
        "zero": None if found.plan is None else rfc3339(found.plan.zero),
        "timezone": "UTC" if found.plan is None else found.plan.timezone,
        "houses": houses,
        "faults": len(found.faults),
        "saved_at": rfc3339(kept.at),
        "saved_by": kept.by,
        "in_use": in_use,
    }


def usual_json() -> Json:
    """What holds where a plan says nothing, as a PlanUsual."""
    film, threading, lamp, inputs = Film(), ThreadingRules(), Lamp(), Inputs()
    values: dict[str, Value] = {"timezone": "UTC"}
    values |= {f"film.{key}": getattr(film, key) for key in ("gauge", "frame_rate", "shrinkage_percent")}
    values |= {f"timing.{key}": field.default for key, field in Timing.model_fields.items() if not field.is_required()}
    values |= {f"threading.{key}": value for key, value in threading.model_dump().items()}
    values |= {f"lamp.{key}": value for key, value in lamp.model_dump().items()}
    values |= {f"inputs.{key}": value for key, value in inputs.model_dump().items()}
    return {"values": values, "spreads_s": START_SPREAD_S, "tolerances_ppm": RATE_TOLERANCE_PPM}
