"""What a file of house rules may say: the shapes of the shipped files, of which only the changed part is written.

The shapes are made from those of `rulebook`, so that a key that rules learn is known here too. Whether a change is
allowed is judged in `housejudge`.
"""

from __future__ import annotations

from copy import copy
from typing import Any

from pydantic import Field, create_model

from planner.rulebook.nodes import Condition, Written
from planner.rulebook.provenance import Caution, Number
from planner.rulebook.shapes import AlertRule, GateRule, PhaseRule
from planner.rulebook.task_rule import TaskRule


def part_of(shape: type[Written], name: str, told: str, **own: Any) -> type[Written]:
    """A shape with the same keys, none of them obligatory and none filled in; `own` keys replace or follow."""
    fields: dict[str, Any] = {}
    for key, field in shape.model_fields.items():
        optional = copy(field)
        optional.default, optional.default_factory = None, None
        fields[key] = (field.annotation, optional)
    return create_model(name, __base__=Written, __doc__=told, **(fields | own))


NumberPart = part_of(Number, "NumberPart", "A number: of a shipped one only what changes, of a new one value, unit and grade.")
TaskPart = part_of(TaskRule, "TaskPart", "A task: of a shipped one its id and what changes, else the whole of it.", id=(str, Field(pattern=r"^[a-z][a-z0-9-]*$")))
GatePart = part_of(
    GateRule, "GatePart", "What a shop adds to a shipped gate: conditions that must hold too, holds, advice.",
    needs_too=(tuple[Condition, ...], Field(default=(), description="Conditions that must hold besides ours before the gate opens.")))
PhasePart = part_of(
    PhaseRule, "PhasePart", "A shipped phase, of which only what the shop changes or adds is written.",
    phase=(str, ...), numbers=(dict[str, NumberPart], {}), tasks=(tuple[TaskPart, ...], ()), gate=(GatePart, None))  # type: ignore[valid-type]
AlertPart = part_of(
    AlertRule, "AlertPart", "An alert: of a shipped one only what changes, else the whole of it.",
    alert=(str, ...), tasks=(tuple[TaskPart, ...], ()))  # type: ignore[valid-type]
AlertFilePart = create_model("AlertFilePart", __base__=Written, numbers=(dict[str, NumberPart], {}), alerts=(tuple[AlertPart, ...], ()))  # type: ignore[valid-type]
NumbersFilePart = create_model("NumbersFilePart", __base__=Written, numbers=(dict[str, NumberPart], ...))  # type: ignore[valid-type]
CautionPart = part_of(Caution, "CautionPart", "A caution: of a shipped one only what is added to, else the whole of it.")

__all__ = ["AlertFilePart", "AlertPart", "CautionPart", "GatePart", "NumberPart", "NumbersFilePart", "PhasePart", "TaskPart", "part_of"]
