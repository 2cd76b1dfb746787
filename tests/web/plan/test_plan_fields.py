"""The rules that the plan desk has fields for, beside those that a plan has."""

import re
from pathlib import Path

from pydantic import BaseModel

from server.plans.naming import label_of
from server.timeline.film import Film
from server.timeline.plan import Lamp, ThreadingRules, Timing

MODELS: dict[str, type[BaseModel]] = {"timing": Timing, "threading": ThreadingRules, "lamp": Lamp}
FIELDS = (Path(__file__).parents[3] / "web/js/plan/fields.js").read_text(encoding="utf-8")


def test_every_rule_of_a_plan_has_its_field_and_no_other() -> None:
    """A key that is added to the format is missed here, with its reason; the start has fields of its own."""
    assert set(re.findall(r"(?:number|choice)\(\s*\"([a-z_.]+)\"", FIELDS)) == rules() - {"timing.motors_at"}


def test_every_rule_of_a_plan_has_a_label() -> None:
    """A fault on the plan desk names no key of the file."""
    assert [rule for rule in sorted(rules()) if label_of(tuple(rule.split("."))) == (rule, "")] == []


def rules() -> set[str]:
    """The keys of a plan's rules, each with its table."""
    found = {f"{table}.{key}" for table, model in MODELS.items() for key in model.model_fields}
    return found | {f"film.{key}" for key in Film.__dataclass_fields__}
