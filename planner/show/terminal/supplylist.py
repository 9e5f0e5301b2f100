"""What is left and when to order, on a page and in the machine form."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from planner.plan.supplies import Supply, name_of
from planner.show.words.words import Line, Page, command, day_words, short_day
from planner.terms.amounts import format_amount
from planner.terms.records import Plan

SOON_DAYS = 14


def supply_lines(found: Sequence[Supply], plan: Plan, width: int, folder: str = "") -> tuple[Line, ...]:
    page = Page(width)
    page.heading(f"{plan.name}: what is left", day_words(plan.on))
    known = [s for s in found if s.left is not None]
    for title, some in (("Order now", [s for s in known if s.order_by is not None and s.order_by <= plan.on]),
                        ("Order soon", [s for s in known if s.order_by is not None and plan.on < s.order_by <= plan.on + timedelta(days=SOON_DAYS)]),
                        ("Enough for now", [s for s in known if s.order_by is None or s.order_by > plan.on + timedelta(days=SOON_DAYS)])):
        if some:
            page.heading(title)
            for s in sorted(some, key=lambda s: (s.order_by or date.max, s.item)):
                page.labelled(name_of(s), _told(s, plan), 2, 16)
    unknown = [s for s in found if s.left is None]
    if unknown:
        page.heading("Not known")
        page.say(f"Nothing is written of {', '.join(name_of(s) for s in unknown)}. Write down what you have, such as `{command('note', folder, 'bought', unknown[0].item, _example(unknown[0]))}`.")
    page.gap()
    page.say("Counted from the journal: every reading takes one test of its kit, every water change takes salt. One test in five is reckoned as wasted.", "soft")
    return tuple(page.lines)


def _example(s: Supply) -> str:
    return {"g": "20kg" if s.item == "salt" else "500g", "L": "20L", "tests": "50 tests"}[s.unit]


def _amount(value: float, s: Supply, plan: Plan) -> str:
    return f"{value:.0f} tests" if s.unit == "tests" else format_amount(value, s.unit, plan.units)


def _told(s: Supply, plan: Plan) -> str:
    assert s.left is not None
    said = [f"{_amount(max(0.0, s.left), s, plan)} left" if s.left >= 0 else "used up by the journal's count; look, and write down what you have"]
    if s.week:
        said.append(f"{s.week:.1f} tests go in a week" if s.unit == "tests" else f"{_amount(s.week, s, plan)} go in a week")
    if s.reserve:
        said.append(f"keep {_amount(s.reserve, s, plan)} in reserve")
    if s.ends is not None:
        said.append(f"good until {short_day(s.ends, plan.on)}" if s.ends >= plan.on else f"too old since {short_day(s.ends, plan.on)}")
    if s.order_by is not None and s.order_by > plan.on:
        said.append(f"order by {short_day(s.order_by, plan.on)}")
    return "; ".join(said) + "."


def supply_document(found: Sequence[Supply], plan: Plan) -> dict[str, Any]:
    return {"on": plan.on.isoformat(), "supplies": [
        {"id": s.item, "unit": s.unit, "bought": round(s.bought, 3), "used": round(s.used, 3), "left": None if s.left is None else round(s.left, 3), "reserve": round(s.reserve, 3),
         "per_week": round(s.week, 3), "order_by": s.order_by.isoformat() if s.order_by else None, "good_until": s.ends.isoformat() if s.ends else None} for s in found]}


__all__ = ["name_of", "supply_document", "supply_lines"]
