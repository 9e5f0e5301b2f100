"""The rules as a list: phases, gates and tasks, every number with source and grade, the bibliography."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from planner.plan.texts import untold
from planner.rulebook.names import condition_names, task_names
from planner.rulebook.provenance import Number
from planner.rulebook.shapes import AlertRule, PhaseRule, Rulebook
from planner.show.json.record_objects import problem_document
from planner.show.words.house_rules import house_document, house_words
from planner.show.words.numbers import (
    backing,
    bare_number_words,
    cite_number,
    cited_numbers,
    number_document,
    number_line,
    share_words,
    source_words,
)
from planner.show.words.together import apart_words
from planner.show.words.words import Line, Page, plain_name
from planner.terms.problems import Problem

Owner = PhaseRule | AlertRule
GRADES = ("measured", "standard", "review", "practice")


def rules_lines(book: Rulebook, width: int, phase: str | None = None, stock: Mapping[str, Number] | None = None) -> tuple[Line, ...]:
    """Every rule (or those of one phase or alert), then the numbers of the animals (`stock`) and the sources. The numbers stand
    by what backs them, the best first."""
    page = Page(width)
    page.heading("Rules")
    page.say("'Aim for' marks what common practice alone backs; a figure without it has the source named behind it.", "soft")
    if book.house:
        _house(page, book, phase)
    if phase is None:
        _families(page, book, stock or {})
    shown: set[str] = set()
    for owner in _owners(book, phase):
        id = _id(owner)
        page.heading(owner.title, id)
        if isinstance(owner, PhaseRule):
            if owner.after or owner.beside:
                page.labelled("begins", "; ".join(filter(None, ("after " + ", ".join(owner.after) if owner.after else "", "beside " + ", ".join(owner.beside) if owner.beside else ""))))
            page.labelled("gate", owner.gate.title)
        elif owner.holds:
            page.labelled("holds", ", ".join(owner.holds))
        if id in book.places:
            page.labelled("written", str(book.places[id]))
        for task in owner.tasks:
            key = f"{id}/{task.id}"
            page.item("-", untold(task.title, partial(_figure_words, book)), f"{'house rule, ' if key in book.marks else ''}{key}", right_role="soft")
        numbers = cited_numbers(numbers_of(owner), book)
        if numbers:
            page.gap()
            page.say(share_words(c.number for c in numbers))
            for cited in sorted(numbers, key=lambda c: backing(c.number)):
                shown.add(cited.name)
                page.labelled("", number_line(cited), 0, 2, hang=2)
    if phase is None:
        _together(page, book)
        rest = cited_numbers((n for n in sorted(book.numbers) if n not in shown), book)
        if rest:
            page.heading("Numbers that hold everywhere")
            for cited in rest:
                page.labelled("", number_line(cited), 0, 2, hang=2)
        if stock:
            page.heading("Numbers of the animals")
            for name, number in sorted(stock.items(), key=lambda item: backing(item[1])):
                page.labelled("", number_line(cite_number(name, number, book)), 0, 2, hang=2)
        page.heading("Sources")
        for key in sorted(book.sources):
            page.labelled("", f"{key}: {source_words(book.sources[key])}", 0, 2, hang=2)
    return tuple(page.lines)


def grades_of_families(book: Rulebook) -> dict[str, Counter[str]]:
    """How many numbers of each grade stand in the files of each phase, of the alerts, and in those for all."""
    found: dict[str, Counter[str]] = {family: Counter() for family in (*(p.phase for p in book.phases), "alerts", "common")}
    for name, number in book.numbers.items():
        file = book.places[f"number/{name}"].file
        family = "alerts" if "/alerts/" in file else file.rpartition("/")[2].removesuffix(".yaml")
        found[family if family in found else "common"][number.grade] += 1
    return found


def _families(page: Page, book: Rulebook, stock: Mapping[str, Number]) -> None:
    page.heading("Numbers by family")
    page.say(share_words([*book.numbers.values(), *stock.values()]))
    for family, grades in (grades_of_families(book) | {"catalogue": Counter(n.grade for n in stock.values())}).items():
        page.labelled(family, ", ".join(f"{grades[grade]} {grade}" for grade in GRADES if grades[grade]) or "none", column=14)


def _house(page: Page, book: Rulebook, phase: str | None) -> None:
    """What the house rules did, each with its place; of one phase what bears on it."""
    owned = {_id(o): o for o in _owners(book, phase)}
    wanted = {f"number/{n}" for o in owned.values() for n in numbers_of(o)}
    told = [r for r in book.house if phase is None or r.id.partition("#")[0] in (phase, f"gate/{phase}") or r.id.startswith(f"{phase}/") or r.id in wanted]
    page.heading("House rules", f"{len(told)} of the shop's own")
    for rule in told:
        page.labelled("", house_words(rule), 0, 2, hang=2)
        page.labelled("", str(rule.place), 0, 4, hang=2, role="soft")


def _together(page: Page, book: Rulebook) -> None:
    """What never stands on one day, in the order in which a day is settled."""
    if not book.apart:
        return
    page.heading("One day, one set of orders")
    for line in book.apart:
        page.item("-", apart_words(line, book), f"together/{line.id}", right_role="soft")


def check_lines(book: Rulebook, problems: Sequence[Problem], width: int, ran: tuple[int, int] | None = None, stock: Mapping[str, Number] | None = None) -> tuple[Line, ...]:
    """What was checked, in short. `ran`: the cases of a house folder, and the shipped ones that were held against it. `stock`:
    the numbers of the animals."""
    page = Page(width)
    grades: Counter[str] = Counter(n.grade for n in book.numbers.values())
    tasks = sum(len(o.tasks) for o in _owners(book, None))
    page.say(f"Checked {len(book.phases)} phases, {len(book.alerts)} alerts, {tasks} tasks, {len(book.numbers)} numbers "
             f"({', '.join(f'{grades[g]} {g}' for g in GRADES)}), {len(book.sources)} sources and {len(book.cautions)} cautions.")
    page.say(f"{share_words([*book.numbers.values(), *(stock or {}).values()])} This counts {len(stock or {})} numbers of the animals too.")
    if ran is not None:
        page.say(f"House rules: {len(book.house)} laid over ours. Cases: {ran[0]} of the folder's own, and {ran[1]} shipped ones, none of which may show less protection.")
    page.say("No problem found." if not problems else f"{len(problems)} problem{'s' if len(problems) != 1 else ''}, listed with file and line.", "" if not problems else "strong")
    return tuple(page.lines)


def rules_document(book: Rulebook, problems: Sequence[Problem], phase: str | None = None) -> dict[str, Any]:
    """The same as one object."""
    owners = list(_owners(book, phase))
    names = sorted(book.numbers) if phase is None else [n for o in owners for n in numbers_of(o)]

    def told(owner: Owner) -> dict[str, Any]:
        id = _id(owner)
        return {"id": id, "title": owner.title, "rule": str(book.places.get(id, "")), "numbers": sorted(set(numbers_of(owner)) & book.numbers.keys()),
                "tasks": [{"id": f"{id}/{t.id}", "title": untold(t.title, "{{{}}}".format), "role": t.role, "cautions": list(t.cautions)} for t in owner.tasks]}

    return {
        "phases": [told(o) for o in owners if isinstance(o, PhaseRule)], "alerts": [told(o) for o in owners if isinstance(o, AlertRule)],
        "numbers": [number_document(c) for c in cited_numbers(names, book)],
        "together": [{"id": f"together/{line.id}", "first": list(line.first or line.first_ranks) or ["animals_in"], "yields": list(line.yields), "how": line.how, "text": apart_words(line, book),
                      "rule": str(book.places.get(f"together/{line.id}", ""))} for line in (book.apart if phase is None else ())],
        "families": {family: {grade: grades[grade] for grade in GRADES} for family, grades in grades_of_families(book).items()},
        "house": [house_document(r) for r in book.house],
        "sources": {key: {"text": source_words(s), "read": s.read} for key, s in sorted(book.sources.items())},
        "cautions": {key: {"title": c.title, "text": c.text, "defer": c.defer, "grade": c.grade} for key, c in sorted(book.cautions.items())},
        "problems": [problem_document(p) for p in problems],
    }


def numbers_of(owner: Owner) -> list[str]:
    """Names of the numbers that a phase or an alert uses, in the order of use."""
    id = _id(owner)
    conditions = [owner.when] if isinstance(owner, AlertRule) else [
        c for c in (owner.only_when, owner.gate.opens_when, owner.gate.lapses_when, *(h.when for h in owner.gate.holds), *(s.when for s in owner.gate.stuck)) if c is not None]
    found = [u.name for c in conditions for u in condition_names(c, id) if u.kind == "number"]
    if isinstance(owner, PhaseRule):
        found += [*owner.numbers, *(n for n in (owner.gate.expect.quick, owner.gate.expect.likely, owner.gate.expect.slow) if n)]
    found += [u.name for t in owner.tasks for u in task_names(t, id, frozenset()) if u.kind in ("number", "figure")]
    return list(dict.fromkeys(found))


def _owners(book: Rulebook, phase: str | None) -> Iterator[Owner]:
    owners: list[Owner] = [*book.phases, *book.alerts]
    yield from (o for o in owners if phase in (None, _id(o)))


def _id(owner: Owner) -> str:
    return owner.phase if isinstance(owner, PhaseRule) else owner.alert


def _figure_words(book: Rulebook, name: str) -> str:
    """A number of the rules with its value; a figure of a tank by its name."""
    return bare_number_words(book.numbers[name], "metric") if name in book.numbers else plain_name(name)
