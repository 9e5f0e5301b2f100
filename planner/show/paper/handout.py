"""The printed plan: a PDF that a keeper can follow with a pencil.

`handout_from_plan` is the one face. It writes nothing and looks at no clock: the same input gives the same bytes, in any
process. What stands on the paper is gathered as plain data (the `handout_*` rooms) and laid out by `handout.typ`; texts of
users and rules go in as data alone, so no sign in them is ever taken for markup.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time
from functools import cache
from pathlib import Path
from typing import Any, Literal, cast

import typst

from planner.files.tank import Tank
from planner.plan.absence import Absence
from planner.plan.shop_file import Shop
from planner.plan.shopping_list import shopping_list
from planner.plan.stage_records import StockPlan
from planner.plan.standing import stand_of_filter
from planner.plan.texts import text_filler
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.text import one_line, shorten
from planner.show.json.record_objects import Json
from planner.show.paper.animals import animals_data
from planner.show.paper.back import caution_data, house_data, sources_data, words_data
from planner.show.paper.cards import cards_data
from planner.show.paper.care_grid import care_data
from planner.show.paper.cycle_sheet import cycle_data
from planner.show.paper.edition import ATTACHED, FIRST, Edition, facts_of, next_edition
from planner.show.paper.head import head_data
from planner.show.paper.parts import CHANGED, PARTS, SHEET_OF
from planner.show.paper.pencil import Pencil, pencil_for, plan_on_paper
from planner.show.paper.road import drawing_data, road_data
from planner.show.paper.shopping import shopping_data, there_words, trip_numbers
from planner.show.paper.text import fit_for_paper, paper_line
from planner.show.paper.wall import wall_data
from planner.show.words.causes import all_words
from planner.show.words.sitter import sitter_rows
from planner.show.words.words import day_words, listed, short_day
from planner.stock.catalogue import Catalogue
from planner.terms.causes import Cause
from planner.terms.records import Journal, Plan

Paper = Literal["a4", "letter"]
FOOTER_OCTETS = 36
NAMELESS = "my tank"
NO_CODE = "The tank has no id, so the printed plan has no QR code of its calendar. `newtank calendar` prints the line to add to the tank file."
MAIN = b'''#import "handout.typ": handout
#let data = json("data.json")
#handout(data)
#set document(title: json("title.json"))
'''
TEMPLATE: dict[str, bytes | Path] = {name: Path(__file__).with_name(name) for name in ("handout.typ", "parts.typ", "wall.typ", "road.typ", "shopping.typ", "cards.typ", "cycle_sheet.typ", "animals.typ", "care_grid.typ", "back.typ", "sitter.typ")}
FONTS = Path(__file__).with_name("fonts")
"""Arabic, Hebrew, Japanese (JIS X 0208) and emoji; Latin, Greek and Cyrillic come with the page setter. Free licence: `OFL.txt`."""
STAND_IN = "□"
_PAGE = re.compile(rb"/Type ?/Page\b")
_UNSHOWN = re.compile(r'the text `"(.*?)"` could not be displayed')


@dataclass(frozen=True, slots=True)
class Handout:
    """The file; its paper and pages; whether it is tagged for readers by ear; and what the shop should know about it, in sentences."""

    pdf: bytes
    paper: Paper
    pages: int
    tagged: bool
    warnings: tuple[str, ...]
    edition: Edition = FIRST


def handout_from_plan(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook, stock: StockPlan | None = None, catalogue: Catalogue | None = None, *,
                      shop: Shop | None = None, logo: bytes | None = None, paper: Paper | None = None, last: Json | None = None, only: Collection[str] = (),
                      absence: Absence | None = None) -> Handout:
    """The printed plan. `stock` and `catalogue` are those of `plan_with_stock`, `logo` is the picture that the shop's file
    names; the paper is the one asked for, else the shop's, else Letter for US units and A4 for others. `last`: the facts of the
    last edition (`edition.facts_in`). `only`: these parts alone (`PARTS`), or `CHANGED`, the first side and the sheets that say
    something else than the last edition. `absence` is what the sitter's sheet tells of. Worker processes are
    spawned, never forked from one that has printed: the page setter's threads do not survive a fork."""
    size: Paper = paper or (shop.paper if shop is not None else None) or ("letter" if plan.units == "us" else "a4")
    head, pictures = head_data(plan, shop, logo)
    told = handout_data(plan, tank, journal, rules, stock, catalogue, shop)
    edition = next_edition(last, told)
    told |= {"edition": edition.words, "changes": list(edition.changes), "last": edition.last, "sitter": sitter_data(absence, plan) if absence is not None else None}
    facts = facts_of(told, edition.number)
    data = fit_for_paper(_chosen(told, only, edition)) | {"paper": size, "shop": head}
    stamp = datetime.combine(plan.on, time(), UTC)
    pdf, unshown = _set(data, pictures | {ATTACHED: json.dumps(facts, ensure_ascii=True, sort_keys=True).encode()}, stamp)
    no_code = (NO_CODE,) if shop is not None and shop.calendar_address is not None and shop.calendar_for(plan.tank_id) is None else ()
    return Handout(pdf, size, len(_PAGE.findall(pdf)), True, (*unshown, *no_code), edition)


def _chosen(data: Json, only: Collection[str], edition: Edition) -> Json:
    """The data with the parts to print, all but the sitter's sheet where none are named."""
    if CHANGED in only:
        parts = ["wall", *(part for part, sheet in SHEET_OF.items() if sheet in edition.sheets)]
        cards = [s for s in data["cards"]["sections"] if s["title"] in edition.cards]
        return data | {"parts": parts + (["cards"] if cards else []), "cards": data["cards"] | {"sections": cards}}
    return data | {"parts": [p for p in PARTS if p in only] if only else [p for p in PARTS if p != "sitter"]}


def sitter_data(absence: Absence, plan: Plan) -> Json:
    """The sheet for whoever looks after the tank."""
    return {"from": short_day(absence.first, plan.on), "until": short_day(absence.last, plan.on), "rows": sitter_rows(absence, plan)}


def handout_data(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook, stock: StockPlan | None, catalogue: Catalogue | None, shop: Shop | None) -> Json:
    """Everything that the paper says, as plain data."""
    name = one_line(plan.name) or NAMELESS
    fill = text_filler(tank, journal, rules, plan.on)
    pencil = pencil_for(plan, rules, fill)
    standing = stand_of_filter(tank, journal, rules, plan)
    shopping = shopping_list(plan, tank, journal, rules, catalogue, shop)
    plan = plan_on_paper(replace(plan, tasks=tuple(t for t in plan.tasks if t.key not in shopping.settled)), pencil)

    def said(text: str) -> str:
        return pencil(fill(text))

    cycle = cycle_data(plan, tank, journal, rules)
    care = care_data(plan, tank, rules)
    animals = animals_data(plan, stock, catalogue, rules)
    on_sheets = frozenset(p.id for p in plan.phases if (cycle is not None and p.role in ("proves_filter", "runs_tank")) or p.role == "without_end")
    told: Json = {
        "wall": wall_data(plan, rules, said, shop.phone or "" if shop is not None else "", standing, trip_numbers(shopping)), "drawing": drawing_data(tank, plan), "road": road_data(plan, tank, journal),
        "notices": _notices(plan, pencil), "shopping": shopping_data(shopping, shop, plan, pencil, {w.animal_id: s.number for s in (stock.stages.stages if stock is not None and stock.stages is not None else ()) for w in s.wishes}),
        "cards": cards_data(plan, rules, on_sheets, said), "cycle": cycle, "animals": animals, "care": care, "cautions": caution_data(plan, rules, elsewhere=animals is not None),
        "there": [there_words(x, plan.units) for x in shopping.lines if x.described], "sources": sources_data(plan, rules), "house_rules": house_data(plan, rules, said),
    }
    named = {"name": name, "footer": shorten(name, FOOTER_OCTETS), "title": f"{name}, plan of {day_words(plan.on)}", "printed": day_words(plan.on), "edition": FIRST.words, "changes": []}
    return named | told | {"words": words_data(_texts(told), rules.words)}


def _notices(plan: Plan, pencil: Pencil) -> list[str]:
    """What is not told elsewhere on the paper: holds have their box, and what is left out stands with the wish list."""
    told = {h.because for h in plan.holds}
    return [said for text in all_words((n for n in plan.notices if n not in told and not (isinstance(n, Cause) and n.kind == "left_out")), plan.units) if (said := pencil(text))]


def _texts(data: Any) -> list[str]:
    """Every text in the data, in its order."""
    if isinstance(data, str):
        return [data]
    parts = data.values() if isinstance(data, dict) else data if isinstance(data, (list, tuple)) else ()
    found: list[str] = []
    for part in parts:
        found += (part,) if isinstance(part, str) else _texts(part)
    return found


@cache
def _compiler() -> typst.Compiler:
    """One for the life of the process: it keeps the fonts, and paragraphs that it has set before."""
    return typst.Compiler(font_paths=[FONTS], ignore_system_fonts=True)


def _set(data: Json, pictures: dict[str, bytes], stamp: datetime) -> tuple[bytes, tuple[str, ...]]:
    """The file, always tagged for readers by ear; a sign that is in none of the fonts that travel with the program has `STAND_IN`
    in its place, and is told."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    title = json.dumps(data["title"]).encode()  # read by programs, which have letters of their own
    missing: dict[str, None] = {}
    while True:
        files: dict[str, bytes | Path] = {"main.typ": MAIN, **TEMPLATE, "data.json": text.encode(), "title.json": title, **pictures}
        try:
            pdf = _pdf(files, stamp)
            break
        except typst.TypstError as error:
            found = [sign for shown in _UNSHOWN.findall(error.diagnostic) for sign in _unescaped(shown) if sign in text and sign != STAND_IN]
            if not found:
                raise
            missing.update(dict.fromkeys(found))
            text = text.translate({ord(sign): STAND_IN for sign in found})
    if not missing:
        return pdf, ()
    told = listed([paper_line(sign) for sign in list(missing)[:8]])
    return pdf, (f"The printed plan has no letters for {told}: a {STAND_IN} stands in place of each. Write these names in other letters.",)


def _unescaped(shown: str) -> str:
    """The signs of a text as the page setter quotes it: `\\u{1f420}` for some, the sign itself for others."""
    return re.sub(r"\\u\{([0-9a-fA-F]+)\}", lambda code: chr(int(code[1], 16)), shown)


def _pdf(files: dict[str, bytes | Path], stamp: datetime) -> bytes:
    # The library's own types do not name the dict of files that it takes.
    made = _compiler().compile(cast(Any, files), format="pdf", pdf_standards=["ua-1"], pdf_tags=True, timestamp=stamp)
    assert isinstance(made, bytes)
    return made


__all__ = ["Handout", "Paper", "handout_data", "handout_from_plan"]
