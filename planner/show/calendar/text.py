"""The words of a calendar entry: titles and descriptions that survive every phone.

A title is one line, a description at most 2,000 octets. Neither holds control characters: what users and
house rules write ends up in a file format in which a raw line break is a new property.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import date

from planner.plan.texts import shown_amount
from planner.rulebook.provenance import Caution
from planner.show.words.causes import all_words
from planner.show.words.conditions import need_to_tick
from planner.show.words.together import yielded_of
from planner.show.words.words import MONTH_NAMES, plain_name
from planner.terms.records import Answer, Hold, Phase, Task

TITLE_OCTETS = 240
TEXT_OCTETS = 2000
NEEDS_LENGTH = 120
DEPENDS = " (waits for a test)"
ON_HOLD = " (on hold)"
# Explicit direction marks could turn the words after a title around; a byte-order mark breaks readers.
_UNWANTED = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
# Whatever `one_line` would change; most texts have nothing of it and are spared the walk through their characters.
_TOUCHED = re.compile("[\x00-\x1f\x7f-\xa0\u1680\u2000-\u200a\u2028-\u202f\u205f\u2066-\u2069\u3000\ufeff\ud800-\udfff]|  |^ | \\Z")
_MEANING = {Answer.YES: "yes", Answer.NO: "not yet", Answer.UNKNOWN: "not known yet"}


def one_line(text: str) -> str:
    """The text as one clean line: runs of white space and line breaks become one space, other control
    characters and direction overrides go, half a surrogate pair becomes U+FFFD. Emoji and right-to-left
    scripts stay."""
    if _TOUCHED.search(text) is None:
        return text
    kept: list[str] = []
    for char in text:
        kind = unicodedata.category(char)
        if char.isspace() or kind in ("Zl", "Zp"):
            kept.append(" ")
        elif kind == "Cs":
            kept.append("\ufffd")
        elif kind != "Cc" and char not in _UNWANTED:
            kept.append(char)
    return " ".join("".join(kept).split())


def shorten(text: str, octets: int) -> str:
    """The text within so many octets of UTF-8, cut at a space where one is near, never inside a character or
    between a sign and what belongs to it (accents, joiners, skin tones), and ended by an ellipsis if cut."""
    if len(text.encode()) <= octets:
        return text
    room = octets - len("…".encode())
    cut = len(text.encode()[: max(room, 0)].decode("utf-8", "ignore"))
    while cut > 0 and (_belongs_to_previous(text[cut]) or text[cut - 1] == "\u200d"):
        cut -= 1
    space = text.rfind(" ", 0, cut)
    if space > cut * 2 // 3:
        cut = space
    return text[:cut].rstrip() + "…"


def _belongs_to_previous(char: str) -> bool:
    return (
        unicodedata.combining(char) != 0
        or unicodedata.category(char) in ("Mn", "Me", "Mc")
        or char == "\u200d"
        or "\U0001f3fb" <= char <= "\U0001f3ff"
    )


def titled(title: str, state: str) -> str:
    """The title as written, with the state in words, because most phones do not show a STATUS."""
    before = {"done": "Done: ", "cancelled": "Cancelled: "}.get(state, "")
    after = DEPENDS if state == "provisional" and not title.endswith(ON_HOLD) else ""
    return before + shorten(title, TITLE_OCTETS - len(before) - len(after)) + after


def task_title(task: Task, on_hold: bool) -> str:
    title = one_line(task.title) or task.key
    return shorten(title, TITLE_OCTETS - len(ON_HOLD)) + ON_HOLD if on_hold else title


def gate_title(phase: Phase) -> str:
    """Says what must be read before the gate opens, the first things by name and the rest by number."""
    missing = [one_line(need_to_tick(need)) for need in phase.needs if need.met is not Answer.YES]
    title = f"Waiting: {one_line(phase.title) or phase.id}"
    for number, what in enumerate(missing):
        if number and len(title) + len(what) > NEEDS_LENGTH:
            return f"{title}; and {len(missing) - number} more"
        title += f"; {what}" if number else f". Needs: {what}"
    return title


def day_in_words(day: date) -> str:
    return f"{day.day} {MONTH_NAMES[day.month - 1]} {day.year}"


def window_in_words(state: str, day: date, earliest: date | None, latest: date | None) -> str:
    """When, in words. The three dates are scenarios, not limits."""
    if state == "done":
        return f"Done on {day_in_words(day)}."
    if state == "cancelled":
        return "This is no longer part of the plan."
    first = day if earliest is None else min(earliest, day)
    last = None if latest is None else max(latest, day)
    if first == day == last:
        sentence = f"{'Expected on' if state == 'provisional' else 'Planned for'} {day_in_words(day)}."
    else:
        slow = day_in_words(last) if last else "more than two years away"
        sentence = f"If quick: {day_in_words(first)}. Likely: {day_in_words(day)}. If slow: {slow}."
    if state == "provisional":
        sentence += " The date waits for your tests, so there is no alarm."
    return sentence


def task_text(
    task: Task, units: str, holds: Iterable[Hold], time: str = "", cautions: Mapping[str, Caution] | None = None
) -> str:
    """What to do, with amounts. It begins with the sentence that protects of each caution: what is too long is cut at
    its end."""
    parts = ["\n".join(_caution(key, cautions or {}) for key in task.cautions)] if task.cautions else []
    parts += [f"On hold since {day_in_words(h.since)}: {one_line(h.because)}" for h in holds]
    parts += [one_line(told) for told in yielded_of(task)]
    if time:
        parts.append(f"Time of day: {time}.")
    if task.amounts:
        parts.append(
            "Amounts:\n"
            + "\n".join(
                f"- {one_line(plain_name(name))}: {shown_amount(q.value, q.unit, units)}"
                for name, q in task.amounts
            )
        )
    if task.steps:
        parts.append("\n".join(f"{n}. {one_line(step)}" for n, step in enumerate(all_words(task.steps, units), start=1)))
    if task.watch:
        parts.append("Watch for:\n" + "\n".join(f"- {one_line(w)}" for w in task.watch))
    return "\n\n".join(parts)


def _caution(key: str, cautions: Mapping[str, Caution]) -> str:
    known = cautions.get(key)
    if known is None:
        return one_line(f"Care: {key.replace('_', ' ').rstrip('.')}.")
    return one_line(f"{known.weight.capitalize()}: {known.line or f'{known.title}. {known.defer}'}")


def gate_text(phase: Phase) -> str:
    parts = []
    if phase.needs:
        parts.append(
            "What must be done first:\n" + "\n".join(f"- {one_line(need_to_tick(n))}: {_MEANING[n.met]}" for n in phase.needs)
        )
    if phase.advice:
        parts.append("\n".join(one_line(a) for a in phase.advice))
    return "\n\n".join(parts)


def description(window: str, body: str) -> str:
    """Window and body, cut at the end of a line to 2,000 octets with a word on where the rest is."""
    text = f"{window}\n\n{body}" if body else window
    rest = "\n(More: newtank today)"
    if len(text.encode()) <= TEXT_OCTETS:
        return text
    lines: list[str] = []
    used = len(rest)
    for line in text.split("\n"):
        room = TEXT_OCTETS - used
        if len(line.encode()) + 1 > room:
            if room > 80:
                lines.append(shorten(line, room - 1))
            break
        lines.append(line)
        used += len(line.encode()) + 1
    return "\n".join(lines).rstrip() + rest
