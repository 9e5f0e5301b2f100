"""The tank file as a form: every key with a line of explanation; what was answered is filled in, the rest stands ready
behind `#`. Pure text from answers: a path of keys (`tank.length`) to what was typed (`80 cm`)."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from planner.files.tank import PASSED, known_paths
from planner.terms.readings import READINGS

COLUMN = 34
PLAIN = re.compile(r"[^\W_][\w .,/°%+()'²³-]*", re.UNICODE)
WORDS = frozenset({"name"})
"""Keys whose value is words alone."""
UNPRINTED = re.compile("[\\x7f-\\x9f\\u2028\\u2029\\ufeff\\ufffe\\uffff]")
"""What JSON writes as it is and YAML (1.2.2, 5.1) does not take."""
HEAD = """\
# Your description of the tank. The plan is worked out from this file and from the journal beside it.
# Write amounts with their unit: 80 cm, 20 gal (US), 78 °F, 35 ppt, 1.026 SG 25/25. We do not read what stands behind #.
# To use a line, take away its # and the # of the heading above it. What you leave out counts as unknown, and the plan says what it misses.
"""


@dataclass(frozen=True, slots=True)
class Field:
    """One key below a heading, what it means, and what it may look like."""

    key: str
    says: str
    example: str


@dataclass(frozen=True, slots=True)
class Section:
    key: str
    says: str
    fields: tuple[Field, ...]


TOP = (
    Field("id", "made once for this tank; calendars need it, so do not change it", ""),
    Field("name", "shown on the plan and in the calendar", "my tank"),
    Field("start", "the first day of the plan", "2026-03-02"),
    Field("timezone", "region and city, for the days and reminders", "Europe/London"),
    Field("units", "metric or us: how amounts are shown", "metric"),
)
SECTIONS = (
    Section("tank", "outside measures of the glass box, or only `volume` if you do not know them", (
        Field("length", "along the front", "80 cm"), Field("width", "front to back", "45 cm"), Field("height", "floor to rim", "45 cm"),
        Field("volume", "what the box holds, instead of the three measures", "160 L"), Field("glass", "thickness of the panes (taken as 10 mm)", "8 mm"),
        Field("waterline", "from the rim down to the water (taken as 3 cm)", "3 cm"), Field("sump", "water in the sump when everything runs", "30 L"),
        Field("lid", "yes, net or no: both keep jumpers in; only a lid (yes) holds warmth and water", "yes"))),
    Section("rock", "the reef's skeleton and the home of its filter bacteria", (
        Field("kind", "live (wet, from the sea), cured (live, but already clean) or dry", "dry"), Field("mass", "all of it", "12 kg"),
        Field("cured_in", "live rock only: tank or bin", "bin"))),
    Section("sand", "give mass or depth", (
        Field("kind", "dry, live or none", "dry"), Field("mass", "all of it", "10 kg"), Field("depth", "or how deep it lies", "3 cm"))),
    Section("cycle", "how the filter bacteria are fed before any animal comes", (
        Field("ammonia", "rock (live rock gives it off), dosed (weighed powder) or food", "dosed"), Field("dose", "the first dose", "2 mg/L as N"),
        Field("seed", "where bacteria come from: none, bottled, media_marine or media_fresh", "bottled"))),
    Section("water", "what you mix your sea water from", (
        Field("source", "ro (your own unit), distilled (also RO water you buy), tap or ready_mixed", "ro"), Field("mixed_in", "bin, or tank (only the first time, in the empty tank)", "bin"),
        Field("salinity", "what you aim for (taken as 35 ppt)", "35 ppt"), Field("temperature", "what you aim for (taken as 25.5 °C)", "25.5 °C"),
        Field("salt_per_litre", "grams of your salt mix per finished litre, from its label", "38 g/L"))),
    Section("equipment", "what you have or will buy", (
        Field("heater", "power of each heater, in brackets if there are several", "[100 W, 100 W]"), Field("circulation", "flow of all pumps in the tank together", "5000 L/h"),
        Field("skimmer", "yes, no or its flow", "no"), Field("light", "its power, its PAR, or a few words", "60 W"), Field("bin", "size of the mixing bin", "60 L"),
        Field("ro_rate", "what the RO unit makes", "190 L/day"), Field("top_up", "yes, no, or the size of the top-up container", "10 L"),
        Field("battery_air", "yes or no: an air pump that starts in a power cut", "yes"), Field("floss", "yes or no: filter floss, in a sump or a filter that hangs on the tank", "no"),
        Field("quarantine_tank", "yes, no, or its size", "40 L"))),
    Section("room", "where it stands", (
        Field("temperature", "the coolest it usually gets", "20 °C"), Field("floor", "solid (on the ground), suspended (beams) or unknown", "solid"))),
    Section("keeper", "your days", (
        Field("reminder_time", "when the calendar rings", "18:00"), Field("away", "nights away, so that nothing is due then", "[{from: 2026-07-10, to: 2026-07-24}]"),
        Field("shopping_days", "days on which you can get to a shop", "[saturday]"))),
)  # fmt: skip
KIT_FIELDS = (
    Field("basis", "N or ion: what its mg/L count, see the leaflet", "N"), Field("step", "the smallest step of its colour card", "0.25"),
    Field("highest", "the top of its scale", "8"), Field("blank", "what it shows on fresh salt water", "0"), Field("expires", "month on the box", "2027-05"),
)  # fmt: skip
IN_FORM = {"ammonia": "0.25", "nitrite": "0.25", "nitrate": "5", "alkalinity": "0.5", "ph": "0.2", "phosphate": "0.02"}
"""The kits of the shopping list, each with a usual step."""
COUNT_NITROGEN = frozenset({"ammonia", "nitrite", "nitrate"})
MISSED = {
    "timezone": "the time zone", "rock.kind": "the kind of rock", "rock.mass": "how much rock", "sand.kind": "the sand", "sand.mass": "how much sand or how deep", "water.source": "where the water comes from",
    "room.temperature": "the room's temperature", "room.floor": "the floor", "equipment.bin": "the mixing bin", "equipment.heater": "the heaters",
    "test_kits.ammonia.basis": "what the ammonia kit counts (N or ion, as its leaflet says)", "test_kits.nitrite.basis": "what the nitrite kit counts",
    "test_kits.nitrate.basis": "what the nitrate kit counts", "wish_list": "the animals you wish for",
}  # fmt: skip


def tank_text(answers: Mapping[str, str]) -> str:
    """The whole commented file. Raises KeyError for a path that no tank file has."""
    for path in answers:
        if path not in known_paths() and not path.startswith(PASSED):
            raise KeyError(path)
    lines = [HEAD]
    lines += [_field(field, answers.get(field.key), "") for field in TOP if field.key in answers or field.example]
    for section in SECTIONS:
        lines += _section(section, answers)
    lines += _kits(answers)
    lines += ["", *_verbatim("wish_list", "animals you would like, by common or scientific name", answers, "[{animal: amphiprion-ocellaris, count: 2}]")]
    lines += _already(answers)
    return "\n".join(lines) + "\n"


def undescribed(answers: Mapping[str, str]) -> tuple[str, ...]:
    """What the plan would like to know and was not told, in words, the weightiest first."""
    settled = {"sand.mass"} if "sand.depth" in answers or answers.get("sand.kind") == "none" else set()
    return tuple(words for path, words in MISSED.items() if path not in answers and path not in settled)


def yaml_value(text: str, words: bool = False) -> str:
    """A typed value in the file: as it is where it is plain or a list in brackets (`words`: brackets are no list), else in
    quotes."""
    plain = " ".join(text.encode("utf-8", "replace").decode().split())
    if (not words and (plain[:1], plain[-1:]) in (("[", "]"), ("{", "}"))) or PLAIN.fullmatch(plain):
        return plain
    return UNPRINTED.sub(lambda m: f"\\u{ord(m[0]):04x}", json.dumps(plain, ensure_ascii=False))


def replace_key(text: str, key: str, value: str) -> str:
    """A tank file with one of its top keys set anew, everything else and its comments as they were."""
    line = f"{key}: {yaml_value(value, key in WORDS)}"
    made, count = re.subn(rf"(?m)^{re.escape(key)}[ \t]*:.*$", lambda _: line, text, count=1)
    return made if count else f"{line}\n{text}"


def _field(field: Field, value: str | None, indent: str) -> str:
    """`  length: 80 cm    # along the front`; the key behind `#` if it is not answered, so that taking the sign away leaves
    the right indentation."""
    line = f"{indent}{'#' if value is None else ''}{field.key}: {field.example if value is None else yaml_value(value, field.key in WORDS)}"
    return f"{line.ljust(COLUMN)}  # {field.says}"


def _section(section: Section, answers: Mapping[str, str]) -> list[str]:
    given = {f.key: answers.get(f"{section.key}.{f.key}") for f in section.fields}
    any_given = any(v is not None for v in given.values())
    head = f"{'' if any_given else '#'}{section.key}:"
    return ["", f"{head.ljust(COLUMN)}  # {section.says}", *(_field(f, given[f.key], "  ") for f in section.fields)]


def _kits(answers: Mapping[str, str]) -> list[str]:
    """The kits that were described, and those of the shopping list in any case."""
    given = {p for p in answers if p.startswith("test_kits.")}
    names = [n for n in READINGS if n in IN_FORM or any(p.startswith(f"test_kits.{n}.") for p in given)]
    head = f"{'' if given else '#'}test_kits:"
    lines = ["", f"{head.ljust(COLUMN)}  # what your kits can tell; without a basis a nitrogen result has to name it"]
    for name in names:
        known = any(p.startswith(f"test_kits.{name}.") for p in given)
        lines.append(f"  {'' if known else '#'}{name}:")
        for field in KIT_FIELDS:
            value = answers.get(f"test_kits.{name}.{field.key}")
            if value is not None or name == "ammonia" or field.key == "step" or (field.key == "basis" and name in COUNT_NITROGEN):
                shown = Field("step", field.says, IN_FORM[name]) if field.key == "step" and name in IN_FORM else field
                lines.append(_field(shown, value, "    "))
    return lines


def _verbatim(key: str, says: str, answers: Mapping[str, str], example: str) -> list[str]:
    value = answers.get(key)
    return [f"# {says}", f"{key}: {yaml_value(value)}" if value is not None else f"#{key}: {example}"]


def _already(answers: Mapping[str, str]) -> list[str]:
    given = [(path.removeprefix(PASSED), day) for path, day in answers.items() if path.startswith(PASSED)]
    lines = ["", "# phases that were finished before this plan began, with the day; the ones before them count as finished too"]
    return lines + (["already:", *(f"  {p}: {yaml_value(day)}" for p, day in given)] if given else ["#already: {leak-test: 2026-02-20}"])


__all__ = ["TOP", "replace_key", "tank_text", "undescribed", "yaml_value"]
