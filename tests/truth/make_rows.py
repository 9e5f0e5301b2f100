"""How the generators of computed check values write a row. Imports no library under test and none of ours."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

COLUMNS = ("quantity", "inputs", "expected", "unit", "tolerance", "kind", "source", "place", "obtained")


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, the place in it, and the library that worked out the value."""

    name: str
    place: str
    library: str

    def at(self, place: str) -> Source:
        return Source(self.name, place, self.library)


@dataclass(frozen=True, slots=True)
class Row:
    quantity: str
    inputs: tuple[object, ...]
    expected: float
    unit: str
    tolerance: float
    kind: str
    source: Source

    def cells(self) -> tuple[object, ...]:
        inputs = ";".join(f"{x:.8g}" if isinstance(x, (int, float)) else str(x) for x in self.inputs)
        made_by = f"computed: {self.source.library} {version(self.source.library)}"
        place = (self.source.name, self.source.place, made_by)
        return (self.quantity, inputs, f"{self.expected:.10g}", self.unit, self.tolerance, self.kind, *place)


def write_rows(rows: Iterable[Row]) -> None:
    """Replace data/computed.csv."""
    with (Path(__file__).parent / "data" / "computed.csv").open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(row.cells() for row in rows)
