"""Arguments of the writing commands into journal rows: pure functions of a plan, the rules and what was typed.

A mistake comes back as a `Refusal` (what is wrong, and one fix); the commands say it and write nothing. Every row is
judged once by the journal's own reader before it is written, so that nothing is written that cannot be read back.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta, tzinfo

from planner.files.journal import KINDS, read_row
from planner.files.journal_form import NewRow
from planner.files.journal_time import Clock
from planner.files.journal_write import write_when
from planner.files.tank import Tank
from planner.files.tank_kits import Kit
from planner.frozen import dataclass
from planner.judge.facts import Facts
from planner.judge.figures import quantity
from planner.plan.occurrences import is_repeating
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule, Writes
from planner.rulebook.walk import conditions_of, leaves
from planner.terms.journal_words import OF_THE_ENGINE
from planner.terms.problems import Problem, nearest
from planner.terms.readings import OTHER_NAMES, READINGS
from planner.terms.records import CLOSED, TASK_KINDS, Plan, Quantity, Row
from planner.terms.texts import either, joined
from planner.terms.units import Refusal
from planner.terms.written_amounts import NITROGEN, one_of, told_unit
from planner.terms.written_numbers import letter_mended, parse_number, split_amount

NOTE_KINDS = ("dosed", "changed_water", "poured", "added", "moved", "lost", "event")
TIME_ALONE = re.compile(r"(?:(yesterday|today)(?:[ T]+)?)?([0-9]{1,2}:[0-9]{2})?", re.I)
ANIMAL_KINDS = ("added", "moved", "lost")
COUNT_WORDS = {word: str(n) for n, word in enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"), 1)}
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
DILUTED = frozenset({*NITROGEN, "phosphate"})
"""Readings of a colour card, which end at its last field."""
A_LITTLE = 1e-6


@dataclass(frozen=True, slots=True)
class Stamp:
    """When an entry happened: a day, or a local time with its offset."""

    when: date | datetime

    @property
    def day(self) -> date:
        return self.when.date() if isinstance(self.when, datetime) else self.when

    @property
    def text(self) -> str:
        return write_when(self.when)


@dataclass(frozen=True, slots=True)
class Entry:
    """A row to be written, and the same row as it will be read back."""

    new: NewRow
    row: Row


def safe_text(text: str) -> str:
    """One line of text that a spreadsheet shows as text: a leading formula sign is put behind an apostrophe, and what is
    no character at all becomes a question mark."""
    plain = " ".join(text.encode("utf-8", "replace").decode("utf-8").split())
    return f"'{plain}" if plain.startswith(FORMULA_SIGNS) else plain


def stamp_from_clock(on: date, now: datetime, pretended: bool, reminder: str, zone: tzinfo) -> Stamp:
    """When an entry without --at happened: now, or at the reminder time of a pretended day. A reminder time that falls
    into a clock-change gap moves forward."""
    if not pretended:
        return Stamp(now.replace(microsecond=0))  # with seconds: two entries of one minute keep their order
    at = datetime.combine(on, time.fromisoformat(reminder), zone)
    return Stamp(datetime.fromtimestamp(at.timestamp(), zone))


def read_stamp(text: str, on: date, now: datetime, pretended: bool, zone: tzinfo) -> Stamp | Refusal:
    """`--at`: a day, a day and time, a time of today (`08:15`), or `yesterday [08:15]`. The future is refused."""
    words = TIME_ALONE.fullmatch(text.strip())
    if text.strip() and words:
        day = on - timedelta(days=(words[1] or "").lower() == "yesterday")
        text = day.isoformat() + (f" {words[2]}" if words[2] else "")
    found = Clock(zone).instant(text.strip())
    if isinstance(found, Refusal):
        return found
    day, at, _, _ = found
    if day > on or (at is not None and not pretended and at > now):
        late = write_when(at) if at is not None and day == on else day.isoformat()
        return Refusal("in-the-future", f"{late} has not come yet", "write what has happened, with the time at which it did")
    return Stamp(at or day)


def checked(row: NewRow, tank: Tank, zone: tzinfo) -> Entry | Refusal:
    """The row with what will be read back of it, or why it will not be."""
    found = read_row(row, "journal.csv", tank, zone)
    if isinstance(found, Problem):
        return Refusal(found.code, found.message, found.fix)
    return Entry(row, found)


# --- readings


def split_reading(text: str) -> tuple[str, str, str] | Refusal:
    """`nitrite=over5`, `"salinity=1.026 SG 25/25"`: the reading's name, its value as the journal writes it, its unit."""
    name, sign, rest = text.partition("=")
    name = name.strip().lower()
    if not sign:
        if "sg" in name.split():  # a specific gravity whose quotes were left out
            return Refusal("not-a-reading", f"'{text}' is neither a tank folder nor a reading", "write it in quotes with its name, such as `\"salinity=1.026 SG 25/25\"`")
        said, _, behind = name.partition(" ")
        near = OTHER_NAMES.get(said) or nearest(said, READINGS)
        shown = behind.strip() if split_amount(behind.strip())[0] else "0.25"  # the value as typed, so that the answer can be copied
        return Refusal("not-a-reading", f"'{text}' is neither a tank folder nor a reading", f"write a reading as NAME=VALUE, such as `{near or 'ammonia'}={shown}`")
    if name not in READINGS:
        near = OTHER_NAMES.get(name) or nearest(name, READINGS)
        return Refusal("unknown-reading", f"there is no reading '{name}'", f"write `{near}={rest.strip()}`" if near else f"use one of: {', '.join(READINGS)}")
    rest = rest.strip()
    off = re.match(r"(over|under|>|<)\s*", rest, re.I)
    mark = {"over": ">", "under": "<"}.get(off[1].lower(), off[1]) if off else ""
    typed = rest[off.end():] if off else rest
    if name != "temperature" and (mended := letter_mended(typed)) is not None:  # of a temperature it may be the sign of degrees
        return _letter(text, f"{name}={off[1] if off else ''}{mended}")
    number, unit = split_amount(typed)
    if not number or unit.startswith((".", ",")):  # such as 0.2.5
        wanted = f"write a number, such as `{name}=0.25`, or `{name}=over5` for a result off the kit's scale"
        return Refusal("not-a-number", f"'{rest}' is not a test result" if rest else f"{name} has no value", wanted)
    read = parse_number(number)
    if isinstance(read, Refusal):
        return read
    return name, mark + number.replace(",", ".").replace("−", "-"), unit


def _letter(typed: str, mended: str) -> Refusal:
    """A slip of the keyboard; what was meant is offered, never taken."""
    return Refusal("not-a-number", f"`{typed}` has a letter o in its number", f"if you mean a zero, write `{mended}`")


def reading_row(name: str, value: str, unit: str, stamp: Stamp, where: str, note: str, tank: Tank, zone: tzinfo) -> Entry | Refusal:
    """A reading that says its own unit and basis: a kit described anew next year must not change this year's results. The last
    colour of a card is that of every stronger water too, so it is written as more than that, unless the note calls the sample diluted."""
    kit = tank.test_kits.get(name)
    if name == "alkalinity" and unit.lower().replace(" ", "") in ("ppm", "mg/l"):
        unit = "mg/L CaCO3"  # what kits and shops mean by it (common practice, no source); the keeper is told how it was read
    if name in NITROGEN and (not unit or unit.lower().replace(" ", "") in ("mg/l", "ppm")) and kit is not None and kit.basis is not None:
        unit = f"mg/L as {kit.basis}"
    typed = checked(NewRow(stamp.text, "reading", name, value, unit, where, safe_text(note)), tank, zone)
    if not isinstance(typed, Refusal) and name in DILUTED and "dilut" not in note.lower() and _is_last_colour(typed.row, kit):
        typed = checked(replace(typed.new, value=f">{value}"), tank, zone)
    if isinstance(typed, Refusal) and typed.code == "unit-unknown" and unit and kit is not None:
        plain = reading_row(name, value, "", stamp, where, note, tank, zone)
        return typed if isinstance(plain, Refusal) else Refusal(typed.code, typed.message, f"write `{name}={value}`, which counts as {told_unit(name, plain.row.unit)} like your kit, or {typed.fix}", typed.at)
    if name == "alkalinity" and not unit and not isinstance(typed, Refusal) and float(value.lstrip("<>")) not in (typed.row.low, typed.row.high):
        return reading_row(name, value, "mg/L CaCO3", stamp, where, note, tank, zone)  # nothing else is guessed; the row says it, and the keeper hears it
    if isinstance(typed, Refusal) or unit or name == "ph" or float(value.lstrip("<>")) not in (typed.row.low, typed.row.high):
        return typed
    unit = READINGS[name].unit  # it was read in this unit, so that writing it down changes nothing
    return Entry(replace(typed.new, unit=unit), replace(typed.row, unit=unit))


def _is_last_colour(row: Row, kit: Kit | None) -> bool:
    highest = kit.highest_internal(row.what) if kit is not None else None
    return highest is not None and highest > 0 and row.low is not None and row.low == row.high and abs(row.low - highest) <= A_LITTLE * highest


# --- ticks and the facts they stand for


def occurrence_of(key: str, number: str, plan: Plan, closed: Sequence[tuple[int, Row]], rules: Rulebook) -> str:
    """The id that a tick closes: the number as typed, else the open occurrence, else the next free number."""
    rule = rules.tasks.get(key)
    if rule is None or not (is_repeating(rule) or any(t.key == key and t.id != key for t in plan.tasks)):
        return key
    if number:
        return f"{key}#{int(number)}"
    task = next((t for t in plan.tasks if t.key == key and t.state not in CLOSED), None)
    return task.id if task is not None else f"{key}#{max((n for n, _ in closed), default=0) + 1}"


def planned_amount(rule: TaskRule, facts: Facts, rules: Rulebook) -> Quantity | None:
    """The amount that the plan names for the fact of a task."""
    return quantity(rule.writes.amount, facts, rules) if rule.writes is not None and rule.writes.amount is not None else None


def fact_row(writes: Writes, where: str, stamp: Stamp, planned: Quantity | None, typed: str | None) -> NewRow | Refusal:
    """The fact that a tick stands for, with the amount as typed, else as planned. Litres need a number: without one the
    forecast would take the change for none."""
    if writes.kind == "event":
        return NewRow(stamp.text, writes.kind, writes.what, "", "", where)
    if typed is not None:
        if (mended := letter_mended(typed)) is not None:
            return _letter(typed, mended)
        number, unit = split_amount(typed)
        value = parse_number(number)
        if not number or isinstance(value, Refusal):
            return Refusal("not-a-number", joined(either(f"--amount '{typed}'", f"“{typed}”"), " is no amount"), "write a number and a unit, such as `12 L` or `4.1 g`")
        if not unit and planned is not None and planned.unit == "g":  # grams are weighed in every household; water is not measured in one unit
            unit = planned.unit
        return NewRow(stamp.text, writes.kind, writes.what, number.replace(",", "."), unit, where)
    if planned is None:
        if writes.kind in ("changed_water", "poured"):
            return Refusal("amount-missing", "the plan has no amount for this task, and the journal needs one", either("add how much it was, such as `--amount 12L`", "say how much it was"))
        return NewRow(stamp.text, writes.kind, writes.what, "", "", where)
    if writes.kind == "added":
        return NewRow(stamp.text, writes.kind, writes.what, str(max(1, round(planned.value))), "", where)
    return NewRow(stamp.text, writes.kind, writes.what, f"{planned.value:.4g}", planned.unit, where)


# --- any other fact


def known_events(rules: Rulebook) -> tuple[str, ...]:
    """Every event that some rule listens to."""
    heard = {leaf.what for placed in conditions_of(rules) for leaf, _ in leaves(placed.condition) if isinstance(leaf, EventNode)}
    return tuple(sorted(heard | OF_THE_ENGINE | {t.writes.what for t in rules.tasks.values() if t.writes is not None and t.writes.kind == "event"}))


def event_word(text: str) -> str:
    """`Power cut` as the journal spells it: `power_cut`."""
    return re.sub(r"[^a-z0-9]+", "_", text.strip().lower()).strip("_")


def split_fact(args: Sequence[str], events: Sequence[str]) -> tuple[str, str, str, str] | Refusal:
    """`dosed ammonia 4.1g`, `changed_water 10%`, `poured 120 L`, `leak`: kind, what, value and unit."""
    if not args:
        return Refusal("kind-missing", "there is nothing to note", f"begin with one of: {', '.join(NOTE_KINDS)}")
    kind, rest = event_word(args[0]), list(args[1:])
    if kind not in NOTE_KINDS and kind in events:  # `note leak`
        kind, rest = "event", [args[0], *rest]
    if kind not in NOTE_KINDS:
        return _no_such_kind(args[0], kind, events)
    if kind in ("changed_water", "poured") and rest and split_amount(rest[0])[0]:
        rest.insert(0, "water")
    if not rest:
        wanted = {"dosed": "dosed ammonia 4.1g", "changed_water": "changed_water 10%", "poured": "poured 120L", "event": "event leak"}.get(kind, f"{kind} ANIMAL 2")
        return Refusal("what-missing", f"'{kind}' does not say what", either(f"write for example `newtank note {wanted}`", "say what it was"))
    if kind in ANIMAL_KINDS:
        rest = _counted(rest)
    what, value = rest[0], " ".join(rest[1:]).strip()
    if kind == "event":
        return kind, event_word(what), safe_text(value), ""
    if not value:
        return kind, safe_text(what), "", ""
    if (mended := letter_mended(value)) is not None:
        return _letter(value, mended)
    number, unit = split_amount(value)
    if not number:
        return Refusal("not-a-number", f"'{value}' is no amount", joined("write a number and a unit, such as `12 L`", either(", and put remarks after --note", "")))
    parsed = parse_number(number)
    if isinstance(parsed, Refusal):
        return parsed
    return kind, safe_text(what), number.replace(",", "."), unit


def _counted(words: list[str]) -> list[str]:
    """The animal and how many: `2 clownfish`, `two ocellaris clownfish`, `ocellaris clownfish 2`. Words without a number are its name."""
    if len(words) == 1:
        number, _, name = words[0].strip().partition(" ")
        words = [number, name] if name and count_of(number) else words
    if len(words) == 1:
        return words
    if number := count_of(words[0]):
        return [" ".join(words[1:]).strip(), number]
    if number := count_of(words[-1]):
        return [" ".join(words[:-1]).strip(), number]
    return words if split_amount(" ".join(words[1:]))[0] else [" ".join(words).strip()]


def count_of(word: str) -> str:
    """A number of animals, in digits or as a word, or nothing."""
    word = word.strip().casefold()
    return COUNT_WORDS.get(word, word if word.isascii() and word.isdigit() else "")


def _no_such_kind(typed: str, kind: str, events: Sequence[str]) -> Refusal:
    if kind == "reading":
        return Refusal("other-command", "readings have a command of their own", "write `newtank log NAME=VALUE`")
    if kind in TASK_KINDS:
        command = {"skipped": "skip", "postponed": "postpone"}.get(kind, kind)
        return Refusal("other-command", f"'{kind}' has a command of its own", f"write `newtank {command} TASK`")
    near = nearest(kind, (*NOTE_KINDS, *events))
    return Refusal("unknown-kind", f"'{typed}' is nothing that can be noted here", f"write `{near}`" if near else f"use {one_of(NOTE_KINDS)}")


__all__ = [
    "DILUTED", "KINDS", "NOTE_KINDS", "Entry", "Stamp", "checked", "count_of", "event_word", "fact_row", "known_events",
    "occurrence_of", "planned_amount", "read_stamp", "reading_row", "safe_text", "split_fact", "split_reading", "stamp_from_clock",
]  # fmt: skip
