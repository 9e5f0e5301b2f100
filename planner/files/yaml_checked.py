"""Strict YAML into checked records: the reader of `yaml_tree`, pydantic as the checker, our own words for what is wrong.

`validate` is for any record: the tank file's and the rule files'. A model's validators may raise `Refusal` to choose
code, message and fix; a plain ValueError passes its message through.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any, TypeVar

from pydantic import Tag, ValidationError

from planner.files.checked import Checked, MadeOf
from planner.files.yaml_tree import Data, Path, Places, decode_text, line_of, read_yaml
from planner.terms.problems import Problem, nearest, sort_problems
from planner.terms.units import Refusal
from planner.terms.written_amounts import one_of

M = TypeVar("M", bound=Checked)


def validate(
    model_class: type[M], data: Data, places: Places, text_lines: list[str]
) -> tuple[M | None, tuple[Problem, ...]]:
    """Check plain data against a model: the record, or None and every problem with its place, line and fix."""
    found, mistakes = _check(model_class, data)
    return found, sort_problems(_tell(model_class, data, places, text_lines, m)[1] for m in mistakes)


def salvage(
    model_class: type[M], data: Data, places: Places, text_lines: list[str]
) -> tuple[M | None, tuple[Problem, ...]]:
    """Like `validate`, but what is wrong is left out and the rest is kept, as far as the model allows."""
    data = deepcopy(data)
    problems: list[Problem] = []
    moved: list[tuple[Path, int]] = []
    for turn in range(50):
        found, mistakes = _check(model_class, data)
        if found is not None:
            return found, sort_problems(problems)
        drops: set[Path] = set()
        for mistake in mistakes:
            path, problem = _tell(model_class, data, places, text_lines, mistake, moved)
            # What is missing only because it was left out a turn ago has been told already.
            if turn == 0 or problem.code not in ("missing-key", "size-missing", "size-twice"):
                problems.append(problem)
            drops.add(path)
        if () in drops:
            return None, sort_problems(problems)
        for path in sorted(
            drops, key=lambda p: tuple((isinstance(x, int), str(x).zfill(6)) for x in p), reverse=True
        ):
            _drop(data, path, moved)
    return None, sort_problems(problems)


def _check(model_class: type[M], data: Data) -> tuple[M | None, list[Any]]:
    try:
        return model_class.model_validate({} if data is None else data), []
    except ValidationError as error:
        return None, error.errors(include_url=False)


def _drop(data: Any, path: Path, moved: list[tuple[Path, int]]) -> None:
    """Leave out what stands at `path`; of a key that is not there, the block that lacks it."""
    path = _real_path(data, path)[0]
    for step in path[:-1]:
        data = data[step]
    if isinstance(data, list) and isinstance(path[-1], int):
        moved.append((path[:-1], path[-1]))
    del data[path[-1]]


def _as_written(path: Path, moved: Sequence[tuple[Path, int]]) -> Path:
    """The path before list items were left out."""
    for parent, index in reversed(moved):
        here = path[len(parent)] if len(path) > len(parent) else None
        if path[: len(parent)] == parent and isinstance(here, int) and here >= index:
            path = (*parent, here + 1, *path[len(parent) + 1 :])
    return path


def _tell(
    model_class: type[Checked],
    data: Data,
    places: Places,
    lines: list[str],
    mistake: Any,
    moved: Sequence[tuple[Path, int]] = (),
) -> tuple[Path, Problem]:
    """A library error as (path in the data to leave out, our problem)."""
    path, missing = _real_path(data, mistake["loc"])
    kind, ctx = mistake["type"], mistake.get("ctx") or {}
    if missing == "[key]":
        missing, on_key = "", True
        name = "this key"
    else:
        name, on_key = (
            f"`{missing or next((str(p) for p in reversed(path) if isinstance(p, str)), 'this file')}`",
            False,
        )
    match kind:
        case "extra_forbidden":
            on_key = True
            near = nearest(str(path[-1]), known := _known_keys(model_class, mistake["loc"][:-1]))
            code, message = "unknown-key", f"unknown key `{path[-1]}`"
            block, _, inner = str(path[-1]).partition(".")
            fix = f"use one of the known keys: {', '.join(sorted(known))}"
            elsewhere = _headings(model_class, path, data) if len(path) > 1 else []
            if near:
                fix = f"write `{near}`"
            elif elsewhere:
                fix = f"it belongs under {one_of([f'{b}:' for b in elsewhere])}; take the # from that heading too, if it still has one"
            if inner and block in known:  # our pages name a key by its way; the file has it in its block
                fix = f"write `{inner}:` on a line of its own under `{block}:`, further in"
        case "union_tag_not_found":
            known = _known_keys(model_class, mistake["loc"])
            code, message = "not-a-choice", f"{name} has none of the keys it needs"
            fix = f"use one of {one_of(known)}" if known else "check its keys"
        case "missing":
            on_key = True
            code, message, fix = "missing-key", f"the key {name} is missing", f"add {name}"
        case "value_error" if isinstance(ctx.get("error"), Refusal):
            refusal = ctx["error"]
            code, message, fix = refusal.code, refusal.message, refusal.fix
            path = (*path, *refusal.at)
        case "value_error" | "assertion_error":
            code, message, fix = "not-possible", str(ctx.get("error", "this cannot be so")), "correct it"
        case _:
            code, message, fix = _wording(kind, ctx, name, mistake.get("input"))
    written = _as_written(path, moved)
    place = places.of_key(written) if on_key else places.around(written)
    return path, Problem(place, code, message, fix, line_of(lines, place.line))


def _wording(kind: str, ctx: Mapping[str, Any], name: str, given: Any) -> tuple[str, str, str]:
    shown = f"{given!r}" if isinstance(given, str) else "this"
    if given is None:
        return "empty-value", f"{name} has no value", f"write a value after {name}, or take the key out"
    if kind in ("literal_error", "enum"):
        choices = _choices(str(ctx.get("expected", "")))
        near = nearest(given, choices) if isinstance(given, str) else None
        return (
            "not-a-choice",
            f"{name} cannot be {shown}; it is {one_of(choices)}",
            f"write `{near}`" if near else "choose one of them",
        )
    if kind == "union_tag_invalid":
        tags = _choices(str(ctx.get("expected_tags", "")))
        return "not-a-choice", f"{name} has a kind that is not known", f"use one of {one_of(tags)}"
    if kind.startswith(("int_", "int ")) or kind == "int_type":
        return ("not-a-whole-number", f"{name} is a whole number, not {shown}", "write a whole number, such as `2`")
    if kind.startswith(("float_", "decimal_", "finite_number")):
        return "not-a-number", f"{name} is a number, not {shown}", "write a plain number, such as `0.25`"
    if kind.startswith("bool_"):
        return "not-yes-or-no", f"{name} is yes or no, not {shown}", "write `yes` or `no`"
    if kind.startswith(("date_", "datetime_")):
        return ("not-a-date", f"{name} is a date, not {shown}", "write it as year-month-day, such as `2026-03-04`")
    if kind.startswith("time_"):
        return "not-a-time", f"{name} is a time of day, not {shown}", "write it as `18:00`"
    if kind in ("greater_than_equal", "greater_than", "less_than_equal", "less_than"):
        word = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
        limits = " and ".join(f"{word[k]} {ctx[k]:g}" for k in ("ge", "gt", "le", "lt") if k in ctx)
        return "out-of-range", f"{name} is {given}, but it must be {limits}", "check the number"
    if kind in ("too_short", "string_too_short"):
        return "empty-value", f"{name} is too short", "write something there"
    if kind in ("too_long", "string_too_long"):
        return "too-long", f"{name} is too long", "shorten it"
    if kind == "string_pattern_mismatch":
        return ("not-a-name", f"{name} cannot be {shown}", "use small letters, digits and hyphens, beginning with a letter")
    if kind == "string_type":
        return ("not-text", f"{name} is one text, not a list or a block of keys", f"write {name} and its value on one line")
    if kind in ("tuple_type", "list_type", "set_type", "frozen_set_type"):
        return "not-a-list", f"{name} is a list", "write `[one, two]`, or one item per line, each after `- `"
    if kind in ("dict_type", "mapping_type", "model_type", "model_attributes_type", "dataclass_type"):
        return ("not-a-block", f"{name} is a block of keys, not {shown}", "write its keys below it, indented by two spaces")
    return "not-usable", f"{name} cannot be {shown}", "see the reference for what can be written here"


def _choices(expected: str) -> list[str]:
    """`'a', 'b' or 'c'` as a list."""
    return [part.strip().strip("'\"") for part in expected.replace(" or ", ", ").split(",") if part.strip()]


def _real_path(data: Data, loc: Sequence[str | int]) -> tuple[Path, str]:
    """The part of a location that stands in the data (the checker adds names of union branches), and the key that is
    missing at its end, if any."""
    path: list[str | int] = []
    node: Any = data
    missing = ""
    for step in loc:
        if (isinstance(node, dict) and step in node) or (
            isinstance(node, list) and isinstance(step, int) and step < len(node)
        ):
            path.append(step)
            node = node[step]  # type: ignore[index]
            missing = ""
        else:
            missing = str(step)
    return tuple(path), missing


def _known_keys(model_class: type[Checked], loc: Sequence[str | int]) -> list[str]:
    """The keys that a model knows at a location, followed through the types of its fields."""
    here: list[Any] = [model_class]
    for step in loc:
        here = [t for found in here for t in _below(found, step)] or here
    models = [m for found in here for m in _models(found)]
    return sorted({key for model in models for key in _fields(model)})


def _headings(model_class: type[Checked], path: Path, data: Any) -> list[str]:
    """The other headings of the file under which a key may stand. What it holds tells more than its name: `ammonia: {basis: ion}` is a
    test kit, not the cycle's `ammonia: dosed`."""
    for step in path:
        data = data[step]
    blocks = [b for b in _known_keys(model_class, ()) if b != path[0]]
    if isinstance(data, dict) and data:
        return [b for b in blocks if set(data) <= set(_known_keys(model_class, (b, path[-1])))]
    return [b for b in blocks if path[-1] in _known_keys(model_class, (b,))]


def _fields(model: type[Checked]) -> dict[str, Any]:
    return {field.alias or name: field.annotation for name, field in model.model_fields.items()}


def _below(kind: Any, step: str | int) -> list[Any]:
    """The types to be met one step below `kind`; a union branch's name leads to that branch."""
    if isinstance(kind, type) and hasattr(kind, "model_fields"):
        fields = _fields(kind)
        return [fields[step]] if isinstance(step, str) and step in fields else []
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin is typing.Annotated:
        if any(isinstance(extra, Tag) and extra.tag == step for extra in args[1:]):
            return [args[0]]
        return _below(args[1].record if isinstance(args[1], MadeOf) else args[0], step)
    if origin in (typing.Union, types.UnionType):
        return [t for arg in args for t in _below(arg, step)]
    if origin in (dict, Mapping) and isinstance(step, str):
        return [args[1]]
    if origin in (list, tuple) and isinstance(step, int):
        return [args[0]]
    return []


def _models(kind: Any) -> list[type[Checked]]:
    if isinstance(kind, type) and hasattr(kind, "model_fields"):
        return [kind]
    if isinstance(kind, MadeOf):
        return [kind.record]
    if typing.get_origin(kind) in (typing.Union, types.UnionType, typing.Annotated):
        return [m for arg in typing.get_args(kind) for m in _models(arg)]
    return []


__all__ = ["Data", "Path", "Places", "Refusal", "decode_text", "line_of", "read_yaml", "salvage", "validate"]
