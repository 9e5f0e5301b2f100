"""The animals on paper: who comes in which order, what each needs, who stays out and why, and the law."""

from __future__ import annotations

from datetime import date

from planner.plan.stage_records import StockPlan
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json
from planner.show.words.causes import all_words, cause_words
from planner.show.words.wish_list import VERDICTS, counted, kindred_words, left_out_words, quarrels, reason_words, stages_provisional, wish_words
from planner.show.words.words import listed, short_day
from planner.stock.catalogue import Catalogue
from planner.stock.verdict import AnimalVerdict
from planner.terms.records import Plan

TIMES = "×"
"""Between a number and an animal on paper."""
SAID = {"with_conditions": "fits on conditions"}
LOAD = "load"
"""The cause that tells what the filter carries by then: told once, of the last stage, when it carries most."""
LEGAL = ("permits", "release")
"""Cautions that stand in full beside the animals."""
CITES = "CITES Appendix {list}: ask the seller for the papers and keep them."


def animals_data(plan: Plan, stock: StockPlan | None, catalogue: Catalogue | None, rules: Rulebook) -> Json | None:
    """Verdicts, law, conflicts, what is left out, and the stages. None without a wish list."""
    if stock is None or not (stock.verdict.animals or stock.unclear):
        return None
    verdict, provisional = stock.verdict, stages_provisional(plan)
    stages = stock.stages.stages if stock.stages is not None else ()
    day = {w.animal_id: s.number for s in stages for w in s.wishes}
    return {
        "animals": [{"name": counted(a.count, a.name, TIMES), "verdict": SAID.get(a.verdict, VERDICTS[a.verdict]), "stage": day.get(a.animal_id, 0), **_needs(a, plan, catalogue)}
                    for a in verdict.animals],
        "unclear": [f"“{written}” is unclear." + (f" It could be {catalogue.choice(could, ids=False) if catalogue is not None else listed(could[:4])}." if could else " We do not know this animal.") for written, could in stock.unclear],
        "conflicts": [cause_words(c.why, plan.units) for c in quarrels(stock)],
        "sums": all_words((verdict.sums.nitrogen_told, verdict.sums.room_told), plan.units) if verdict.keep else [],
        "left": [" ".join(filter(None, (left_out_words(x, catalogue, plan.units), kindred_words(x, catalogue)))) for x in verdict.left_out],
        "stages": [{"number": s.number, "day": _day(s.day, plan.on, provisional), "animals": listed(wish_words(w, catalogue, TIMES) for w in s.wishes),
                    "quarantine": _day(s.quarantine_from, plan.on, provisional) if s.quarantine_from is not None else "", "because": all_words((w for w in s.because if w.kind != LOAD or s is stages[-1]), plan.units)} for s in stages],
        "unplaced": [f"{wish_words(w, catalogue, TIMES)} has no day yet: {cause_words(why, plan.units)}" for w, why in (stock.stages.not_placed if stock.stages else ())],
        "law": [f"{rules.cautions[key].title}. {rules.cautions[key].text} {rules.cautions[key].defer}" for key in LEGAL if key in rules.cautions],
    }


def _needs(judged: AnimalVerdict, plan: Plan, catalogue: Catalogue | None) -> Json:
    """The reasons of the verdict, what the catalogue says of the animal where they do not, and the law as far as a source was
    read."""
    reasons = [reason_words(r, plan.units) for r in judged.reasons]
    animal = catalogue.get(judged.animal_id) if catalogue is not None else None
    if animal is None:
        return {"reasons": reasons, "latin": "", "word": "", "law": ""}
    return {"reasons": reasons, "latin": animal.latin, "word": "" if animal.word in " ".join(reasons) else animal.word, "law": " ".join(filter(None, (CITES.format(list=animal.cites) if animal.cites else "", animal.law)))}


def _day(ordinal: int, on: date, provisional: bool) -> str:
    return ("about " if provisional else "") + short_day(date.fromordinal(ordinal), on)


__all__ = ["animals_data"]
