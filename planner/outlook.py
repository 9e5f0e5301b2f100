"""What the forecast means, in sentences: where the cycle is, what is expected when, what would change it; whether the
kit's scale and the alkalinity will do; and, once the filter is proven, what it can handle and how that fades."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.conditions import Scene, judge_reading
from planner.dosing import bicarbonate_g
from planner.evidence import tell
from planner.forecast import Expectation, start_of
from planner.gates import Verdicts
from planner.gather import Facts
from planner.model import Answer, CurvePoint, Row, Window
from planner.nitrogen import ALKALINITY_DKH_PER_MG_N
from planner.quantities import format_amount, nitrogen_factor
from planner.rulebook import ReadingNode, Rulebook

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.stockplan import StockPlan

METHOD = (
    "The dates come from a two-step model of nitrification: ammonia to nitrite to nitrate by two kinds of bacteria that grow as they are fed (Sin et al. 2008; Hiatt and Grady 2008), "
    "faster in the warm (Kaelin et al. 2009). Start-up times before any reading follow Manthe and Malone 1987 and common practice; each reading counts with the steps and limits of its kit."
)
DILUTIONS = ((5, "1 part of tank water with 4 of RO water and multiply by 5"), (10, "1 part of tank water with 9 of RO water and multiply by 10"))
NARROW_D = 6
WARMER_C = 1.0
"""From this much beside the aim the temperature that was read is told as a reason for the dates."""


def tell_outlook(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts, proven: Window, stalled: Sequence[str] = ()) -> tuple[str, ...]:
    """Sentences in the order in which a keeper asks. Empty of promises: a forecast never opens a gate. `proven`: when
    the cycle gate is expected. `stalled`: what the rules say of a standstill."""
    model = expectation.model
    opened = verdicts.opened.get("cycle")
    if opened is not None:
        return (f"The cycle gate opened on {_day(opened[0], facts.on)}: the filter has been proven, and no reading is forecast any more.",)
    if model is None:
        return (f"{expectation.basis[:1].upper()}{expectation.basis[1:]}.",)
    told = [_where(expectation, facts, rules, verdicts), _expected(expectation, facts, proven), *stalled, _what_would_change(expectation, facts)]
    told += _scale(expectation, facts)
    told += _alkalinity(expectation, facts, rules)
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
    if expectation.readings_used == 0:
        return f"Day {day} of the cycle, without a reading yet: the dates are those of starts like this one."
    head = f"Day {day} of the cycle, by {expectation.basis}: "
    scene = Scene(facts, rules, verdicts.opened)
    ammonia, nitrite = (judge_reading(ReadingNode(name=n, clear=True, any_age=True), scene).answer for n in ("ammonia", "nitrite"))
    happened = expectation.happened
    if "nitrite_clear" in happened:
        since = f"nitrite was first read clear on {_day(happened['nitrite_clear'], facts.on)}"
        again = "" if ammonia == nitrite == Answer.YES else "; the last dose still shows"
        return f"{head}{since}{again}. The proof by dosing is what is left."
    if "ammonia_clear" in happened:
        return f"{head}ammonia was first read clear on {_day(happened['ammonia_clear'], facts.on)}, nitrite is not clear yet; the second kind of bacteria is still growing."
    if ammonia == Answer.YES:
        return f"{head}ammonia reads clear, nitrite does not yet."
    if nitrite == Answer.NO:
        return f"{head}nitrite shows, so the first kind of bacteria works; ammonia is not clear yet."
    if nitrite == Answer.UNKNOWN:
        return f"{head}ammonia stands in the water, and whether nitrite has come of it is not known without a clear reading."
    return f"{head}ammonia stands in the water and no nitrite has come of it yet."


def _expected(expectation: Expectation, facts: Facts, proven: Window) -> str:
    parts = []
    for name, title in (("ammonia_clear", "ammonia clear"), ("nitrite_clear", "nitrite clear")):
        if name in expectation.happened:
            continue
        if expectation.origin is None:
            low, likely, high = ("many months" if d is None else f"{d}" for d in expectation.offsets[name])
            parts.append(f"{title} about {likely} days after the first ammonia ({low} to {high})")
        else:
            parts.append(f"{title} {_about([expectation.day(name, k, facts.on) for k in range(3)], facts.on)}")
    parts.append(f"the filter proven {_about([proven.earliest, proven.likely, proven.latest], facts.on)}")
    spread = " In brackets the days between which 8 of 10 plausible tanks lie." if any("(" in p for p in parts) else ""
    return f"Expected: {', '.join(parts)}.{spread} None of it is promised."


def _about(days: Sequence[date | None], on: date) -> str:
    low, likely, high = days
    if low == likely == high:
        return f"about {_day(likely, on)}"
    return f"about {_day(likely, on)} ({_day(low, on)} to {_day(high, on)})"


def _day(day: date | None, on: date) -> str:
    return "a later month" if day is None else f"{day.day} {day:%b}" + ("" if day.year == on.year else f" {day.year}")


def _what_would_change(expectation: Expectation, facts: Facts) -> str:
    if expectation.origin is None:
        return "The first dose sets the clock; the first readings that differ from one another move the dates most."
    aim, start = start_of(facts.tank).temperature_c, expectation.start
    away = start.temperature_c - aim if start is not None else 0.0
    reckoned = ""
    if start is not None and abs(away) >= WARMER_C:
        read, wanted = (format_amount(t, "°C", facts.tank.units) for t in (start.temperature_c, aim))
        reckoned = f" The dates reckon with {read}, the mean of what was read; at {wanted} it would be {'quicker' if away < 0 else 'slower'}."
    if "nitrite_clear" in expectation.happened:
        return "What would change it: a proof that is not gone within the day, a water change during it, or a test that comes too late." + reckoned
    low, _likely, high = expectation.offsets["nitrite_clear"]
    if low is not None and high is not None and high - low <= NARROW_D:
        return "The band is narrow now; only a reading out of line, cold water, low alkalinity or chlorine would move it." + reckoned
    days = [] if "ammonia_clear" in expectation.happened else ["the day nitrite first shows", "the day ammonia clears"]
    days.append("the day nitrite turns down")
    return f"What would change it: {', '.join(days[:-1])}{' and ' if days[:-1] else ''}{days[-1]}; test near {'those days' if days[:-1] else 'that day'}. Cold, low alkalinity and chlorine delay it." + reckoned


def _scale(expectation: Expectation, facts: Facts) -> list[str]:
    """Whether nitrite is likely to leave the kit's scale from now on, from when to when, and how to read it then."""
    kit = facts.tank.test_kits.get("nitrite")
    highest = kit.highest_internal("nitrite") if kit else None
    model = expectation.model
    if kit is None or highest is None or model is None or "nitrite_clear" in expectation.happened:
        return []
    origin = expectation.origin
    now = 0 if origin is None else (facts.on - origin).days
    ways = [(word, curve, [d for d in model.days if d >= now and curve[d] > highest]) for word, curve in (("probably", model.nitrite.p50), ("possibly", model.nitrite.p90))]
    word, curve, over = next((way for way in ways if way[2]), ways[0])
    if not over:
        return []
    peak = max(curve[d] for d in over)
    factor = nitrogen_factor("nitrite", kit.basis or "N")
    basis = "N" if (kit.basis or "N") == "N" else "the ion"
    parts = next((text for times, text in DILUTIONS if highest * times >= peak), DILUTIONS[-1][1])
    if origin is None:
        when = f"between about day {over[0]} and day {over[-1]}"
    else:
        first, last = (_day(origin + timedelta(days=d), facts.on) for d in (over[0], over[-1]))
        when = f"until about {last}" if over[0] <= now else f"from about {first} to {last}" if first != last else f"about {first}"
    return [f"Nitrite will {word} leave your kit's scale {when} (peak near {peak * factor:.0f}, the scale ends at {highest * factor:.3g} mg/L as {basis}): then mix {parts}."]


def _alkalinity(expectation: Expectation, facts: Facts, rules: Rulebook) -> list[str]:
    """When the last alkalinity reading, less what was and will be used, falls below what the cycle should keep."""
    model, origin = expectation.model, expectation.origin
    if model is None or origin is None or model.alkalinity_to_come_dkh.p50 is None or not expectation.curve:
        return []
    least, to_come = rules.number("cycle_alkalinity_least"), model.alkalinity_to_come_dkh.p50
    row = next((r for r in reversed(facts.rows("reading", "alkalinity")) if r.where == "display" and r.low is not None), None)
    if row is None or row.low is None:
        return [f"The doses to come use about {to_come:.1f} dKH of alkalinity, and no reading says how much there is: test it."] if to_come >= 1 else []
    given = sum(_dkh(r, facts) for r in facts.rows("dosed", "bicarbonate") if r.where == "display" and r.earliest >= row.latest)
    used = _used_dkh(expectation.curve, row.day, facts.on)
    now = row.low + given - used
    short = least - (now - to_come)
    if short <= 0:
        return []
    stands = f"Alkalinity read {row.low:g} dKH on {_day(row.day, facts.on)}"
    if now < least:
        when = f"and is below {least:g} dKH" if used < 0.1 and not given else f"and by reckoning is about {max(now, 0):.1f} dKH now, below {least:g}"
    else:
        days = (p.day for p in expectation.curve if p.day > facts.on and now - _used_dkh(expectation.curve, facts.on, p.day) < least)
        when = f"and will fall below {least:g} dKH about {_day(next(days, None), facts.on)}"
    if short < 0.5:
        return []
    most = rules.number("alkalinity_rise_empty")
    grams, day_g = (format_amount(bicarbonate_g(facts.net_volume_l, dkh), "g", facts.tank.units) for dkh in (short, min(most, short)))
    return [f"{stands} {when}; the doses to come use about {to_come:.1f} dKH. Plan on about {grams} of sodium bicarbonate until the cycle is done, "
            f"at most {day_g} in one day, while no animal is in."]


def _used_dkh(curve: Sequence[CurvePoint], since: date, until: date) -> float:
    """What the likely course uses between two days: every mg/L as N that leaves ammonia takes alkalinity with it."""
    made = [p.nitrite[1] + p.nitrate[1] for p in curve if since <= p.day <= until]
    return ALKALINITY_DKH_PER_MG_N * sum(max(0.0, b - a) for a, b in zip(made, made[1:], strict=False))


def _dkh(row: Row, facts: Facts) -> float:
    """The rise that a dose of bicarbonate made. A mass is taken as pure sodium bicarbonate."""
    if row.low is None:
        return 0.0
    return row.low if row.unit.strip().lower() == "dkh" else row.low / bicarbonate_g(facts.net_volume_l, 1.0)


def tell_capacity(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts, stock: StockPlan | None) -> tuple[str, ...]:
    """What a proven filter handles per day against what the first animals give, and how long that lasts unfed. Empty
    while the cycle gate is shut, and once an animal is in (the model has ended then)."""
    opened, model = verdicts.opened.get("cycle"), expectation.model
    if opened is None or model is None or not expectation.readings_used:
        return ()
    able, week = model.capacity_mg_n_l_d, model.capacity_unfed_week_mg_n_l_d
    if able.p10 is None or able.p50 is None or week.p50 is None or able.p50 <= 0:
        return ()
    who, load = _first_animals(rules, stock)
    volume, on = facts.net_volume_l, facts.on
    told = [f"The filter can handle about {able.p50 * volume:.0f} mg of nitrogen a day now, and at least {able.p10 * volume:.0f} mg in 9 of 10 plausible tanks "
            f"({able.p10:.1f} mg/L as N). {who} about {load:.0f} mg a day. {_enough(able.p10 * volume, load)}"]
    fed = max((r for r in facts.rows("dosed", "ammonia") if r.where == "display"), key=lambda r: (r.day, r.latest), default=None)
    fed_day = fed.day if fed is not None else opened[0]
    share = week.p50 / able.p50
    idle = rules.days("idle_days")
    ends = max(opened[0], fed_day) + timedelta(days=idle)
    days = (on - fed_day).days
    left = f" {days} days without food have left about {100 * share ** (days / 7):.0f} % of what it could handle then." if days >= 2 else ""
    told.append(f"Fed last on {_day(fed_day, on)}.{left} Unfed it loses about {100 * (1 - share):.0f} % in a week: feed it by {_day(ends, on)}, "
                "for after that the proof lapses, and the filter has to be fed and proven again.")
    return tuple(told)


def _first_animals(rules: Rulebook, stock: StockPlan | None) -> tuple[str, float]:
    """Who comes first, ready for a verb's object, and their nitrogen in mg a day."""
    stage = stock.stages.stages[0] if stock is not None and stock.stages is not None and stock.stages.stages else None
    if stage is None or stock is None:
        return "A first small fish gives", rules.number("first_fish_nitrogen")
    count = sum(w.count for w in stage.wishes)
    same = {w.animal_id for w in stage.wishes}
    names = [f"{a.count} x {a.name}" if a.count > 1 else a.name for part in stock.staged for a in part.animals if a.animal_id in same]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "the first stage"
    return f"The first of your list ({listed}) {'gives' if count == 1 else 'give'}", stage.nitrogen_added_mg_per_day


def _enough(able_mg: float, load_mg: float) -> str:
    """The rule of thumb asks for about four times the load (common practice, no source)."""
    if load_mg <= 0 or able_mg >= 4 * load_mg:
        return "That is plenty."
    if able_mg >= load_mg:
        return "That is enough, with little to spare: feed them sparingly and test daily at first."
    return "That is not surely enough: feed and prove the filter with a larger dose first."
