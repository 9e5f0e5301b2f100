"""The tables of DEVELOPERS.md that can be counted are counted; `pytest --accept` writes them again."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

from tests.rulecases import all_cases, rulebook

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "DEVELOPERS.md"
TRUTH = ROOT / "tests/truth/data"
GRADES = ("measured", "standard", "review", "practice")
# Which checked quantities a family's amounts and alarms rest on (column `quantity` of the check tables).
RESTS_ON = {
    "site": ("spread_area", "floor_force", "wall_u", "surface_heat", "vapour_pressure", "latent_heat", "heat", "evaporation"),
    "water": ("density", "density_ipts68", "salinity_from_sg", "sg", "salinity_from_conductivity", "grams_per_litre", "salt_upper_bound", "salt_lower_bound", "salinity_from_ratio"),
    "start-up": ("heat_capacity", "oxygen", "density"),
    "cycle": ("ammonium_chloride", "ammonia_solution", "bicarbonate", "dkh_from_meq", "caco3_from_dkh", "n_from_species", "species_from_n"),
    "big-change": ("dilution", "concentration_after_changes"),
    "care": ("vapour_pressure", "calcium_chloride", "magnesium_chloride", "ion_mg_per_kg"),
    "alerts": ("percent_nh3", "pk_total", "nbs_minus_total", "percent_nh3_upper"),
}


def truth_counts() -> Counter[str]:
    found: Counter[str] = Counter()
    for path in TRUTH.glob("*.csv"):
        with path.open(encoding="utf-8") as file:
            found.update(row["quantity"] for row in csv.DictReader(file) if "quantity" in row)
    return found


def nitrogen_counts() -> int:
    return sum(len(path.read_text(encoding="utf-8").splitlines()) - 1 for path in TRUTH.glob("nitrogen_*.csv"))


def families_table() -> str:
    book, truth = rulebook(), truth_counts()
    cases = Counter(case.place.file.split("/")[-1].removesuffix(".cases.yaml") if not case.place.file.startswith("rules/alerts/") else "alerts" for case in all_cases())
    owner = {name.removeprefix("number/"): Path(place.file) for name, place in book.places.items() if name.startswith("number/")}
    families = [p.phase for p in book.phases] + ["alerts", "common"]
    lines = ["| family | " + " | ".join(GRADES) + " | cases | check values of the figures it uses |", "|---|" + "---:|" * (len(GRADES) + 2)]
    for family in families:
        grades = Counter(book.numbers[n].grade for n, path in owner.items()
                         if (family == "alerts" and path.parts[1] == "alerts") or path.stem == family or (family == "common" and path.stem == "numbers"))
        values = sum(truth[q] for q in RESTS_ON.get(family, ())) + (nitrogen_counts() if family == "cycle" else 0)
        lines.append(f"| {family} | " + " | ".join(str(grades[g]) for g in GRADES) + f" | {cases[family]} | {values or ''} |")
    return "\n".join(lines)


def codes_table() -> str:
    """Each code with the first line of its example; paths and places are left out."""
    lines = ["| code | example of what is said |", "|---|---|"]
    for folder in sorted(p for p in (ROOT / "tests/bad").iterdir() if p.is_dir() and not p.name.startswith("_")):
        first = (folder / "expected.txt").read_text(encoding="utf-8").splitlines()[0]
        lines.append(f"| `{folder.name}` | {first.split(': ', 1)[-1].replace('|', '/')} |")
    return "\n".join(lines)


@pytest.mark.parametrize(("mark", "table"), [("families", families_table), ("codes", codes_table)])
def test_the_guide_holds_the_counted_table(mark: str, table: object, pytestconfig: pytest.Config) -> None:
    text = GUIDE.read_text(encoding="utf-8")
    start, end = f"<!-- {mark} -->\n", f"<!-- end of {mark} -->"
    assert start in text and end in text
    head, rest = text.split(start, 1)
    block, tail = rest.split(end, 1)
    made = table() + "\n"  # type: ignore[operator]
    if pytestconfig.getoption("--accept"):
        GUIDE.write_text(head + start + made + end + tail, encoding="utf-8")
    else:
        assert block == made
