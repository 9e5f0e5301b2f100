"""JSON Schema (2020-12) of the files that people write, so that an editor completes and checks while they type.

Made from the models that read the files and from the notes beside their readers. What is told of a value is what may be
written there, with its unit, and not what it becomes. A schema sees one value at a time: sums, ranges of amounts, names
that lead elsewhere and what contradicts what are left to the program's own check.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from planner.files.checked import Checked, checker_model
from planner.files.tank import Tank, known_paths
from planner.files.tank_fields import written_of
from planner.plan.goods import GOODS
from planner.plan.rule_cases import CaseRule
from planner.plan.shop_file import SOLD_BY, Shop
from planner.rulebook.house.allowed import number_limits
from planner.rulebook.house.shapes import AlertFilePart, CautionPart, NumbersFilePart, PhasePart
from planner.rulebook.nodes import NODE_KINDS, SHORT_FORMS
from planner.rulebook.provenance import HOURS_IN, Source
from planner.rulebook.shapes import Rulebook, TogetherFile
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.rulebook.strictness import number_uses
from planner.rulebook.words import Word
from planner.show.json.output_schema import DIALECT, Schema
from planner.stock import animals
from planner.terms.readings import READINGS
from planner.terms.records import WATERS
from planner.terms.units import DIMENSIONS
from planner.terms.written_amounts import WITH_FRACTIONS
from planner.terms.written_numbers import FRACTION, NOT_NEGATIVE, NUMBER

KINDS = ("tank", "shop", "rules", "livestock")
BOOLEAN: Schema = {"type": ["boolean", "string"], "pattern": "^(0|1|[yY]|[nN]|[tT]|[fF]|[oO][nN]|[oO][fF][fF]|[yY][eE][sS]|[nN][oO]|[tT][rR][uU][eE]|[fF][aA][lL][sS][eE])$"}
TEXT: Schema = {"type": ["string", "number", "boolean"]}
FIXED_WORDS: Mapping[tuple[str, str], Iterable[str]] = {
    ("ReadingNode", "name"): READINGS, ("KitNode", "name"): READINGS, ("SwingNode", "name"): READINGS, ("SwingNode", "where"): WATERS, ("ReadingNode", "where"): WATERS, ("EventNode", "where"): WATERS, ("FactNode", "where"): WATERS,
    ("AnimalNode", "where"): WATERS, ("TaskRule", "where"): WATERS, ("TaskPart", "where"): WATERS, ("TankNode", "key"): sorted(known_paths()),
}
"""Words that the models leave to `check`, because they depend on other rooms."""


def schema_text(kind: str, book: Rulebook | None = None, animals: Iterable[str] = ()) -> str:
    """The schema of a file as it is printed and written."""
    return json.dumps(file_schema(kind, book, animals), ensure_ascii=False, indent=2) + "\n"


def file_schema(kind: str, book: Rulebook | None = None, animals: Iterable[str] = ()) -> Schema:
    """The schema of a tank file, a shop file, a rule file (shipped, of a house, or of cases) or a livestock file. `book`:
    the shipped rules, whose numbers a house may move within limits. `animals`: the ids that may be priced; without them
    any name may stand among the prices."""
    if kind == "livestock":
        return {"$schema": DIALECT, "title": "newtank livestock file", **_livestock()}
    if kind == "rules":
        return _rules(book)
    schema = _schema_of(Tank if kind == "tank" else Shop)
    if kind == "shop":
        _prices(schema["properties"]["prices"], tuple(animals))
    _may_be_empty(schema)
    return {"$schema": DIALECT, "title": f"newtank {kind} file", **schema}


def _prices(prices: Schema, animals: tuple[str, ...]) -> None:
    """Each good with the units by which it is sold; animals are sold by the piece."""
    def price(measure: str) -> Schema:
        each = r"[eE][aA][cC][hH]"
        units = [*_spellings(u for u, unit in DIMENSIONS[measure].units.items() if unit.name in SOLD_BY[measure])] if measure in SOLD_BY else []
        sold = rf"[pP][eE][rR]\s+({'|'.join(units)})" if units else each
        example = f"3.20 per {SOLD_BY[measure][0]}" if units else "24.90 each"
        return {**prices["additionalProperties"], "pattern": rf"^\s*{NOT_NEGATIVE}\s+{sold}[ .]*$", "examples": [example]}

    prices["properties"] = {good: price(GOODS[good].measure) for good in sorted(GOODS)}
    if animals:
        prices["additionalProperties"] = price("each")
        prices["propertyNames"] = {"enum": [*sorted(GOODS), *sorted(animals)]}


class _AsWritten(GenerateJsonSchema):
    """Describes what stands in the file: YAML's own types and their spelling as text alike."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> Schema:
        note = written_of(schema["function"]["function"])  # type: ignore[arg-type]
        if note is None:
            return super().function_before_schema(schema)
        if "keys" in note:
            return {**self.generate_inner(schema["schema"]), "propertyNames": {"enum": note["keys"]}}
        spelled: Schema = _amounts(note)
        return spelled

    def str_schema(self, schema: core_schema.StringSchema) -> Schema:
        return TEXT | {key: schema[key] for key in ("pattern",) if key in schema}

    def float_schema(self, schema: core_schema.FloatSchema) -> Schema:
        return {"type": ["number", "string"], "pattern": r"^\s*[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?\s*$", **_limits(schema)}

    def int_schema(self, schema: core_schema.IntSchema) -> Schema:
        return {"type": ["integer", "string"], "pattern": r"^\s*[+-]?[0-9]+(\.0*)?\s*$", **_limits(schema)}

    def bool_schema(self, schema: core_schema.BoolSchema) -> Schema:  # noqa: ARG002  # the parent's signature
        return dict(BOOLEAN)

    def literal_schema(self, schema: core_schema.LiteralSchema) -> Schema:
        words = schema["expected"]
        return dict(BOOLEAN) if all(isinstance(w, bool) for w in words) else {"enum": list(words)}

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> Schema:
        # Defaults are in internal units, which nobody writes.
        return self.generate_inner(schema["schema"])

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002
        return False


def _schema_of(model: type[Checked]) -> Schema:
    ours = [phase.phase for phase in load_shipped_rules()[0].phases]
    schema: Schema = checker_model(model).model_json_schema(by_alias=True, schema_generator=_AsWritten)
    for name, part in ((model.__name__, schema), *schema.get("$defs", {}).items()):
        part.pop("title", None)
        for key, words in ((k, w) for (owner, k), w in FIXED_WORDS.items() if owner == name):
            part["properties"][key] = {"enum": list(words)}
        if name == "Condition":
            _condition(part)
        if name == "Line":  # most are a text alone
            schema["$defs"][name] = {"anyOf": [TEXT, part]}
        if name == "Tank":
            part["properties"]["already"]["propertyNames"] = {"anyOf": [{"enum": ours}, {"pattern": "^[a-z][a-z0-9-]*$"}]}
        if name == "PhasePart":  # ours are offered; a shop may have a whole phase of its own
            part["properties"]["phase"] = {"anyOf": [{"enum": ours}, TEXT]}
            part |= {"if": {"properties": {"phase": {"enum": ours}}}, "else": {"required": ["title", "intro", "order", "gate"]}}
    return schema


def _condition(part: Schema) -> None:
    """Exactly one kind, and the short forms."""
    kinds = [key.rstrip("_") for key in NODE_KINDS]
    part["oneOf"] = [{"required": [key]} for key in kinds]
    for key in kinds:
        part["properties"][key] = part["properties"][key]["anyOf"][0]
        if key in SHORT_FORMS:
            part["properties"][key] = {"anyOf": [TEXT, part["properties"][key]]}


def _limits(schema: Mapping[str, Any]) -> Schema:
    names = {"ge": "minimum", "gt": "exclusiveMinimum", "le": "maximum", "lt": "exclusiveMaximum"}
    return {names[key]: schema[key] for key in names if schema.get(key) is not None}


# --- amounts

def _amounts(note: Any) -> Any:
    """A note with its amounts spelled out."""
    if isinstance(note, list):
        return [_amounts(x) for x in note]
    if not isinstance(note, dict):
        return note
    if "amount" not in note:
        return {key: _amounts(value) for key, value in note.items()}
    dimension = DIMENSIONS[note["amount"]]
    number = NOT_NEGATIVE if note["low"] >= 0 else NUMBER
    if dimension.name in WITH_FRACTIONS:
        number = f"(?:{FRACTION}|{number})"
    pattern = rf"^\s*{number}\s*[°º]?\s*({'|'.join([*_spellings(dimension.units), *_SPECIAL.get(dimension.name, ())])}){'?' if note['bare'] else ''}[ .]*$"
    said = f"{dimension.title[0].upper()}{dimension.title[1:]} between {note['low']:g} and {note['high']:g} {note['unit'] or dimension.internal}, in {', '.join(dimension.usual)}."
    limits = {"minimum": note["low"], "maximum": note["high"]} if note["bare"] else {}
    return {"type": ["string", "number"] if note["bare"] else "string", "pattern": pattern, **limits, "description": said, "examples": [note["example"]]}


_SPECIAL = {
    "length": (r"([fF][tT]|[fF][eE][eE][tT]|[fF][oO][oO][tT]|['′])\s*[0-9. /]+\s*([iI][nN]|[iI][nN][cC][hH]|[iI][nN][cC][hH][eE][sS]|[\"″])",),
    "salinity": (r"[^/]*[0-9]\s*[°º]?\s*[cCfF]?\s*/\s*[0-9.]+\s*[°º]?\s*[cCfF]?[^/]*", r"[mMuUµμ][sS]\s*/\s*[cC][mM].*[0-9].*"),
}
"""Feet with inches; specific gravity with its pair of temperatures, and conductivity with its own."""


def _spellings(units: Iterable[str]) -> list[str]:
    """Each unit in upper and lower case, longest first."""
    return [_any_case(unit) for unit in sorted(units, key=lambda u: (-len(u), u)) if unit]


def _any_case(unit: str) -> str:
    kept = []
    for sign in unit:
        if sign == "u":
            kept.append("[uUµμ]")
        elif sign in "234":
            kept.append({"2": "[2₂]", "3": "[3₃³]", "4": "[4₄]"}[sign])
        elif sign.isalpha() and sign.isascii():
            kept.append(f"[{sign}{sign.upper()}]")
        else:
            kept.append({" ": r"\s+", "/": r"\s*/\s*", "%": r"\s*%\s*"}.get(sign) or re.escape(sign).replace('\\"', '"').replace("\\'", "'").replace("\\-", "-"))
    return "".join(kept)


# --- whole files

def _may_be_empty(schema: Schema) -> None:
    """A key without a value counts as not written. A block says so itself, so that a fault inside it is told where it is."""
    for part in schema.get("$defs", {}).values():
        part["type"] = [part["type"], "null"]
    for part in (schema, *schema.get("$defs", {}).values()):
        part["properties"] = {key: _or_empty(value) for key, value in part.get("properties", {}).items()}
        for value in part["properties"].values():
            if isinstance(value.get("additionalProperties"), dict):
                value["additionalProperties"] = _or_empty(value["additionalProperties"])


def _or_empty(value: Schema) -> Schema:
    options = [option for option in value.get("anyOf", [value]) if option != {"type": "null"}]
    one = {**options[0], **{k: v for k, v in value.items() if k == "description"}}
    if len(options) > 1:
        return {**value, "anyOf": [*options, {"type": "null"}]}
    if "$ref" in one:
        return one
    if "enum" in one:
        return {**one, "enum": [*one["enum"], None]}
    return {**one, "type": [*([one["type"]] if isinstance(one["type"], str) else one["type"]), "null"]}


def _rules(book: Rulebook | None) -> Schema:
    """Which kind of rule file it is shows by its keys: a phase, alerts, numbers alone, sources, words, cautions; a list is cases."""
    models: tuple[type[Checked], ...] = (PhasePart, AlertFilePart, NumbersFilePart, TogetherFile, CautionPart, Source, Word, CaseRule)
    parts = {model.__name__: _schema_of(model) for model in models}
    defs: Schema = {}
    for part in parts.values():
        defs |= part.pop("$defs", {})
    defs |= parts
    defs["NumberPart"]["properties"]["unit"] = {**TEXT, "examples": list(HOURS_IN)}
    defs["NumberPart"] |= {"if": {"required": ["unit"], "properties": {"unit": {"enum": list(HOURS_IN)}}}, "then": {"properties": {"value": {"minimum": 0}}}}
    defs["CaseRule"]["properties"]["on"]["description"] = "The day of the plan. An editor set to YAML 1.1 takes the word `on` for true: set it to YAML 1.2."
    if book is not None:
        defs["Numbers"] = {"properties": dict(_limited_numbers(book))}
        for name in ("PhasePart", "AlertFilePart", "NumbersFilePart"):
            defs[name]["properties"]["numbers"]["$ref"] = "#/$defs/Numbers"

    def listed(model: str) -> Schema:
        return {"type": "object", "additionalProperties": {"$ref": f"#/$defs/{model}"}}

    sources = {"type": "object", "additionalProperties": {"type": "object", "required": ["read"]}, "minProperties": 1}
    words = {"type": "object", "additionalProperties": {"type": "object", "required": ["term"]}, "minProperties": 1}
    otherwise: Schema = {"if": sources, "then": listed("Source"), "else": {"if": words, "then": listed("Word"), "else": listed("CautionPart")}}
    for key, model in (("numbers", "NumbersFilePart"), ("alerts", "AlertFilePart"), ("phase", "PhasePart"), ("apart", "TogetherFile")):
        otherwise = {"if": {"type": "object", "required": [key]}, "then": {"$ref": f"#/$defs/{model}"}, "else": otherwise}
    cases = {"if": {"type": "array"}, "then": {"type": "array", "items": {"$ref": "#/$defs/CaseRule"}}, "else": otherwise}
    return {"$schema": DIALECT, "title": "newtank rule file", **cases, "$defs": defs}


def _limited_numbers(book: Rulebook) -> Iterator[tuple[str, Schema]]:
    """Each shipped number with the least and the most that a house may write."""
    uses = tuple(number_uses(book))
    for name in sorted(book.numbers):
        low, high = number_limits(name, book, uses)
        limits = {key: value for key, value in (("minimum", low), ("maximum", high)) if value is not None}
        if limits:
            yield name, {"properties": {"value": limits}}


def _livestock() -> Schema:
    """Animals and their kinds by the words of `animals`, and the file of their figures."""
    def value(key: str) -> Schema:
        words: Schema = {"enum": sorted(animals.WORDS[key])} if key in animals.WORDS else TEXT
        if key in ("truce", "jumps"):
            words = {"enum": ["true", "false", True, False]}
        if key in animals.NUMBERS:
            return {"type": ["number", "string"], "pattern": r"^\s*\+?[0-9.]+([eE][+-]?[0-9]+)?\s*$", ("exclusiveMinimum" if key == "adult_cm" else "minimum"): 0}
        return {"anyOf": [words, {"type": "array", "items": words}]} if key in animals.LISTS else words

    entry: Schema = {"type": "object", "properties": {key: value(key) for key in sorted(animals.KEYS)}, "additionalProperties": False}
    figure: Schema = {"type": "object", "required": ["value"], "additionalProperties": False,
                      "properties": {**dict.fromkeys(("value", "unit", "grade", "source", "where", "says", "of", "note", "protects"), TEXT), "range_published": {"type": "array", "minItems": 2, "maxItems": 2, "items": TEXT}}}
    steps: Schema = {"type": "array", "items": {"type": "array", "minItems": 2, "maxItems": 2, "items": {"type": ["number", "string"]}}}
    return {
        "type": "object",
        "if": {"type": "object", "required": ["group"]},
        "then": {
            "properties": {"group": {"enum": list(animals.GROUPS)}, "kinds": {"type": "object", "additionalProperties": {"$ref": "#/$defs/animal"}},
                           "animals": {"type": "array", "items": {"allOf": [{"$ref": "#/$defs/animal"}, {"required": ["id"]}]}}},
            "additionalProperties": False,
        },
        "else": {"anyOf": [{"properties": {"steps": steps, "numbers": {"type": "object", "additionalProperties": figure}}, "additionalProperties": False, "minProperties": 1},
                           {"type": "object", "additionalProperties": {"type": "object", "required": ["title"]}}]},
        "$defs": {"animal": entry},
    }


__all__ = ["KINDS", "file_schema", "schema_text"]
