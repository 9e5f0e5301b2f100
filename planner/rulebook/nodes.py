"""Conditions as rules write them: nodes with one key each, which thresholds name entries of `numbers`.

No expressions and no Python: what a condition can ask is what stands here. `conditions` judges them.
"""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator


class Written(BaseModel):
    """Base of everything that a rule author writes."""

    # The shipped rules mostly come checked (`shipped_cache`), so nothing is built for checking before it is asked for.
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)


class ReadingNode(Written):
    """A reading within limits. `times` readings on different days (`apart` hours apart where both rows carry a
    time), none outside the limits between them. `fresh` names a number in hours; without it the freshness of the
    reading's kind holds. `clear` asks for the kit's own zero. `free` (ammonia
    alone) judges the free ammonia, mg/L as NH3 by the upper published value, at the last pH, temperature and salinity. `since` counts only readings after the last `done`
    of a task or the last fact 'dosed:ammonia'."""

    name: str
    where: str = "display"
    at_least: str | None = None
    at_most: str | None = None
    above: str | None = None
    below: str | None = None
    clear: bool = False
    free: bool = False
    times: int = Field(default=1, ge=1, le=6)
    apart: str | None = None
    fresh: str | None = None
    any_age: bool = False
    since: str | None = None


class DoneNode(Written):
    """A tick of a task. `since` another task was last done: by day, since two ticks of one sitting may be written in
    either order. `after` it: by the instants written."""

    task: str
    since: str | None = None
    after: str | None = None
    within: str | None = None


class EventNode(Written):
    """A journal event. With `since` (a task key) only events after that task was last done count; an event is over
    once `ended_by` (a task key) is done after it."""

    what: str
    where: str | None = None
    since: str | None = None
    ended_by: str | None = None
    within: str | None = None
    task: str | None = None


class FactNode(Written):
    """A `dosed`, `changed_water`, `poured`, `added` or `lost` row. `within` names a number in days or hours."""

    kind: Literal["dosed", "changed_water", "poured", "added", "moved", "lost"]
    what: str | None = None
    where: str = "display"
    within: str | None = None
    since: str | None = None
    total_at_least: str | None = None


class ChallengeNode(Written):
    """Ammonia dosed to at least `dose` mg/L as N (or what the judged wish list asks for, if that is more) and found handled (ammonia and nitrite clear, or at most one kit
    step) within `hours`, `times` times on different days, no water change in between."""

    dose: str
    hours: str
    times: int = Field(default=2, ge=1, le=4)
    within: str | None = None


class AnimalNode(Written):
    """Is any animal in this water (added or moved in, and not lost or moved out)?"""

    where: str = "display"
    what: str | None = None


class TankNode(Written):
    """A key of the tank file. Unknown while the key is not described."""

    key: str
    equals: tuple[str, ...] = Field(default=(), alias="is")
    at_least: str | None = None
    at_most: str | None = None
    described: bool = False


class AgeNode(Written):
    """Days since a gate opened, or since a task was last done. `first:ammonia`: since the cycle began, with the first
    dose or with the rock that cures in the tank."""

    of: str
    at_least: str


class KitNode(Written):
    """Is the kit of this reading past the month on its box (`expired: no`: not past it)? Unknown while the tank file
    does not say."""

    name: str
    expired: bool


class Condition(Written):
    """Exactly one of the keys."""

    all: tuple[Condition, ...] | None = None
    any: tuple[Condition, ...] | None = None
    not_: Condition | None = Field(default=None, alias="not")
    reading: ReadingNode | None = None
    done: DoneNode | None = None
    event: EventNode | None = None
    fact: FactNode | None = None
    challenge: ChallengeNode | None = None
    animal: AnimalNode | None = None
    tank: TankNode | None = None
    age: AgeNode | None = None
    kit: KitNode | None = None
    say: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _short_forms(cls, data: Any) -> Any:
        """`done: site/level` and `event: leak` may be written without braces."""
        if isinstance(data, dict):
            data = data | {key: {inner: data[key]} for key, inner in SHORT_FORMS.items() if isinstance(data.get(key), str)}
        return data

    @model_validator(mode="after")
    def _one_key(self) -> Self:
        if sum(getattr(self, k) is not None for k in NODE_KINDS) != 1:
            raise ValueError("a condition has exactly one of the keys: " + ", ".join(k.rstrip("_") for k in NODE_KINDS))
        return self


SHORT_FORMS = {"done": "task", "event": "what"}
"""Conditions whose one key may be left out."""
NODE_KINDS = ("all", "any", "not_", "reading", "done", "event", "fact", "challenge", "animal", "tank", "age", "kit")


Condition.model_rebuild()
