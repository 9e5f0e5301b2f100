"""What a file of house rules may say: the shapes of the shipped files, of which only the changed part is written.

The shapes are made from those of `rulebook`, so that a key that rules learn is known here too. Whether a change is
allowed is judged in `housejudge`.
"""

from __future__ import annotations

from typing import Any

from planner.files.checked import Field
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.provenance import Caution, Number
from planner.rulebook.shapes import AlertRule, GateRule, PhaseRule
from planner.rulebook.task_rule import TaskRule


def part_of(shape: type[Written], name: str, told: str, **own: Any) -> type[Written]:
    """A shape with the same keys, none of them obligatory and none filled in; `own` keys replace or follow."""
    fields = {key: (field.annotation, Field(default=None, alias=field.alias, **field.limits)) for key, field in shape.model_fields.items()}
    return _shape(name, told, **(fields | own))


def _shape(name: str, told: str | None, **fields: tuple[Any, Any]) -> type[Written]:
    """A record of these fields: of each its type and what `Field` gives, or its default."""
    types, given = ({key: pair[n] for key, pair in fields.items()} for n in (0, 1))
    return type(name, (Written,), {"__module__": __name__, "__doc__": told, "__annotations__": types, **given})


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
AlertFilePart = _shape("AlertFilePart", None, numbers=(dict[str, NumberPart], {}), alerts=(tuple[AlertPart, ...], ()))  # type: ignore[valid-type]
NumbersFilePart = _shape("NumbersFilePart", None, numbers=(dict[str, NumberPart], ...))  # type: ignore[valid-type]
CautionPart = part_of(Caution, "CautionPart", "A caution: of a shipped one only what is added to, else the whole of it.")

__all__ = ["AlertFilePart", "AlertPart", "CautionPart", "GatePart", "NumberPart", "NumbersFilePart", "PhasePart", "TaskPart", "part_of"]
