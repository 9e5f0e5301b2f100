"""Conditions in words: a row of a table for each kind, for each thing seen, and for each gap. No other room makes them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from planner.judge.kinds.age import AgeAsked
from planner.judge.kinds.animal import AnimalAsked
from planner.judge.kinds.challenge import ProofAsked
from planner.judge.kinds.done import DoneAsked
from planner.judge.kinds.event import EventAsked
from planner.judge.kinds.fact import FactAsked
from planner.judge.kinds.heat import HeatAsked
from planner.judge.kinds.kit import KitAsked
from planner.judge.kinds.reading import ReadingAsked
from planner.judge.kinds.swing import SwingAsked
from planner.judge.kinds.tank import TankAsked
from planner.judge.kinds.use import UseAsked
from planner.judge.kinds.wish import WishAsked
from planner.judge.needs import joins
from planner.plan.standing import NextMeal, Standing
from planner.rulebook.kinds.node import FIRST_AMMONIA
from planner.terms import traces as t
from planner.terms.amounts import card_figure, format_amount, format_bare, three_digits
from planner.terms.readings import READINGS, unit_factor
from planner.terms.records import Amount, Need, Row, Trace
from planner.terms.row_words import tell, tell_hours, tell_when
from planner.terms.texts import TANK_FILE
from planner.terms.written_amounts import IONS, NITROGEN, nitrogen_factor

GROUPS = {"large_polyp": "large-polyp corals", "small_polyp": "small-polyp corals"}
"""Groups of the catalogue as a keeper knows them."""
JOINED = {"all": "all of", "any": "one of"}


def condition_words(trace: Trace) -> str:
    """What a condition asks, as its rule says it or in our words."""
    if trace.say:
        return trace.say
    if isinstance(trace.asked, t.Joined):
        return JOINED.get(trace.asked.how) or f"not: {condition_words(trace.parts[0])}"
    return asked_words(trace.asked)


def asked_words(asked: t.Asked) -> str:
    row = ASKED[type(asked)]
    return row if isinstance(row, str) else row(asked)


def seen_words(seen: Row | t.Seen | t.Gap) -> str:
    """One piece of evidence, or what is missing."""
    if isinstance(seen, Row):
        return tell(seen)
    row = SEEN[type(seen)]
    return row if isinstance(row, str) else row(seen)


def evidence_words(trace: Trace) -> list[str]:
    return [seen_words(e) for e in trace.evidence]


def need_words(need: Need, *, ids: bool = True) -> str:
    """What a gate asks for, as one sentence; without `ids` for who does not type them."""
    return _whole_words(need.trace if ids else _without_ids(need.trace), condition_words)


def need_to_tick(need: Need, amounts: bool = True) -> str:
    """The same as a line of a list to tick, on which "done" goes without saying; without `amounts` also how large a proof dose is."""
    def said(trace: Trace) -> str:
        if trace.say or not isinstance(trace.asked, DoneAsked | ProofAsked):
            return condition_words(trace)
        if isinstance(trace.asked, ProofAsked):
            return condition_words(trace) if amounts or trace.asked.failed else _proof(trace.asked, amount=False)
        return trace.asked.title or condition_words(trace)

    return _whole_words(_without_ids(need.trace), said)


def need_reads(need: Need) -> bool:
    """Does it rest on a test of the water?"""
    return _reads(need.trace)


def _reads(trace: Trace) -> bool:
    return isinstance(trace.asked, ReadingAsked | ProofAsked) or any(map(_reads, trace.parts))


def _whole_words(trace: Trace, said: Callable[[Trace], str]) -> str:
    for how, word in (("any", " or "), ("all", " and ")):
        if joins(trace, how) and trace.parts:
            return word.join(_whole_words(part, said) for part in trace.parts)
    return said(trace)


def _without_ids(trace: Trace) -> Trace:
    """Tasks by their titles alone."""
    asked = trace.asked
    match asked:
        case DoneAsked(title=title) if title:
            asked = DoneAsked(title=title, task="")
        case AgeAsked(task=DoneAsked()):
            asked = replace(asked, task=DoneAsked(task=""))
        case EventAsked(failed=DoneAsked()):
            asked = replace(asked, failed=DoneAsked(task=""))
    return replace(trace, asked=asked, parts=tuple(map(_without_ids, trace.parts)))


def need_line(need: Need) -> str:
    """A need, and what is seen of it."""
    return f"{need_words(need)}: {', '.join(need_evidence(need)) or need.met.value}"


def need_evidence(need: Need) -> tuple[str, ...]:
    """What the journal shows for a need, each piece once."""
    return tuple(dict.fromkeys(map(seen_words, need_seen(need))))


def need_seen(need: Need) -> tuple[Row | t.Seen | t.Gap, ...]:
    return _whole_seen(need.trace)


def _whole_seen(trace: Trace) -> tuple[Row | t.Seen | t.Gap, ...]:
    if trace.parts and (joins(trace, "any") or joins(trace, "all")):
        return tuple(e for p in trace.parts for e in _whole_seen(p))
    return () if trace.context else trace.evidence


def limit_words(asked: ReadingAsked, limit: Amount, safe: Callable[[float], int] = round, number: bool = False) -> str:
    """A limit of a reading in the buyer's units, nitrogen as the kit counts it. Degrees Fahrenheit are whole, towards `safe`.
    `number`: without the unit, which stands behind the other end of a span; nitrogen of a kit that nobody described needs its own."""
    told = _limit_words(asked, limit, safe)
    return told.partition(" ")[0] if number and (asked.basis is not None or asked.name not in NITROGEN) else told


def _limit_words(asked: ReadingAsked, limit: Amount, safe: Callable[[float], int]) -> str:
    if asked.free:
        return f"{limit.value:g} mg/L as NH3"
    value = limit.value * unit_factor(asked.name, limit.unit)
    if asked.name in NITROGEN:
        ion = IONS[asked.name] if asked.basis in (None, "ion") else asked.basis
        if asked.basis is None:  # nobody said how the kit counts, so both are told
            return f"{format_amount(value, READINGS[asked.name].unit, asked.units)} ({_two(value * nitrogen_factor(asked.name, 'ion'))} as {ion})"
        if asked.basis != "N":
            return f"{_two(value * nitrogen_factor(asked.name, asked.basis))} mg/L as {ion}"
    if READINGS[asked.name].unit == "°C" and asked.units == "us":
        return f"{safe(round(value * 1.8 + 32, 6))} °F"
    return format_bare(value, READINGS[asked.name].unit, asked.units)


def _two(value: float) -> str:
    """`0.61`, `16`: as fine as a colour card is read."""
    return three_digits(card_figure(value))


def _reading(asked: ReadingAsked) -> str:
    title = "free ammonia (NH3)" if asked.free else READINGS[asked.name].title + (" as at 35 ppt" if asked.at_35 else "")
    return f"{title}{_in_water(asked)} {bounds_words(asked)}"


def _in_water(asked: ReadingAsked) -> str:
    return "" if asked.where == "display" else f" in the {asked.where} water"


def bounds_words(asked: ReadingAsked, clear: str = "clear (your kit's zero)") -> str:
    """What is asked of a reading, without its name: the limits in the buyer's units, nitrogen as the kit counts it."""
    shown = partial(limit_words, asked)
    said = [clear] if asked.clear else []
    if asked.at_least and asked.at_most:
        said.append(f"{shown(asked.at_least, math.ceil, number=True)} to {shown(asked.at_most, math.floor)}")
    else:
        said += [f"at least {shown(asked.at_least)}"] if asked.at_least else []
        said += [f"at most {shown(asked.at_most)}" if asked.at_most.value else "at zero"] if asked.at_most else []
    said += [f"{word} {shown(limit)}" for word, limit in (("above", asked.above), ("below", asked.below)) if limit]
    said = said or ["tested"]
    if asked.times > 1:
        said.append(f"on {asked.times} different days")
    return ", ".join(said)


def _proof(asked: ProofAsked, amount: bool = True) -> str:
    told = f"{asked.dose_mg_n_l:g} mg/L as N"
    if asked.basis not in (None, "N"):
        told = f"{_two(asked.dose_mg_n_l * nitrogen_factor('ammonia', asked.basis))} mg/L as {IONS['ammonia'] if asked.basis == 'ion' else asked.basis}"
    of = f" of {told}" if amount else ""
    if asked.times == 1:
        return f"a proof dose{of} is gone within {tell_hours(asked.hours)}, and nitrite with it"
    many = {2: "two", 3: "three"}.get(asked.times, str(asked.times))
    return f"{many} proof doses{of} on {many} days, each gone within {tell_hours(asked.hours)}, and nitrite with it"


def food_words(standing: Standing) -> str:
    """What stands against the next dose of ammonia; nothing where none does."""
    if standing.animals:
        return "No ammonia into the tank while an animal is in it, whatever the kit reads. It poisons animals."
    return meal_words(standing.meal) if standing.meal is not None else ""


def meal_words(meal: NextMeal) -> str:
    """What the next dose waits for, and the last reading, both as the kit counts them."""
    unit = f"mg/L as {IONS['ammonia'] if meal.basis == 'ion' else meal.basis}"
    exact = meal.read.low is not None and meal.read.low == meal.read.high
    read = f"{(meal.read.low or 0.0) * nitrogen_factor('ammonia', meal.basis):.3g}" if exact else meal.read.value.strip()
    return f"No more ammonia until your kit reads {meal.most:.3g} {unit} or less. Last reading: {read} {unit}."


def _task(asked: DoneAsked) -> str:
    return f"{asked.title} ({' or '.join((asked.task, *asked.also))})" if asked.title and asked.task else asked.title or asked.task


def _fact(asked: FactAsked) -> str:
    text = f"{_spaced(asked.kind)} {_spaced(asked.what)}".strip()
    if asked.within_h is not None:
        text += f" within {tell_hours(asked.within_h)}"
    return text if asked.wanted is None else f"{text}: {asked.total:.3g} of {asked.wanted:.3g}"


def _tank(asked: TankAsked) -> str:
    if asked.described:
        return f"{TANK_FILE} tells {key_words(asked.key)}"
    return f"{TANK_FILE}: {key_words(asked.key)}" + (f" is {' or '.join(map(_spaced, asked.values))}" if asked.values else "")


def _age(asked: AgeAsked) -> str:
    if asked.task is not None:
        since = _task(DoneAsked(title=asked.title, task=asked.task.task, also=asked.task.also))
    elif asked.of == FIRST_AMMONIA:
        since = "the first ammonia"
    else:
        since = _spaced(asked.of.replace(":", " ")) if ":" in asked.of else f"“{asked.title}”"
    return f"at least {tell_hours(asked.hours)} since {since}"


def _event(asked: EventAsked) -> str:
    if asked.failed is None:
        return f"noted in the journal: {_spaced(asked.what)}"
    return f"failed check: {_task(DoneAsked(title=asked.title, task=asked.failed.task, also=asked.failed.also))}"


def _spaced(name: str) -> str:
    return name.replace("_", " ")


def key_words(key: str) -> str:
    """`room floor`: a key as words, its blocks from the outside in."""
    return _spaced(key.replace(".", " "))


def _too_soon(gap: t.TooSoon) -> str:
    cause = "water change" if gap.cause.kind == "changed_water" else gap.cause.what
    return f"taken within {tell_hours(gap.hours)} of the {cause} of {tell_when(gap.cause)}, so test again"


def _described(seen: t.Described) -> str:
    if seen.listed is None:
        return _spaced(seen.value)
    return f"{seen.listed} entries" if seen.listed > 1 else "1 entry"


ASKED: dict[type[t.Asked], str | Callable[[Any], str]] = {
    ReadingAsked: _reading,
    DoneAsked: lambda a: f"done: {_task(a)}",
    EventAsked: _event,
    FactAsked: _fact,
    ProofAsked: lambda a: f"more than one kit step was left of the last proof dose after {tell_hours(a.hours)}" if a.failed else _proof(a),
    AnimalAsked: lambda a: f"an animal is in the {a.where} water" + (f", of these groups: {' or '.join(GROUPS.get(g) or _spaced(g) for g in a.groups)}" if a.groups else ""),
    WishAsked: lambda a: f"on the wish list{' and still to come' if a.to_come else ''}: {' or '.join(GROUPS.get(g) or _spaced(g) for g in a.groups)}",
    TankAsked: _tank,
    AgeAsked: _age,
    SwingAsked: lambda a: f"{READINGS[a.name].title} moved by more than {format_amount(a.by.value, 'K' if a.by.unit == '°C' else a.by.unit, a.units)} within {tell_hours(a.within_h)}",
    HeatAsked: lambda a: f"warm days add up to {a.found:.1f} degree-weeks, {a.at_least:g} being the limit",
    UseAsked: lambda a: (f"the daily dose wants a test of {READINGS[a.name].title}" if a.asks == "test" else f"the last daily dose goes on, because the use of {READINGS[a.name].title} is not known"
                         if a.goes_on else f"the daily use of {READINGS[a.name].title} is known, and water changes do not make up for it"),
    KitAsked: lambda a: f"the {READINGS[a.name].title} kit is {'' if a.expired else 'not '}past the month on its box",
    t.KeepersWord: f"passed on your word (already, in {TANK_FILE})",
    t.AnimalTooEarly: "an animal is in, and the tank is not open for animals yet",
    t.RowDamaged: "a line of the journal cannot be read",
}
"""A row for each kind of condition, and for what gates ask without one."""

SEEN: dict[type[t.Seen | t.Gap], str | Callable[[Any], str]] = {
    t.OnDay: lambda s: s.day.isoformat(),
    t.Opened: lambda s: f"opened {s.day.isoformat()}",
    t.Alive: lambda s: f"{s.count} {s.what}",
    t.NoList: "there is no list",
    t.Described: _described,
    t.Expires: lambda s: f"expires {s.day.isoformat()}",
    t.DoseTried: lambda s: f"the dose of {s.day.isoformat()} was {'handled' if s.handled else 'not gone in time'}",
    t.Unread: lambda g: f"{g.file} line {g.line} cannot be read",
    t.NothingSince: "none yet",
    t.NoReading: "no reading yet",
    t.NoneSince: lambda g: "none since the last dose" if g.since.startswith("dosed:") else "none new enough yet",
    t.TooSoon: _too_soon,
    t.Stale: lambda g: f"older than {tell_hours(g.hours)}, so test again",
    t.BeforeChange: lambda g: f"taken before the water change of {g.day.isoformat()}, so test again",
    t.Disagree: "the readings differ by more than one kit step, so test a third time",
    t.Repetitions: lambda g: f"{g.there} of {g.wanted} so far",
    t.Outside: "out of range",
    t.NotTicked: "not ticked yet",
    t.NotHappened: "has not happened yet",
    t.NotTried: "not tried yet",
    t.NoTime: lambda g: f"write down the time of day{' of the dose and of the test' if g.of_a_test else ''}",
    t.Undescribed: "not described yet",
    t.NoExpiry: "not described yet",
}
"""A row for each piece of evidence that is no journal row, and for each gap."""


__all__ = ["asked_words", "bounds_words", "condition_words", "evidence_words", "food_words", "limit_words", "need_evidence", "need_line", "meal_words", "need_reads", "need_seen", "need_to_tick", "need_words", "seen_words"]
