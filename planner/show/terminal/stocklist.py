"""The wish list's verdicts and stages, as sentences and as JSON."""

from __future__ import annotations

from datetime import date
from typing import Any

from planner.plan.stage_records import StockPlan
from planner.show.words.causes import all_words, cause_words
from planner.show.words.wish_list import (
    VERDICTS,
    change_words,
    counted,
    kindred_words,
    left_out_words,
    quarrels,
    reason_words,
    stages_provisional,
    unclear_words,
    wish_words,
)
from planner.show.words.words import Page, day_words, listed
from planner.stock.catalogue import Catalogue
from planner.stock.stages.records import Stage
from planner.stock.verdict import Wish
from planner.terms.causes import Cause
from planner.terms.records import Plan


def stock_page(stock: StockPlan, plan: Plan, catalogue: Catalogue, width: int) -> Page:
    page = Page(width)
    page.heading(f"{plan.name}: the wish list")
    page.say("Check your local law before you buy: some animals need papers, and some may not be kept everywhere. Never release an animal.", "soft")
    for written, candidates in stock.unclear:
        page.say(unclear_words(written, candidates, catalogue), "strong")
    for animal in stock.verdict.animals:
        page.gap()
        page.item("-", counted(animal.count, animal.name), VERDICTS[animal.verdict], role="strong")
        for reason in animal.reasons:
            page.say(reason_words(reason, plan.units), indent=4)
    if conflicts := quarrels(stock):
        page.heading("Who cannot live together here")
        for conflict in conflicts:
            page.item("-", cause_words(conflict.why, plan.units))
    if stock.verdict.keep:
        page.heading("The list as a whole")
        page.say(cause_words(stock.verdict.sums.nitrogen_told, plan.units))
        page.say(cause_words(stock.verdict.sums.room_told, plan.units))
    if stock.verdict.left_out:
        page.heading("Left out, and what would let it in")
        for left in stock.verdict.left_out:
            page.item("-", left_out_words(left, catalogue, plan.units))
            if left.instead:
                page.say(kindred_words(left, catalogue), indent=4)
    _stages(page, stock, plan, catalogue)
    return page


def _stages(page: Page, stock: StockPlan, plan: Plan, catalogue: Catalogue) -> None:
    if stock.stages is None or not stock.stages.stages:
        if stock.verdict.keep:
            page.heading("Stages")
            page.say("No day can be given yet, because nobody can say when the tank is ready for animals." if stages_provisional(plan) else "Of the animals that fit, none is still to come.")
        return
    page.heading("In this order")
    if stages_provisional(plan):
        page.say("Every day below may move. The tank is not ready for animals yet, and only your tests can say when it is.", "strong")
    waits = {frozenset(t.animals): tuple(b for b in t.because if isinstance(b, Cause) and b.kind == "open_guards") for t in plan.tasks if t.role == "animals"}
    for stage in stock.stages.stages:
        page.gap()
        page.item(f"{stage.number}.", listed(wish_words(w, catalogue) for w in stage.wishes), day_words(date.fromordinal(stage.day)), role="strong")
        if stage.quarantine_from is not None:
            page.say(f"Into the quarantine tank on {day_words(date.fromordinal(stage.quarantine_from))}.", indent=4)
        for sentence in (*stage.because, *waits.get(frozenset((w.animal_id, w.count) for w in stage.wishes), ())):
            page.say(cause_words(sentence, plan.units), indent=4)
    for wish, why in stock.stages.not_placed:
        page.item("-", f"{wish_words(wish, catalogue)} has no stage: {cause_words(why, plan.units)}")


def stock_document(stock: StockPlan, plan: Plan) -> dict[str, Any]:
    """The machine form: verdicts, conflicts, what to keep, and the stages with likely and earliest days."""
    quick = {w: s.day for s in stock.earliest.stages for w in s.wishes} if stock.earliest else {}
    return {
        "on": plan.on.isoformat(),
        "animals": [{"id": a.animal_id, "name": a.name, "count": a.count, "verdict": a.verdict, "reasons": [cause_words(r.why, plan.units) for r in a.reasons]} for a in stock.verdict.animals],
        "unclear": [{"written": w, "candidates": list(c)} for w, c in stock.unclear],
        "conflicts": [{"between": list(c.between), "why": cause_words(c.why, plan.units)} for c in stock.verdict.conflicts],
        "keep": [_wish(w) for w in stock.verdict.keep],
        "left_out": [{"id": x.animal_id, "count": x.count, "why": cause_words(x.why, plan.units), "smallest_change": change_words(x, plan.units), "instead": list(x.instead)} for x in stock.verdict.left_out],
        "stages": [_stage(s, plan.units, max(quick[w] for w in s.wishes) if all(w in quick for w in s.wishes) else None) for s in (stock.stages.stages if stock.stages else ())],
        "not_placed": [{**_wish(w), "because": cause_words(why, plan.units)} for w, why in (stock.stages.not_placed if stock.stages else ())],
        "provisional": stages_provisional(plan),
    }


def _stage(stage: Stage, units: str, earliest: int | None) -> dict[str, Any]:
    return {"likely": date.fromordinal(stage.day).isoformat(), "earliest": date.fromordinal(earliest).isoformat() if earliest else None,
            "animals": [_wish(w) for w in stage.wishes], "nitrogen_mg_per_day": round(stage.nitrogen_mg_per_day, 3),
            "free_ammonia_mg_l": _rise(stage), "ration": round(stage.ration, 3),
            "quarantine_from": date.fromordinal(stage.quarantine_from).isoformat() if stage.quarantine_from else None, "because": all_words(stage.because, units)}


def _rise(stage: Stage) -> dict[str, float] | None:
    """The highest free ammonia expected after the stage, mg/L as NH3: a tenth, half and nine tenths of tanks stay at or below."""
    if stage.rise is None:
        return None
    return dict(zip(("p10", "p50", "p90"), (round(x, 5) for x in stage.rise.nh3_mg_l), strict=True))


def _wish(wish: Wish) -> dict[str, Any]:
    return {"id": wish.animal_id, "count": wish.count}
