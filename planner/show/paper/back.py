"""Cautions in full, words of the trade and the house rules, for the last of the printed plan; and where the numbers come from, for its second side."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping

from planner.rulebook.names import condition_names
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.rulebook.words import Word, words_in
from planner.show.json.record_objects import Json
from planner.show.paper.animals import LEGAL
from planner.show.paper.guards import WEIGHTS, caution_name
from planner.show.words.house_rules import subject_of
from planner.show.words.numbers import cited_numbers
from planner.show.words.words import listed, plain_name
from planner.terms.records import CLOSED, Plan

_DAYS = re.compile(r"(?<=\d) d\b")
LONGEST_SHIPPED = 60
"""Characters of what the shipped rule says that stand beside the shop's; its long texts the paper does not repeat."""
SENTENCES = ("steps", "watch")
"""Keys of a job whose lines are sentences."""
ALWAYS = frozenset({"mains", "shock", "wet_floor", "children"})
"""Cautions that every paper prints, whatever its jobs name."""


def caution_data(plan: Plan, rules: Rulebook, *, elsewhere: bool) -> list[Json]:
    """The cautions of the jobs on this paper, the gravest first. `elsewhere`: those on the law stand with the animals."""
    house = {rule.id.partition("#")[0] for rule in rules.house}
    named = {key for t in plan.tasks if t.state not in CLOSED for key in t.cautions} | ALWAYS | {key for key in rules.cautions if f"caution/{key}" in house}
    keys = sorted((k for k in rules.cautions if k in named and not (elsewhere and k in LEGAL)), key=lambda k: WEIGHTS.index(rules.cautions[k].weight))
    named_so = {k for k in keys if rules.cautions[k].title.lower().startswith(caution_name(k))}  # the name stands in its title: no "Gas. Gas from bags"
    return [{"weight": rules.cautions[k].weight.capitalize(), "name": rules.cautions[k].title if k in named_so else caution_name(k).capitalize(), "title": "" if k in named_so else rules.cautions[k].title,
             "text": f"{rules.cautions[k].text} {rules.cautions[k].defer}", "house": f"caution/{k}" in house} for k in keys]


def sources_data(plan: Plan, rules: Rulebook) -> Json:
    """The sources behind the numbers of this paper, and how many are common practice."""
    cited = cited_numbers(_numbers_used(plan, rules), rules)
    backed = dict.fromkeys(one.source.short for one in cited if one.source is not None)
    return {"backed": list(backed), "practice": sum(one.source is None for one in cited)}


def house_data(plan: Plan, rules: Rulebook, pencil: Callable[[str], str]) -> list[str]:
    """What the shop changed or added, a line each."""
    return [_house_line(h, plan, rules, pencil) for h in rules.house]


def _figure_name(name: str, plan: Plan, rules: Rulebook, pencil: Callable[[str], str]) -> str:
    """What a number of the rules is, in words: the job that uses it, jobs of this plan first."""
    keys = dict.fromkeys((*(t.key for t in plan.tasks if t.state not in CLOSED and t.key in rules.tasks), *rules.tasks))
    for key in keys:
        rule = rules.tasks[key]
        if name in (rule.wait, rule.every) and f"{{{name}}}" not in rule.title:
            return f"{'Wait before' if name == rule.wait else 'Interval of'} “{pencil(rule.title)}”"
        if any(f"{{{name}}}" in text for text in (rule.title, *rule.steps, *rule.watch)):
            return f"Figure in “{pencil(rule.title)}”"
    return plain_name(name).capitalize()


def _house_line(rule: HouseRule, plan: Plan, rules: Rulebook, pencil: Callable[[str], str]) -> str:
    """What a shop changed or added, under the names that this paper uses: no file, no id."""
    id, _, key = rule.id.partition("#")
    kind, _, name = id.partition("/")
    if key == "cautions":
        return f"“{pencil(rules.tasks[id].title)}” carries: {listed([caution_name(c).capitalize() for c in rule.more])}"
    subject = subject_of(rule, lambda id: f"what ends “{rules.phase(name).title}”" if kind == "gate" else f"“{pencil(rules.tasks[id].title)}”")
    if kind == "number" and not key:
        subject = _figure_name(name, plan, rules, pencil)
    elif not key and kind in ("caution", "animal"):
        subject = f"{kind.capitalize()} added" if not rule.was else kind.capitalize()
    elif not key and id in rules.tasks:
        subject = "Step added" if not rule.was else "Step"
    if key in SENTENCES and any(t.key == id and t.state not in CLOSED for t in plan.tasks):
        return f"{subject[:1].upper()}{subject[1:]}: the shop's own, as on its card"
    now = (" " if key in SENTENCES else "; ").join(map(pencil, rule.more or (rule.now,)))
    was = f" (usual: {pencil(rule.was)})" if 0 < len(rule.was) <= LONGEST_SHIPPED else ""
    return f"{subject[:1].upper()}{subject[1:]}: {_DAYS.sub(' days', now)}{_DAYS.sub(' days', was)}"


def _numbers_used(plan: Plan, rules: Rulebook) -> Iterable[str]:
    """Numbers cited by the plan's tasks or named by gates that are still shut, each once, in the order of the plan."""
    for phase in rules.phases:
        shown = plan.phase(phase.phase)
        if shown is not None and shown.opened is None:
            yield from (u.name for u in condition_names(phase.gate.opens_when, phase.phase) if u.kind == "number")
    for task in plan.tasks:
        yield from task.cites


def words_data(texts: Iterable[str], words: Mapping[str, Word]) -> list[tuple[str, str]]:
    """The terms of the trade in these texts, each with its line."""
    return [(w.term, w.says) for w in sorted(words_in(("\n".join(texts),), words), key=lambda w: w.term.lower())]


__all__ = ["caution_data", "house_data", "sources_data", "words_data"]
