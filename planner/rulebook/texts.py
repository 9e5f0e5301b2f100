"""How a rule text is written: plain words, and in braces what each face says in its own way.

| braces | on a screen | on paper |
|---|---|---|
| `{leak_watch}` | the figure or number of that name, in the buyer's units | the same |
| `note it with {note:smell curing}` | the command for the event, in that water | `note it on the log sheet` |
| `with {failed:site/level}` | the command for a failed check | `on the log sheet` |
| `log it with {where:source}` | the option | `log it as source water` |
| `{do:undo}`, `{do:stock}`, `{do:use}`, `{do:handout}`, `{do:added}`, `{do:amount}`, `{do:at}`, `{do:supplies}`, `{do:bought}`, `{do:log_temperature}`, `{do:log_tds}` | what is typed | inside `{type:...}` alone |
| `{task:site/engineer}` | its title | the same |
| `{day:water/collect-mixed water/collect-for-fill}` | the day of the first of these tasks that the plan has | the same |
| `{key:room.floor}` | the key and the block in which it stands | `floor` |
| `{key:room.floor=solid/suspended}` | the line to write, and its block | `floor: solid or suspended` |
| `in {tank file}`, `into {tank file}` | `your description (tank.yaml)` | `the description of the tank`, `on the log sheet` |
| `{type:for a keyboard|for a pencil}` | the first | the second |
| `{units:100 L|26 gal}` | the one of the buyer's units | the same |
| `{within:0.5 ppt}`, `{each:1 ppt}` | a difference in salinity, with its step in SG for who reads SG | the same |

Braces are read once, when rules are loaded. A command or a key outside of braces is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any

from planner.files.checked import ReadBy
from planner.files.tank import known_paths
from planner.terms.records import WATERS, Amount
from planner.terms.texts import ByUnits, Command, Either, Figure, Part, TankFile, TankKey, TaskDay, TaskName, Text
from planner.terms.units import Refusal

_BRACES = re.compile(r"\{([^{}]*(?:\{[^{}]*\}[^{}]*)*)\}")
_NAME = re.compile(r"[a-z0-9_]+")
_TASK = re.compile(r"[a-z][a-z-]*/[a-z][a-z0-9-]*")
_STEP = re.compile(r"(\d+(?:\.\d+)?) ppt")
_DOTTED = re.compile(r"(?<![\w/.@])[a-z_]+(?:\.[a-z_]+)+")
_LITERAL = re.compile(r"`[^`]*`?|\bnewtank\b|(?<![\w-])--[a-z][a-z-]*|\btank file\b|(?<![\w/])[a-z]+(?:-[a-z]+)*/[a-z]+-[a-z0-9-]+")
_INNER_NAME = re.compile(r"(?<![\w/.:@])[a-z][a-z0-9]*(?:_[a-z0-9]+)+(?![\w/])")
_SIGNS = ("`", "newtank", "--", "tank file", "_", "/", "{", "}")
DONE_BY_TYPING = ("undo", "stock", "use", "handout", "added", "amount", "at", "supplies", "bought", "log_temperature", "log_tds", "five_times", "ten_times")
FORMS = "`{note:leak}`, `{failed:site/level}`, `{where:source}`, `{task:site/level}`, `{key:room.floor}`, `in {tank file}`, `{type:for a keyboard|for a pencil}`, or `{units:100 L|26 gal}`"


def parse_text(source: Any) -> str:
    """A text of a rule; one without braces is a plain `str`. Raises a Refusal for braces that cannot be read, for a
    command or key outside of them, and for a sentence that YAML took for a key and its value."""
    if (refusal := _not_a_text(source)) is not None:
        raise refusal
    if "{" in source:
        return Text(source, tuple(_parts(source)))
    return _plain(source, typed=False)


def plain_text(source: Any) -> str:
    """A text that every face shows as it stands: no braces."""
    text = parse_text(source)
    if isinstance(text, Text):
        raise Refusal("text-braces", "braces have no meaning in this text", "write what is meant in words")
    return text


def _not_a_text(source: Any) -> Refusal | None:
    if isinstance(source, str):
        return None
    if source is None:
        return Refusal("empty-value", "this text is empty", "write something there, or take the key out")
    if isinstance(source, dict) and len(source) == 1 and all(isinstance(v, str) for v in source.values()):
        return Refusal("text-unquoted", f"the `: ` after '{next(iter(source))}' makes two things of this text", "put quotes around this text")
    return Refusal("not-text", "this is one text, not a list or a block of keys", "write it on one line, and put quotes around it if it holds `: ` or begins with a brace")


def parts_in(text: str) -> tuple[Part, ...]:
    """The parts of a rule text, or of a sentence made of such texts and of other words, which are nobody's mistake."""
    return text.parts if isinstance(text, Text) else tuple(_parts(text, strict=False))


def _parts(source: str, typed: bool = False, strict: bool = True) -> Iterator[Part]:
    at = 0
    for found in _BRACES.finditer(source):
        before, inside = source[at : found.start()], found[1]
        try:
            part: Part = Figure(inside) if _NAME.fullmatch(inside) else _part(inside, before)
        except Refusal:
            if strict:
                raise
            continue
        if isinstance(part, (Command, TankFile)):
            before = before.removesuffix(part.lead)
        if before:
            yield _plain(before, typed) if strict else before
        yield part
        at = found.end()
    if rest := source[at:]:
        yield _plain(rest, typed) if strict else rest


def _plain(words: str, typed: bool) -> str:
    # Two thousand texts pass here and hardly one has any of it: the cheap look comes first.
    if words.count(".") <= words.count(". ") + words.endswith(".") and not any(map(words.__contains__, _SIGNS)):
        return words
    if "{" in words or "}" in words:
        raise Refusal("text-braces", "a brace of this text has no partner", "close the brace, or take it out")
    literal = _LITERAL.search(words) or next((m for m in _DOTTED.finditer(words) if m[0] in known_paths()), None) or (None if typed else _INNER_NAME.search(words))
    if literal is not None:
        raise Refusal("text-literal", f"`{literal[0].strip('`')}` in this text means something at a keyboard alone", f"put it in braces: {FORMS}")
    return words


def _part(inside: str, before: str) -> Part:
    kind, _, rest = inside.partition(":")
    if kind in ("note", "failed", "where"):
        return _command(kind, rest, _lead(before, ", with ", " with "))
    if inside == "tank file":
        return TankFile(_lead(before, "into the ", "into ", "the ", "The "))
    if kind == "task" and _TASK.fullmatch(rest):
        return TaskName(rest)
    if kind == "day" and all(map(_TASK.fullmatch, keys := tuple(rest.split(" ")))):
        return TaskDay(keys)
    if kind == "key" and rest:
        path, _, values = rest.partition("=")
        return TankKey(path, tuple(values.split("/")) if values else ())
    if kind == "do" and rest in DONE_BY_TYPING:
        return Command("do", rest, "", "")
    if kind == "type" and rest.count("|") == 1:
        typed, _, written = rest.partition("|")
        return Either(tuple(_parts(typed, typed=True)), tuple(_parts(written)))
    if kind == "units" and rest.count("|") == 1:
        return ByUnits(*rest.split("|"))
    if kind in ("within", "each") and (step := _STEP.fullmatch(rest)):
        return Amount(float(step[1]), f"ppt {kind}")
    raise Refusal("text-braces", f"`{{{inside}}}` names nothing", f"write the name of a figure or number, {FORMS}")


def _lead(before: str, *leads: str) -> str:
    return next((lead for lead in leads if before.endswith(lead)), "")


def _command(kind: str, rest: str, lead: str) -> Command:
    what, _, where = ("", "", rest) if kind == "where" else rest.partition(" ")
    in_water = where in WATERS or (not where and kind != "where")
    if not (in_water and {"note": _NAME.fullmatch(what), "failed": _TASK.fullmatch(what) and not where, "where": True}[kind]):
        raise Refusal("text-braces", f"`{{{kind}:{rest}}}` names nothing", f"write `{{note:EVENT}}`, `{{failed:PHASE/TASK}}`, or behind the event or `where:` one of {', '.join(sorted(WATERS))}")
    return Command(kind, what, where, lead)


RuleText = Annotated[str, ReadBy(parse_text, alone=True)]
"""A text that is filled for each tank."""
PlainText = Annotated[str, ReadBy(plain_text, alone=True)]
"""A text that is shown as it stands."""

__all__ = ["PlainText", "RuleText", "parse_text", "parts_in", "plain_text"]
