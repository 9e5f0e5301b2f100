"""Texts on their way onto a page: a command becomes a link to the page that does it, and everything else is escaped.

Texts of a plan are joined to sentences in other rooms. So a link travels inside a text between signs that no keyboard has
(Unicode's private use area), and becomes one when the sentence is shown.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from markupsafe import Markup, escape

from planner.plan.texts import shown_amount, text_filler
from planner.rulebook.shapes import Rulebook
from planner.serve.tanks import Seen
from planner.show.paper.pencil import plan_on_paper
from planner.show.terminal.taskcard import Sheet
from planner.show.words.causes import cause_words
from planner.show.words.words import Page, Role, short_day, unbroken
from planner.terms.causes import Cause
from planner.terms.records import Amount, Plan
from planner.terms.texts import ByUnits, Command, Day, Either, Part, TankFile, TankKey, TaskName, Text, Unknown, flat

OPEN, MIDDLE, CLOSE = "\ue000", "\ue001", "\ue002"
_LINK = re.compile(f"{OPEN}([^{OPEN}{MIDDLE}{CLOSE}]*){MIDDLE}([^{OPEN}{MIDDLE}{CLOSE}]*){CLOSE}")
_TODAY = re.compile(r"`newtank today[^`]*`")
_SENTENCE = re.compile(r"(?<=[.!?]) ")
_SIGNS = dict.fromkeys(map(ord, (OPEN, MIDDLE, CLOSE)))
_DONE_HERE = {"undo": "the button “Take back”", "amount": "“It was another amount”", "changed_water": "as a water change", "stock": "the page of animals"}
WIDE = 100_000


def link(to: str, words: str) -> str:
    """A link inside a text. `to` is an address of ours, `words` what is read."""
    return f"{OPEN}{to}{MIDDLE}{words.translate(_SIGNS)}{CLOSE}"


def html(text: str) -> Markup:
    """A text with its links, everything else escaped; numbers stay with their units."""
    found, at = Markup(), 0
    for match in _LINK.finditer(text):
        to = match[1] if match[1].startswith(("/", "#")) and not match[1].startswith("//") else "/"
        found += escape(_plain(text[at : match.start()])) + Markup('<a href="{}">{}</a>').format(to, _plain(match[2]))
        at = match.end()
    return found + escape(_plain(text[at:]))


def _plain(text: str) -> str:
    return unbroken(text.translate(_SIGNS))


def without_commands(text: str, base: str) -> str:
    """A text that was said for a keyboard: today's page instead of its command, and no sentence with another command."""
    if "newtank " not in text and "`" not in text:
        return text
    text = _TODAY.sub(lambda _: link(base or "/", "today’s page"), text)
    return " ".join(s for s in _SENTENCE.split(text) if "`newtank" not in s and not re.search(r"\b(?:[Rr]un|[Ww]rite:?) newtank [a-z]", s))


@dataclass
class Writer:
    """The texts of one tank's plan for its pages, below `base`."""

    base: str
    units: str
    rules: Rulebook
    fill: Callable[[str], str]

    def __call__(self, text: str | Cause | None) -> str:
        if text is None:
            return ""
        said = cause_words(text, self.units) if isinstance(text, Cause) else text
        return "".join(map(self._part, said.parts)) if isinstance(said, Text) else without_commands(said, self.base)

    def html(self, text: str | Cause | None) -> Markup:
        return html(self(text))

    def _part(self, part: Part) -> str:
        match part:
            case Amount(value, unit):
                return shown_amount(value, unit, self.units)
            case Unknown():
                return "(not known yet)"
            case Command("where", _, water, _):
                return f" as {water} water"
            case Command("do", what, _, _):
                return _DONE_HERE.get(what, what)
            case Command(do, what, where, lead):
                to = f"{self.base}/happened?what={quote(what)}" + (f"&where={quote(where)}" if where else "")
                if do == "failed":
                    to = f"{self.base}/failed?job={quote(what)}"
                return f" {link(to, 'here')}" if lead else f"it {link(to, 'here')}"
            case TaskName(key):
                return f"“{self(self.fill(self.rules.tasks[key].title))}”" if key in self.rules.tasks else key
            case TankKey(path):
                return path.rpartition(".")[2].replace("_", " ")
            case TankFile(lead):
                return f"{'into ' if lead.startswith('into') else ''}your description (tank.yaml)"
            case Day(day, lead, _):
                return f"{lead}{day.day} {short_day(day, day).rpartition(' ')[2]}"
            case ByUnits(metric, us):
                return us if self.units == "us" else metric
            case Either(typed, written):
                # A command becomes a link; what else is said for a keyboard alone is of no use here.
                return "".join(map(self._part, typed if any(isinstance(p, Command) for p in flat(typed)) else written))
        return str(part)


def writer_for(seen: Seen, base: str) -> Writer:
    read = seen.folder
    return Writer(base, seen.tank.units, read.rules, text_filler(seen.tank, read.journal, read.rules, read.on))


def plan_on_page(plan: Plan, write: Writer) -> Plan:
    """The plan with each of its texts as a page writes it."""
    return plan_on_paper(plan, write)


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

    def typed(self, text: str) -> str:
        return text


def sheet_for(plan: Plan, rules: Rulebook, base: str, numbers: Mapping[str, int] | None = None) -> tuple[PageSheet, Told]:
    page = Told(WIDE)
    sheet = PageSheet(page, plan, rules.cautions, numbers=numbers or {})
    sheet.base = base
    return sheet, page


def sentences(texts: Sequence[str | Cause], write: Writer) -> list[Markup]:
    return [write.html(t) for t in texts]


__all__ = ["PageSheet", "Told", "Writer", "html", "link", "plan_on_page", "sentences", "sheet_for", "without_commands", "writer_for"]
