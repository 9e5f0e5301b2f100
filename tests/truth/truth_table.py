"""Reading the check values: a quantity, its inputs, the value expected, how near to come, and whose it is."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

DATA = Path(__file__).parent / "data"
# The tables of single check values; other tables beside them have columns and tests of their own.
TABLES = ("printed.csv", "computed.csv", "formula.csv", "evaporation.csv", "worked.csv", "trade_practice.csv")
# read in print | worked out by a named library | a published equation, evaluated
ORACLES = ("read", "computed", "formula")
NO_ORACLES = ("arithmetic", "memory", "practice")


@dataclass(frozen=True, slots=True)
class Check:
    quantity: str
    inputs: tuple[str, ...]
    expected: float
    unit: str
    tolerance: float
    kind: str
    source: str
    place: str
    obtained: str

    @property
    def numbers(self) -> tuple[float, ...]:
        return tuple(float(x) for x in self.inputs)

    @property
    def how(self) -> str:
        return self.obtained.split(":")[0]

    def agrees(self, found: float) -> bool:
        # of_ours: relative to the planner's value, for two methods of which neither is exact
        scale = {"abs": 1.0, "rel": abs(self.expected), "of_ours": abs(found)}[self.kind]
        return abs(found - self.expected) <= self.tolerance * scale

    def complaint(self, found: float) -> str:
        return (
            f"{self.quantity}({', '.join(self.inputs)}) = {found:.8g} {self.unit}, but {self.source},"
            f" {self.place} ({self.obtained}) has {self.expected:.8g}, within {self.tolerance:g} {self.kind}"
        )


def checks_in(name: str) -> list[Check]:
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        return [
            Check(
                quantity=row["quantity"],
                inputs=tuple(x for x in row["inputs"].split(";") if x),
                expected=float(row["expected"]),
                unit=row["unit"],
                tolerance=float(row["tolerance"]),
                kind=row["kind"],
                source=row["source"],
                place=row["place"],
                obtained=row["obtained"],
            )
            for row in csv.DictReader(lines)
        ]


def all_checks() -> list[Check]:
    return [check for name in TABLES for check in checks_in(name)]
