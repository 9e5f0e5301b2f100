"""The printed plan read back with pypdf, which did not write it; and the plans of the scenarios to hold it against."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import pypdf

from planner.cli.common import load_tank
from planner.files.tank import Tank
from planner.plan.make import plan_with_stock
from planner.plan.stage_records import StockPlan
from planner.plan.texts import text_filler
from planner.rulebook.shapes import Rulebook
from planner.show.paper.handout import Handout, handout_data, handout_from_plan
from planner.show.paper.pencil import Pencil, pencil_for
from planner.stock.catalogue import Catalogue
from planner.terms.records import Journal, Plan

SCENARIOS = Path(__file__).parents[2] / "scenarios"
DAYS = {
    "bottled-hot-room": "2026-06-06", "dry-rock-us": "2026-03-05", "leak-on-day-one": "2026-03-07", "live-rock-small": "2026-02-21", "shop-handover": "2026-05-09",
    "stalled-then-recovers": "2026-11-19",
}
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAY = re.compile(rf"(?:\b(Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?\b(\d{{1,2}}) ({'|'.join(MONTHS)})\b(?: (\d{{4}})\b)?")


@dataclass(frozen=True, eq=False)
class Case:
    """What a printed plan is made from. Without options it is printed once."""

    plan: Plan
    tank: Tank
    journal: Journal
    rules: Rulebook
    stock: StockPlan | None
    catalogue: Catalogue | None

    def printed(self, **options: Any) -> Handout:
        return handout_from_plan(self.plan, self.tank, self.journal, self.rules, self.stock, self.catalogue, **options) if options else _plain(self)


@lru_cache(maxsize=24)
def _plain(case: Case) -> Handout:
    return handout_from_plan(case.plan, case.tank, case.journal, case.rules, case.stock, case.catalogue)


@cache
def data_of(case: Case) -> dict[str, Any]:
    """What its paper is made from; to be read and not written to."""
    return handout_data(case.plan, case.tank, case.journal, case.rules, case.stock, case.catalogue, None)


@cache
def case_of(scenario: str, on: str = "", house: str = "") -> Case:
    """`house` is a folder of house rules in the scenario."""
    loaded = load_tank(SCENARIOS / scenario, on or DAYS[scenario], SCENARIOS / scenario / house if house else None)
    catalogue = loaded.catalogue
    plan, stock = plan_with_stock(loaded.tank, loaded.journal, loaded.rules, loaded.on, None, loaded.problems, catalogue)
    return Case(plan, loaded.tank, loaded.journal, loaded.rules, stock, catalogue)


@cache
def read_scenario(scenario: str, house: str = "") -> tuple[str, ...]:
    return pages_of(case_of(scenario, house=house).printed().pdf)


def pencil_of(case: Case) -> Pencil:
    return pencil_for(case.plan, case.rules, text_filler(case.tank, case.journal, case.rules, case.plan.on))


def reader(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf), strict=True)


@lru_cache(maxsize=24)
def pages_of(pdf: bytes) -> tuple[str, ...]:
    """The text of each page on one line."""
    return tuple(one_line(page.extract_text()) for page in reader(pdf).pages)


def one_line(text: str) -> str:
    """White space as single blanks, without places to break; a word goes on after a slash or a hyphen."""
    return re.sub(r"(?<=\w[/-]) (?=\w)", "", " ".join(text.replace("\u200b", "").replace("\u2060", "").split()))


def said_day(day: date, on: date | None) -> str:
    """`Sat 9 May`, with the year where it is not that of `on`; written here once more, so that the faces are not their own judge."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}" + (f" {day.year}" if on is not None and day.year != on.year else "")


def days_in(text: str) -> set[tuple[str, int, int, int]]:
    """Every day named: weekday ('' without), day, month, year (0 without)."""
    return {(m[1] or "", int(m[2]), MONTHS.index(m[3]) + 1, int(m[4] or 0)) for m in _DAY.finditer(text)}
