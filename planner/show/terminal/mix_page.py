"""The water bench on a page and in its machine form: input, formula, result and source, in the buyer's units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from planner.judge.mix_answers import Worked
from planner.plan.texts import told_amount
from planner.rulebook.provenance import Caution
from planner.rulebook.words import Word
from planner.show.json.record_objects import quantity_document
from planner.show.terminal.taskcard import WEIGHT_ROLES, WEIGHTS
from planner.show.words.explained_terms import Glossary
from planner.show.words.words import Line, Page, plain_name
from planner.terms.records import Amount


def bench_lines(worked: Worked, units: str, width: int, cautions: Mapping[str, Caution] | None = None, words: Mapping[str, Word] | None = None) -> tuple[Line, ...]:
    """The answer first, then the days or batches, then how it was worked out."""
    page, glossary = Page(width), Glossary(words or {})
    page.heading(worked.title)
    for name, amount in worked.result:
        page.labelled("", f"{name_words(name)}: {amount_words(amount, units)}", 0, 2, role="strong")
    if worked.steps:
        page.gap()
        for step in worked.steps:
            (first, count), *rest = step
            page.labelled(f"{name_words(first)} {count.value:.0f}", ", ".join(_step_words(name, amount, units) for name, amount in rest), 2, 12)
    page.gap()
    for n, (name, amount) in enumerate(worked.inputs):
        page.labelled("from" if n == 0 else "", f"{name_words(name)} {amount_words(amount, units)}".strip())
    page.labelled("formula", worked.formula.text)
    page.labelled("source", worked.formula.source)
    if worked.formula.valid:
        page.labelled("holds for", worked.formula.valid)
    for n, remark in enumerate(worked.remarks):
        page.labelled("note" if n == 0 else "", remark)
    for key in worked.cautions:
        if cautions is not None and key in cautions:
            caution = cautions[key]
            page.labelled(WEIGHTS[caution.weight], f"{caution.title}. {caution.text} {caution.defer}", label_role=WEIGHT_ROLES[caution.weight])
    glossary.hear(*("".join(s.text for s in line) for line in page.lines))
    page.gap()
    glossary.explain(page)
    return tuple(page.lines)


def bench_document(worked: Worked, cautions: Mapping[str, Caution] | None = None) -> dict[str, Any]:
    """The answer as one object, in metric units."""
    found = {key: cautions[key] for key in worked.cautions if cautions is not None and key in cautions}
    return {
        "title": worked.title, "result": {name: quantity_document(a) for name, a in worked.result}, "inputs": {name: quantity_document(a) for name, a in worked.inputs},
        "formula": worked.formula.text, "source": worked.formula.source, "valid": worked.formula.valid,
        "steps": [{name: quantity_document(a) for name, a in step} for step in worked.steps], "notes": list(worked.remarks),
        "cautions": {key: {"title": c.title, "text": c.text, "defer": c.defer} for key, c in found.items()},
    }


def amount_words(amount: Amount, units: str) -> str:
    """An amount to the digits that can be measured; a specific gravity with its pair."""
    value, unit = amount.value, amount.unit
    if unit.startswith("SG "):
        return f"{value:.4f} ({unit})"
    if unit in ("mg/L as NH3", "mg/L as NH4", "mg/L as NO2", "mg/L as NO3"):
        return f"{value:.3f} {unit}" if value < 1 else f"{value:.4g} {unit}"
    if unit == "kg/m³":
        return f"{value:.1f} {unit}"
    return told_amount(amount, units)


NAMES = {"ph": "", "as_nitrogen": "as N", "conductivity_25c": "conductivity", "alkalinity_meq": "the same", "alkalinity_caco3": "the same"}


def name_words(name: str) -> str:
    """A result's or an input's name; none where the unit says it all, as with pH."""
    if name.startswith("specific_gravity_"):
        return "specific gravity"
    return NAMES[name] if name in NAMES else plain_name(name)


def _step_words(name: str, amount: Amount, units: str) -> str:
    return f"{name_words(name)} {amount_words(amount, units)}"
