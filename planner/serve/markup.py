"""Texts on their way onto a page: a command becomes a link to the page that does it, and everything else is escaped.

Texts of a plan are joined to sentences in other rooms. So a link travels inside a text between signs that no keyboard has
(Unicode's private use area), and becomes one when the sentence is shown.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import PurePath
from urllib.parse import quote

from markupsafe import Markup, escape

from planner.door.folder import TankFolder
from planner.plan.texts import fill_numbers, text_filler
from planner.rulebook.shapes import Rulebook
from planner.serve.tanks import Seen
from planner.show.terminal.taskcard import Sheet
from planner.show.words.hand import Hand
from planner.show.words.words import Page, Role, bare_day, listed, unbroken
from planner.terms.causes import Cause
from planner.terms.problems import Problem
from planner.terms.records import CLOSED, Plan
from planner.terms.texts import Command, Day, Either, Part, TankFile, TankKey, flat

OPEN, MIDDLE, CLOSE = "\ue000", "\ue001", "\ue002"
_LINK = re.compile(f"{OPEN}([^{OPEN}{MIDDLE}{CLOSE}]*){MIDDLE}([^{OPEN}{MIDDLE}{CLOSE}]*){CLOSE}")
_TYPED = re.compile(r"`([^`]+)`")
_SIGNS = dict.fromkeys(map(ord, (OPEN, MIDDLE, CLOSE)))
COUNTS_ITSELF = "In the form choose how the sample was mixed, then enter what its card shows. The form multiplies, so do not"
"""A form multiplies by itself: whoever did so too would count twice."""
_DONE_HERE = {"added": "“Animals came” on the page “More”", "undo": "the button “Take back”", "amount": "“It was another amount”", "stock": "the page of animals", "handout": "the printed plan", "log_temperature": "the page “Test”", "log_tds": "the page “Test”, as source water",
              "five_times": COUNTS_ITSELF, "ten_times": COUNTS_ITSELF}
TYPED_ALONE = frozenset({"supplies", "bought"})
"""What is told and written by a command alone: a page says what a pencil does."""
WIDE = 100_000


def link(to: str, words: str) -> str:
    """A link inside a text. `to` is an address of ours, `words` what is read."""
    return f"{OPEN}{to}{MIDDLE}{words.translate(_SIGNS)}{CLOSE}"


def html(text: str) -> Markup:
    """A text with its links, everything else escaped; numbers stay with their units."""
    found, at = Markup(), 0
    for match in _LINK.finditer(text):
        to = match[1] if match[1].startswith(("/", "#")) and not match[1].startswith("//") else "/"
        found += _plain(text[at : match.start()]) + Markup('<a href="{}">{}</a>').format(to, _plain(match[2]))
        at = match.end()
    return found + _plain(text[at:])


def _plain(text: str) -> Markup:
    """Escaped; what is to be written letter by letter stands in letters of its own."""
    return Markup(_TYPED.sub(r"<code>\1</code>", str(escape(unbroken(text.translate(_SIGNS))))))


class Writer(Hand):
    """The texts of one tank's plan for its pages, below `base`: what is typed elsewhere leads to the page that does it."""

    base: str

    def __init__(self, folder: TankFolder, base: str) -> None:
        tank = folder.tank
        super().__init__(folder.rules, tank.units if tank is not None else "metric", folder.on, text_filler(tank, folder.journal, folder.rules, folder.on) if tank is not None else partial(fill_numbers, rules=folder.rules))
        self.base = base

    def html(self, *texts: str | Cause | None) -> Markup:
        """Texts one after the other, as they stand on a page."""
        return html(" ".join(self(t) for t in texts if t))

    def sentences(self, *texts: str) -> Markup:
        """Messages, which begin small behind a place, each as a sentence of its own; none where a text is for a keyboard alone."""
        return html(" ".join(f"{said[:1].upper()}{said[1:].rstrip('.')}{'.' * (said[-1:] not in '?!')}" for t in texts if (said := self(t))))

    def command(self, command: Command) -> str:
        what, where = command.what, command.where
        if command.do == "do":
            return _DONE_HERE.get(what, what)
        to = f"{self.base}/happened?what={quote(what)}" + (f"&where={quote(where)}" if where else "") if command.do != "failed" else f"{self.base}/failed?job={quote(what)}"
        return f" {link(to, 'here')}" if command.lead else f"it {link(to, 'here')}"

    def tank_file(self, lead: str) -> str:
        return "into " * lead.startswith("into") + link(f"{self.base}/description", f"{'Your' if lead[:1].isupper() else 'your'} description")

    def day(self, day: Day) -> str:
        return day.lead + bare_day(day.day, self.on)

    def chosen(self, either: Either) -> tuple[Part, ...]:
        """A command, a file or a key of it has its page; what else is said for a keyboard alone is of no use here, unless
        paper leaves it to another page of its own."""
        return either.typed if not either.written or any(isinstance(p, Command | TankFile | TankKey) and not (isinstance(p, Command) and (p.do == "run" or p.what in TYPED_ALONE)) for p in flat(either.typed)) else either.written


def writer_for(seen: Seen, base: str) -> Writer:
    return Writer(seen.folder, base)


def problem_words(problem: Problem, write: Writer) -> Markup:
    """A mistake in a file with its place there and what helps; in which folder that file lies is of no concern to a reader."""
    place = problem.place
    return html(f"{PurePath(place.file).name}{f', line {place.line}' if place.line else ''}: ") + write.sentences(problem.message, problem.fix)


@dataclass
class Told(Page):
    """A page of labelled sentences, kept as they are said instead of being broken into lines."""

    width: int = WIDE

    def __post_init__(self) -> None:
        self.entries: list[tuple[str, str, Role]] = []

    def labelled(self, label: str, text: str, indent: int = 0, column: int = 10, role: Role = "", label_role: Role = "soft", hang: int = 0) -> None:
        self.entries.append((label, text, label_role if label_role == "alarm" else role))
        super().labelled(label, text, indent, column, role, label_role, hang)

    def say(self, text: str, role: Role = "", indent: int = 0) -> None:
        self.entries.append(("", text, role))
        super().say(text, role, indent)

    def groups(self) -> list[tuple[str, list[tuple[str, Role]]]]:
        """Sentences below the label that was said last."""
        found: list[tuple[str, list[tuple[str, Role]]]] = []
        for label, text, role in self.entries:
            if label or not found:
                found.append((label, []))
            found[-1][1].append((text, role))
        return found


class PageSheet(Sheet):
    """A sheet whose commands are links."""

    base: str = ""

    def run(self, verb: str, rest: str) -> str:
        pages = {"plan": (f"{self.base}/plan" + (f"/{quote(rest)}" if rest and not rest.startswith("-") else ""), "the plan"), "today": (self.base, "today’s jobs"), "round": (f"{self.base}/round", "the round")}
        to, words = pages.get(verb, (self.base, "today’s jobs"))
        return link(to, words)

    def lead_to(self, alert: str) -> str:
        """A link to each job of today that the alarm asks for; a test that another one makes stands under the other's number."""
        jobs = sorted({n for t in self.plan.tasks if t.phase == alert and t.state not in CLOSED and (n := self.numbers.get(t.tested_with or t.id)) is not None})
        return f"See {listed(link(f'#job-{n}', f'job {n}') for n in jobs)}." if jobs else ""

    def typed(self, text: str) -> str:
        return text


def sheet_for(plan: Plan, rules: Rulebook, base: str, numbers: Mapping[str, int] | None = None) -> tuple[PageSheet, Told]:
    page = Told(WIDE)
    sheet = PageSheet(page, plan, rules.cautions, numbers=numbers or {})
    sheet.base = base
    return sheet, page


__all__ = ["PageSheet", "Told", "Writer", "html", "link", "problem_words", "sheet_for", "writer_for"]
