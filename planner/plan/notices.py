"""What a plan has to say beside its tasks: gaps of the files, what lapsed or is up, the next absence."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from planner.judge.dose_plan import plan_dose
from planner.judge.facts import Facts, animals_in
from planner.judge.figures.mixed_water import weekly_change, weekly_salt
from planner.judge.gates import Verdicts
from planner.judge.holds import said_of
from planner.judge.water_use import alkalinity_use
from planner.plan.absence import BEFORE, RETURN, RETURN_SHORT
from planner.plan.one_test import all_traces
from planner.plan.texts import Filler, amount_words, told_amount
from planner.rulebook.shapes import Rulebook
from planner.terms.amounts import listed
from planner.terms.causes import Amount, Cause, cause
from planner.terms.records import Answer, State, Task, Trace, Unreadable
from planner.terms.texts import TANK_FILE, either, joined, on_day, run
from planner.terms.traces import Unread

BACK_DAYS = 2
"""So many days after an absence the page says what a return asks for."""
FEW_LINES = 3
"""So many lines of a later day are named one by one: they may be slips of a date."""
DOUBTED = "One entry of the records is doubtful. Nothing is dosed on it. Settle it with whoever prints this plan."
UNREAD = "One entry of the records cannot be read. Have it mended by whoever prints this plan, and the plan printed again."
"""The same on paper, which has no lines."""


def notices_of(facts: Facts, verdicts: Verdicts, words: Filler, place: str) -> list[str | Cause]:
    notices: list[str | Cause] = []
    if facts.tank.timezone is None:
        notices.append(joined("Days are counted in UTC, because no time zone stands in ", TANK_FILE, "."))
    if facts.tank.start is None:
        notices.append(joined("The plan starts ", on_day(facts.start, "on "), ", because no start stands in ", TANK_FILE, "."))
    later = [r for r in facts.journal.rows if r.day > facts.on]
    if later:
        lines = sorted(r.line for r in later)
        if len(lines) > FEW_LINES:
            said = (f"{len(lines)} journal lines, from line {lines[0]} on, are", "do")
        else:
            said = (f"Journal line {lines[0]} is", "does") if len(lines) == 1 else (f"Journal lines {listed(map(str, lines))} are", "do")
        notices.append(either(joined(f"{said[0]} dated after ", on_day(facts.on), f" and {said[1]} not count yet."), ""))
    notices += [cause("damaged_line", told=_damage_told(u)) for u in facts.journal.unreadable]
    if any(_by_damage(trace) for _, trace in verdicts.alerts):
        notices.append(cause("may_be_false"))
    notices += [joined(f"The gate '{rules_title(p, verdicts)}' had opened and has lapsed: ", words.fill(g.lapsed.say), " Its new evidence counts from there.")
                for p, g in verdicts.gates.items() if g.lapsed is not None and g.opened is None]
    notices += _absences(facts, round(words.rules.number("long_absence")))
    on_word = [p for p, g in verdicts.gates.items() if g.on_word]
    if on_word:
        notices.append(cause("on_your_word", phases=tuple(f"“{p.title}”" for p in verdicts.phases if p.phase in on_word)))
    if not facts.journal.of("added", "*", facts.on) and any((p.role or "").startswith("stocks_") and p.phase in on_word for p in verdicts.phases):
        notices.append(either(joined("Your description says that animals are in. Note each kind with its number, or the plan takes the tank for empty: ", run("note", 'added "ocellaris clownfish" 2'), "."),
                              "The description says that animals are in, and none is noted. Tell whoever prints this plan which they are."))
    notices += [cause("alarm", alert=alert.alert, told=words.fill(said_of(alert, trace, facts))) for alert, trace in sorted(verdicts.alerts, key=lambda up: up[0].order)]
    if (rests := _dose_rests(facts, words.rules, verdicts)) is not None:
        notices.append(rests)
    need, owned = words.quantity("heater_total"), facts.tank.equipment.heater_w
    if need is not None and owned and sum(owned) < need.value:
        each = words.quantity("heater_each")
        notices.append(joined(f"Your heaters give {sum(owned):.0f} W. On a cold night, reckoned at {amount_words(words.amount('cold_room'), facts.tank.units)} in the room, colder than it usually gets, this tank loses about {need.value:.0f} W. ",
                              f"Buy two of {each.value:.0f} W each, and write them into " if each is not None else "Buy stronger ones, and write them into ", TANK_FILE, "."))
    load = words.quantity("floor_load")
    judged = any(rule.known_as == "floor_judged" and facts.rows("done", key) for key, rule in words.rules.tasks.items())
    if load is not None and not judged and place in verdicts.gates and verdicts.gates[place].opened is None:
        notices.append(load.advice)
    return notices


def _dose_rests(facts: Facts, rules: Rulebook, verdicts: Verdicts) -> Cause | None:
    """Why a daily dose that was given until now is none today. An alarm tells it itself, a test that it waits for is a job."""
    if not animals_in(facts, "display"):
        return None
    use = alkalinity_use(facts, rules)
    found = plan_dose(use, facts, rules, {alert.alert for alert, _ in verdicts.alerts})
    stops = [kind for kind, _ in found.stops]
    if not found.rests or found.state == "dose" or {"alarm", "test_first"}.intersection(stops):
        return None
    return cause(f"dose_rests_{stops[0] if stops else found.state}", lowest=Amount(found.lowest, "dKH"), level=Amount(round(use.level[0], 1) if use.level is not None else 0.0, "dKH"))


def _by_damage(trace: Trace) -> bool:
    """Is an alarm up because a line that cannot be read may have raised it?"""
    return trace.answer == Answer.UNKNOWN and any(isinstance(e, Unread) for t in all_traces(trace) for e in (*t.evidence, t.gap))


def _damage_told(line: Unreadable) -> str:
    """Which line of the journal to mend, how, and what stands still until then."""
    stops = " Until then nobody knows whether animals are in, so no ammonia is dosed." if line.hides_animals else ""
    if line.doubted:
        return either(f"Journal line {line.line} is not believed: {line.wrong}. Until it is settled nothing is dosed on it. To settle it, {line.fix}.", DOUBTED)
    wrong = f" ({line.wrong})" if line.wrong else ""
    until = "until it is mended, or the test was made on two later days" if line.kind == "reading" else "until it is mended"
    return either(f"Journal line {line.line} cannot be read{wrong}: what it says is unknown {until}. To mend it, {line.fix or 'write the row anew'}.{stops}", f"{UNREAD}{stops}")


def mixed_today(tasks: Iterable[Task], facts: Facts, rules: Rulebook) -> tuple[str, ...]:
    """Salt water mixes for a day, so the evening before a weekly change is the one to mix for it. One that was put off has its water already."""
    tomorrow, weekly = facts.on + timedelta(days=1), rules.tasks_as("weekly_change")
    if not any(t.key in weekly and t.date == tomorrow and t.state == State.PLANNED and not t.yielded for t in tasks):
        return ()
    units = facts.tank.units
    litres, salt = told_amount(weekly_change(facts, rules, facts.on), units), weekly_salt(facts, rules, facts.on)
    if facts.tank.water.source == "ready_mixed":
        return (either(f"Have {litres} of ready-mixed water at home today, for the change tomorrow.", ""),)
    return (either(f"Mix {litres} of salt water today{f' with {told_amount(salt, units)} of salt' if salt is not None else ''}, for the change tomorrow. There is nothing to tick for it. Your reserve stays as it is.", ""),)


def rules_title(phase: str, verdicts: Verdicts) -> str:
    return next(p.gate.title for p in verdicts.phases if p.phase == phase)


def _absences(facts: Facts, long_nights: int) -> list[str]:
    """What to see to before the next absence, and that it is on."""
    told = []
    stocked = bool(animals_in(facts, "display"))
    for away in facts.tank.keeper.away:
        left = (away.from_day - facts.on).days
        if away.from_day <= facts.on < away.to_day or (away.to_day == facts.on and not stocked):
            told.append(joined("You are away until ", on_day(away.to_day, sure=True), ": tasks wait for your return. Somebody with a key should look at the level, the thermometer and the floor every day or two."))
        elif stocked and 0 < left <= max(BEFORE):
            told.append(joined("You leave on ", on_day(away.from_day, sure=True), " and are back on ", on_day(away.to_day, sure=True), f". {BEFORE[min(n for n in BEFORE if n >= left)]}"))
        elif stocked and 0 <= (facts.on - away.to_day).days <= BACK_DAYS:
            told.append(" ".join(["You are back from your absence.", *(RETURN if away.nights >= long_nights else RETURN_SHORT)]))
        elif 0 < left <= max(BEFORE):
            told.append(joined("You are away from ", on_day(away.from_day, sure=True), " to ", on_day(away.to_day, sure=True), ": before it have top-up water and a person with a key ready, try the heaters and the lid, change water three to "
                        "four days ahead if animals are in, set nothing new in the last two days, and give no ammonia just before you leave."))
    return told


__all__ = ["mixed_today", "notices_of"]
