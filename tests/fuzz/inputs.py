"""Inputs that know the files: real files and rows, cut, doubled, swapped and sprinkled with what breaks readers."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from planner.terms.journal_words import DOSES, EVENTS
from planner.terms.readings import READINGS

ROOT = Path(__file__).parents[2]
KINDS = ("reading", "done", "skipped", "postponed", "dosed", "changed_water", "poured", "added", "moved", "lost", "event", "undo", "")
VALUES = ("0", "0.25", "0,25", "-1", "1e308", "1e-320", "nan", "inf", "over5", ">5", "<0.25", "1.026", "٣", "1_000", "+3", "0x10", "5.", ".", "1,250", "9" * 400, "−1", "½")
UNITS = ("mg/L as N", "ppm", "ppm as ion", "SG 25/25", "ppt", "deg C", "°F", "L", "gal", "%", "g", "dKH", "", "mS/cm", "kg/furlong", "\u200f", "mg/L as N mg/L as N")
WHEN = ("2026-03-01", "2026-03-01T18:00+01:00", "2026-03-29T02:30", "01/02/2026", "31.12.2026", "0001-01-01", "9999-12-31", "2026-02-30", "2026-03-01T24:00", "2026-03-01T18:00+99:99", "2026-03-01T18:00:00.1-23:59", "2199-12-31T23:59-12:00", "1990-01-01T00:00+14:00", "yesterday", "")
ODD = ("\0", "\ufeff", "\u2028", "\u202e", "\x1b[31m", "\t", '"', "'", "\\", "{x}", "{{", "&a", "*a", "!!python/object", "---", "...", "|", ">", "%", "@", "`", ": ", " #", "- ", "? ", "[", "]", "{", "}", "\r", "\n\n", "\x85", "\ud83d".encode("utf-16", "surrogatepass").decode("utf-16", "replace"), "🐟", "е", "=cmd()", "~", "null", "no", "1:20", "0o7", "1.0e", "é")
WORDS = ("ocellaris clownfish", "cycle/dose", "site/level#2", "gate/cycle", "line:3", "reading:ammonia", "water", "leak", "failed", "unknown thing")


@dataclass(frozen=True)
class Input:
    """What is read: `target` says by whom; `data` is the file, or the words of a command one in a line."""

    target: str
    data: bytes


@cache
def seeds(target: str) -> tuple[str, ...]:
    """Real files of each kind."""
    patterns = {"tank": "scenarios/*/tank.yaml", "journal": "scenarios/*/journal.csv", "shop": "scenarios/*/shop.yaml", "house": "scenarios/*/house-rules/**/*.yaml", "calendar": "scenarios/dry-rock-us/expected/*.ics"}
    found = [p.read_text("utf-8") for p in sorted(ROOT.glob(patterns[target]))]
    if target in ("tank", "journal", "shop"):
        name = {"tank": "tank.yaml", "journal": "journal.csv", "shop": "shop.yaml"}[target]
        found += [p.read_text("utf-8", "replace") for p in sorted((ROOT / "tests/bad").glob(f"*/{name}"))]
    if target == "house":
        found += [p.read_text("utf-8", "replace") for p in sorted((ROOT / "tests/bad").glob("*/house/**/*.yaml"))]
        found += [p.read_text("utf-8")[:6000] for p in sorted((ROOT / "rules").rglob("*.yaml"))]
    return tuple(found)


def make_input(dice: random.Random, target: str) -> Input:
    if target == "command":
        return Input(target, "\n".join(command(dice)).encode("utf-8", "replace"))
    if target == "log":
        return Input(target, calendar_log(dice).encode("utf-8", "replace"))
    text = dice.choice(seeds(target))
    lines = text.split("\n")
    if target == "journal" and dice.random() < 0.7:
        lines = lines[: dice.randrange(1, 30)] + [journal_row(dice) for _ in range(dice.randrange(1, 12))]
    elif len(lines) > 60:
        at = dice.randrange(len(lines) - 40)
        lines = (lines[:2] if target == "journal" else []) + lines[at : at + 40] if target != "calendar" else lines
    for _ in range(dice.choice((0, 1, 1, 2, 3, 6))):
        lines = change(dice, lines, target)
    data = "\n".join(lines).encode("utf-8", "replace")
    return Input(target, bytes_changed(dice, data))


def change(dice: random.Random, lines: list[str], target: str) -> list[str]:
    at = dice.randrange(len(lines)) if lines else 0
    line = lines[at] if lines else ""
    match dice.randrange(9):
        case 0:
            return lines[:at] + lines[at + 1 :]
        case 1:
            return [*lines[: at + 1], line, *lines[at + 1 :]]
        case 2:
            other = dice.randrange(len(lines)) if lines else 0
            return [lines[other] if n == at else x for n, x in enumerate(lines)]
        case 3:
            cut = dice.randrange(len(line) + 1)
            new = line[:cut] + dice.choice(ODD) + line[cut:]
        case 4:
            new = line[: dice.randrange(len(line) + 1)]
        case 5:
            new = line.partition(":")[0] + ": " + dice.choice((*VALUES, *UNITS, *WHEN, *WORDS)) if target != "journal" else journal_row(dice)
        case 6:
            new = " " * dice.randrange(6) + line.strip()
        case 7:
            new = line.replace(",", dice.choice((";", "\t", ",,", " , ")))
        case _:
            new = dice.choice(ODD) * dice.choice((1, 3, 200))
    return [*lines[:at], *new.split("\n"), *lines[at + 1 :]]


def journal_row(dice: random.Random) -> str:
    what = dice.choice((*READINGS, *sorted(DOSES), *sorted(EVENTS), *WORDS))
    return ",".join((dice.choice(WHEN), dice.choice(KINDS), what, dice.choice(VALUES), dice.choice(UNITS), dice.choice(("", "display", "quarantine", "mixing", "pond")), f'"{dice.choice(ODD)} [{dice.randrange(99)}aaa]"'))


def calendar_log(dice: random.Random) -> str:
    head = "uid,sequence,stamp,created,key,state,start,minutes,earliest,latest,journal,title,digest"
    row = ["62ea5d52-8f3e-5282-8e77-3d349c9826b7", "0", "2026-03-02T20:15:30Z", "2026-03-02T20:15:30Z", "cycle/dose", "firm", "2026-03-10 18:00 Europe/Berlin", "30", "2026-03-08", "", "a" * 12, "Dose", "e2da28b697ee969a"]
    lines = [head]
    for _ in range(dice.randrange(6)):
        one = list(row)
        for _ in range(dice.randrange(3)):
            one[dice.randrange(len(one))] = dice.choice((*VALUES, *WHEN, *ODD, "2147483648", "2026-13-01 99:99 Moon/Base"))
        lines.append(",".join(one))
    return "\n".join(change(dice, lines, "log"))


COMMANDS = ("plan", "today", "why", "readings", "forecast", "log", "done", "skip", "postpone", "note", "undo", "mix", "rules", "calendar", "stock", "compare", "start")
OPTIONS = ("--on", "--at", "--where", "--note", "--yes", "--json", "--until", "--since", "--to", "--amount", "--line", "--phase", "--all", "--rules", "--tank", "--check", "--all-day", "--units", "--help", "-o", "--nonsense")


def command(dice: random.Random) -> list[str]:
    words = [dice.choice(COMMANDS), "den"]
    pool = (*VALUES[:20], *WHEN, *WORDS, *COMMANDS, *ODD, "display", "den", "salt", "dose", "dilute", "60L", "dosed", "ammonia", "4.1g", "event", "den/no", "me\udcffn".encode("utf-8", "replace").decode())
    for _ in range(dice.randrange(5)):
        r = dice.random()
        if r < 0.4:
            words.append(dice.choice(OPTIONS))
        elif r < 0.6:
            words.append(f"{dice.choice(tuple(READINGS))}={dice.choice(VALUES)}{dice.choice(('', ' '))}{dice.choice(UNITS)}")
        else:
            words.append(dice.choice(pool))
    return [w.replace("\n", " ").replace("\0", "") for w in words]


def bytes_changed(dice: random.Random, data: bytes) -> bytes:
    match dice.randrange(12):
        case 0:
            at = dice.randrange(len(data) + 1)
            return data[:at] + dice.randbytes(dice.randrange(1, 5)) + data[at:]
        case 1:
            return data[: dice.randrange(len(data) + 1)]
        case 2:
            return b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n")
        case 3 if dice.random() < 0.2:
            return data.decode("utf-8", "replace").encode(dice.choice(("utf-16", "utf-16-le", "latin-1", "cp1252", "utf-32")), "replace")
        case _:
            return data

