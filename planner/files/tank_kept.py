"""A tank file that has not changed, taken up as it was read: the checker loads half of itself only to check."""

from __future__ import annotations

from dataclasses import astuple
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from planner.files import tank as described
from planner.files.kept import Kept, Maker
from planner.files.tank import Tank, read_tank
from planner.files.tank_fields import Light, Part
from planner.terms.problems import Problem

HOME = Path(__file__).parents[1]
READER = Maker((*sorted((HOME / "files").glob("*.py")), *sorted((HOME / "terms").glob("*.py"))), ("pydantic", "pydantic_core", "yaml", "tzdata"))
"""What makes a tank out of its file."""
PARTS: dict[str, type[Part]] = {name: part for name in described.__all__ if isinstance(part := getattr(described, name), type) and issubclass(part, Part)}


def read_tank_kept(kept: Kept | None, text: bytes, file: str) -> tuple[Tank | None, tuple[Problem, ...]]:
    """`read_tank` of these arguments. Only a file without a problem is kept."""
    if kept is None:
        return read_tank(text, file)
    try:
        tank = part_from(kept.find("tank", READER, text))
        if isinstance(tank, Tank):
            ZoneInfo(tank.timezone or "UTC")  # the zones of a system come and go with its updates
            return tank, ()
    except (TypeError, KeyError, ValueError, AttributeError, OSError):
        pass  # whole, but no tank; or no such zone any more
    found, problems = read_tank(text, file)
    if found is not None and not problems:
        kept.keep("tank", READER, text, plain_part(found))
    return found, problems


def plain_part(value: Any) -> Any:
    """A part of a tank as plain data. A list is a tuple; a block says what it stands for."""
    if isinstance(value, Part):
        fields = {(info.alias or name): plain_part(getattr(value, name)) for name, info in type(value).model_fields.items()}
        return {"part": type(value).__name__, "given": sorted(value.model_fields_set), "fields": fields}
    if isinstance(value, Light):
        return {"light": astuple(value)}
    if isinstance(value, date):
        return {"day": value.isoformat()}
    if isinstance(value, dict):
        return {"block": {key: plain_part(item) for key, item in value.items()}}
    return [plain_part(item) for item in value] if isinstance(value, tuple) else value


def part_from(data: Any) -> Any:
    """The part of a tank that `plain_part` told. Raises KeyError, TypeError, ValueError or AttributeError for anything else."""
    if isinstance(data, list):
        return tuple(map(part_from, data))
    if not isinstance(data, dict):
        return data
    if "light" in data:
        return Light(*data["light"])
    if "day" in data:
        return date.fromisoformat(data["day"])
    if "block" in data:
        return {key: part_from(item) for key, item in data["block"].items()}
    return PARTS[data["part"]].model_construct(set(data["given"]), **{key: part_from(item) for key, item in data["fields"].items()})


__all__ = ["part_from", "plain_part", "read_tank_kept"]
