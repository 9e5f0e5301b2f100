"""The files of a folder of house rules, judged piece by piece into changes and problems.

One reader stays one file: all its pieces end in the same changes and problems. What a piece may hold stands in `allowed`."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from planner.files.yaml_checked import Refusal, salvage, validate
from planner.files.yaml_tree import line_of
from planner.rulebook.house.allowed import (
    TEXTS,
    bad_name,
    changed_number,
    house_alert,
    house_caution,
    house_condition,
    house_gate,
    house_hold,
    house_phase,
    house_task,
    is_ours,
    new_number,
    new_task,
    watched_facts,
)
from planner.rulebook.house.draft import Change, Draft, condition_uses, task_uses, text_uses, told_change, told_more, told_value
from planner.rulebook.house.file_parts import WHOLE_FILES, At, Piece
from planner.rulebook.house.phases import new_phase, phase_uses, shut_phase
from planner.rulebook.house.shapes import AlertFilePart, AlertPart, CautionPart, GatePart, NumberPart, NumbersFilePart, PhasePart, TaskPart
from planner.rulebook.names import Use
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.provenance import Caution, Number, Source, cites
from planner.rulebook.shapes import AlertRule, HoldRule, HouseRule, PhaseRule, Rulebook, Stuck
from planner.rulebook.task_rule import TaskRule
from planner.terms.problems import NAME_SLIP, Place, Problem, nearest

NUMBER_FILES = ("common.yaml", "numbers.yaml")
UNREAD = "shop-rules"
"""The shut gate before a phase of ours of which nobody can read what it waits for."""
_WRONG_TEXTS = {"text-unquoted", "text-literal", "text-braces", "not-text", "empty-value"}
"""A sentence without one of these decides nothing: the phase around it stands, and with it the gate that others wait for."""


class HouseReader:
    """Judges the `files` of a folder, of which `problems` are known; then `changes` and `problems` hold what came of it, and
    `refused` the names of pieces that the folder has, but may not have."""

    def __init__(self, book: Rulebook, files: Sequence[tuple[Path, Piece]], problems: Sequence[Problem]) -> None:
        self.book, self.files = book, files
        self.changes: list[Change] = []
        self.problems = list(problems)
        self.seen: dict[str, Place] = {}
        self.watched = watched_facts(book)
        self.own_numbers: dict[str, Number] = {}
        self.refused: set[str] = set()

    def judge_files(self) -> None:
        """Numbers first: tasks of any file may name them."""
        for inside, piece in self.files:
            if inside.name not in WHOLE_FILES[:2]:
                self.numbers(piece)
        for inside, piece in self.files:
            if inside.name == "sources.yaml":
                for key in piece.names():
                    self.source(key, piece.part(key))
            elif inside.name == "cautions.yaml":
                for key in piece.names():
                    self.caution(key, piece.part(key))
            elif inside.parts[0] == "alerts":
                self.known_keys(AlertFilePart, piece)
                for part in piece.items("alerts"):
                    self.alert(part)
            elif inside.name in NUMBER_FILES:
                self.known_keys(NumbersFilePart, piece)
            else:
                self.phase(piece)

    def phase(self, piece: Piece) -> None:
        self.known_keys(PhasePart, piece)
        data: Any = piece.data
        known = [p.phase for p in self.book.phases]
        if data.get("phase") not in known:
            if data.get("phase") and "gate" in data and ("after" in data or "beside" in data):
                self.new_phase(piece)
                return
            near = nearest(str(data.get("phase")), known)
            self.tell(piece, Refusal("house-phase", f"there is no phase `{data['phase']}`" if data.get("phase") else "the file does not say which phase it is about",
                                     f"write `phase: {near or known[0]}`; a phase of your own needs a title, an intro, an order, a gate, and `after` or `beside`"), ("phase",))
            return
        phase = self.book.phase(str(data["phase"]))
        self.tasks(phase.phase, piece)
        head = self.checked(PhasePart, piece.without("numbers", "tasks", "gate"), spare=_WRONG_TEXTS)
        if head is None and "after" in data:
            # What it was to wait for cannot be told: it waits until it can.
            self.accept(UNREAD, piece, "", lambda draft: draft.new_phase(shut_phase(UNREAD, phase)), ())
            self.accept(f"{phase.phase}#after", piece, UNREAD, lambda draft: draft.phase(phase.phase, after=(*phase.after, UNREAD)), (), shipped_id=phase.phase)
        elif head is not None:
            self.by_key(phase.phase, head, phase, piece, {"phase", "numbers", "tasks", "gate"}, house_phase, Draft.phase,
                        lambda field, value: tuple(Use("phase", p, phase.phase) for p in value) if field == "after" else text_uses(phase.phase, str(value)))
        if "gate" in data:
            self.gate(phase, piece.part("gate"))

    def new_phase(self, piece: Piece) -> None:
        """Its tasks are judged one by one, so that a fault in one leaves the phase, and its gate, where it stands."""
        id = str(_part_of(piece, "phase"))
        made = self.checked(PhaseRule, piece.without("numbers", "tasks"), spare=_WRONG_TEXTS)
        if made is not None and (refusal := new_phase(made, self.book)) is not None:
            self.tell(piece, refusal)
        elif made is not None and self.accept(id, piece, made.title, lambda draft: draft.new_phase(made), phase_uses(made)):
            self.tasks(id, piece, is_new=True)
            return
        self.refused |= {id, *(f"{id}/{_part_of(part, 'id')}" for part in piece.items("tasks"))}

    # --- pieces

    def numbers(self, piece: Piece) -> None:
        for name, part in piece.keys("numbers"):
            old = self.book.numbers.get(name)
            near = nearest(name, self.book.numbers, NAME_SLIP) if old is None and bad_name("number", name) is None else None
            if near is not None and not any(_speaks_of(name, p.data) for _, p in self.files):
                self.tell(part, Refusal("unknown-number", f"there is no number `{name}`; did you mean `{near}`?", f"write `{near}`, or use your own number in a rule of yours"))
                self.refused.add(name)
                continue
            made = self.checked(NumberPart if old else Number, part)
            if made is None:
                self.refused.add(name)
                continue
            if old is None:
                assert isinstance(made, Number)
                refusal = bad_name("number", name) or new_number(name, made, self.book)
                number, now = made, told_value(made)
            else:
                given = {f: getattr(made, f) for f in made.model_fields_set}
                if all(value == getattr(old, f) for f, value in given.items()):
                    continue
                refusal, number = changed_number(name, old, given, self.book)
                now = told_value(number)
            if refusal is not None:
                self.tell(part, refusal)
                self.refused.add(name)
                continue
            if old is None:
                self.own_numbers[name] = number
            uses = tuple(Use("source", key, f"number/{name}") for key in cites(number))
            self.accept(f"number/{name}", part, now, partial(Draft.number, name=name, number=number), uses, was=told_value(old) if old else "", added=old is None)

    def tasks(self, owner: str, piece: Piece, is_new: bool = False) -> None:
        if "tasks" in piece.names() and not isinstance(piece.data["tasks"], list):  # type: ignore[index,call-overload]
            self.tell(piece, Refusal("not-a-list", "`tasks` is a list", "write each after `- `"), ("tasks",))
        for part in piece.items("tasks"):
            self.task(owner, part, is_new)

    def task(self, owner: str, piece: Piece, owner_is_new: bool = False) -> None:
        id = _part_of(piece, "id")
        key = f"{owner}/{id}"
        old = self.book.tasks.get(key)
        if old is None and not owner_is_new and "title" not in piece.names() and (near := self.near_task(owner, str(id))) is not None:
            self.tell(piece, Refusal("unknown-task", f"there is no task `{key}`; did you mean `{near}`?", "write its `phase:` and `id:` so; a task of your own needs its `title`"))
            self.refused.add(key)
            return
        made = self.checked(TaskPart if old else TaskRule, piece, spare=_WRONG_TEXTS if owner_is_new else ())
        if made is None:
            self.refused.add(key)
            return
        if old is not None:
            self.by_key(key, made, old, piece, {"id"}, house_task, Draft.task, lambda field, value: task_uses(key, old.model_copy(update={field: value}), self.book))
            return
        assert isinstance(made, TaskRule)
        refusal = new_task(key, made, self.book, self.watched)
        if refusal is not None:
            self.tell(piece, refusal)
            self.refused.add(key)
            return
        self.accept(key, piece, made.title, lambda draft: draft.new_task(owner, made), task_uses(key, made, self.book), owner=owner if owner_is_new else "")

    def near_task(self, owner: str, id: str) -> str | None:
        """The shipped task that was probably meant: one of the same phase, else of any."""
        for keys, alike in (([k for k in self.book.tasks if k.startswith(f"{owner}/")], 0.75), (list(self.book.tasks), NAME_SLIP)):
            by_id = {k.partition("/")[2]: k for k in sorted(keys, reverse=True)}
            if (near := nearest(id, by_id, alike)) is not None:
                return by_id[near]
        return None

    def gate(self, phase: PhaseRule, piece: Piece) -> None:
        id = f"gate/{phase.phase}"
        lists = ("needs_too", "holds", "stuck")
        data: Any = piece.data
        if not isinstance(data, dict):
            self.tell(piece, Refusal("not-a-block", "`gate` is a block of keys", "write its keys below it, indented by two spaces"))
            return
        head = self.checked(GatePart, piece.without(*lists))
        if head is not None:
            self.by_key(id, head, phase.gate, piece, set(lists), house_gate, Draft.gate)
        for key, shape, old in (("needs_too", Condition, ()), ("holds", HoldRule, phase.gate.holds), ("stuck", Stuck, phase.gate.stuck)):
            if key in data and not isinstance(data[key], list):
                self.tell(piece, Refusal("not-a-list", f"`{key}` is a list", "write each after `- `"), (key,))
            for part in piece.items(key):
                made = self.checked(shape, part)
                if made is not None and made not in old:
                    self.gate_part(phase.phase, f"{id}#{key}", key, made, part)

    def gate_part(self, phase: str, id: str, key: str, made: Written, part: Piece) -> None:
        match made:
            case Condition():
                refusal, uses, now = house_condition(made), condition_uses(phase, made), told_change(made, None)
            case HoldRule():
                refusal = house_hold(made, self.book)
                uses = (*condition_uses(phase, made.when), *text_uses(phase, made.because), *(Use("task", k, phase) for k in made.instead))
                now = made.because
            case Stuck():
                refusal = house_condition(made.when, ("when",))
                uses, now = (*condition_uses(phase, made.when), *text_uses(phase, made.say, *made.do, *((made.look,) if made.look is not None else ()))), made.say
            case _:
                raise AssertionError(key)
        if refusal is not None:
            self.tell(part, refusal)
            return
        self.accept(id, part, now, lambda draft: draft.gate_adds(phase, key, made), uses, once=False)

    def alert(self, piece: Piece) -> None:
        id = _part_of(piece, "alert")
        old = next((a for a in self.book.alerts if a.alert == id), None)
        if old is None:
            self.new_alert(piece)
            return
        head = self.checked(AlertPart, piece.without("tasks"))
        if head is not None:
            self.by_key(old.alert, head, old, piece, {"alert", "tasks"}, house_alert, Draft.alert,
                        lambda _, value: tuple(Use("phase", gate, old.alert) for gate in value) if isinstance(value, tuple) else text_uses(old.alert, str(value)))
        self.tasks(old.alert, piece)

    def new_alert(self, piece: Piece) -> None:
        made = self.checked(AlertRule, piece)
        if made is None:
            self.refused.add(str(_part_of(piece, "alert")))
            return
        assert isinstance(made, AlertRule)
        refusal = bad_name("alert", made.alert) or house_condition(made.when, ("when",))
        if made.alert in {p.phase for p in self.book.phases}:
            refusal = Refusal("house-name-taken", f"`{made.alert}` is a phase of ours, at {self.book.places[made.alert]}", "give the alert another name", at=("alert",))
        for n, task in enumerate(made.tasks):
            wrong = new_task(f"{made.alert}/{task.id}", task, self.book, self.watched)
            refusal = refusal or (Refusal(wrong.code, wrong.message, wrong.fix, at=("tasks", n, *wrong.at)) if wrong else None)
        if refusal is not None:
            self.tell(piece, refusal)
            return
        uses = [*condition_uses(made.alert, made.when), *text_uses(made.alert, made.say), *(Use("phase", g, made.alert) for g in made.holds)]
        for task in made.tasks:
            uses += task_uses(f"{made.alert}/{task.id}", task, self.book)
        self.accept(made.alert, piece, made.title, lambda draft: draft.new_alert(made), uses)

    def caution(self, key: str, piece: Piece) -> None:
        old = self.book.cautions.get(key)
        made = self.checked(CautionPart if old else Caution, piece)
        if made is None:
            return
        if old is not None:
            self.by_key(f"caution/{key}", made, old, piece, set(), house_caution, Draft.caution, lambda *_: ())
            return
        assert isinstance(made, Caution)
        if (refusal := bad_name("caution", key)) is not None:
            self.tell(piece, refusal)
            return
        self.accept(f"caution/{key}", piece, made.title, lambda draft: draft.new_caution(key, made), tuple(Use("source", name, f"caution/{key}") for name in cites(made)))

    def source(self, key: str, piece: Piece) -> None:
        made = self.checked(Source, piece)
        old = self.book.sources.get(key)
        if made is None or made == old:
            return
        assert isinstance(made, Source)
        if old is not None:
            self.tell(piece, Refusal("house-fixed", f"the source `{key}`, written at {self.book.places[f'source/{key}']}, is ours", "give your source another key"))
            return
        self.accept(f"source/{key}", piece, made.title, lambda draft: draft.source(key, made), ())

    # --- what they share

    def checked(self, shape: type[Written], piece: Piece, spare: Container[str] = ()) -> Any:
        """The piece as a record; None, with its problems told, if it has not the shape. With problems of these codes alone,
        it stands without what has them."""
        made, found = validate(shape, piece.data, piece.places, list(piece.lines))
        self.problems += found
        if made is None and all(p.code in spare for p in found):
            made, _ = salvage(shape, piece.data, piece.places, list(piece.lines))
        return made

    def known_keys(self, shape: type[Written], piece: Piece) -> None:
        known = [field.alias or key for key, field in shape.model_fields.items()]
        for key in piece.names():
            if key not in known:
                near = nearest(key, known)
                self.tell(piece, Refusal("unknown-key", f"unknown key `{key}`", f"write `{near}`" if near else f"use one of the known keys: {', '.join(sorted(known))}"), (key,))

    def by_key(self, id: str, made: Written, old: Written, piece: Piece, leave: set[str], judge: Callable[[str, str, Any, Rulebook], Refusal | None],
               write: Callable[..., None], uses: Callable[[str, Any], Sequence[Use]] | None = None) -> None:
        """A change of something shipped: each key that differs is judged and taken by itself."""
        name = id.partition("/")[2] if id.startswith(("gate/", "caution/")) else id
        for field in sorted(made.model_fields_set - leave):
            value, before = getattr(made, field), getattr(old, field, None)
            if value == before and (field not in TEXTS or all(map(is_ours, value, before))):
                continue
            at: At = (type(made).model_fields[field].alias or field,)
            # What is shipped is judged by its shipped value: a change of it may yet be refused.
            refusal = judge(name, field, value, replace(self.book, numbers=self.own_numbers | self.book.numbers))
            if refusal is not None:
                self.tell(piece, refusal, at)
                continue
            named = uses(field, value) if uses is not None else text_uses(name, str(value))
            self.accept(f"{id}#{at[0]}", piece, told_change(value, before), partial(_write, write, name, field, value), named, was=told_change(before, value), at=at, shipped_id=id, more=told_more(value, before))

    def accept(self, id: str, piece: Piece, now: str, apply: Callable[[Draft], None], uses: Sequence[Use], *, was: str = "", at: At = (), shipped_id: str = "",
               added: bool = True, once: bool = True, owner: str = "", more: tuple[str, ...] = ()) -> bool:
        """Whether it is the first of its id."""
        place = piece.place(at)
        if once and id in self.seen:
            self.tell(piece, Refusal("house-twice", f"`{id.partition('#')[0]}` stands in this folder twice, first at {self.seen[id]}", "keep one of the two"), at)
            return False
        self.seen.setdefault(id, place)
        below = self.book.places.get(shipped_id or (id.partition("#")[0] if "#" in id or not added else ""))
        self.changes.append(Change(HouseRule(id, place, now, was, below, more), apply, tuple(uses), line_of(list(piece.lines), place.line), owner))
        return True

    def tell(self, piece: Piece, refusal: Refusal, at: At = ()) -> None:
        self.problems.append(piece.problem(refusal, at))


def _write(write: Callable[..., None], name: str, field: str, value: Any, draft: Draft) -> None:
    write(draft, name, **{field: value})


def _part_of(piece: Piece, key: str) -> object:
    return piece.data.get(key) if isinstance(piece.data, dict) else None


def _speaks_of(name: str, data: Any) -> bool:
    """Does a value of this file name it, alone or within a text?"""
    if isinstance(data, dict):
        return any(_speaks_of(name, value) for value in data.values())
    if isinstance(data, list | tuple):
        return any(_speaks_of(name, value) for value in data)
    return isinstance(data, str) and re.search(rf"(?<![a-z0-9_]){re.escape(name)}(?![a-z0-9_])", data) is not None


__all__ = ["HouseReader"]
