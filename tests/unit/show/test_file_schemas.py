"""The schemas for editors: they accept every file that we read, and refuse every fault that a schema can see.

A file is tried twice: as our own reader takes it, every value as text, and as an editor does, with the types of the YAML
1.2 core schema (yaml.org/spec/1.2.2, section 10.3: true, false, null and numbers; no dates, no yes and no).
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from planner.cli import newtank
from planner.files.tank import Tank
from planner.files.yaml_checked import read_yaml
from planner.plan.goods import GOODS
from planner.rulebook.house.allowed import house_number
from planner.rulebook.read import shipped
from planner.show.json.file_schemas import KINDS, file_schema
from planner.stock.catalogue import load_catalogue
from planner.terms.units import DIMENSIONS, Refusal
from planner.terms.written_amounts import parse_amount
from tests.each import over
from tests.rulecases import rulebook

pytestmark = pytest.mark.slow  # a plain run stays under three minutes; `.ci/run` runs these after it

BAD = Path(__file__).parents[2] / "bad"
SCENARIOS = shipped("scenarios")
UNSEEN = {
    # one value at a time: what contradicts what
    "dates-reversed", "no-ammonia-source", "not-with-this-rock", "two-ammonia-sources", "size-missing", "size-twice", "ambiguous-number", "not-possible",
    # what must be looked up: the calendar, the zones, files and folders
    "unknown-timezone", "not-a-date", "file-missing", "folder-missing", "outside-folder", "not-a-picture",
}
"""Problem codes whose example a schema lets pass, with the reason why. A loader of YAML 1.1 reads the key `on:` of a case as
true and then misses `on`; that is no fault of the file, and the schema says so beside the key."""
ANIMALS = tuple(a.id for a in load_catalogue([shipped("rules") / "livestock", SCENARIOS / "shop-handover" / "house-rules" / "livestock"]).animals)


class _Core(yaml.SafeLoader):
    """The YAML 1.2 core schema, as editors use it."""


_Core.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"), ("null", r"~|null|Null|NULL|", "~nN\0"), ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    _Core.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(rf"^(?:{_pattern})$"), list(_first.replace("\0", "")) + ([""] if "\0" in _first else []))


def as_typed(path: Path) -> Any:
    return yaml.load(path.read_text("utf-8"), Loader=_Core)


def as_text(path: Path) -> Any:
    return read_yaml(path.read_bytes(), path.name)[0]


@cache
def checker(kind: str) -> jsonschema.Draft202012Validator:
    schema = file_schema(kind, rulebook(), ANIMALS)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def faults(kind: str, data: Any) -> list[str]:
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}" for e in checker(kind).iter_errors(data)]


GOOD = [
    *(("tank", p) for p in sorted(SCENARIOS.rglob("tank.yaml"))),
    *(("shop", p) for p in sorted(SCENARIOS.rglob("shop.yaml"))),
    *(("livestock" if "livestock" in p.parts else "rules", p) for root in (shipped("rules"), SCENARIOS / "shop-handover" / "house-rules") for p in sorted(root.rglob("*.yaml"))),
]


@pytest.mark.parametrize("read", [as_text, as_typed], ids=["text", "typed"])
@over(("kind", "path"), GOOD, ids=[f"{p.parent.name}/{p.name}" for _, p in GOOD])
def test_every_file_of_ours_passes(kind: str, path: Path, read: Any) -> None:
    assert faults(kind, read(path)) == []


BROKEN = [(kind, folder) for folder in sorted(BAD.iterdir()) for kind, name in (("tank", "tank.yaml"), ("shop", "shop.yaml"), ("rules", "alerts.yaml")) if (folder / name).is_file()
          and not (folder / "journal.csv").exists() and not folder.name.startswith("yaml-") and folder.name not in ("duplicate-key", "not-utf8", "text-unquoted")]
"""Faults of the YAML itself are left out: an editor tells those without a schema."""


def passes(kind: str, folder: Path) -> bool:
    path = folder / {"tank": "tank.yaml", "shop": "shop.yaml", "rules": "alerts.yaml"}[kind]
    return not faults(kind, as_typed(path))


@over(("kind", "folder"), BROKEN, ids=[f"{f.name} ({k})" for k, f in BROKEN])
def test_a_fault_that_a_schema_can_see_is_refused(kind: str, folder: Path) -> None:
    assert passes(kind, folder) == (folder.name in UNSEEN)


@over(("kind", "data"), [
    ("tank", {"tank": {"length": "80"}}), ("tank", {"tank": {"length": 80}}), ("tank", {"tank": {"length": "80 kg"}}), ("tank", {"tank": {"volume": "180 L"}, "rok": {}}),
    ("tank", {"tank": {"volume": "180 L"}, "units": "imperial"}), ("tank", {"tank": {"volume": "180 L"}, "test_kits": {"amonia": {}}}),
    ("tank", {"tank": {"volume": "180 L"}, "water": {"salinity": "1.026 SG"}}), ("tank", {"tank": {"volume": "180 L"}, "wish_list": [{"animal": "x", "count": "0"}]}),
    ("tank", {}), ("shop", {}), ("shop", {"name": "x", "prices": {"salt": "3.20"}}), ("shop", {"name": "x", "calendar_address": "ftp://x"}),
    ("rules", {"phase": "fast-start"}), ("rules", {"phase": "water", "numbers": {"x": {"value": "a"}}}), ("rules", {"phase": "water", "tasks": [{"id": "Bad Id"}]}),
    ("rules", {"phase": "water", "gate": {"needs_too": [{"done": "a/b", "event": "x"}]}}), ("rules", {"phase": "water", "gate": {"needs_too": [{"reading": {"name": "amonia"}}]}}),
    ("rules", {"alerts": [{"alert": "x", "tasks": [{"id": "a", "minutes": 5000}]}]}), ("rules", {"mains": {"txt": "x"}}), ("rules", [{"case": "x", "on": "soon", "expect": {}}]),
    ("tank", {"tank": {"length": "-80 cm", "width": "40 cm", "height": "40 cm"}}), ("tank", {"tank": {"volume": "180 L"}, "water": {"salt_per_litre": 400}}),
    ("tank", {"tank": {"volume": "180 L"}, "test_kits": {"ammonia": {"step": -1}}}), ("tank", {"tank": {"volume": "180 L"}, "test_kits": {"ammonia": {"step": "-1"}}}),
    ("shop", {"name": "x", "prices": {"salt": "-3 per kg"}}), ("shop", {"name": "x", "prices": {"unicorn": "3 each"}}), ("shop", {"name": "x", "prices": {"salt": "3 each"}}),
    ("shop", {"name": "x", "prices": {"salt": "3 per furlong"}}), ("shop", {"name": "x", "prices": {"amphiprion-ocellaris": "3 per kg"}}),
    ("rules", {"phase": "leak-test", "numbers": {"leak_watch": {"value": 9999}}}), ("rules", {"phase": "leak-test", "numbers": {"leak_watch": {"value": 30}}}),
    ("rules", {"numbers": {"ours": {"value": -1, "unit": "d", "grade": "practice"}}}), ("rules", {"numbers": {"heater_soak": {"value": 5}}}),
    ("livestock", {"group": "fish", "animals": [{"id": "x", "adult_cm": -3}]}), ("livestock", {"group": "fish", "animals": [{"id": "x", "adult_cm": 0}]}), ("livestock", {"group": "fish", "animals": [{"id": "x", "run_cm": "-3"}]}),
    ("livestock", {"group": "fish", "animals": [{"id": "x", "mannr": "mild"}]}), ("livestock", {"group": "birds"}),
])
def test_a_slip_is_refused_while_it_is_typed(kind: str, data: Any) -> None:
    assert faults(kind, data)


@over(("kind", "data"), [
    *(("shop", {"name": "x", "prices": {"salt": text}}) for text in ("3.20 per kg", "3,20 PER lb", "0 per ounces", " 3 per kilograms ")),
    ("shop", {"name": "x", "prices": {"amphiprion-ocellaris": "24.90 Each", "mixed_water": "0.5 per imp gal"}}), ("tank", {"tank": {"volume": "180 L"}, "water": {"salt_per_litre": 38}}),
    ("rules", {"phase": "leak-test", "numbers": {"leak_watch": {"value": 60}}}), ("rules", {"numbers": {"ours": {"value": -1, "unit": "mL", "grade": "practice"}}}),
])
def test_what_a_shop_may_write_passes(kind: str, data: Any) -> None:
    assert faults(kind, data) == []


@pytest.mark.parametrize(("line", "passes"), [
    ("Go.", True), ({"text": "Go."}, True), ({"text": "Go.", "unless": {"tank": {"key": "tank.sump", "is": ["0.0"]}}}, True), ({"text": "Go.", "unless": {"tank": {"key": "tank.sumpf"}}}, False), ({"text": "Go.", "unles": {}}, False), ({"unless": {"done": "site/place"}}, False),
])
def test_a_line_of_a_job_is_a_text_or_a_text_with_its_condition(line: Any, passes: bool) -> None:
    assert (faults("rules", {"phase": "site", "tasks": [{"id": "ours", "title": "Ours", "steps": [line], "watch": [line]}]}) == []) == passes


@pytest.mark.parametrize("part", [0, *(pytest.param(part, marks=pytest.mark.slow) for part in range(1, 8))])
def test_the_limits_of_every_number_are_those_of_the_judge(part: int) -> None:
    """An eighth of them on every run."""
    book = rulebook()
    told = file_schema("rules", book)["$defs"]["Numbers"]["properties"]
    for name, number in list(book.numbers.items())[part::8]:
        limits = told.get(name, {}).get("properties", {}).get("value", {})
        step = max(abs(number.value) * 0.01, 0.01)
        for key, sign in (("minimum", -1), ("maximum", 1)):
            if key in limits:
                assert house_number(name, limits[key] + sign * step, book) is not None, name
            elif number.unit != "months":
                assert house_number(name, number.value * 1.01 * (1 if (number.value > 0) == (sign > 0) else -1) + sign * step, book) is None, name


def test_only_a_schema_that_knows_the_animals_closes_the_list_of_prices() -> None:
    assert "propertyNames" not in file_schema("shop")["properties"]["prices"]
    printed = CliRunner().invoke(newtank, ["rules", "--schema", "shop", "--rules", str(SCENARIOS / "shop-handover" / "house-rules")])
    names = yaml.safe_load(printed.stdout)["properties"]["prices"]["propertyNames"]["enum"]
    assert set(names) == set(GOODS) | set(ANIMALS)


@over("text", ["80 cm", "80cm", "2 ft 6 in", "31.5 IN", "0,8 m", "  80 cm ", "31 1/2 in", "3/4 m", "2 ft 6 1/2 in"])
def test_a_length_may_be_written_in_every_way_that_is_read(text: str) -> None:
    assert faults("tank", {"tank": {"length": text, "width": "40 cm", "height": "40 cm"}}) == []


@over("text", ["35 ppt", "35", "1.0264 SG 25/25", "1.026 SG 60F/60F", "53 mS/cm at 25 C", "35 PPT"])
def test_salinity_in_the_schema_agrees_with_the_reader(text: str) -> None:
    read = not isinstance(parse_amount(text, "salinity"), Refusal)
    assert (faults("tank", {"tank": {"volume": "180 L"}, "water": {"salinity": text}}) == []) == read


PLACES = {  # dimension: where an amount of it stands in a tank file
    "length": ("tank", "length"), "volume": ("tank", "volume"), "mass": ("rock", "mass"), "temperature": ("water", "temperature"), "salinity": ("water", "salinity"),
    "salt": ("water", "salt_per_litre"), "ammonia": ("cycle", "dose"), "power": ("equipment", "heater"), "flow": ("equipment", "circulation"), "daily_flow": ("equipment", "ro_rate"),
}
UNITS = sorted({unit for dimension in DIMENSIONS.values() for unit in dimension.units})


@over("dimension", sorted(PLACES))
def test_each_spelling_of_each_unit_passes_where_it_is_read_and_nowhere_else(dimension: str) -> None:
    block, key = PLACES[dimension]
    wrong = []
    for unit in UNITS:
        for text in (f"12 {unit}", f"12 {unit.upper()}"):
            read = parse_amount(text, dimension, bare=dimension == "salt")
            by_reader = not isinstance(read, Refusal)
            by_schema = not [f for f in faults("tank", {block: {key: text}}) if f.startswith(f"{block}/{key}")]
            if by_reader != by_schema:
                wrong.append((text, by_reader))
    assert wrong == []


def test_every_key_of_the_tank_file_is_there_and_no_other() -> None:
    def told(schema: Any, defs: Any, model: Any) -> None:
        keys = {field.alias or name: field for name, field in model.model_fields.items()}
        assert set(schema["properties"]) == set(keys) and schema["additionalProperties"] is False
        for field in keys.values():
            if isinstance(field.annotation, type) and hasattr(field.annotation, "model_fields"):
                told(defs[field.annotation.__name__], defs, field.annotation)

    schema = file_schema("tank")
    told(schema, schema["$defs"], Tank)


@over("kind", KINDS)
def test_patterns_are_such_as_every_editor_knows(kind: str) -> None:
    """ECMA-262, which JSON Schema recommends, has no inline flags and no Python names."""
    text = str(file_schema(kind))
    assert not re.search(r"\(\?[^:]", text) and r"\Z" not in text and r"\A" not in text


def test_the_command_writes_a_schema_to_a_file(tmp_path: Path) -> None:
    path = tmp_path / "tank.schema.json"
    result = CliRunner().invoke(newtank, ["rules", "--schema", "tank", "-o", str(path)])
    assert result.exit_code == 0 and str(path) in result.output
    assert yaml.safe_load(path.read_text("utf-8")) == file_schema("tank")


def test_an_output_without_a_schema_is_wrong_use(tmp_path: Path) -> None:
    assert CliRunner().invoke(newtank, ["rules", "-o", str(tmp_path / "x.json")]).exit_code == 2
