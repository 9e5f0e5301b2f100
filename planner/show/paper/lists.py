"""The lists of the printed plan: wish list, shopping, cautions in full, numbers with their sources, words of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from planner.plan.shop_file import Shop
from planner.plan.shopping_list import Purchase, ShoppingList
from planner.plan.stage_records import StockPlan
from planner.plan.texts import UNIT_WORDS, shown_amount
from planner.rulebook.names import condition_names
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.rulebook.words import Word, words_in
from planner.show.json.record_objects import Json
from planner.show.paper.days import caution_name
from planner.show.paper.pencil import Pencil
from planner.show.paper.text import Day
from planner.show.words.causes import all_words, cause_words
from planner.show.words.house_rules import subject_of
from planner.show.words.numbers import Cited, cited_numbers, grade_words, number_words, source_words
from planner.show.words.shopping import name_words, quantity_words, remark_words
from planner.show.words.wish_list import VERDICTS, counted, kindred_words, left_out_words, quarrels, reason_words, stages_provisional, wish_words
from planner.show.words.words import listed, plain_name, short_day
from planner.stock.catalogue import Catalogue
from planner.terms.records import Plan, Quantity

TIMES = "×"
"""Between a number and an animal on paper."""
LONGEST_SHIPPED = 60
"""Characters of what the shipped rule says that stand beside the shop's; its long texts the paper does not repeat."""


def wishes_data(plan: Plan, stock: StockPlan | None, catalogue: Catalogue | None) -> Json | None:
    """Verdicts, conflicts, what is left out, and the stages with their days. None without a wish list."""
    if stock is None or not (stock.verdict.animals or stock.unclear):
        return None
    verdict, provisional = stock.verdict, stages_provisional(plan)
    stages = stock.stages.stages if stock.stages is not None else ()
    return {
        "animals": [{"name": counted(a.count, a.name, TIMES), "verdict": VERDICTS[a.verdict], "reasons": [reason_words(r, plan.units) for r in a.reasons]} for a in verdict.animals],
        "unclear": [f"'{written}' is unclear." + (f" It could be {catalogue.choice(could, ids=False) if catalogue is not None else listed(could[:4])}." if could else " We do not know this animal.") for written, could in stock.unclear],
        "conflicts": [cause_words(c.why, plan.units) for c in quarrels(stock)],
        "sums": all_words((verdict.sums.nitrogen_told, verdict.sums.room_told), plan.units) if verdict.keep else [],
        "left": [" ".join(filter(None, (left_out_words(x, catalogue, plan.units), kindred_words(x, catalogue)))) for x in verdict.left_out],
        "stages": [{"number": s.number, "day": _day(s.day, plan.on, provisional), "animals": listed(wish_words(w, catalogue, TIMES) for w in s.wishes),
                    "quarantine": _day(s.quarantine_from, plan.on, provisional) if s.quarantine_from is not None else None, "because": all_words(s.because, plan.units)} for s in stages],
        "unplaced": [f"{wish_words(w, catalogue, TIMES)} has no day yet: {cause_words(why, plan.units)}" for w, why in (stock.stages.not_placed if stock.stages else ())],
    }


def _day(ordinal: int, on: date, provisional: bool) -> Day:
    return (short_day(date.fromordinal(ordinal), on), provisional)


def shopping_data(shopping: ShoppingList, shop: Shop | None, plan: Plan, pencil: Pencil) -> Json:
    """What to get, with the cost where the shop prices it; then what stands in the tank file already."""
    money = shop.money if shop is not None else str

    def row(line: Purchase) -> Json:
        return {"name": name_words(line, plan.units), "much": quantity_words(line, plan.units), "remark": pencil(remark_words(line)), "cost": money(line.cost) if line.cost is not None else "",
                "day": (short_day(line.needed, plan.on), line.provisional) if line.needed else None}

    unpriced = len(shopping.without_cost)
    return {
        "rows": [row(x) for x in shopping.to_get], "there": [x.name for x in shopping.lines if x.described], "priced": shopping.priced,
        "total": money(shopping.total) if shopping.total is not None else "",
        "rest": f"{unpriced} thing{'s' if unpriced != 1 else ''} without a price or a quantity {'are' if unpriced != 1 else 'is'} not in the total." if shopping.priced and unpriced else "",
    }


def caution_data(rules: Rulebook) -> list[tuple[str, str, bool]]:
    """The short name by which the tasks call it, the whole caution, and whether it comes from a house rule."""
    house = {rule.id.partition("#")[0] for rule in rules.house}
    return [(caution_name(key).capitalize(), (f"{c.title}. " if c.title.lower() != caution_name(key) else "") + f"{c.text} {c.defer}", f"caution/{key}" in house)
            for key, c in rules.cautions.items()]


def sources_data(plan: Plan, rules: Rulebook, pencil: Pencil) -> Json:
    """The figures worked out for this tank, and the numbers that the shown tasks and gates rest on, by what backs them."""
    cited = cited_numbers(_numbers_used(plan, rules), rules)
    backed: dict[str, Json] = {}
    for one in cited:
        if one.source is not None:
            told = backed.setdefault(one.number.source or "", {"source": source_words(one.source), "numbers": []})
            told["numbers"].append(f"{_named(one, plan.units)} ({grade_words(one, plan.units)}" + (f"; {one.number.where})" if one.number.where else ")"))
    return {
        "figures": _figures(plan, pencil),
        "backed": list(backed.values()), "practice": sum(one.source is None for one in cited), "gates": _gate_numbers(plan, rules),
        "house": [_house_line(h, rules, pencil) for h in rules.house],
    }


def _gate_numbers(plan: Plan, rules: Rulebook) -> list[tuple[str, list[str]]]:
    """The limits of each gate that is shut which common practice alone backs, each with what its rule says of it."""
    found, told = [], set[str]()
    for phase in rules.phases:
        shown = plan.phase(phase.phase)
        if shown is not None and shown.opened is None:
            names = [u.name for u in condition_names(phase.gate.opens_when, phase.phase) if u.kind == "number" and u.name not in told]
            said = [f"{shown_amount(c.number.value, UNIT_WORDS.get(c.number.unit, c.number.unit), plan.units)} ({c.number.note.rstrip('.')}" + ("; house rule)" if c.house else ")")
                    for c in cited_numbers(names, rules) if c.source is None and c.number.note]
            told.update(names)
            if said:
                found.append((shown.title, said))
    return found


def _house_line(rule: HouseRule, rules: Rulebook, pencil: Pencil) -> str:
    """What a shop changed or added, under the names that this paper uses: no file, no id."""
    id, _, key = rule.id.partition("#")
    kind, _, name = id.partition("/")
    if key == "cautions":
        return f"“{pencil(rules.tasks[id].title)}” carries: {listed([caution_name(c).capitalize() for c in rule.now.split(', ')])}"
    subject = subject_of(rule, lambda id: f"what ends “{rules.phase(name).title}”" if kind == "gate" else f"“{pencil(rules.tasks[id].title)}”")
    if not key and kind in ("caution", "animal"):
        subject = f"{kind.capitalize()} added" if not rule.was else kind.capitalize()
    elif not key and id in rules.tasks:
        subject = "Step added" if not rule.was else "Step"
    was = f" (the shipped rule says {pencil(rule.was)})" if 0 < len(rule.was) <= LONGEST_SHIPPED else ""
    return f"{subject}: {pencil(rule.now.replace('.; ', '. '))}{was}"


def _named(one: Cited, units: str) -> str:
    return f"{plain_name(one.name)}: {number_words(one.number, units)}" + (" (house rule)" if one.house else "")


def _figures(plan: Plan, pencil: Pencil) -> list[Json]:
    """Every amount that the plan names, once, by what it was worked out from."""
    made: dict[str, Quantity] = {q.name: q for q in plan.quantities}
    for task in plan.tasks:
        made |= {q.name: q for _, q in task.amounts}
    by_source: dict[str, dict[tuple[str, str], None]] = {}
    for q in made.values():
        by_source.setdefault(pencil(q.source), {})[(plain_name(q.name), shown_amount(q.value, q.unit, plan.units))] = None
    return [{"source": source[:1].upper() + source[1:], "figures": list(figures)} for source, figures in by_source.items()]


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
    return [(w.term, w.says) for w in sorted(words_in(texts, words), key=lambda w: w.term.lower())]


__all__ = ["caution_data", "shopping_data", "sources_data", "wishes_data", "words_data"]
