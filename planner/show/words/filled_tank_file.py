"""Keys of a tank file set at their places, all else and every comment as it was.

A line that stands ready behind `#` is taken into use with its explanation; else the key goes below its heading, or the
heading with it at the end. A list below its key gives way to one in brackets.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import yaml

from planner.files.tank import known_paths, read_tank, tank_value
from planner.show.words.blank_tank_file import COLUMN, yaml_value
from planner.terms.units import Refusal


def described_anew(data: bytes, answers: Mapping[str, str], file: str) -> bytes | Refusal:
    """A tank file with these keys set, each a path such as `tank.lid`; or why it cannot be: whatever else it says has to read as before."""
    old = data.decode("utf-8-sig", "replace")
    before, problems = read_tank(data, file)
    if before is None:
        return Refusal("tank-unreadable", f"{file} cannot be read as it stands: {problems[0].message if problems else 'it is empty'}", "mend that first")
    others = [p for p in known_paths() if p not in ("test_kits", "wish_list") and not any(a.startswith(p) for a in answers) and tank_value(before, p) is not None and written_value(old, p) is not None]
    try:
        text = fill_gaps(old, answers)
    except ValueError as error:
        return Refusal("no-place", f"{error} has no place of its own in this file", "write it there by hand")
    after, worse = read_tank(text, file)
    if after is None or len(worse) > len(problems):
        new = next((p for p in worse if p.code not in {q.code for q in problems}), None)
        return Refusal(new.code, new.message, new.fix) if new is not None else Refusal("no-place", "with that the file would not read as it did", "write it there by hand")
    if any(tank_value(after, p) != tank_value(before, p) for p in others):
        return Refusal("no-place", "with that another key would change", "write it there by hand")
    return (b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b"") + text.encode("utf-8")


def written_value(text: str, path: str) -> object | None:
    """What the file itself says under a key, as it is written there; None where only a default of ours stands for it."""
    raw: object = yaml.load(text, Loader=yaml.CBaseLoader)
    for part in path.split("."):
        if not isinstance(raw, dict) or part not in raw:
            return None
        raw = raw[part]
    return raw


def fill_gaps(text: str, answers: Mapping[str, str]) -> str:
    """The file with these keys, each a path such as `tank.lid`. Raises ValueError for a heading written in a way that has no
    place to put a key at."""
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.replace("\r\n", "\n").split("\n")
    for path, value in answers.items():
        _put(lines, path.split("."), yaml_value(value, path == "name"))
    return end.join(lines)


def _put(lines: list[str], path: list[str], value: str) -> None:
    first, last, depth = 0, len(lines), 0
    for n, key in enumerate(path[:-1]):
        found = _line_of(lines, key, first, last, depth)
        if found is None:
            made = [f"{' ' * (depth + 2 * k)}{part}:" for k, part in enumerate(path[n:-1])]
            at = _end_of_block(lines, first, last)
            lines[at:at] = [*([""] if depth == 0 else []), *made, f"{' ' * (depth + 2 * (len(path) - 1 - n))}{path[-1]}: {value}"]
            return
        lines[found] = _in_use(lines[found])
        flow = re.match(r"^\s*[\w-]+\s*:\s*\{(.*)\}\s*(#.*)?$", lines[found])
        if flow is not None:
            lines[found] = _in_braces(lines[found], path[n + 1 :], value)
            return
        if re.match(r"^\s*[\w-]+\s*:\s*(#.*)?$", lines[found]) is None:
            raise ValueError(".".join(path))
        first, last = found + 1, _end_of(lines, found, depth)
        depth = _depth_below(lines, first, last, depth)
    ready = _line_of(lines, path[-1], first, last, depth)
    if ready is not None:
        old = lines[ready]
        if re.match(rf"^ {{{depth}}}{re.escape(path[-1])}\s*:\s*(#.*)?$", old):
            while len(lines) > ready + 1 and re.match(rf" {{{depth}}}\s*- ", lines[ready + 1]):
                del lines[ready + 1]
        says = re.search(r"\s#\s.*$", old.lstrip().lstrip("#"))
        line = f"{' ' * depth}{path[-1]}: {value}"
        lines[ready] = f"{line.ljust(COLUMN)}  {says[0].strip()}" if says else line
        return
    at = first if len(path) > 1 else _end_of_block(lines, first, last)
    lines.insert(at, f"{' ' * depth}{path[-1]}: {value}")


def _line_of(lines: list[str], key: str, first: int, last: int, depth: int) -> int | None:
    """The line of a key at this depth, in use or behind `#`; one in use before the other."""
    used = re.compile(rf"^ {{{depth}}}{re.escape(key)}\s*:")
    ready = re.compile(rf"^ {{{depth}}}#\s?{re.escape(key)}\s*:(?!\s*\w+ or )")
    for pattern in (used, ready):
        found = next((n for n in range(first, last) if pattern.match(lines[n])), None)
        if found is not None:
            return found
    return None


def _in_use(line: str) -> str:
    return re.sub(r"^(\s*)#\s?", r"\1", line, count=1)


def _end_of(lines: list[str], head: int, depth: int) -> int:
    """Where the block below a heading ends: before the next line in use that is no deeper."""
    for n in range(head + 1, len(lines)):
        line = lines[n]
        inner = line.lstrip(" ")
        if inner and not inner.startswith("#") and len(line) - len(inner) <= depth:
            return n
        if inner.startswith("#") and len(line) - len(inner) <= depth and re.match(r"#\s?[\w-]+\s*:", inner):
            return n  # the next heading, still behind its sign
    return len(lines)


def _depth_below(lines: list[str], first: int, last: int, depth: int) -> int:
    """How far the keys of a block stand in; two more than its heading where it has none yet."""
    for line in lines[first:last]:
        inner = line.lstrip(" ")
        if inner and re.match(r"#?\s?[\w-]+\s*:", inner) and len(line) - len(inner) > depth:
            return len(line) - len(inner)
    return depth + 2


def _end_of_block(lines: list[str], first: int, last: int) -> int:
    """After the last line of a block that says something."""
    at = last
    while at > first and not lines[at - 1].strip():
        at -= 1
    return at


def _in_braces(line: str, path: list[str], value: str) -> str:
    """A key put into a mapping that stands in braces on one line, in the place of its old value where it has one."""
    old = re.search(rf"([{{,]\s*{re.escape(path[0])}\s*:\s*)([^,{{}}\[\]#]+?)(?=\s*[,}}])", line) if len(path) == 1 else None
    if old is not None:
        return line[: old.start()] + old[1] + value + line[old.end() :]
    if len(path) > 2 or (len(path) == 2 and re.search(rf"\b{re.escape(path[0])}\s*:", line)):
        raise ValueError(".".join(path))
    new = f"{path[0]}: {value}" if len(path) == 1 else f"{path[0]}: {{{path[1]}: {value}}}"
    at = line.rindex("}", 0, line.index(" #") if " #" in line else len(line))
    before = line[:at].rstrip()
    return f"{before}{'' if before.endswith('{') else ', '}{new}{line[at:]}"


__all__ = ["described_anew", "fill_gaps", "written_value"]
