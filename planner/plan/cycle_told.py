"""What the forecast means, in sentences: where the cycle is, what is expected when, what would change it; whether the
kit's scale and the alkalinity will do; and, once the filter is proven, what it can handle and how that fades."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from planner.judge.conditions import may_hold_animals
from planner.judge.cycle_expected import Expectation
from planner.judge.cycle_inputs import bicarbonate_dkh, policy_of, start_of
from planner.judge.evidence import clear_answer, reading_groups
from planner.judge.facts import Facts, last_reading
from planner.judge.gates import Verdicts
from planner.judge.kinds import reading
from planner.judge.scene import Scene
from planner.plan.standing import nitrite_shows
from planner.plan.texts import multiplied
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.shapes import Rulebook
from planner.science.dosing import bicarbonate_g
from planner.terms.amounts import format_amount, listed
from planner.terms.records import Answer, CurvePoint, Window
from planner.terms.row_words import tell
from planner.terms.texts import joined
from planner.terms.written_amounts import IONS, nitrogen_factor

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import StockPlan

METHOD = (
    "The dates come from a model of two kinds of bacteria that grow as you feed them: one turns ammonia into nitrite, the other nitrite into nitrate (Sin et al. 2008; Hiatt and Grady 2008). "
    "They grow faster in warm water (Kaelin et al. 2009). Before the first reading, start-up times follow Manthe and Malone 1987 and common practice. Each reading counts with the steps and limits of its kit."
)
DILUTIONS = tuple((times, joined(f"1 part of tank water with {times - 1} of pure water. ", multiplied(way))) for times, way in ((5, "five_times"), (10, "ten_times")))
NARROW_D = 6
AHEAD_D = 28
"""What lies further ahead than this is not spoken of yet: scale and alkalinity."""
MOST_DKH = 15.0
"""As far as the formula for bicarbonate holds; no tank needs more at one time."""
PROVED_BY_FEEDING = "With an animal in, no proof dose is given. Clear tests under normal feeding take its place."
"""Whoever reads that a dose of ammonia is left may give it."""
WARMER_C = 1.0
"""From this much beside the aim the temperature that was read is told as a reason for the dates."""


def tell_outlook(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts, begin: date | None, proven: Window, stalled: Sequence[str] = ()) -> tuple[str, ...]:
    """Sentences in the order in which a keeper asks. Empty of promises: a forecast never opens a gate. `begin`, `proven`:
    when the cycle is expected to begin, and its gate to open. `stalled`: what the rules say of a standstill."""
    model = expectation.model
    proof = rules.phase_as("proves_filter")
    if proof in verdicts.opened:
        return (_told_when_open(expectation, facts, verdicts, proof),)
    if model is None:
        return (f"{expectation.basis[:1].upper()}{expectation.basis[1:]}.",)
    gate = verdicts.gates.get(proof)
    told = [] if gate is None or gate.lapsed is None else ["The filter was proven, but then it went without food for more than a week. Feed it and prove it again."]
    told += [_where(expectation, facts, rules, verdicts), tell_dates(expectation, facts, begin, proven), *stalled, _what_would_change(expectation, facts, rules)]
    told += [whole for whole, _ in tell_coming(expectation, facts, rules, begin)]
    told += [f"One reading is a surprise ({tell(row)}): it does not fit what a tank like this can do. Test again. Until then the dates are less certain." for row in expectation.surprises]
    odd = expectation.slips
    if len(odd) == 1:
        told.append(f"One reading does not fit ({tell(odd[0])}). Check the kit, the dose and whether the kit counts N or the ion. The forecast takes it for a mistake.")
    elif odd:
        lines = ", ".join(str(row.line) for row in odd)
        told.append(f"{len(odd)} readings fit no likely tank (journal lines {lines}). Check the kit, the doses and whether the kit counts N or the ion. The forecast takes them for mistakes.")
    return tuple(told)


def tell_coming(expectation: Expectation, facts: Facts, rules: Rulebook, begin: date | None) -> tuple[tuple[str, str], ...]:
    """The jobs that the forecast sees coming, a diluted test and bicarbonate, each whole and in a few words."""
    return (*_scale(expectation, facts, begin), *_alkalinity(expectation, facts, rules))


def _told_when_open(expectation: Expectation, facts: Facts, verdicts: Verdicts, proof: str) -> str:
    word = verdicts.gates[proof].on_word
    head = f"The filter {'counts as proven on your word since' if word else 'was proven on'} {_day(verdicts.opened[proof][0], facts.on)}"
    read = [f"{name} was first read clear on {_day(day, facts.on)}" for name in ("ammonia", "nitrite") if (day := expectation.happened.get(f"{name}_clear")) is not None]
    return f"{head}{'; ' if read else ''}{listed(read)}. The cycle is over."


def _where(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts) -> str:
    if expectation.origin is None:
        return "You have given no ammonia yet. These dates are those of starts like this one."
    day = (facts.on - expectation.origin).days
    if expectation.readings_used == 0:
        return f"Day {day} of the cycle, without a reading yet. These dates are those of starts like this one."
    head = f"Day {day} of the cycle, by {expectation.basis}: "
    scene = Scene(facts, rules, verdicts.opened)
    ammonia, nitrite = (reading.answer(ReadingNode.model_construct(name=n, clear=True, any_age=True), scene).answer for n in ("ammonia", "nitrite"))
    happened = expectation.happened
    if "nitrite_clear" in happened:
        since = f"nitrite was first read clear on {_day(happened['nitrite_clear'], facts.on)}"
        again = "" if ammonia == nitrite == Answer.YES else "; the newest test still shows some of the last dose"
        return f"{head}{since}{again}. {PROVED_BY_FEEDING if may_hold_animals('display', scene) else 'Only the proof dose is left.'}"
    if "ammonia_clear" in happened:
        return f"{head}ammonia was first read clear on {_day(happened['ammonia_clear'], facts.on)}, nitrite is not clear yet. The second kind of bacteria is still growing."
    if ammonia == Answer.YES:
        return f"{head}ammonia reads clear, nitrite does not yet."
    if nitrite == Answer.NO:
        return f"{head}nitrite shows, so the first kind of bacteria works; ammonia is not clear yet."
    if nitrite == Answer.UNKNOWN:
        return f"{head}ammonia is in the water. Test nitrite; without it we cannot tell whether the first bacteria work."
    return f"{head}ammonia is in the water, and {'only a trace of' if nitrite_shows(facts) else 'no'} nitrite shows yet."


def tell_dates(expectation: Expectation, facts: Facts, begin: date | None, proven: Window) -> str:
    """The expected days, which a face with a list of them leaves out."""
    parts = []
    origin = expectation.origin or begin
    head = "Expected" if expectation.origin is not None or begin is None else f"Expected, if the first ammonia comes on {_day(begin, facts.on)}"
    for name, title in (("ammonia_clear", "ammonia clear"), ("nitrite_clear", "nitrite clear")):
        if name in expectation.happened:
            continue
        days = [None if d is None or origin is None else max(facts.on, origin + timedelta(days=d)) for d in expectation.offsets[name]]
        parts.append(f"{title} {_about(days, facts.on)}")
    parts.append(f"filter proven {_about(_proven_days(expectation, begin, proven), facts.on)}")
    spread = " Eight of ten tanks like yours fall within the days in brackets." if any("(" in p for p in parts) else ""
    return f"{head}: {'; '.join(parts)}.{spread} None of it is a promise."


def _proven_days(expectation: Expectation, begin: date | None, proven: Window) -> list[date | None]:
    """The window of the cycle gate; before the first ammonia that of its quick and slow ways begins on other days, so the
    spread is then that of the model from the likely day, moved by what the gate's protocol adds to it."""
    offsets = expectation.offsets["cycle_done"]
    if expectation.origin is not None or begin is None or proven.likely is None or offsets[1] is None:
        return [proven.earliest, proven.likely, proven.latest]
    return [None if d is None else proven.likely + timedelta(days=d - offsets[1]) for d in offsets]


def _about(days: Sequence[date | None], on: date) -> str:
    low, likely, high = days
    if low == likely == high:
        return f"about {_day(likely, on)}"
    return f"about {_day(likely, on)} ({_day(low, on)} to {_day(high, on)})"


def _day(day: date | None, on: date) -> str:
    return "a later month" if day is None else f"{day.day} {day:%b}" + ("" if day.year == on.year else f" {day.year}")


def _what_would_change(expectation: Expectation, facts: Facts, rules: Rulebook) -> str:
    if expectation.origin is None:
        return f"{'The rock' if facts.tank.cycle.ammonia == 'rock' else 'The first dose'} starts the clock. The first readings that change move the dates most."
    aim, start = start_of(facts.tank).temperature_c, expectation.start
    warmths = [aim] if start is None else [start.temperature_c, *(w.temperature_c for w in start.waters)]
    now, before = warmths[-1], warmths[max(-2, -len(warmths))]
    reckoned = ""
    if abs(now - aim) >= WARMER_C:
        read, wanted = (format_amount(t, "°C", facts.tank.units) for t in (now, aim))
        reckoned = f" These dates count on {read}, as you last read it. At {wanted} it would be {'quicker' if now < aim else 'slower'}."
    elif before < aim - WARMER_C:  # the water is to be warmed today
        read, wanted = (format_amount(t, "°C", facts.tank.units) for t in (before, aim))
        reckoned = f" These dates count on {wanted} from tomorrow on. Each further day at {read}, as you last read it, makes them later."
    if "nitrite_clear" in expectation.happened:
        if may_hold_animals("display", Scene(facts, rules, {})):
            return "What would change it: a test that shows ammonia or nitrite, or one that comes too late." + reckoned
        return "What would change it: a proof dose that is not gone within the day, a water change during it, or a test that comes too late." + reckoned
    low, _likely, high = expectation.offsets["nitrite_clear"]
    if low is not None and high is not None and high - low <= NARROW_D:
        return "These dates are quite certain now. Only an odd reading, cold water, low alkalinity or chlorine would move them." + reckoned
    shown = any(clear_answer("nitrite", g, facts.tank, rules) == Answer.NO for g in reading_groups("nitrite", "display", facts, rules))
    days = [] if shown else ["the day nitrite first shows"]
    days += [] if "ammonia_clear" in expectation.happened else ["the day ammonia clears"]
    days.append("the day nitrite turns down")
    return f"What would change it: {listed(days)}; test near {'those days' if days[:-1] else 'that day'}. Cold, low alkalinity and chlorine delay it." + reckoned


def _scale(expectation: Expectation, facts: Facts, begin: date | None) -> list[tuple[str, str]]:
    """Whether nitrite is likely to leave the kit's scale from now on, from when to when, and how to read it then."""
    kit = facts.tank.test_kits.get("nitrite")
    highest = kit.highest_internal("nitrite") if kit else None
    model = expectation.model
    if kit is None or highest is None or model is None or "nitrite_clear" in expectation.happened:
        return []
    origin = expectation.origin or begin
    now = 0 if expectation.origin is None else (facts.on - expectation.origin).days
    ways = [(word, curve, [d for d in model.days if d >= now and curve[d] > highest]) for word, curve in (("probably", model.nitrite.p50), ("possibly", model.nitrite.p90))]
    word, curve, over = next((way for way in ways if way[2]), ways[0])
    if not over or over[0] > now + AHEAD_D:
        return []
    peak = max(curve[d] for d in over)
    factor = nitrogen_factor("nitrite", kit.basis or "N")
    basis = "N" if (kit.basis or "N") == "N" else IONS["nitrite"]
    parts = next((text for times, text in DILUTIONS if highest * times >= peak), DILUTIONS[-1][1])
    if origin is None:
        return []
    first, last = (_day(origin + timedelta(days=d), facts.on) for d in (over[0], over[-1]))
    when = f"from about {first} to {last}" if first != last else f"about {first}"
    if over[0] <= now and expectation.origin is not None:
        return [(joined(f"Nitrite is {word} more than your kit can show until about {last}. The kit stops at {highest * factor:.3g} mg/L as {basis}. Until then test nitrite in ", parts, "."), "")]  # the test itself says that it is diluted
    return [(joined(f"Nitrite will {word} peak near {peak * factor:.0f} mg/L as {basis}; your kit stops at {highest * factor:.3g}. {when[:1].upper()}{when[1:]} it may show the last colour of the card. Then test ", parts, "."), "")]


def _alkalinity(expectation: Expectation, facts: Facts, rules: Rulebook) -> list[tuple[str, str]]:
    """When the last alkalinity reading, less what was and will be used, falls below what the cycle should keep."""
    model, origin = expectation.model, expectation.origin
    if model is None or origin is None or model.alkalinity_to_come_dkh.p50 is None or not expectation.curve:
        return []
    least, to_come = rules.number("cycle_alkalinity_least"), model.alkalinity_to_come_dkh.p50
    row = last_reading("alkalinity", facts)
    if row is None or row.low is None:
        return [(f"The doses still to come will use up about {to_come:.1f} dKH of alkalinity, and no reading shows how much there is. Test it.", "Test alkalinity: no reading shows it yet.")] if to_come >= 1 else []
    given = sum(bicarbonate_dkh(r, facts) for r in facts.rows("dosed", "bicarbonate") if r.where == "display" and r.earliest >= row.latest)
    used = _used_dkh(expectation.curve, row.day, facts.on)
    now = row.low + given - used
    short = min(MOST_DKH, least - (now - to_come))
    if short <= 0:
        return []
    stands = f"Alkalinity read {row.low:g} dKH on {_day(row.day, facts.on)}"
    said = f" and is now about {max(now, 0):.1f} dKH" + (" with the bicarbonate given since" if given else "") if given or (now < least and abs(now - row.low) >= 0.1) else ""
    if now < least:
        when = f"{said}. Below {least:g} dKH the filter slows down, and the doses still to come use up about {to_come:.1f} dKH"
    else:
        days = (p.day for p in expectation.curve if p.day > facts.on and now - _used_dkh(expectation.curve, facts.on, p.day) < least)
        falls = next(days, None)
        if falls is None or (falls - facts.on).days > AHEAD_D:
            return []
        when = f"{said}{'. It' if said else ' and'} will fall below {least:g} dKH about {_day(falls, facts.on)}. The doses still to come use up about {to_come:.1f} dKH"
    if short < 0.5:
        return []
    if row.low < least and not given:  # the job of the day has its own amount, and a second one beside it would only be asked about
        return [(f"{stands}{when}.", "")]
    grams = format_amount(round(bicarbonate_g(facts.net_volume_l, short)), "g", facts.tank.units)
    return [(f"{stands}{when}. Have about {grams} of bicarbonate at home, and wait for the job that asks for it.", f"Have about {grams} of bicarbonate at home.")]


def _used_dkh(curve: Sequence[CurvePoint], since: date, until: date) -> float:
    """What the likely course uses between two days: every mg/L as N that leaves ammonia takes alkalinity with it."""
    from planner.science.cycle.records import ALKALINITY_DKH_PER_MG_N

    made = [p.nitrite[1] + p.nitrate[1] for p in curve if since <= p.day <= until]
    return ALKALINITY_DKH_PER_MG_N * sum(max(0.0, b - a) for a, b in zip(made, made[1:], strict=False))


def tell_capacity(expectation: Expectation, facts: Facts, rules: Rulebook, verdicts: Verdicts, stock: StockPlan | None) -> tuple[str, ...]:
    """What a proven filter handles per day against what the first animals give, and how long that lasts unfed. Empty
    while the cycle gate is shut, and once an animal is in (the model has ended then)."""
    proof = rules.phase_as("proves_filter")
    opened, model = verdicts.opened.get(proof), expectation.model
    if opened is None or model is None or not expectation.readings_used:
        return ()
    able, week = model.capacity_mg_n_l_d, model.capacity_unfed_week_mg_n_l_d
    if able.p10 is None or able.p50 is None or week.p50 is None or able.p50 <= 0:
        return ()
    who, load = _first_animals(rules, stock)
    volume, on = facts.net_volume_l, facts.on
    proven, share = policy_of(rules, facts).challenge_mg_n_l, week.p50 / able.p50
    fed = max((r for r in facts.rows("dosed", "ammonia") if r.where == "display"), key=lambda r: (r.day, r.latest), default=None)
    fed_day = fed.day if fed is not None else opened[0]
    days = (on - fed_day).days
    left = share ** (days / 7)
    # Where the model takes the proof itself for a mistake, the proof is believed, and only its fading is reckoned.
    odd = {r.line for r in expectation.unexplained}
    doubted = any(r.line in odd for r in verdicts.gates[proof].by)
    least = min(proven, proven * left if doubted else able.p10)
    if not doubted and able.p10 >= 2 * proven:
        now = "your readings show that it now handles more than twice that"
    elif least >= 0.95 * proven:
        now = "your readings show that it still does"
    else:
        now = f"you can now count on about {_two(least * volume)} mg a day"
    told = [f"The filter cleared {_two(proven * volume)} mg of nitrogen within a day ({proven:g} mg/L as N), and {now}. {who} about {_two(load)} mg a day. {_enough(least * volume, load)}"]
    # The lapse is counted in hours, so on its day a feed may come too late.
    lapses = max(opened[1], fed.earliest if fed is not None else opened[1]) + rules.hours("idle_days") * 3600
    ends = datetime.fromtimestamp(lapses - 1, facts.zone).date() - timedelta(days=1)
    rest = f" After {days} days without food it has about {100 * left:.0f} % of its strength left." if days >= 2 else ""
    told.append(f"You last fed it on {_day(fed_day, on)}.{rest} Unfed it loses about {100 * (1 - share):.0f} % a week. Feed it by {_day(ends, on)}. "
                "After that the proof no longer counts, and you must feed and prove it again.")
    return tuple(told)


def _two(amount: float) -> str:
    """Two significant digits, which is more than any of it is known to."""
    return f"{float(f'{amount:.2g}'):g}"


def _first_animals(rules: Rulebook, stock: StockPlan | None) -> tuple[str, float]:
    """Who comes first, ready for a verb's object, and their nitrogen in mg a day."""
    stage = stock.stages.stages[0] if stock is not None and stock.stages is not None and stock.stages.stages else None
    if stage is None or stock is None:
        return "A first small fish gives off", rules.number("first_fish_nitrogen")
    count = sum(w.count for w in stage.wishes)
    same = {w.animal_id for w in stage.wishes}
    names = [f"{a.count} x {a.name}" if a.count > 1 else a.name for part in stock.staged for a in part.animals if a.animal_id in same]
    return f"The first of your list ({listed(names) or 'the first stage'}) {'gives' if count == 1 else 'give'} off", stage.nitrogen_added_mg_per_day


def _enough(able_mg: float, load_mg: float) -> str:
    """The rule of thumb asks for about four times the load (common practice, no source)."""
    if load_mg <= 0:
        return ""
    if able_mg >= 4 * load_mg:
        return "That is plenty."
    if able_mg >= load_mg:
        return "That is enough, with little to spare. Feed them little and test every day at first."
    return "That may not be enough. First feed the filter and prove it with a larger dose."
