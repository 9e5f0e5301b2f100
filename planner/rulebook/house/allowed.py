"""May a house rule do this? What protects animals or people may be tightened and added to, never loosened.

Each function takes what the shipped book says and what the house wrote, and returns why it is refused, or None. What is
not named here as allowed is refused, so that a key that rules learn later is no way round.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from planner.rulebook.kinds.event import EventNode
from planner.rulebook.kinds.node import TIME
from planner.rulebook.lines import Conditional
from planner.rulebook.nodes import Condition
from planner.rulebook.provenance import HOURS_IN, Caution, Number, provenance_fault
from planner.rulebook.shapes import HoldRule, Rulebook
from planner.rulebook.strictness import HIGHER, LOWER, UNCLEAR, NumberUse, deciding_way, doses, number_uses, strict_way
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import conditions_of, leaves
from planner.terms.problems import Place
from planner.terms.readings import READINGS, unit_factor
from planner.terms.records import WATERS
from planner.terms.units import Refusal

LONGEST_H = 730 * 24.0
"""Two years, the plan's own horizon: a longer time is no wait but a mistake."""
NEW_TASK_KEYS = frozenset({
    "id", "title", "short", "role", "anchor", "wait", "not_before", "not_before_wait", "only_when", "when", "unless", "every", "from_", "counts", "once", "until", "reads", "where",
    "day", "calendar", "minutes", "amounts", "steps", "watch", "cautions", "because", "cites", "writes", "protects", "per_stage", "unless_stages",
    "acts", "act_steps", "title_without", "spoils", "rank", "evening"})
TEXTS = frozenset({"steps", "watch", "because"})
ADDED_TO = frozenset({"cautions", "amounts", "cites", "reads"})


def house_number(name: str, value: float, book: Rulebook) -> Refusal | None:
    """A new value for a shipped number."""
    old = book.numbers[name]
    both = f"`{name}` is {value:g} here and {old.value:g} {old.unit}".rstrip() + f" at {_at(f'number/{name}', book)}"
    if old.range is not None and not old.range[0] <= value <= old.range[1]:
        low, high = old.range
        return Refusal("house-out-of-range", f"{both}; a house may choose {low:g} to {high:g}", f"write a number from {low:g} to {high:g}, or take the entry out")
    way = deciding_way(name, book) if old.range is not None else strict_way(name, book)
    if way == UNCLEAR and old.range is None:
        return Refusal("house-unclear", f"{both}; it has no range, and its uses do not say which way is safer", f"keep {old.value:g}, and give a task of your own a number of its own")
    if (way == LOWER and value > old.value) or (way == HIGHER and value < old.value):
        user = next((u.at for u in number_uses(book) if u.name == name and u.decides and u.way == way), "")
        why = f"{f'{user} rests on it' if user else 'it protects'}, so it may only be {'lowered' if way == LOWER else 'raised'}"
        return Refusal("house-loosens", f"{both}; {why}", f"write {old.value:g} or {'less' if way == LOWER else 'more'}, or take the entry out")
    return _impossible(value, old.unit, both, old.value >= 0)


def changed_number(name: str, old: Number, given: Mapping[str, Any], book: Rulebook) -> tuple[Refusal | None, Number]:
    """The number with its new value. What ours cites does not back another value, so that its grade and source go."""
    at = book.places.get(f"number/{name}", "rules")
    for field in ("unit", "range", "protects"):
        if field in given and given[field] != getattr(old, field):
            return Refusal("house-fixed", f"`{field}` of `{name}`, written at {at}, is ours", f"take `{field}` out; it stays as it is", at=(field,)), old
    if "value" not in given:
        return Refusal("missing-key", f"`{name}` has no `value`", f"add `value`; ours is {old.value:g}, at {at}"), old
    if given["value"] == old.value:
        return Refusal("house-fixed", f"`{name}` has the value of ours at {at}; its grade and source are ours too", "take the entry out, or change the value"), old
    refusal = house_number(name, given["value"], book)
    grade, source = given.get("grade", "practice"), given.get("source")
    number = old.model_copy(update={
        "value": given["value"], "grade": grade, "source": source, "where": given.get("where", ""), "says": given.get("says"), "range_published": given.get("range_published"),
        "of": given.get("of", ""), "note": given.get("note", "")})
    if refusal is None and (fault := provenance_fault(number)) is not None:
        refusal = Refusal("not-possible", fault, "correct it, or write `grade: practice`")
    return refusal, number


def number_limits(name: str, book: Rulebook, every: Sequence[NumberUse] | None = None) -> tuple[float | None, float | None]:
    """The least and the most that a house may write for a shipped number; None where nothing bounds it. `every`: all uses
    of the book, for who asks for many numbers."""
    old = book.numbers[name]
    low, high = old.range or (0.0 if old.value >= 0 else None, LONGEST_H / HOURS_IN[old.unit] if old.unit in HOURS_IN else None)
    way = deciding_way(name, book, every) if old.range is not None else strict_way(name, book, every)
    if way == UNCLEAR and old.range is None:
        return old.value, old.value
    return (old.value if way == HIGHER else low), (old.value if way == LOWER else high)


def new_number(name: str, number: Number, book: Rulebook) -> Refusal | None:
    """A number of the house's own."""
    if name in book.figure_names():
        return Refusal("house-name-taken", f"`{name}` is a figure that is worked out for each tank", "give the number another name")
    return _impossible(number.value, number.unit, f"`{name}` is {number.value:g} {number.unit}".rstrip(), number.unit in HOURS_IN)


def bad_name(kind: str, name: str) -> Refusal | None:
    """Numbers are named with underscores, since texts name them in braces; the rest with hyphens."""
    pattern, said = (r"[a-z][a-z0-9_]*", "underscores") if kind == "number" else (r"[a-z][a-z0-9_-]*", "hyphens")
    if re.fullmatch(pattern, name):
        return None
    return Refusal("not-a-name", f"a{'n' if kind == 'alert' else ''} {kind} cannot be called {name!r}", f"use small letters, digits and {said}, beginning with a letter")


def _impossible(value: float, unit: str, both: str, positive: bool) -> Refusal | None:
    if positive and value < 0:
        return Refusal("house-out-of-range", f"{both}; it cannot be less than nothing", "write 0 or more")
    if unit == "months" and (value < 1 or value != round(value)):
        return Refusal("house-out-of-range", f"{both}; months are counted whole", "write a whole number of months, or days with the unit `d`")
    if unit in HOURS_IN and value * HOURS_IN[unit] > LONGEST_H:
        return Refusal("house-out-of-range", f"{both}; the plan looks two years ahead", f"write at most {LONGEST_H / HOURS_IN[unit]:g}")
    return None


def house_task(key: str, field: str, value: Any, book: Rulebook) -> Refusal | None:
    """One key of a shipped task, by its name in `TaskRule`."""
    old = book.tasks[key]
    before = getattr(old, field)
    here = f"`{field.rstrip('_')}` of {key}, written at {_at(key, book)},"
    protects = old.protects or old.role in ("remedy", "animals") or any(a.alert == key.partition("/")[0] for a in book.alerts)
    if field in ("title", "short"):
        return _text_kept(getattr(old, field), value, here) if protects else None if value.strip() else _removes("a task needs its title", "write one, or take the line out")
    if field in TEXTS:
        return _waters_of(value or ()) or (_only_added(before, value, here) if protects else None)
    if field in ADDED_TO:
        lost = [name for name in before if name not in (value or ())]
        return _removes(f"{here} loses {', '.join(f'`{name}`' for name in lost)}", "write ours as well, or take the key out") if lost else None
    if field == "minutes":
        return None
    if field in ("protects", "calendar"):
        return None if value else _removes(f"{here} cannot be switched off", "take the line out")
    if field == "wait":
        return _longer_wait(before, value, here, old, book)
    if field == "every":
        return _more_often(before, value, here, old, book)
    return Refusal("house-fixed", f"{here} is ours: a shop may change a task's texts, add to its lists, and lengthen its wait", "take the line out, or write a task of your own beside it")


def _only_added(before: Sequence[str], after: Sequence[str] | None, here: str) -> Refusal | None:
    """Every line of ours is still there, in our order, for all tanks that had it; others may stand between and after."""
    rest = iter(after or ())
    for line in before:
        if not any(is_ours(theirs, line) for theirs in rest):
            return _removes(f"{here} loses '{_short(line)}'", "write our lines as they stand and yours after them, or take the key out")
    return None


def is_ours(theirs: str, ours: str) -> bool:
    """Our words, and for all tanks that had them."""
    return theirs.split() == ours.split() and (not isinstance(theirs, Conditional) or (isinstance(ours, Conditional) and theirs.same_for(ours)))


def _longer_wait(before: str | None, after: str | None, here: str, old: TaskRule, book: Rulebook) -> Refusal | None:
    if old.role not in ("step", "animals") or doses(old):
        return Refusal("house-fixed", f"{here} is ours: a {old.role} that comes later helps nobody", "take the line out, or write a task of your own beside it")
    if after is not None and (before is None or (before in book.numbers and after in book.numbers and book.hours(after) >= book.hours(before))):
        return None
    return Refusal("house-loosens", f"{here} is {_shown(before, book)}; here it is {_shown(after, book)}, which is shorter or cannot be compared", "name a number that is as long or longer, or take the line out")


def _more_often(before: str | None, after: str | None, here: str, old: TaskRule, book: Rulebook) -> Refusal | None:
    if old.role not in ("test", "care", "remedy") or doses(old) or before is None:
        return Refusal("house-fixed", f"{here} is ours", "take the line out, or write a task of your own beside it")
    if after is not None and before in book.numbers and after in book.numbers and book.hours(after) <= book.hours(before):
        return None
    return Refusal("house-loosens", f"{here} is {_shown(before, book)}; here it is {_shown(after, book)}, which is less often or cannot be compared", "name a number that is as short or shorter, or take the line out")


def new_task(key: str, rule: TaskRule, book: Rulebook, watched: frozenset[tuple[str, str]]) -> Refusal | None:
    """A task of the house's own. `watched`: events that shipped rules or the engine look at."""
    foreign = sorted(f for f in rule.model_fields_set - NEW_TASK_KEYS if getattr(rule, f) not in (None, (), False))
    if foreign:
        return Refusal("house-fixed", f"`{foreign[0].rstrip('_')}` is for shipped tasks alone", f"take `{foreign[0].rstrip('_')}` out", at=(foreign[0],))
    if rule.role == "animals":
        return Refusal("house-loosens", f"{key} brings in animals, and no gate of ours stands before it", "put the animal on the wish list; for the rest write the task with the role `step`", at=("role",))
    if rule.writes is not None and (rule.writes.kind != "event" or rule.writes.amount is not None or ("event", rule.writes.what) in watched):
        return Refusal("house-loosens", f"ticking {key} would write `{rule.writes.kind} {rule.writes.what}`, a fact on which our gates and alerts rest",
                       "take `writes` out; the keeper writes such a fact with `newtank note`", at=("writes",))
    if rule.per_stage is not None:
        leader = book.tasks.get(rule.anchor.task) if rule.anchor and rule.anchor.task else None
        if leader is None or leader.per_stage != rule.per_stage:
            stage = next((k for k, t in book.tasks.items() if t.per_stage == rule.per_stage and not (t.anchor and t.anchor.task)), "the stage")
            return Refusal("house-fixed", f"{key} comes with each stage, but hangs on no stage of ours", f"write `anchor: {{task: {stage}}}`", at=("per_stage",))
    if rule.counts is not None and ":" not in rule.counts:
        return Refusal("not-usable", f"`counts: {rule.counts}` names no kind of row", "write it as `kind:what`, such as `event:fed`", at=("counts",))
    for field, name in (("wait", rule.wait), ("not_before_wait", rule.not_before_wait)):
        if name in book.figure_names() and name not in {w for t in book.tasks.values() for w in (t.wait, t.not_before_wait)}:
            return Refusal("unit-unknown", f"`{name}` is a figure of the tank, and no time", "name a number with a unit of time", at=(field,))
    if rule.where not in WATERS:
        return _no_water(rule.where, ("where",))
    conditions = ((field, getattr(rule, field)) for field in ("only_when", "when", "unless"))
    return next((refusal for field, c in conditions if c is not None and (refusal := house_condition(c, (field,))) is not None), None) or _waters_of(rule.steps, "steps") or _waters_of(rule.watch, "watch")


def watched_facts(book: Rulebook) -> frozenset[tuple[str, str]]:
    """(kind, what) of each event that a rule of the book looks at or writes, and those that the engine knows."""
    found = {("event", "failed"), ("event", "fed")}
    for placed in conditions_of(book):
        found |= {("event", leaf.what) for leaf, _ in leaves(placed.condition) if isinstance(leaf, EventNode)}
    for task in book.tasks.values():
        if task.counts and task.counts.startswith("event:"):
            found.add(("event", task.counts.partition(":")[2]))
        if task.writes is not None:
            found.add((task.writes.kind, task.writes.what))
    return frozenset(found)


def house_phase(id: str, field: str, value: Any, book: Rulebook) -> Refusal | None:
    """One key of a shipped phase."""
    if field in ("title", "short", "intro"):
        return None if value.strip() else _removes(f"`{field}` of {id}, written at {_at(id, book)}, is left empty", "write it, or take the line out")
    if field == "after" and not (lost := sorted(set(book.phase(id).after) - set(value or ()))):
        return None  # it waits for all that ours waits for, and for more
    if field == "after" and value:
        return Refusal("house-loosens", f"`after` of {id}, written at {_at(id, book)}, no longer waits for {', '.join(lost)}", "write our gates as well, or take the line out")
    return Refusal("house-fixed", f"`{field}` of {id}, written at {_at(id, book)}, is ours: the order of the phases is fixed", "take the line out")


def house_gate(id: str, field: str, value: Any, book: Rulebook) -> Refusal | None:
    """One key of a shipped gate that is more than an addition."""
    at = _at(f"gate/{id}", book)
    if field == "title":
        phase = book.phase(id)
        if phase.role == "opens_to_animals":
            return _text_kept(phase.gate.title, value, f"`title` of the gate of {id}, written at {at},")
        return None if value.strip() else _removes("a gate needs its title", "write one, or take the line out")
    fix = "write your conditions below `needs_too:`; they must hold besides ours" if field == "opens_when" else "change the number that it names, or take the key out"
    return Refusal("house-loosens" if field == "opens_when" else "house-fixed", f"`{field}` of the gate of {id}, written at {at}, cannot be replaced", fix)


def house_hold(hold: HoldRule, book: Rulebook) -> Refusal | None:
    """A hold of the house's own. What it names in `instead` goes on behind every hold, so that it must add no risk."""
    for n, key in enumerate(hold.instead):
        rule = book.tasks.get(key)
        if rule is not None and rule.role not in ("test", "remedy", "care"):
            return Refusal("house-loosens", f"a hold would let {key} go on, written at {_at(key, book)}, which holds are there to stop", "name tests and remedies alone", at=("instead", n))
    return house_condition(hold.when, ("when",))


def house_alert(id: str, field: str, value: Any, book: Rulebook) -> Refusal | None:
    """One key of a shipped alert."""
    alert = next(a for a in book.alerts if a.alert == id)
    here = f"`{field}` of the alert {alert.alert}, written at {_at(alert.alert, book)},"
    if field in ("title", "say"):
        return _text_kept(getattr(alert, field), value, here)
    if field == "holds":
        lost = sorted(set(alert.holds) - set(value))
        return Refusal("house-loosens", f"{here} no longer holds {', '.join(lost)}", "write our gates as well, or take the key out") if lost else None
    if field == "unknown_holds":
        return None if value else Refusal("house-loosens", f"{here} cannot be switched off", "take the line out")
    return Refusal("house-loosens" if field == "when" else "house-fixed", f"{here} is ours: an alert may be made louder, not changed", "change a number that it names, or write an alert of your own beside it")


def house_caution(key: str, field: str, value: Any, book: Rulebook) -> Refusal | None:
    """One key of a shipped caution: its texts may be added to."""
    old: Caution = book.cautions[key]
    here = f"`{field}` of the caution {key}, written at {_at(f'caution/{key}', book)},"
    if field in ("title", "text", "defer"):
        return _text_kept(getattr(old, field), value, here)
    return Refusal("house-fixed", f"{here} is ours", "take the line out; a caution's texts may be added to")


def _text_kept(before: str, after: str | None, here: str) -> Refusal | None:
    if " ".join(before.split()) in " ".join((after or "").split()):
        return None
    return _removes(f"{here} loses what it says: '{_short(before)}'", "write our text as it stands and yours after it, or take the key out")


def house_condition(condition: Condition, at: tuple[str | int, ...] = ()) -> Refusal | None:
    """What no name can tell: a water that does not exist."""
    return next((_no_water(where, at) for leaf, _ in leaves(condition) if (where := leaf.water()) is not None and where not in WATERS), None)


def _waters_of(lines: Sequence[str], *at: str) -> Refusal | None:
    return next((refusal for n, line in enumerate(lines) if isinstance(line, Conditional) and line.unless is not None and (refusal := house_condition(line.unless, (*at, n, "unless"))) is not None), None)


def measures(condition: Condition) -> Iterator[tuple[str, str]]:
    """Each number of the condition with what it has to be a number of: "time", or the name of a reading."""
    for leaf, _ in leaves(condition):
        yield from ((t.name, t.measure) for t in leaf.thresholds() if t.written and (t.measure == TIME or t.measure in READINGS))


def is_measure_of(reading: str, unit: str) -> bool:
    """Can a threshold for this reading have this unit?"""
    try:
        return unit_factor(reading, unit) > 0
    except KeyError:
        return False


def _no_water(where: str, at: tuple[str | int, ...]) -> Refusal:
    return Refusal("unknown-water", f"there is no water '{where}'", f"write one of {', '.join(WATERS)}", at=at)


def _removes(message: str, fix: str) -> Refusal:
    return Refusal("house-removes", message, fix)


def _at(id: str, book: Rulebook) -> Place:
    return book.places.get(id, Place("rules"))


def _shown(name: str | None, book: Rulebook) -> str:
    if name is None:
        return "none"
    return f"{book.numbers[name].value:g} {book.numbers[name].unit} ({name})" if name in book.numbers else name


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else line[:57].rstrip() + "..."
