"""Ways to set up a tank, side by side: a table, the windows drawn to one scale, and words on what makes the difference.

Tanks are called A, B, C in tables and named once above them, so that no name can break a column.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from planner.plan.comparison import MILESTONES, Comparison, Contrast, Side
from planner.plan.dues import SCENARIOS
from planner.plan.effort import HOW
from planner.plan.milestones import WINDOW_DAYS
from planner.plan.shop_file import Shop, bare_money
from planner.plan.shopping_list import Purchase
from planner.show.terminal.comparison_causes import contrast_sentences, in_units, shift_words
from planner.show.words.shopping import name_words, quantity_words
from planner.show.words.tank_keys import cells_of, shown_name, summary
from planner.show.words.words import Line, Page, Span, bare_day, day_words, days_words, listed, wrap
from planner.terms.records import Window

LABEL, COLUMN = 26, 13


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
        page.say("Mind that the boxes differ in size: " + ", ".join(f"{s.mark} {in_units(comparison, s.gross_l, 'L')}" for s in sides)
                 + " by outside measures. Litres, salt and cost follow from that before anything else.", "strong")
    for side in sides:
        name, folder = shown_name(side.setup.tank.name), f"({shown_name(side.setup.folder)})"
        first, *more = [f"{name} {folder}"] if cells_of(name) + cells_of(folder) + 5 <= width else [name, folder]
        page.lines.append((Span(f"{side.mark:<4}", "strong"), Span(first)))
        page.lines += [(Span("    " + line),) for line in more]
        page.say(summary(side.setup.tank, sides[0].outcome.plan.units), indent=4)
    if any(s.setup.journal.rows for s in sides):
        page.say("What a journal holds is done and no longer counted: "
                 + listed(f"{s.mark} has {n} {'entry' if n == 1 else 'entries'}" for s in sides if (n := len(s.setup.journal.rows))) + ".", "soft")
    _dates(page, comparison)
    _windows(page, comparison)
    _efforts(page, comparison)
    if shop is not None and shop.prices:
        _costs(page, comparison, shop)
    _differences(page, comparison, shop)
    _goods(page, comparison)
    return tuple(page.lines)


def _days_words(sides: Sequence[Side]) -> str:
    days = {s.setup.on for s in sides}
    return day_words(min(days)) if len(days) == 1 else ""


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
        for n, (word, field) in enumerate(zip(SCENARIOS, WINDOW_DAYS, strict=True)):
            label = f"{MILESTONES[name] if n == 0 else '':<19}{word}"

            def cell(side: Side, name: str = name, field: str = field) -> str:
                day: date | None = getattr(side.outcome.milestones[name], field)
                return bare_day(day, comparison.sides[0].setup.on) if day is not None else "no date"

            rows.append(Row(label, cell))
    rows.append(Row("likely first animal in", _in_days))
    _table(page, comparison.sides, rows)
    for wishes in dict.fromkeys(s.outcome.left_out for s in comparison.sides if s.outcome.left_out):
        marks = [s.mark for s in comparison.sides if s.outcome.left_out == wishes]
        page.say(f"Of the wish list {listed(marks)} cannot keep or place what follows; `newtank stock` says why. The list counts as complete without it.", "soft")
        for wish in wishes:
            page.lines.append((Span(f"  - {shown_name(wish)}", "soft"),))


def _in_days(side: Side) -> str:
    first = side.outcome.milestones["first_animal"].likely
    return days_words((first - side.setup.on).days) if first is not None else "no date"


def _windows(page: Page, comparison: Comparison) -> None:
    """`---o-----` from quick to slow with the likely day marked, all on one scale."""
    names = shown_milestones(comparison)
    windows = [s.outcome.milestones[n] for s in comparison.sides for n in names]
    days = [d for w in windows for d in (w.earliest, w.likely, w.latest) if d is not None]
    start = min([*days, *(s.setup.on for s in comparison.sides)])
    if not days or start == max(days):
        return
    lead = max(len(MILESTONES[n]) for n in names) + 1 + max(len(s.mark) for s in comparison.sides) + 1
    end, room = max(days), page.width - lead

    def place(day: date) -> int:
        return round((day - start).days / (end - start).days * (room - 1))

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
    page.say("o likely, - from quick to slow: three ways it may go, worked through step by step. None is a promise: only tests let you go on.", "soft")


def _band(window: Window, place: Callable[[date], int], room: int) -> str:
    if window.likely is None:
        return "no date"
    quick, slow = place(window.earliest or window.likely), place(window.latest or window.likely)
    cells = [" "] * room
    cells[quick : slow + 1] = "-" * (slow + 1 - quick)
    cells[place(window.likely)] = "o"
    return "".join(cells).rstrip()


def _efforts(page: Page, comparison: Comparison) -> None:
    page.heading("What it takes until the first animal is in")

    def amount(field: str, unit: str) -> Callable[[Side], str]:
        return lambda s: in_units(comparison, getattr(s.outcome.effort, field), unit)

    rows: list[Row | str] = [
        Row("salt water", amount("salt_water_l", "L")), Row("pure water besides", amount("fresh_water_l", "L")), Row("salt", amount("salt_g", "g")),
        Row("ammonium chloride", amount("ammonium_chloride_g", "g")), Row("water carried", amount("carried_l", "L")),
        Row("water changes", lambda s: str(s.outcome.effort.water_changes)), Row("  of together", amount("changed_l", "L")),
        Row("rounds of tests", lambda s: str(s.outcome.effort.tests)), Row("  single readings", lambda s: str(s.outcome.effort.readings)),
        Row("hours of work", lambda s: f"{s.outcome.effort.hours:.0f} h"),
    ]
    _table(page, comparison.sides, rows)
    page.say("The least to reckon with: what a reading asks for beyond the plan comes on top. Pure water besides is for topping up and for soaking dry rock. "
             f"Water carried is {HOW['carried_l']}.", "soft")


def _costs(page: Page, comparison: Comparison, shop: Shop) -> None:
    """The shopping lists at the shop's prices, everything up to the last animal."""
    lists = [s.outcome.shopping for s in comparison.sides]
    page.heading("What it costs" + (f", in {shop.currency}" if shop.currency else ""))
    rows: list[Row | str] = [
        Row("lines with a price", lambda s: _money(s.outcome.shopping.total)), Row("  lines without a price", lambda s: str(sum(x.price is None for x in s.outcome.shopping.to_get))),
        Row("  lines without a number", lambda s: str(sum(x.quantity is None for x in s.outcome.shopping.to_get)))]
    if any(found.described_total for found in lists):
        rows.append(Row("what stands there already", lambda s: _money(s.outcome.shopping.described_total)))
    _table(page, comparison.sides, rows)
    page.say("The shop's prices times what the shopping list asks for, two months of salt and all animals of the list included. Lines without a price, and lines "
             "for which nobody can say how many (a line may be both), are not in it; nor is what the tank file says stands there already.", "soft")


def _money(value: Decimal | None) -> str:
    return bare_money(value) if value is not None else "none"


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
    return f"the first animal {shift_words(days)}." if days else "the first animal on the same day."


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
    page.say(f"- not wanted there, or there already; ? not known. {same} further line{'s are' if same != 1 else ' is'} the same in all.", "soft")


def _by_item(goods: Sequence[Purchase]) -> dict[str, Purchase]:
    """One line for each item; what comes in several stages is added up."""
    found: dict[str, Purchase] = {}
    for good in goods:
        held = found.get(good.item)
        both = None if held is None or held.quantity is None or good.quantity is None else held.quantity + good.quantity
        found[good.item] = good if held is None else replace(held, quantity=both)
    return found


def _name(item: str, lists: dict[str, dict[str, Purchase]], side: Side, units: str) -> str:
    found = lists[side.mark].get(item)
    return name_words(found, units) if found is not None else ""


__all__ = ["comparison_lines", "shown_milestones"]
