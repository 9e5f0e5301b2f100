"""What only a person can have got wrong in rules: unknown ids, missing numbers, cycles, braces that name nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import get_args

from planner.rulebook.contradictions import contradictions
from planner.rulebook.endings import early_endings
from planner.rulebook.names import names_used, phase_texts, task_texts
from planner.rulebook.provenance import Number, cites, provenance_fault
from planner.rulebook.shapes import PhaseRole, Rulebook
from planner.rulebook.task_rule import KnownTask, TaskRule
from planner.rulebook.untested import untested_needs
from planner.terms.problems import Place, Problem, nearest, sort_problems
from planner.terms.texts import flat, parts_of


def check_rules(book: Rulebook) -> tuple[Problem, ...]:
    """Problems of sense across files; empty when every name leads somewhere and the graph has no cycle."""
    return sort_problems([*_unknown_names(book), *_cycles(book), *_twice(book), *_ids_in_words(book), *_roles(book), *contradictions(book), *early_endings(book), *untested_needs(book)])


def check_numbers(numbers: Mapping[str, Number], book: Rulebook) -> tuple[Problem, ...]:
    """Problems in how numbers outside the rule files, those of the animals, are backed."""
    place = Place("rules/livestock/numbers.yaml")
    faults = [Problem(place, "not-possible", f"{name}: {fault}", "correct it") for name, number in numbers.items() if (fault := provenance_fault(number)) is not None]
    unknown = [Problem(place, "unknown-source", f"{name} names the source '{key}', which is not there", "add the source or take the name out")
               for name, n in numbers.items() for key in cites(n) if key not in book.sources]
    return sort_problems([*faults, *unknown])


def tasks_of(book: Rulebook) -> Iterator[tuple[str, TaskRule]]:
    for phase in book.phases:
        yield from ((f"{phase.phase}/{t.id}", t) for t in phase.tasks)
    for alert in book.alerts:
        yield from ((f"{alert.alert}/{t.id}", t) for t in alert.tasks)


def known_ids(book: Rulebook) -> dict[str, set[str]]:
    """What a name of each kind may be; kinds that are fixed (readings, keys of the tank file) carry their own list."""
    return {"phase": {p.phase for p in book.phases}, "task": {key for key, _ in tasks_of(book)}, "number": set(book.numbers), "quantity": set(book.figure_names()), "figure": set(book.figure_names()) | set(book.numbers),
            "source": set(book.sources), "caution": set(book.cautions), "owner": {p.phase for p in book.phases} | {a.alert for a in book.alerts}}


def _unknown_names(book: Rulebook) -> Iterator[Problem]:
    ids = known_ids(book)
    for use in names_used(book):
        if use.name not in ids.get(use.kind, use.known):
            known = ids.get(use.kind, use.known)
            near = nearest(use.name, known)
            yield Problem(book.places.get(use.at, Place("rules")), f"unknown-{use.kind}", f"{use.at} names the {use.kind} '{use.name}', which is not there",
                          f"write '{near}'" if near else f"add the {use.kind} or take the name out")


def _roles(book: Rulebook) -> Iterator[Problem]:
    """Each role is needed from exactly one phase; every name by which the engine knows a task, from some task."""
    for role in get_args(PhaseRole):
        bearers = book.bearers.get(role, ())
        if not bearers:
            yield Problem(Place("rules"), "role-missing", f"no phase has the role '{role}'", f"write `role: {role}` into the phase that has it")
        for other in bearers[1:]:
            yield Problem(book.places.get(other, Place("rules")), "role-twice", f"the phase {other} has the role '{role}', which {bearers[0]} has too, at {book.places.get(bearers[0], 'rules')}",
                          "take it out of one of the two")
    for name in get_args(KnownTask):
        if not book.tasks_as(name):
            yield Problem(Place("rules"), "role-missing", f"no task is known as '{name}'", f"write `known_as: {name}` into the task that is meant")


def _cycles(book: Rulebook) -> Iterator[Problem]:
    """Phases that wait for one another, and tasks that hang on one another: both places are named."""
    after = {p.phase: (*p.after, *p.beside) for p in book.phases}
    hangs = {key: tuple(k for k in (t.anchor.task if t.anchor else None, t.not_before) if k) for key, t in tasks_of(book)}
    for graph, word in ((after, "phase"), (hangs, "task")):
        for start in sorted(graph):
            path, seen = [start], {start}
            while nexts := [n for n in graph.get(path[-1], ()) if n in graph]:
                loop = next((n for n in nexts if n == start), None)
                if loop is not None:
                    if start == min(path):
                        other = book.places.get(path[-1], Place("rules"))
                        yield Problem(book.places.get(start, Place("rules")), f"{word}-cycle", f"the {word}s {' -> '.join([*path, start])} wait for one another (the other end is at {other})",
                                      "take one of the two out")
                    break
                step = next((n for n in nexts if n not in seen), None)
                if step is None:
                    break
                path.append(step)
                seen.add(step)


def _ids_in_words(book: Rulebook) -> Iterator[Problem]:
    """Ids of tasks in plain words: only braces let each face say them in its own way."""
    texts = [*((p.phase, t) for p in book.phases for t in phase_texts(p)), *((a.alert, a.say) for a in book.alerts), *((key, t) for key, rule in tasks_of(book) for t in task_texts(rule))]
    for at, text in texts:
        for words in (part for part in flat(parts_of(text)) if isinstance(part, str)):
            for id in (found[0] for found in re.finditer(r"[a-z-]+/[a-z0-9-]+", words) if found[0] in book.tasks):
                yield Problem(book.places.get(at, Place("rules")), "text-literal", f"a text of {at} names the task `{id}` in plain words", f"write `{{task:{id}}}`")


def _twice(book: Rulebook) -> Iterator[Problem]:
    for what, ids in (("phase", [p.phase for p in book.phases] + [a.alert for a in book.alerts]), ("task", [key for key, _ in tasks_of(book)])):
        for id in sorted({i for i in ids if ids.count(i) > 1}):
            yield Problem(book.places.get(id, Place("rules")), f"{what}-twice", f"the {what} '{id}' is written twice", "give one of them another id")
