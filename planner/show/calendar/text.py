"""The words of a calendar entry: titles and descriptions that survive every phone.

A title is one line, a description at most 2,000 octets. Neither holds control characters: what users and
house rules write ends up in a file format in which a raw line break is a new property.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import date

from planner.plan.texts import told_amount
from planner.rulebook.provenance import Caution
from planner.show.words.causes import all_words
from planner.show.words.conditions import need_to_tick
from planner.show.words.together import yielded_of
from planner.show.words.words import MONTH_NAMES, plain_name
from planner.terms.records import Answer, Hold, Phase, Task

NAME_OCTETS = 240
TITLE_SIGNS = 24
"""Signs of a title, the word before it included: what a phone shows of one in its narrow views."""
TEXT_OCTETS = 2000
LEAD = {"provisional": "maybe ", "held": "wait: ", "done": "done: ", "cancelled": "dropped: "}
"""The state in one word, because most phones do not show a STATUS."""
SMALL_WORDS = frozenset({"a", "an", "and", "after", "before", "by", "for", "from", "in", "into", "is", "of", "on", "or", "the", "to", "with", "your"})
WEIGHTS = ("danger", "care", "note")
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
    return _cut(text, len(text.encode()[: max(room, 0)].decode("utf-8", "ignore"))) + "…"


def _cut(text: str, cut: int) -> str:
    while cut > 0 and (_belongs_to_previous(text[cut]) or text[cut - 1] == "\u200d"):
        cut -= 1
    space = text.rfind(" ", 0, cut)
    if space > cut * 2 // 3:
        cut = space
    return text[:cut].rstrip()


def _belongs_to_previous(char: str) -> bool:
    return (
        unicodedata.combining(char) != 0
        or unicodedata.category(char) in ("Mn", "Me", "Mc")
        or char == "\u200d"
        or "\U0001f3fb" <= char <= "\U0001f3ff"
    )


def title_of(short: str, title: str) -> str:
    """The short title of a rule, or what can be had of the long one."""
    return fitted(one_line(short) or one_line(title) or "Job", TITLE_SIGNS)


def leading(state: str, title: str) -> str:
    """The title as written, with its state before it in one word."""
    lead = LEAD.get(state, "")
    return lead + fitted(title, TITLE_SIGNS - len(lead))


def fitted(title: str, signs: int) -> str:
    """The title within so many signs: whole words, none of them left hanging; a single long word is cut."""
    if len(title) <= signs:
        return title
    words = title[: signs + 1].split(" ")[:-1]
    while words and (words[-1].strip(",;:.·-").lower() in SMALL_WORDS or not words[-1].strip(",;:.·-")):
        words.pop()
    whole = " ".join(words).rstrip(" ,;:·-")
    return whole if len(whole) * 3 > signs else _cut(title, signs - 1) + "…"


def day_in_words(day: date) -> str:
    return f"{day.day} {MONTH_NAMES[day.month - 1]} {day.year}"


def window_in_words(state: str, day: date, earliest: date | None, latest: date | None, overdue: bool = False) -> str:
    """When, in words. The three dates are scenarios, not limits."""
    if state == "done":
        return f"Done on {day_in_words(day)}."
    if state == "cancelled":
        return "This stands here no more. The entry of the day says what is to be done."
    if overdue:
        return f"It was to be done on {day_in_words(day)}, and is still open."
    first = day if earliest is None else min(earliest, day)
    last = None if latest is None else max(latest, day)
    if first == day == last:
        sentence = f"{'Expected on' if state == 'provisional' else 'Planned for'} {day_in_words(day)}."
    else:
        slow = day_in_words(last) if last else "more than two years away"
        sentence = f"If quick: {day_in_words(first)}. Likely: {day_in_words(day)}. If slow: {slow}."
    if state == "provisional":
        sentence += " The date waits for your tests, so nothing rings."
    return sentence


def guard(cautions: Iterable[str], known: Mapping[str, Caution]) -> str:
    """The sentence that protects, of each caution once, the gravest first."""
    keys = sorted(dict.fromkeys(cautions), key=lambda k: WEIGHTS.index(known[k].weight) if k in known else 1)
    return "\n".join(dict.fromkeys(_caution(key, known) for key in keys))


def task_text(task: Task, units: str, holds: Iterable[Hold] = (), time: str = "") -> str:
    """What to do, with amounts."""
    parts = [f"On hold since {day_in_words(h.since)}: {one_line(h.because)}" for h in holds]
    parts += [one_line(told) for told in yielded_of(task)]
    if time:
        parts.append(f"Time of day: {time}.")
    return "\n\n".join([*parts, *how_to(task, units)])


def how_to(task: Task, units: str) -> list[str]:
    """Amounts, steps, and what to watch for."""
    parts = []
    if task.amounts:
        parts.append("Amounts:\n" + "\n".join(f"- {one_line(plain_name(name))}: {told_amount(q, units)}" for name, q in task.amounts))
    if task.steps:
        parts.append("\n".join(f"{n}. {one_line(step)}" for n, step in enumerate(all_words(task.steps, units), start=1)))
    if task.watch:
        parts.append("Watch for:\n" + "\n".join(f"- {one_line(w)}" for w in task.watch))
    return parts


def _caution(key: str, cautions: Mapping[str, Caution]) -> str:
    known = cautions.get(key)
    if known is None:
        return one_line(f"Care: {key.replace('_', ' ').rstrip('.')}.")
    return one_line(f"{known.weight.capitalize()}: {known.line or f'{known.title}. {known.defer}'}")


def begin_text(title: str, intro: str) -> str:
    return f"{title}: this probably begins now.\n\n{intro}".strip()


def gate_text(phase: Phase) -> str:
    parts = []
    if phase.needs:
        parts.append(
            "What must be done first:\n" + "\n".join(f"- {one_line(need_to_tick(n))}: {_MEANING[n.met]}" for n in phase.needs)
        )
    if phase.advice:
        parts.append("\n".join(one_line(a) for a in phase.advice))
    return "\n\n".join(parts)


def description(guard: str, window: str, body: str) -> str:
    """What protects, then when, then the rest; cut at the end of a line to 2,000 octets with a word on where the rest is. What
    protects is never cut."""
    rest = "\n(More, in the tank's folder: newtank today)"
    after = "\n\n".join(part for part in (window, body) if part)
    text = f"{guard}\n\n{after}".strip("\n")
    if len(text.encode()) <= TEXT_OCTETS:
        return text
    lines = [guard, ""] if guard else []
    used = len(rest.encode()) + sum(len(line.encode()) + 1 for line in lines)
    for line in after.split("\n"):
        room = TEXT_OCTETS - used
        if len(line.encode()) + 1 > room:
            if room > 80:
                lines.append(shorten(line, room - 1))
            break
        lines.append(line)
        used += len(line.encode()) + 1
    return "\n".join(lines).rstrip() + rest
