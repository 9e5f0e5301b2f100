"""What the forecast means, in sentences: where the cycle is, what is expected when, what would change it; whether the
kit's scale and the alkalinity will do."""

from __future__ import annotations

import math
from datetime import date, timedelta

from planner.conditions import Scene, judge_reading
from planner.cycle_forecast import Quantiles
from planner.dosing import bicarbonate_g
from planner.evidence import tell
from planner.forecast import Expectation
from planner.gates import Verdicts
from planner.gather import Facts
from planner.model import Answer
from planner.quantities import format_amount, nitrogen_factor
from planner.rulebook import ReadingNode, Rulebook


def tell_outlook(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts) -> tuple[str, ...]:
    """Sentences in the order in which a keeper asks. Empty of promises: a forecast never opens a gate."""
    model = expectation.model
    if model is None:
        opened = verdicts.opened.get("cycle")
        return (f"The cycle gate opened on {opened[0].isoformat()}: the filter has been proven." if opened else expectation.basis,)
    told = [_where(expectation, facts, rules, verdicts), _expected(expectation, facts), _what_would_change(expectation)]
    told += _scale(expectation, facts)
    told += _alkalinity(expectation, facts, rules)
    if expectation.readings_used:
        told += _stall(expectation)
    odd = expectation.unexplained
    if len(odd) == 1:
        told.append(f"A reading fits no plausible tank ({tell(odd[0])}): check the kit, the dose and the basis. It moved the dates little.")
    elif odd:
        lines = ", ".join(str(row.line) for row in odd)
        told.append(f"{len(odd)} readings fit no plausible tank (journal lines {lines}): check the kit, the doses and the basis. They moved the dates little.")
    return tuple(told)


def _where(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts) -> str:
    if expectation.origin is None:
        return "No ammonia has been given yet; what follows is what is known of starts like this one."
    day = (facts.on - expectation.origin).days
    scene = Scene(facts, rules, verdicts.opened)
    ammonia, nitrite = (judge_reading(ReadingNode(name=n, clear=True, any_age=True), scene).answer for n in ("ammonia", "nitrite"))
    head = f"Day {day} of the cycle, {expectation.basis}: "
    if expectation.readings_used == 0:
        return f"Day {day} of the cycle, without a reading yet: the dates are those of starts like this one."
    if ammonia == Answer.YES and nitrite == Answer.YES:
        return head + "ammonia and nitrite both read clear at the last test; the proof by dosing is what is left."
    if ammonia == Answer.YES:
        return head + "ammonia reads clear, nitrite does not; the second kind of bacteria is still growing."
    if nitrite == Answer.NO:
        return head + "nitrite shows, so the first kind of bacteria works; ammonia is not clear yet."
    return head + "ammonia stands in the water and no nitrite has come of it yet."


def _expected(expectation: Expectation, facts: Facts) -> str:
    parts = []
    for name, title in (("ammonia_clear", "ammonia clear"), ("nitrite_clear", "nitrite clear"), ("cycle_done", "the filter proven")):
        if name in expectation.happened:
            continue
        if expectation.origin is None:
            low, likely, high = (("many months" if d is None else f"{d} days") for d in expectation.offsets[name])
            parts.append(f"{title} about {likely} after the first ammonia (8 of 10 plausible tanks between {low} and {high})")
            continue
        days = [None if d is None else max(facts.on, (expectation.origin or facts.on) + timedelta(days=d)) for d in expectation.offsets[name]]
        parts.append(f"{title} about {_day(days[1])} (8 of 10 plausible tanks between {_day(days[0])} and {_day(days[2])})")
    return "Expected: " + "; ".join(parts) + ". None of it is promised." if parts else "Every milestone has been read."


def _day(day: date | None) -> str:
    return f"{day.day} {day:%b}" if day is not None else "a later month"


def _what_would_change(expectation: Expectation) -> str:
    if expectation.origin is None:
        return "The first dose sets the clock; the first readings that differ from one another move the dates most."
    low, _likely, high = expectation.offsets["nitrite_clear"]
    if low is not None and high is not None and high - low <= 6:
        return "The band is narrow now; only a reading out of line, cold water, low alkalinity or chlorine would move it."
    return "What would change it: the day nitrite first shows, the day ammonia clears, and the day nitrite turns down; test near those days. Cold, low alkalinity and chlorine delay it."


def _scale(expectation: Expectation, facts: Facts) -> list[str]:
    kit = facts.tank.test_kits.get("nitrite")
    highest = kit.highest_internal("nitrite") if kit else None
    model = expectation.model
    if highest is None or model is None or model.nitrite_peak_mg_n_l.p50 is None or "nitrite_clear" in expectation.happened:
        return []
    peak = model.nitrite_peak_mg_n_l.p50
    if peak <= highest:
        return []
    parts = max(2, math.ceil(peak / highest))
    basis = (kit.basis if kit else None) or "N"
    return [f"Nitrite will probably leave your kit's scale (peak about {peak * nitrogen_factor('nitrite', basis):.0f} against {highest * nitrogen_factor('nitrite', basis):.0f} "
            f"mg/L as {'N' if basis == 'N' else 'the ion'}): then mix 1 part of tank water with {parts - 1} of RO water and multiply by {parts}."]


def _alkalinity(expectation: Expectation, facts: Facts, rules: Rulebook) -> list[str]:
    """What the rest of the cycle uses, against the last alkalinity reading."""
    model = expectation.model
    to_come: Quantiles | None = model.alkalinity_to_come_dkh if model else None
    row = next((r for r in reversed(facts.rows("reading", "alkalinity")) if r.where == "display" and r.low is not None), None)
    if to_come is None or to_come.p50 is None or row is None or row.low is None:
        return []
    left = row.low - to_come.p50
    least = rules.number("cycle_alkalinity_least")
    if left >= least:
        return []
    missing = least - left
    grams = bicarbonate_g(facts.net_volume_l, missing)
    return [f"The rest of the cycle uses about {to_come.p50:.1f} dKH of alkalinity; from {row.low:g} dKH that leaves {max(left, 0):.1f}. "
            f"Plan on about {format_amount(grams, 'g', facts.tank.units)} of sodium bicarbonate in all, in steps of at most {rules.number('alkalinity_rise_empty'):g} dKH a day, while no animal is in."]


def _stall(expectation: Expectation) -> list[str]:
    model = expectation.model
    if model is None:
        return []
    if model.stall.not_clear > 0.5:
        return ["More than half of the plausible tanks do not clear within four months: this tank is stalled. See what the plan says under the cycle."]
    return []
