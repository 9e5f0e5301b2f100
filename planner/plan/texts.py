"""Rule texts for one tank: each figure worked out once, and the words in which a keyboard needs the rest."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import date
from functools import partial

from planner.files.tank import Tank
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import Facts, gather
from planner.judge.figures import FIGURES, quantity
from planner.rulebook.lines import Conditional
from planner.rulebook.shapes import Rulebook
from planner.rulebook.texts import parts_in
from planner.terms.amounts import card_figure, format_amount
from planner.terms.records import Amount, Answer, Journal, Quantity
from planner.terms.texts import TANK_FILE, ByUnits, Command, Day, Either, Figure, Part, TankFile, TankKey, TaskName, Text, Unknown, parts_of
from planner.terms.written_amounts import IONS, MOLECULES, nitrogen_factor

UNIT_WORDS = {"C": "°C", "d": "days", "wk": "weeks"}
GIVEN_BY = {
    "equipment.ro_rate": "what your RO unit makes", "equipment.bin": "the size of your mixing bin", "rock.mass": "how much rock you have",
    "room.temperature": "how cool the room gets",
}
"""Keys of the tank file that a figure may wait for, in plain words."""
COUNTED = {f"mg/L as {word}": word for word in ("N", *(word for molecules in MOLECULES.values() for word in molecules))}
"""Units of nitrogen, and what each counts."""
TYPED = {"undo": "`newtank undo`", "stock": "`newtank stock`", "use": "`newtank use`", "amount": "`--amount`", "at": "`--at DATE`", "changed_water": "changed_water",
         "five_times": "log five times its result. A form on the phone multiplies by itself", "ten_times": "log ten times its result. A form on the phone multiplies by itself"}


class Filler:
    """Puts this tank's figures into rule texts, in the buyer's units. Each figure is worked out once."""

    def __init__(self, facts: Facts, rules: Rulebook) -> None:
        self.facts, self.rules = facts, rules
        self.scene = Scene(facts, rules, {})
        self.made: dict[str, Quantity | None] = {}
        self.filled: dict[str, str] = {}

    def quantity(self, name: str) -> Quantity | None:
        if name not in self.made:
            self.made[name] = quantity(name, self.facts, self.rules) if name in FIGURES else None
        return self.made[name]

    def fill(self, text: str) -> str:
        """The text with its values in it; as a `str` it reads as a keyboard needs it. Of a line that this tank does without nothing is left."""
        if isinstance(text, Conditional):
            return "" if judge_condition(text.unless, self.scene).answer == Answer.YES else self.fill(text.told)
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
            case ByUnits(metric, us):
                return us if self.facts.tank.units == "us" else metric
        return part

    def amount(self, name: str) -> Amount | Unknown:
        if (made := self.quantity(name)) is not None:
            return self.as_the_kit_counts(name, made.amount)
        number = number_of(self.rules, name)
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


def typed(parts: Iterable[Part], amount: Callable[[Figure | Amount | Unknown], str], folder: str = "") -> str:
    """Parts as a keyboard needs them; `amount` finds the words for a figure. `folder`: the tank's, for who types from elsewhere."""
    return "".join(part if isinstance(part, str) else _typed(part, amount, folder) for part in parts)


def _typed(part: Part, amount: Callable[[Figure | Amount | Unknown], str], folder: str) -> str:
    match part:
        case Figure() | Amount() | Unknown():
            return amount(part)
        case Command(do, what, where, lead):
            option = f"--where {where}" if where else ""
            if do == "do":
                return TYPED[what]
            if do == "where":
                return f" as {where} water (add {option})"
            words = (do, folder, what, where) if do in ("done", "postpone") else ("note", folder, "failed" if do == "failed" else "event", what, option)
            return f"{lead}`{' '.join(word for word in ('newtank', *words) if word)}`"
        case TaskName(key):
            return key
        case TankKey(path):
            return path
        case TankFile(lead):
            return "into " * lead.startswith("into") + (f"{TANK_FILE[:1].upper()}{TANK_FILE[1:]}" if lead[:1].isupper() else TANK_FILE)
        case Day(day, lead, _):
            return f"{lead}{day.isoformat()}"
        case ByUnits(metric, us):
            return f"{metric} ({us})"
        case Either(keyboard, _):
            return typed(keyboard, amount, folder)
    return str(part)


def amount_words(part: Figure | Amount | Unknown, units: str) -> str:
    if isinstance(part, Amount):
        return told_amount(part, units)
    key = FIGURES[part.name].key if part.name in FIGURES else ""
    return f"an amount unknown until your description says {GIVEN_BY[key]} ({key})" if key else "an amount that is not known yet"


ASSUMED = " (assumed; measure first)"


def told_amount(made: Amount | Quantity, units: str) -> str:
    """An amount in words, with the word that it rests on a guess."""
    return shown_amount(made.value, made.unit, units) + ASSUMED * made.assumed


def shown_amount(value: float, unit: str, units: str, exact: bool = False) -> str:
    """An amount in words; counts and plain units as they are. `exact`: as it is written, for who looks a number up."""
    if unit in ("days", "weeks", "months", "batches", "small snails"):
        rounded = math.ceil(value - 0.05) if unit in ("days", "batches") and value > 0 else round(value, 1)
        return f"{rounded:g} {unit if rounded != 1 else {'batches': 'batch', 'small snails': 'small snail'}.get(unit, unit.rstrip('s'))}"
    if unit == "SG 25/25":
        return f"SG {value:.4f} at 25/25"
    if unit == "kN/m²":
        return f"{value * 20.885:.0f} lb/ft²" if units == "us" else f"{value:.1f} kN/m²"
    if units == "us" and unit in US_ROUND and not exact:
        return US_ROUND[unit](value)
    return format_amount(value, unit, units)


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
    return typed(parts_of(text), lambda part: figure(part.name) if isinstance(part, Figure) else "")


__all__ = ["TYPED", "UNIT_WORDS", "Filler", "amount_words", "shown_amount", "text_filler", "told_amount", "typed", "untold"]
