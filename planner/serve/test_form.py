"""A form of test results as it was sent: what was read, in which unit and water, and of which sample."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.door.acts import Desk, read_results
from planner.door.entry_words import DILUTED, Entry
from planner.terms.readings import READINGS
from planner.terms.records import WATERS
from planner.terms.units import Refusal
from planner.terms.written_amounts import NITROGEN
from planner.terms.written_numbers import parse_number

SAMPLES = {"2": "1 part of tank water, 1 of pure water", "5": "1 part of tank water, 4 of pure water", "10": "1 part of tank water, 9 of pure water"}
"""By how much a result counts, and how such a sample is mixed."""
WATER_WORDS = {"display": "the tank", "quarantine": "quarantine tank", "mixing": "new mix, in its bin", "curing": "curing bin", "source": "source: RO or tap water"}
"""Each water as a form offers it."""
UNTOLD = "choose"
"""A sample that has to be chosen, because the last result lay at the end of the card."""
USUAL_SAMPLE = "5"
"""The sample that steps of a diluted test ask for."""


@dataclass(frozen=True, slots=True)
class Result:
    """One result. `times`: what the card showed is of a diluted sample, and counts so many times."""

    name: str
    shown: str
    unit: str
    water: str
    times: int = 1

    @property
    def value(self) -> str | Refusal:
        """The result for the water itself."""
        mark, digits = (self.shown[:1], self.shown[1:]) if self.shown[:1] in "<>" else ("", self.shown)
        number = parse_number(digits)
        if self.times == 1 or isinstance(number, Refusal):
            return self.shown
        if not number or mark == "<":
            # Nothing in a thinned sample is no zero of the tank: as many times the kit's first step may be in it.
            return Refusal("diluted-zero", "A diluted sample that shows nothing does not say that the water is clear", "test the water undiluted. Then choose tank water as the sample")
        return f"{mark}{(Decimal(digits) * self.times).normalize():f}"

    @property
    def note(self) -> str:
        return f"diluted, times {self.times}, read {self.shown.replace('>', 'over ')}" if self.times != 1 else ""


def read_fields(form: Mapping[str, Sequence[str]]) -> list[Result] | Refusal:
    """What was typed, else the step that was touched. Fields left empty say nothing. A form of no particular test says in one field which
    water all of it is of."""
    found = []
    of = form.get("water", ("",))[-1].strip()
    for rest in dict.fromkeys(field.partition(":")[2] for field in form if field.startswith(("value:", "pick:"))):
        name, _, water = rest.partition(".")
        if name not in READINGS or water not in WATERS:
            continue
        typed, picked = (form.get(f"{kind}:{rest}", ("",))[-1].strip() for kind in ("value", "pick"))
        value = typed or picked
        if not value:
            continue
        if "water" in form and of not in WATERS:
            return Refusal("water-unclear", "Which water was it?", "choose the water that you tested")
        unit, off, sample = (form.get(f"{kind}:{rest}", ("",))[-1].strip() for kind in ("unit", "off", "sample"))
        if name in NITROGEN and not unit:
            return Refusal("basis-missing", f"Choose what your {READINGS[name].title} kit counts", "its leaflet says as N, or names the ion")
        if sample == UNTOLD and name in DILUTED:
            return Refusal("sample-unclear", "Was the sample diluted?", "choose tank water, or how it was mixed")
        mark = {"over": ">", "under": "<"}.get(off, "") if typed else ""
        found.append(Result(name, mark + value.replace(",", "."), unit, of or water, int(sample) if sample in SAMPLES and name in DILUTED else 1))
    return found


def entries_of(desk: Desk, results: Sequence[Result]) -> list[Entry] | Refusal:
    """The results as they will stand in the journal."""
    found = []
    for one in results:
        value = one.value
        read = value if isinstance(value, Refusal) else read_results(desk, [(one.name, value, one.unit, one.water)], one.note)
        if isinstance(read, Refusal):
            return read
        found += read
    return found


__all__ = ["DILUTED", "SAMPLES", "UNTOLD", "USUAL_SAMPLE", "WATER_WORDS", "Result", "entries_of", "read_fields"]
