"""The printed plan: a PDF that a keeper can follow with a pencil.

`handout_from_plan` is the one face. It writes nothing and looks at no clock: the same input gives the same bytes, in any
process. What stands on the paper is gathered as plain data (`handout_*` rooms) and laid out by `handout.typ`; text of users
and rules goes in as data alone, so no sign in it is ever taken for markup.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import typst

from planner.catalogue import Catalogue
from planner.model import Journal, Plan
from planner.rulebook import Rulebook
from planner.stockplan import StockPlan
from planner.tankfile import Tank

Paper = Literal["a4", "letter"]
NO_LETTER = "could not be displayed with font"


@dataclass(frozen=True, slots=True)
class Handout:
    """The file, and what the shop should know about it, in sentences."""

    pdf: bytes
    warnings: tuple[str, ...]


def handout_from_plan(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook, stock: StockPlan | None = None, catalogue: Catalogue | None = None, *,
                      shop: object | None = None, logo: bytes | None = None, paper: Paper | None = None) -> Handout:
    """The printed plan. `stock` and `catalogue` are those of `plan_with_stock`; `shop` a shop file as read, `logo` the bytes
    of its logo; `paper` is the shop's, else Letter for US units and A4 for others."""
    size: Paper = paper or ("letter" if plan.units == "us" else "a4")
    data = {"paper": size, "name": plan.name}
    return _set(json.dumps(data, ensure_ascii=False), plan)


@cache
def _compiler() -> typst.Compiler:
    """One for the life of the process: it keeps the fonts and what it has laid out before."""
    return typst.Compiler(Path(__file__).with_name("handout.typ"), ignore_system_fonts=True)


def _set(data: str, plan: Plan) -> Handout:
    return Handout(_compiler().compile(sys_inputs={"data": data}, format="pdf", pdf_standards="ua-1", timestamp=0), ())  # type: ignore[arg-type]


__all__ = ["Handout", "Paper", "handout_from_plan"]
