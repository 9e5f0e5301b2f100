"""A text for the keeper as its parts. What only a keyboard can do stays a value until a face shows it.

`Text` is a `str`, which reads as it was written in the rules or, in a plan, as a keyboard needs it. Its parts let another
face say the same in its own way. What is put together from texts keeps their parts with `joined` alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple, TypeAlias

from planner.terms.records import Amount


class Figure(NamedTuple):
    """A figure of the tank or a number of the rules, by name, before any tank is known."""

    name: str


class Unknown(NamedTuple):
    """A figure that cannot be worked out: the tank is not described well enough."""

    name: str


class Command(NamedTuple):
    """What is typed at a keyboard. `do`: `note` an event or a `failed` task (`what`), in the water `where`; `where` alone; `done` or
    `postpone` of a task, with `where` as the rest; `run` a command of any kind (`what`), with `where` as the rest; or one of `undo`, `amount`. `lead` is what stands before it: `, with `, ` with ` or nothing."""

    do: str
    what: str
    where: str
    lead: str


class TaskName(NamedTuple):
    key: str


class TaskDay(NamedTuple):
    """The day of the first of these tasks that the plan has a day for."""

    keys: tuple[str, ...]


class TankKey(NamedTuple):
    """A key of the tank file, such as `room.floor`; `values` are what may be written for it, if that is told."""

    path: str
    values: tuple[str, ...] = ()


class TankFile(NamedTuple):
    """What a keeper calls the tank file; `lead` is what stands before it: `into ` where something is to be written there, an article, or
    nothing."""

    lead: str


class Day(NamedTuple):
    """A day; `lead` is `on ` or nothing. A `sure` one moves with no gate."""

    day: date
    lead: str = ""
    sure: bool = False


class Either(NamedTuple):
    """Words for a keyboard, and others for a pencil."""

    typed: tuple[Part, ...]
    written: tuple[Part, ...]


Part: TypeAlias = "str | Figure | Amount | Unknown | Command | TaskName | TaskDay | TankKey | TankFile | Day | Either | ByUnits"
# Named tuples, for a book has hundreds of them and they come out of the kept rules twice as fast as other records.


class ByUnits(NamedTuple):
    """A rough amount as somebody measures it in each system: `100 L`, and `26 gal` in a US household."""

    metric: str
    us: str


class Text(str):
    """A text with its parts."""

    __slots__ = ("parts",)
    parts: tuple[Part, ...]

    def __new__(cls, said: str, parts: tuple[Part, ...]) -> Text:
        made = super().__new__(cls, said)
        made.parts = parts
        return made

    def __reduce__(self) -> tuple[type[Text], tuple[str, tuple[Part, ...]]]:
        return Text, (str.__str__(self), self.parts)


def parts_of(text: str) -> tuple[Part, ...]:
    return text.parts if isinstance(text, Text) else (text,)


def joined(*texts: str, by: str = "") -> str:
    """One text of several, with the parts of all."""
    said = by.join(texts)
    if not any(isinstance(t, Text) for t in texts):
        return said
    between: tuple[Part, ...] = (by,) if by else ()
    return Text(said, tuple(p for n, t in enumerate(texts) for p in (*(between if n else ()), *parts_of(t))))


def either(typed: str, written: str) -> str:
    """The same for a keyboard and for a pencil."""
    return Text(typed, (Either(parts_of(typed), parts_of(written)),))


def run(verb: str, rest: str = "") -> str:
    """A command of any kind, for a keyboard alone; who types from elsewhere is told the folder too."""
    return Text(f"`{' '.join(word for word in ('newtank', verb, rest) if word)}`", (Command("run", verb, rest, ""),))


def on_day(day: date, lead: str = "", *, sure: bool = False) -> str:
    return Text(f"{lead}{day.isoformat()}", (Day(day, lead, sure),))


TANK_FILE = Text("your description (tank.yaml)", (TankFile(""),))


def tank_key(path: str) -> str:
    return Text(key_in_file(TankKey(path)), (TankKey(path),))


def key_in_file(key: TankKey) -> str:
    """A key as it stands in the file, where the dotted path would be no key: `floor: solid` under `room:`."""
    block, _, name = key.path.rpartition(".")
    lines = [f"{name}: {value}" for value in key.values] or [name]
    return " or ".join(f"`{line}`" for line in lines) + (f" under `{block}:`" if block else "")


def flat(parts: Iterable[Part]) -> Iterable[Part]:
    """Every part, with what stands inside others."""
    for part in parts:
        yield part
        if isinstance(part, Either):
            yield from flat((*part.typed, *part.written))


__all__ = ["TANK_FILE", "ByUnits", "Command", "Day", "Either", "Figure", "Part", "TankFile", "TankKey", "TaskName", "Text", "Unknown", "either", "flat", "joined", "key_in_file", "on_day", "parts_of", "run", "tank_key"]
