"""Texts as somebody with a pencil reads them: a command becomes a note on the log sheet, and a day stands as the paper writes days."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from planner.rulebook.shapes import Rulebook
from planner.show.words.hand import Hand
from planner.show.words.wish_list import stages_provisional
from planner.show.words.words import short_day
from planner.terms.causes import Cause
from planner.terms.records import Plan
from planner.terms.texts import Command, Day

_TWICE = re.compile(r"(after ([\d.]+\s\w+)), or after \2 if [^.]*")
"""A rule and its exception that a shop's own figure has made the same."""


@dataclass
class Pencil(Hand):
    """`moving`: days to come may move, and are written as such."""

    moving: bool = False

    def __call__(self, text: str | Cause) -> str:
        return _TWICE.sub(r"\1", super().__call__(text))

    def command(self, command: Command) -> str:
        return " on the log sheet" if command.lead else "it on the log sheet"

    def tank_file(self, lead: str) -> str:
        return "on the log sheet" if lead.startswith("into") else f"{lead or 'the '}description of the tank"

    def day(self, day: Day) -> str:
        return ("about " if self.moving and not day.sure and day.day > self.on else day.lead) + short_day(day.day, self.on)


def pencil_for(plan: Plan, rules: Rulebook, fill: Callable[[str], str]) -> Pencil:
    return Pencil(rules, plan.units, plan.on, fill, stages_provisional(plan))


__all__ = ["Pencil", "pencil_for"]
