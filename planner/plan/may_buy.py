"""May this animal be bought today? The plan is asked as if it were the next wish: whoever may come in by its own stage, today
and unheld, may be bought; every other answer has its reason."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from planner.files.kept import Kept
from planner.files.tank import Tank, Wish
from planner.judge.animals_in_journal import read_arrivals
from planner.judge.facts import Facts, animals_in, gather
from planner.judge.plausible import believed
from planner.plan.make import plan_with_stock
from planner.rulebook.shapes import Rulebook
from planner.stock.catalogue import Catalogue
from planner.stock.suitability import Reason
from planner.terms.causes import Cause
from planner.terms.problems import Problem
from planner.terms.records import CLOSED, URGENT, Answer, Journal, Need, Plan, State, Task, Window


@dataclass(frozen=True, slots=True)
class MayBuy:
    """The answer for one animal. `reasons`: why not, or what to mind; `needs`: what the gate before it still asks for; `window`: about
    when it may come in; `into`: the water that it goes into first; `could`: names that may be meant where the animal is unclear."""

    answer: Literal["yes", "not_yet", "no", "unclear"]
    name: str = ""
    reasons: tuple[str | Cause | Reason, ...] = ()
    needs: tuple[Need, ...] = ()
    window: Window = Window(None, None, None)
    into: str = "display"
    could: tuple[str, ...] = ()


def may_buy(typed: str, tank: Tank, journal: Journal, rules: Rulebook, on: date, catalogue: Catalogue, problems: tuple[Problem, ...] = (), kept: Kept | None = None) -> MayBuy:
    """`typed`: a common or scientific name. Nothing that the journal leaves unknown is taken for a yes."""
    found = catalogue.find(typed)
    animal = found.animal
    if animal is None:
        return MayBuy("unclear", typed, could=tuple(a.name if (a := catalogue.get(c)) is not None else c for c in found.candidates))
    facts = gather(tank, believed(tank, journal, rules, on), on)
    display, waiting = (_living(facts, water, catalogue) for water in ("display", "quarantine"))
    living = display | waiting  # who waits in quarantine will be a neighbour
    came = next((c.count for c in read_arrivals(facts, catalogue).came if c.animal_id == animal.id), 0)
    wishes = _with_one(tank.wish_list, animal.id, came, catalogue)
    wishes += [_wish_for(id, n) for id, n in waiting.items() if not any((a := catalogue.find(w.animal).animal) is not None and a.id == id for w in wishes)]
    wanted = tank.model_copy(update={"wish_list": tuple(wishes)})
    plan, stock = plan_with_stock(wanted, journal, rules, on, None, problems, catalogue, kept)
    assert stock is not None  # there is a catalogue
    judged = next((a for a in stock.verdict.animals if a.animal_id == animal.id), None)
    refuses = [r for r in judged.reasons if r.weight == "refuses"] if judged is not None else []
    quarrels = [c.why for c in stock.verdict.conflicts if animal.id in c.between and set(c.between) - {animal.id} <= living.keys()]
    if refuses or quarrels:
        return MayBuy("no", animal.name, (*refuses, *quarrels))
    left_out = next((x.why for x in stock.verdict.left_out if x.animal_id == animal.id), None)
    if left_out is not None:
        return MayBuy("no", animal.name, (left_out,))
    task = next((t for t in plan.tasks if t.state not in CLOSED and any(id == animal.id for id, _ in t.animals)), None)
    if task is None:
        unplaced = next((why for wish, why in (stock.stages.not_placed if stock.stages is not None else ()) if wish.animal_id == animal.id), None)
        return MayBuy("no" if unplaced is not None else "not_yet", animal.name, (unplaced,) if unplaced is not None else (), _missing(plan, None))
    conditions = tuple(r for r in judged.reasons if r.weight == "condition") if judged is not None else ()
    if task.state in URGENT and not task.tentative and not any(y.until is not None and y.until > on for y in task.yielded):
        return MayBuy("yes", animal.name, conditions, window=task.window, into=task.where)
    return MayBuy("not_yet", animal.name, tuple(_why_not(task, plan)), _missing(plan, task), task.window, task.where)


def _living(facts: Facts, water: str, catalogue: Catalogue) -> dict[str, int]:
    found: dict[str, int] = {}
    for named, count in animals_in(facts, water).items():
        if (lives := catalogue.find(named).animal) is not None:
            found[lives.id] = found.get(lives.id, 0) + count
    return found


def _wish_for(animal_id: str, count: int) -> Wish:
    return Wish(animal=animal_id, count=str(count))  # type: ignore[arg-type]  # read as it is written


def _with_one(wishes: Iterable[Wish], animal_id: str, came: int, catalogue: Catalogue) -> list[Wish]:
    """The wish list with at least one more of an animal than have come."""
    kept = [w for w in wishes if (a := catalogue.find(w.animal).animal) is None or a.id != animal_id]
    asked = sum(w.count for w in wishes if (a := catalogue.find(w.animal).animal) is not None and a.id == animal_id)
    return [*kept, _wish_for(animal_id, max(asked, came + 1))]


def _why_not(task: Task, plan: Plan) -> Iterable[str | Cause]:
    """What holds its stage; else why its stage is on its day."""
    held = list(dict.fromkeys(h.because for h in plan.holds)) if task.state == State.ON_HOLD else []
    return held or [b for b in task.because if isinstance(b, Cause) and b.kind not in ("open_guards", "shut_gate")]


def _missing(plan: Plan, task: Task | None) -> tuple[Need, ...]:
    """What the gate to animals still asks for, else the gate that the stage waits for."""
    gates = [plan.phase_as("opens_to_animals"), plan.phase(task.depends_on) if task is not None and task.depends_on else None]
    shut = next((g for g in gates if g is not None and g.opened is None), None)
    return tuple(n for n in shut.needs if n.met != Answer.YES) if shut is not None else ()


__all__ = ["MayBuy", "may_buy"]
