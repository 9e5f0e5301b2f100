"""Ways to set up a tank, side by side: a table, the windows drawn to one scale, and words on what makes the difference.

Tanks are called A, B, C in tables and named once above them, so that no name can break a column.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from planner.comparison import MILESTONES, Comparison, Contrast, Outcome, Side, days_between
from planner.effort import HOW, Effort
from planner.model import Window
from planner.problems import Problem
from planner.quantities import format_amount
from planner.shopfile import Shop
from planner.shopping import Line as Good
from planner.show.fields import figure, problem_document
from planner.show.setupwords import cells_of, phrase, shown_name, summary
from planner.show.shoppingwords import name_words, quantity_words
from planner.show.words import Line, Page, Span, bare_day, day_words, days_words, listed, wrap

LABEL, COLUMN = 26, 13
SCENARIOS = (("quick", "earliest"), ("likely", "likely"), ("slow", "latest"))


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: a cell for each side, and how a difference in it is told."""

    label: str
    cell: Callable[[Side], str]


def comparison_lines(comparison: Comparison, width: int, shop: Shop | None = None) -> tuple[Line, ...]:
    """The whole page."""
    page, sides = Page(width), comparison.sides
    page.heading(f"{len(sides)} ways to set up a tank", _days_words(sides))
    if comparison.sizes_differ:
        page.say("Mind that the boxes differ in size: " + ", ".join(f"{s.mark} {_units(comparison, s.gross_l, 'L')}" for s in sides)
                 + " by outside measures. Litres, salt and cost follow from that before anything else.", "alarm")
    for side in sides:
        name, folder = shown_name(side.setup.tank.name), f"({shown_name(side.setup.folder)})"
        first, *more = [f"{name} {folder}"] if cells_of(name) + cells_of(folder) + 5 <= width else [name, folder]
        page.lines.append((Span(f"{side.mark:<4}", "strong"), Span(first)))
        page.lines += [(Span("    " + line),) for line in more]
        page.say(summary(side.setup.tank), indent=4)
    if any(s.setup.journal.rows for s in sides):
        page.say("What a journal holds is done and no longer counted: "
                 + listed(f"{s.mark} has {n} {'entry' if n == 1 else 'entries'}" for s in sides if (n := len(s.setup.journal.rows))) + ".", "soft")
    _dates(page, comparison)
    _windows(page, comparison)
    _efforts(page, comparison, shop)
    _differences(page, comparison, shop)
    _goods(page, comparison)
    return tuple(page.lines)


def _days_words(sides: Sequence[Side]) -> str:
    days = {s.setup.on for s in sides}
    return day_words(min(days)) if len(days) == 1 else ""


def _units(comparison: Comparison, value: float, unit: str) -> str:
    """One table has one set of units: that of the first tank."""
    return format_amount(value, unit, comparison.sides[0].outcome.plan.units)


def _table(page: Page, sides: Sequence[Side], rows: Sequence[Row | str]) -> None:
    """Rows of cells below the marks; as many tanks beside each other as fit, the others below. A text is a line across."""
    fit = max(1, (page.width - LABEL) // COLUMN)
    for begin in range(0, len(sides), fit):
        block = sides[begin : begin + fit]
        if begin:
            page.gap()
        page.lines.append((Span((" " * LABEL + "".join(f"{s.mark:<{COLUMN}}" for s in block)).rstrip(), "strong"),))
        for row in rows:
            if isinstance(row, str):
                page.lines.append((Span(row, "soft"),))
                continue
            cells = [row.cell(s) for s in block]
            page.lines.append((Span(f"{row.label:<{LABEL}}" + "".join(f"{c:<{COLUMN}}" for c in cells).rstrip()),))


def shown_milestones(comparison: Comparison) -> list[str]:
    """The milestones worth a row: no fish row where fish come first anyway, no wish list where there is none."""
    found = ["cycle_done", "first_animal"]
    outcomes = [s.outcome for s in comparison.sides]
    if any(o.milestones["first_fish"] != o.milestones["first_animal"] for o in outcomes):
        found.append("first_fish")
    if any(s.setup.tank.wish_list for s in comparison.sides):
        found.append("wish_list_done")
    return found


def _dates(page: Page, comparison: Comparison) -> None:
    page.heading("When")
    rows: list[Row | str] = []
    for name in shown_milestones(comparison):
        for n, (word, field) in enumerate(SCENARIOS):
            label = f"{MILESTONES[name] if n == 0 else '':<19}{word}"

            def cell(side: Side, name: str = name, field: str = field) -> str:
                day: date | None = getattr(side.outcome.milestones[name], field)
                return bare_day(day, comparison.sides[0].setup.on) if day is not None else "no date"

            rows.append(Row(label, cell))
    rows.append(Row("likely first animal in", _in_days))
    _table(page, comparison.sides, rows)
    for side in comparison.sides:
        if side.outcome.left_out:
            page.say(f"Of its wish list {side.mark} cannot keep or place what follows; `newtank stock` says why. The list counts as complete without it.", "soft")
            for wish in side.outcome.left_out:
                page.lines.append((Span(f"  - {shown_name(wish)}", "soft"),))


def _in_days(side: Side) -> str:
    first = side.outcome.milestones["first_animal"].likely
    return days_words((first - side.setup.on).days) if first is not None else "no date"


def _windows(page: Page, comparison: Comparison) -> None:
    """`---o-----` from quick to slow with the likely day marked, all on one scale."""
    names = shown_milestones(comparison)
    windows = [s.outcome.milestones[n] for s in comparison.sides for n in names]
    days = [d for w in windows for d in (w.earliest, w.likely, w.latest) if d is not None]
    if not days:
        return
    lead = max(len(MILESTONES[n]) for n in names) + 1 + max(len(s.mark) for s in comparison.sides) + 1
    start, end, room = min(min(days), *(s.setup.on for s in comparison.sides)), max(days), page.width - lead

    def place(day: date) -> int:
        return round((day - start).days / max(1, (end - start).days) * (room - 1))

    page.heading("Drawn to one scale")
    for name in names:
        for n, side in enumerate(comparison.sides):
            label = f"{MILESTONES[name] if n == 0 else '':<{lead - len(side.mark) - 1}}{side.mark} "
            page.lines.append((Span(label), Span(_band(side.outcome.milestones[name], place, room)),))
    middle = start + (end - start) / 2
    on = comparison.sides[0].setup.on
    left, centre, right = (bare_day(d, on) for d in (start, middle, end))
    axis = left.ljust(place(middle) - len(centre) // 2) + centre
    page.lines.append((Span(" " * lead + axis + right.rjust(room - len(axis)), "soft"),))
    page.say("o likely, - from quick to slow: three ways it may go, worked through step by step. None is a promise; gates open on tests.", "soft")


def _band(window: Window, place: Callable[[date], int], room: int) -> str:
    if window.likely is None:
        return "no date"
    quick, slow = place(window.earliest or window.likely), place(window.latest or window.likely)
    cells = [" "] * room
    cells[quick : slow + 1] = "-" * (slow + 1 - quick)
    cells[place(window.likely)] = "o"
    return "".join(cells).rstrip()


def _efforts(page: Page, comparison: Comparison, shop: Shop | None) -> None:
    page.heading("What it takes until the first animal is in")

    def amount(field: str, unit: str) -> Callable[[Side], str]:
        return lambda s: _units(comparison, getattr(s.outcome.effort, field), unit)

    rows: list[Row | str] = [
        Row("salt water", amount("salt_water_l", "L")), Row("pure water besides", amount("fresh_water_l", "L")), Row("salt", amount("salt_g", "g")),
        Row("ammonium chloride", amount("ammonium_chloride_g", "g")), Row("water carried", amount("carried_l", "L")),
        Row("water changes", lambda s: str(s.outcome.effort.water_changes)), Row("  of together", amount("changed_l", "L")),
        Row("rounds of tests", lambda s: str(s.outcome.effort.tests)), Row("  single readings", lambda s: str(s.outcome.effort.readings)),
        Row("hours of work", lambda s: f"{s.outcome.effort.hours:.0f} h"),
    ]
    if shop is not None and any(s.outcome.shopping.total is not None for s in comparison.sides):
        rows.append(Row("cost at this shop", lambda s: _money(s.outcome.shopping.total, shop)))
        rows.append(Row("  lines not in it", lambda s: str(len(s.outcome.shopping.without_cost))))
        if any(s.outcome.shopping.described_total for s in comparison.sides):
            rows.append(Row("  described, if not there", lambda s: _money(s.outcome.shopping.described_total, shop)))
    _table(page, comparison.sides, rows)
    page.say("The least to reckon with: what a reading asks for beyond the plan comes on top. Water carried: " + HOW["carried_l"] + ".", "soft")
    if shop is not None and any(s.outcome.shopping.total is not None for s in comparison.sides):
        page.say("Cost: the shop's price times what the shopping list asks for, animals included. Lines without a price or a known quantity are not in it, nor is what the tank file describes already.", "soft")


def _money(value: Decimal | None, shop: Shop) -> str:
    """Without the currency, which would not fit a column; the shop's file has one currency for all."""
    return shop.money(value).replace(shop.currency or "", "").strip() if value is not None else "none"


def _differences(page: Page, comparison: Comparison, shop: Shop | None) -> None:
    page.heading("What makes the difference")
    for contrast in comparison.contrasts:
        page.say(f"{contrast.other.mark} against {contrast.first.mark}: {_headline(contrast)}", "strong")
        for sentence in contrast_sentences(contrast, comparison, shop):
            page.item("-", sentence, indent=2)
    if any(len(c.causes) > 1 for c in comparison.contrasts):
        page.say(f"Each line changes one thing alone in {comparison.sides[0].mark} and plans again.", "soft")


def _headline(contrast: Contrast) -> str:
    days = contrast.whole_days
    if days is None:
        return "one of them has no date for the first animal."
    return f"the first animal {_shift(days)}." if days else "the first animal on the same day."


def _shift(days: int) -> str:
    return f"{days_words(abs(days))} {'later' if days > 0 else 'earlier'}"


def contrast_sentences(contrast: Contrast, comparison: Comparison, shop: Shop | None) -> list[str]:
    """What each cause does alone; those that do nothing in one sentence; and whether they act on one another."""
    told, idle = [], []
    for cause in contrast.causes:
        before, after = phrase(cause.keys, cause.before, contrast.first.mark), phrase(cause.keys, cause.after, contrast.other.mark)
        effects = _effects(contrast.first.outcome, cause.outcome, comparison, shop)
        if effects:
            told.append(f"{after[0].upper()}{after[1:]} instead of {before}: {effects}.")
        else:
            idle.append(f"{after} instead of {before}")
    if idle:
        told.append(f"Nothing in the dates or figures above comes from {listed(idle)}.")
    if not contrast.causes:
        told.append("Their tank files differ in nothing that the plan looks at.")
    if contrast.together and contrast.apart_days is not None and contrast.whole_days is not None:
        told.append(f"One by one these would add up to {_sum_words(contrast.apart_days)} for the first animal, together they make {_sum_words(contrast.whole_days)}: "
                    "they act on one another, so no part of it can be put down to one of them alone.")
    return told


def _sum_words(days: int) -> str:
    return _shift(days) if days else "no day"


def _effects(before: Outcome, after: Outcome, comparison: Comparison, shop: Shop | None) -> str:
    parts = [*_date_effects(before, after), *_effort_effects(before.effort, after.effort, comparison)]
    costs = (before.shopping.total, after.shopping.total)
    if shop is not None and costs[0] is not None and costs[1] is not None and costs[0] != costs[1]:
        parts.append(f"{shop.money(abs(costs[1] - costs[0]))} {'more' if costs[1] > costs[0] else 'less'} to pay")
    return ", ".join(parts)


def _date_effects(before: Outcome, after: Outcome) -> list[str]:
    moved = {name: days_between(before, after, name) for name in ("first_animal", "cycle_done", "wish_list_done")}
    told = []
    if moved["first_animal"]:
        told.append(f"the first animal {_shift(moved['first_animal'])}")
    if moved["cycle_done"] and moved["cycle_done"] != moved["first_animal"]:
        told.append(f"the filter proven {_shift(moved['cycle_done'])}")
    if moved["wish_list_done"] and moved["wish_list_done"] != moved["first_animal"]:
        told.append(f"the wish list complete {_shift(moved['wish_list_done'])}")
    for name, words in (("first_animal", "the first animal"), ("wish_list_done", "the wish list")):
        had, has = before.milestones[name].likely, after.milestones[name].likely
        if (had is None) != (has is None):
            told.append(f"{words} {'with' if has else 'without'} a date")
    return told


def _effort_effects(before: Effort, after: Effort, comparison: Comparison) -> list[str]:
    """Counts whatever they are; amounts from one in a hundred on."""
    told = []
    for field, one, many in (("water_changes", "water change", "water changes"), ("tests", "round of tests", "rounds of tests")):
        change = getattr(after, field) - getattr(before, field)
        if change:
            told.append(f"{abs(change)} {'more' if change > 0 else 'fewer'} {one if abs(change) == 1 else many}")
    for field, unit, name in (("salt_g", "g", "salt"), ("ammonium_chloride_g", "g", "ammonium chloride"), ("carried_l", "L", "to carry")):
        was, change = getattr(before, field), getattr(after, field) - getattr(before, field)
        if abs(change) > 0.01 * max(was, 1e-9) and abs(change) > 1e-6:
            told.append(f"{_units(comparison, abs(change), unit)} {'more' if change > 0 else 'less'} {name}")
    hours = round(after.hours) - round(before.hours)
    if hours:
        told.append(f"{abs(hours)} hour{'s' if abs(hours) != 1 else ''} {'more' if hours > 0 else 'less'} work")
    return told


def _goods(page: Page, comparison: Comparison) -> None:
    """The lines of the shopping lists that differ."""
    lists = {s.mark: _by_item(s.outcome.shopping.to_get) for s in comparison.sides}
    items = list(dict.fromkeys(item for goods in lists.values() for item in goods))
    units = comparison.sides[0].outcome.plan.units

    def cell(item: str, side: Side) -> str:
        found = lists[side.mark].get(item)
        return quantity_words(found, units) if found is not None else "-"

    differ = [i for i in items if len({(cell(i, s), _name(i, lists, s, units)) for s in comparison.sides}) > 1]
    if not differ:
        return
    page.heading("What differs on the shopping lists")
    rows: list[Row | str] = []
    for item in differ:
        names = {n for s in comparison.sides if (n := _name(item, lists, s, units))}
        name = next(iter(names)) if len(names) == 1 else next(g[item].name for g in lists.values() if item in g)
        first, *more = wrap(shown_name(name, 3 * LABEL), LABEL - 1)
        rows.append(Row(first, lambda s, item=item: cell(item, s)))  # type: ignore[misc]
        rows += more
    _table(page, comparison.sides, rows)
    same = len(items) - len(differ)
    page.say(f"- not wanted there or described in the tank file already, ? not known. {same} further line{'s are' if same != 1 else ' is'} the same in all.", "soft")


def _by_item(goods: Sequence[Good]) -> dict[str, Good]:
    """One line for each item; what comes in several stages is added up."""
    from dataclasses import replace

    found: dict[str, Good] = {}
    for good in goods:
        held = found.get(good.item)
        both = None if held is None or held.quantity is None or good.quantity is None else held.quantity + good.quantity
        found[good.item] = good if held is None else replace(held, quantity=both)
    return found


def _name(item: str, lists: dict[str, dict[str, Good]], side: Side, units: str) -> str:
    found = lists[side.mark].get(item)
    return name_words(found, units) if found is not None else ""


def comparison_document(comparison: Comparison, problems: Sequence[Problem], shop: Shop | None = None) -> dict[str, Any]:
    """The same as one object. Dates are ISO 8601, amounts litres and grams; `causes` hold a tank against the first."""
    return {
        "on": comparison.sides[0].setup.on.isoformat(),
        "sizes_differ": comparison.sizes_differ,
        "currency": shop.currency if shop is not None else None,
        "tanks": [_side_document(s) for s in comparison.sides],
        "contrasts": [_contrast_document(c, comparison, shop) for c in comparison.contrasts],
        "formulas": dict(HOW),
        "problems": [problem_document(p) for p in problems],
    }


def _side_document(side: Side) -> dict[str, Any]:
    effort, outcome = side.outcome.effort, side.outcome
    return {
        "mark": side.mark, "folder": side.setup.folder, "name": side.setup.tank.name, "on": side.setup.on.isoformat(),
        "gross_volume_l": figure(side.gross_l), "net_volume_l": figure(side.net_l),
        "milestones": {name: _window_document(outcome.milestones[name]) for name in MILESTONES},
        "amounts": {
            "salt_water": _amount(effort.salt_water_l, "L"), "fresh_water": _amount(effort.fresh_water_l, "L"), "salt": _amount(effort.salt_g, "g"),
            "ammonium_chloride": _amount(effort.ammonium_chloride_g, "g"), "carried_water": _amount(effort.carried_l, "L"), "changed_water": _amount(effort.changed_l, "L"),
        },
        "tests": effort.tests, "readings": effort.readings, "water_changes": effort.water_changes, "hours": figure(effort.hours),
        "counted_until": effort.until.isoformat() if effort.until else None,
        "cost": _cost(outcome.shopping.total), "cost_described": _cost(outcome.shopping.described_total),
        "without_cost": [x.item for x in outcome.shopping.without_cost], "left_out": list(outcome.left_out),
        "shopping": [shopping_line_document(x) for x in outcome.shopping.lines],
    }


def shopping_line_document(line: Good) -> dict[str, Any]:
    """One line of a shopping list; `quantity` null where it cannot be known, `cost` null without a price."""
    return {
        "item": line.item, "name": line.name, "quantity": {"value": None if line.quantity is None else figure(line.quantity), "unit": line.unit},
        "size": None if line.size is None else _amount(line.size.value, line.size.unit) | {"together": line.together}, "phase": line.phase,
        "needed": line.needed.isoformat() if line.needed else None, "provisional": line.provisional, "note": line.note, "unknown": line.unknown,
        "described": line.described, "cost": _cost(line.cost),
    }


def _contrast_document(contrast: Contrast, comparison: Comparison, shop: Shop | None) -> dict[str, Any]:
    first = contrast.first.outcome
    return {
        "tank": contrast.other.mark, "against": contrast.first.mark, "first_animal_days": contrast.whole_days, "sum_of_causes_days": contrast.apart_days,
        "causes": [{"keys": list(c.keys), "days": {name: days_between(first, c.outcome, name) for name in MILESTONES}} for c in contrast.causes],
        "sentences": contrast_sentences(contrast, comparison, shop),
    }


def _window_document(window: Window) -> dict[str, str | None]:
    return {name: day.isoformat() if (day := getattr(window, name)) else None for name in ("earliest", "likely", "latest")}


def _amount(value: float, unit: str) -> dict[str, Any]:
    return {"value": figure(value), "unit": unit}


def _cost(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


__all__ = ["comparison_document", "comparison_lines", "contrast_sentences", "shopping_line_document"]
