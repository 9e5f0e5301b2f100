"""Rule texts for one tank: each figure worked out once, and the words in which a keyboard needs the rest."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from functools import cache, cached_property, partial

from planner.files.tank import Tank
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import Facts, gather
from planner.judge.figures import FIGURES, quantity
from planner.judge.weekly_change import why_larger
from planner.rulebook.lines import Conditional
from planner.rulebook.shapes import Rulebook
from planner.rulebook.texts import parts_in
from planner.science import water
from planner.terms.amounts import card_figure, format_amount
from planner.terms.causes import Cause
from planner.terms.days import short_day
from planner.terms.records import Amount, Answer, Journal, Quantity
from planner.terms.texts import (
    TANK_FILE,
    ByUnits,
    Command,
    Day,
    Either,
    Figure,
    Part,
    TankFile,
    TankKey,
    TaskDay,
    TaskName,
    Text,
    Unknown,
    key_in_file,
    parts_of,
)
from planner.terms.units import POUND_G, US_GALLON_L
from planner.terms.written_amounts import IONS, MOLECULES, nitrogen_factor

UNIT_WORDS = {"C": "°C", "d": "days", "wk": "weeks"}
GIVEN_BY = {
    "equipment.ro_rate": "what your RO unit makes a day", "equipment.bin": "the size of your mixing bin", "rock.mass": "how much rock you have",
    "room.temperature": "how cool the room gets",
}
"""Keys of the tank file that a figure may wait for, in plain words."""
COUNTED = {f"mg/L as {word}": word for word in ("N", *(word for molecules in MOLECULES.values() for word in molecules))}
"""Units of nitrogen, and what each counts."""
COMMANDS = {"undo": ("undo", ""), "stock": ("stock", ""), "use": ("use", ""), "handout": ("handout", "-o plan.pdf"), "added": ("note", "added ANIMAL COUNT"),
            "supplies": ("supplies", ""), "bought": ("note", "bought salt AMOUNT"),
            "log_temperature": ("log", "temperature=VALUE"), "log_tds": ("log", "tds=VALUE --where source")}
TYPED = {"amount": "`--amount`", "at": "`--at DATE`",
         "five_times": "Multiply the result by 5 and log that", "ten_times": "Multiply the result by 10 and log that"}


def multiplied(way: str) -> str:
    """What becomes of the result of a diluted sample, `five_times` or `ten_times`: a form of the page does it by itself."""
    return Text(TYPED[way], (Either((Command("do", way, "", ""),), (TYPED[way],)),))


NO_DAY = "the day that the plan names"


class Filler:
    """Puts this tank's figures into rule texts, in the buyer's units. Each figure is worked out once."""

    def __init__(self, facts: Facts, rules: Rulebook) -> None:
        self.facts, self.rules = facts, rules
        self.scene = Scene(facts, rules, {})
        self.made: dict[str, Quantity | None] = {}
        self.filled: dict[str, str] = {}
        self.days: dict[str, date] = {}
        """Of each task the day on which the plan likely has it next."""

    def quantity(self, name: str) -> Quantity | None:
        if name not in self.made:
            self.made[name] = quantity(name, self.facts, self.rules) if name in FIGURES else None
        return self.made[name]

    def less(self, litres: float, names: Iterable[str]) -> Filler:
        """The same where so many litres of these amounts are done already."""
        rest = Filler(self.facts, self.rules)
        rest.days, rest.made = self.days, self.made | {n: replace(made, value=max(0.0, made.value - litres)) for n in names if (made := self.quantity(n)) is not None and made.unit == "L"}
        return rest

    def fill(self, text: str) -> str:
        """The text with its values in it; as a `str` it reads as a keyboard needs it. Of a line that this tank does without nothing is left."""
        if isinstance(text, Conditional):
            return "" if text.unless is not None and judge_condition(text.unless, self.scene).answer == Answer.YES else self.fill(text.told)
        if "{" not in text:
            return text
        if text not in self.filled:
            parts = tuple(map(self.resolved, parts_in(text)))
            self.filled[text] = Text(typed(parts, partial(amount_words, units=self.facts.tank.units)), parts) if len(parts) > 1 or not isinstance(parts[0], str) else text
        return self.filled[text]

    def resolved(self, part: Part) -> Part:
        match part:
            case Figure(name):
                return self.amount(name)
            case Either(keyboard, pencil):
                return Either(tuple(map(self.resolved, keyboard)), tuple(map(self.resolved, pencil)))
            case TaskName(key):
                return f"“{self.fill(self.rules.tasks[key].title)}”"
            case TaskDay(keys):
                day = next((self.days[key] for key in keys if key in self.days), None)
                return short_day(day, self.facts.on) if day is not None else NO_DAY
            case ByUnits(metric, us):
                return us if self.facts.tank.units == "us" else metric
            case Amount(value, unit) if unit in STEPS:
                return Amount(value, STEPS[unit] if self.reads_sg else "ppt")
        return part

    @cached_property
    def larger_change(self) -> Cause | None:
        """Why the weekly change is larger than usual."""
        return why_larger(self.facts, self.rules)

    @cached_property
    def reads_sg(self) -> bool:
        """Whether the keeper's meter shows specific gravity: the newest reading tells it, and before the first one a US tank is taken for one."""
        newest = self.facts.last("reading", "salinity")
        return newest.unit.startswith("SG") if newest is not None else self.facts.tank.units == "us"

    def amount(self, name: str) -> Amount | Unknown:
        if (made := self.quantity(name)) is not None:
            return self.as_the_kit_counts(name, made.amount)
        number = number_of(self.rules, name)
        if isinstance(number, Amount) and number.unit == "ppt" and number.value < FRESHEST and self.reads_sg:
            return replace(number, unit=STEPS["ppt within"])
        return self.as_the_kit_counts(name, number) if isinstance(number, Amount) else number

    def as_the_kit_counts(self, name: str, amount: Amount) -> Amount:
        """Nitrogen as the keeper's own kit shows it: two ways of counting on one page are a riddle."""
        reading = next((r for r in ("nitrite", "nitrate") if r in name), "ammonia")
        kit = self.facts.tank.test_kits.get(reading)
        written = COUNTED.get(amount.unit)
        if written is None or kit is None or kit.basis is None:
            return amount
        shown = IONS[reading] if kit.basis == "ion" else kit.basis
        return amount if shown == written else Amount(card_figure(amount.value / nitrogen_factor(reading, written) * nitrogen_factor(reading, shown)), f"mg/L as {shown}")


def number_of(rules: Rulebook, name: str) -> Amount | Unknown:
    number = rules.numbers.get(name)
    return Amount(number.value, UNIT_WORDS.get(number.unit, number.unit)) if number is not None else Unknown(name)


def fill_numbers(text: str, rules: Rulebook) -> str:
    """A rule text where no tank can be read: the numbers of the rules stand in it, and what depends on the tank is not known."""
    def resolved(part: Part) -> Part:
        match part:
            case Figure(name):
                return number_of(rules, name)
            case Either(keyboard, pencil):
                return Either(tuple(map(resolved, keyboard)), tuple(map(resolved, pencil)))
        return part

    return Text(text, tuple(map(resolved, parts_in(text)))) if "{" in text else text


def text_filler(tank: Tank, journal: Journal, rules: Rulebook, on: date) -> Callable[[str], str]:
    """Fills rule texts that the plan itself does not show, such as the steps of alarms that are not up."""
    return Filler(gather(tank, journal, on), rules).fill


def typed(parts: Iterable[Part], amount: Callable[[Figure | Amount | Unknown], str], folder: str = "", day: Callable[[date], str] = date.isoformat) -> str:
    """Parts as a keyboard needs them; `amount` finds the words for a figure. `folder`: the tank's, for who types from elsewhere. `day`: how
    the page writes a date."""
    return "".join(part if isinstance(part, str) else f"{part.lead}{day(part.day)}" if isinstance(part, Day) else _typed(part, amount, folder, day) for part in parts)


def _typed(part: Part, amount: Callable[[Figure | Amount | Unknown], str], folder: str, day: Callable[[date], str]) -> str:
    match part:
        case Figure() | Amount() | Unknown():
            return amount(part)
        case Command(do, what, where, lead):
            option = f"--where {where}" if where else ""
            if do == "do" and what in TYPED:
                return TYPED[what]
            if do == "do":
                verb, rest = COMMANDS[what]
                return f"`{' '.join(word for word in ('newtank', verb, folder, rest) if word)}`"
            if do == "where":
                return f" as {where} water (add {option})"
            words = (what, folder, where) if do == "run" else (do, folder, what, where) if do in ("done", "postpone") else ("note", folder, "failed" if do == "failed" else "event", what, option)
            return f"{lead}`{' '.join(word for word in ('newtank', *words) if word)}`"
        case TaskName(key):
            return key
        case TaskDay():
            return NO_DAY
        case TankKey():
            return key_in_file(part)
        case TankFile(lead):
            return "into " * lead.startswith("into") + (f"{TANK_FILE[:1].upper()}{TANK_FILE[1:]}" if lead[:1].isupper() else TANK_FILE)
        case ByUnits(metric, us):
            return f"{metric} ({us})"
        case Either(keyboard, _):
            return typed(keyboard, amount, folder, day)
    return str(part)


def amount_words(part: Figure | Amount | Unknown, units: str) -> str:
    if isinstance(part, Amount):
        return told_amount(part, units)
    key = FIGURES[part.name].key if part.name in FIGURES else ""
    return f"an amount not known yet (write {GIVEN_BY[key]} as {key_in_file(TankKey(key))} in {TANK_FILE})" if key else "an amount that is not known yet"


ASSUMED = " (assumed; measure first)"


def told_amount(made: Amount | Quantity, units: str) -> str:
    """An amount in words, with the word that it rests on a guess."""
    return shown_amount(made.value, made.unit, units, side=made.side) + ASSUMED * made.assumed


def shown_amount(value: float, unit: str, units: str, exact: bool = False, side: str = "") -> str:
    """An amount in words; counts and plain units as they are. `exact`: as it is written, for who looks a number up. `side`: as of an
    `Amount`."""
    if unit in ("days", "weeks", "months", "batches", "small snails"):
        rounded = math.ceil(value - 0.05) if unit in ("days", "batches") and value > 0 else round(value, 1)
        return f"{rounded:g} {unit if rounded != 1 else {'batches': 'batch', 'small snails': 'small snail'}.get(unit, unit.rstrip('s'))}"
    if unit in STEPS or unit in SG_STEPS:
        return f"{value:g} ppt" + (f" (SG {SG_STEPS[unit](_sg_step(value) * 10_000) / 10_000:.4f})" if unit in SG_STEPS else "")
    if unit == "SG 25/25":
        return f"SG {value:.4f} at 25/25"
    if unit == "kN/m²":
        return f"{value * 20.885:.0f} lb/ft²" if units == "us" else f"{value:.1f} kN/m²"
    if units == "us" and unit in US_ROUND and not exact:
        return US_ROUND[unit](value)
    return format_amount(value if exact else _poured(value, unit, units, side), unit, units)


POURED: dict[tuple[str, str], tuple[tuple[float, float, float], ...]] = {
    ("L", "metric"): ((20, 1, 1), (5, 1, 0.5), (1, 1, 0.1)),
    ("L", "us"): ((20 * US_GALLON_L, US_GALLON_L, 1), (10 * US_GALLON_L, US_GALLON_L, 0.5), (US_GALLON_L / 4, US_GALLON_L, 0.1), (10 * US_GALLON_L / 128, US_GALLON_L / 128, 1)),
    ("g", "us"): ((20 * POUND_G, POUND_G, 1), (POUND_G, POUND_G, 0.1)),
    ("g", "metric"): ((1000, 1000, 0.1),),
}
"""From how much on, of which unit, and the steps of it in which a person pours or weighs; smaller amounts stay as fine as they are."""


def _poured(value: float, unit: str, units: str, side: str) -> float:
    for least, size, step in POURED.get((unit, units), ()):
        if value >= least:
            if unit == "g" and not side and step < 1:
                return value  # salt for a batch is weighed as fine as the scale shows it
            return ROUNDED[side](round(value / size / step, 6)) * step * size
    return float(ROUNDED[side](round(value, 6))) if unit == "g" and side else value


ROUNDED: dict[str, Callable[[float], int]] = {"": round, "up": math.ceil, "down": math.floor}


STEPS = {"ppt within": "ppt and SG within", "ppt each": "ppt and SG each"}
FRESHEST = 10
"""In ppt: no rule speaks of water as fresh as this, so what is less is a difference."""
SG_STEPS: dict[str, Callable[[float], int]] = {"ppt and SG within": math.floor, "ppt and SG each": math.ceil}
"""Differences in salinity that a text names: a most goes down, and what salt is weighed for goes up, so that less salt goes in."""


@cache
def _sg_step(ppt: float) -> float:
    return water.sg_from_salinity(35 + ppt, 25.0, 25.0) - water.sg_from_salinity(35, 25.0, 25.0)


def _inches(cm: float) -> str:
    inches = cm / 2.54
    return f"{inches:.0f} in" if inches >= MEASURED_TO_AN_INCH else format_amount(cm, "cm", "us")


def _fahrenheit(degrees: float) -> str:
    """Whole degrees; the keeper's own half degree stays."""
    return f"{_halves(degrees)} °F" if abs(degrees * 2 - round(degrees * 2)) < 0.01 else f"{degrees:.0f} °F"


def _halves(value: float) -> str:
    """`3.5`: the nearest half."""
    return f"{round(value * 2) / 2:g}"


MEASURED_TO_AN_INCH = 3
US_ROUND: dict[str, Callable[[float], str]] = {
    "°C": lambda c: _fahrenheit(c * 1.8 + 32),
    "K": lambda k: f"{max(math.floor(k * 1.8 * 2), 1) / 2:g} °F",  # a step is a most: never more than the rule allows
    "cm": _inches,
    "m": lambda m: f"{_halves(m / 0.3048)} ft",
}
"""What a rule says in round metric figures, in figures as round: `4 in` for 10 cm, not 3.9. Readings keep what was read."""


def untold(text: str, figure: Callable[[str], str] = lambda name: name.replace("_", " ")) -> str:
    """A rule text for no tank in particular; `figure` finds the words for the name of a figure."""
    return typed(parts_of(text), lambda part: figure(part.name) if isinstance(part, Figure) else told_amount(part, "metric") if isinstance(part, Amount) else "")


__all__ = ["COMMANDS", "TYPED", "UNIT_WORDS", "Filler", "amount_words", "shown_amount", "text_filler", "told_amount", "typed", "untold"]
