"""Shopping: what is still to be got, by trip, with ticks for the basket; the trip itself is ticked as a job."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from starlette.responses import Response

from planner.files.read_file import read_plain_file
from planner.plan.goods import GOODS
from planner.plan.shop_file import Shop, read_shop
from planner.plan.shopping_list import Purchase, shopping_list
from planner.serve.asking import Ask, Site
from planner.serve.markup import html, writer_for
from planner.show.words.shopping import name_words, quantity_words, remark_words
from planner.show.words.words import short_day
from planner.terms.records import CLOSED, URGENT

ALIVE = frozenset({"clean_up_crew", "live_rock", "live_sand", "cured_rock", "bacteria"})


def shop_of(site: Site) -> Shop | None:
    """The shop that serves this page, if its file can be read now."""
    if site.shop_file is None:
        return None
    try:
        return read_shop(read_plain_file(site.shop_file), site.shop_file.name, site.shop_file.parent)[0]
    except OSError:
        return None


def shopping(ask: Ask) -> Response:
    """The list, what lies in the basket, and what must not be bought yet."""
    seen = ask.look()
    assert ask.place is not None
    write_text = writer_for(seen, ask.base)
    read, shop = seen.folder, shop_of(ask.site)
    with seen.lock:
        plan = seen.plan
        found = shopping_list(plan, seen.tank, read.journal, read.rules, read.catalogue, shop)
    basket = ask.site.memory.basket(ask.place.slug)

    def line(x: Purchase) -> tuple[str, object, object, object, bool, str]:
        cost = f"{x.cost:.2f} {shop.currency}" if x.cost is not None and shop is not None and shop.currency else f"{x.cost:.2f}" if x.cost is not None else ""
        return x.item, html(write_text(name_words(x, plan.units))), as_many(x), html(write_text(remark_words(x))), x.item in basket, cost

    def as_many(x: Purchase) -> str:
        return quantity_words(x, plan.units) if x.quantity is not None else "as needed"

    titles = {p.id: p.title for p in plan.phases}
    gate = plan.phase_as("opens_to_animals")
    closed = gate is not None and gate.opened is None
    groups: dict[str, list[tuple[str, object, object, object, bool, str]]] = {}
    later: dict[str, list[str]] = {}
    for x in sorted(found.to_get, key=lambda x: x.needed or date.max):
        when = (titles.get(x.phase) or "For all of it") + (f", needed {short_day(x.needed, plan.on)}" if x.needed is not None else "")
        if _lives(x) and (x.provisional or closed):
            later.setdefault(when, []).append(f"{write_text(name_words(x, plan.units))}, {as_many(x)}")
        else:
            groups.setdefault(f"{when}; the day may move" if x.provisional else when, []).append(line(x))
    trips = [(t.id, html(write_text(t.title)), short_day(t.date, plan.on) if t.date else "", t.state in URGENT) for t in plan.tasks if t.role == "shopping" and t.state not in CLOSED and not t.tentative]
    total: Decimal | None = found.total
    return ask.show("shopping.html", active="shopping", tank_name=plan.name, groups=list(groups.items()), later=list(later.items()), trips=trips, total=f"{total:.2f}" if total is not None else "",
                    owned=[write_text(name_words(x, plan.units)) for x in found.lines if x.described])


def _lives(line: Purchase) -> bool:
    """Is it alive, or perishes on a shelf at home? Animals have the ids of the catalogue, or are the crew as a whole."""
    return line.item not in GOODS or line.item in ALIVE


def put_in_basket(ask: Ask) -> Response:
    """What lies in the basket now."""
    assert ask.place is not None
    ask.site.memory.put_in_basket(ask.place.slug, [item[:60] for item in ask.all("item")])
    return ask.go(f"{ask.base}/shopping")


__all__ = ["put_in_basket", "shop_of", "shopping"]
