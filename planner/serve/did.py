"""What was just done, on top of the next page: what an entry meant, what may still be taken back in one touch, and what was taken back."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from planner.door.folder import read_animals
from planner.files.journal_write import tag_of
from planner.serve.asking import Ask
from planner.serve.entry import TOLD
from planner.serve.markup import Writer, html
from planner.serve.tanks import Seen
from planner.show.terminal.effect import effect_of
from planner.show.terminal.effect_brief import meaning, moved_words
from planner.show.terminal.eventlist import events_told
from planner.show.words.hand import plan_by_hand
from planner.show.words.words import short_day
from planner.terms.readings import READINGS
from planner.terms.records import Plan, Row

UNDO_S = 60
"""So long an entry is offered to be taken back in one touch; later it takes two."""
KINDS = {"changed_water": "Water changed", "poured": "Poured in", "dosed": "Dosed", "added": "Came", "moved": "Moved", "lost": "Died"}
TICKS = ("done", "skipped", "postponed")


def did(ask: Ask, seen: Seen, write_text: Writer, after: Plan | None = None) -> tuple[list[tuple[str, Markup]], list[tuple[str, str]]]:
    """What the last entry meant, and what may be taken back. `after`: the plan as this page writes it, where it is at hand."""
    lately = _lately(ask, seen, write_text)
    return told(ask, seen, write_text, after, {words for _, words in lately}), lately


def told(ask: Ask, seen: Seen, write_text: Writer, after: Plan | None = None, said: set[str] | frozenset[str] = frozenset()) -> list[tuple[str, Markup]]:
    """What the entry that led to this page did, if it is still known. `said`: entries that stand there with the way to take them back."""
    found = TOLD.get(ask.query.get("did", ""))
    if found is None or found[0].on != seen.folder.on:
        return []
    before, rows, warnings = found
    effect = effect_of(plan_by_hand(before, write_text), after or plan_by_hand(seen.plan, write_text), rows)
    words, tags = _words(rows, seen, write_text), {tag_of(r.note) for r in seen.folder.journal.rows}
    lines = [] if words in said else [("Written" if tag_of(rows[0].note) in tags else "Taken back", html(words))]
    lines += [(label, html(text)) for label, text, _ in list(meaning(effect, "It stands below."))[:3]]
    if tag_of(rows[0].note) in tags:
        lines.append(("Moved", html(moved_words(effect, seen.plan, ""))))
    return lines + [("Note", write_text.html(w)) for w in warnings]


def _words(rows: Sequence[Row], seen: Seen, write_text: Writer) -> str:
    """Entries as a keeper speaks of them: ticks by the titles of their jobs, events by what happened."""
    return "; ".join(dict.fromkeys(_word(row, seen, write_text) for row in rows))


def _word(row: Row, seen: Seen, write_text: Writer) -> str:
    rules, on = seen.folder.rules, seen.folder.on
    when = f", {short_day(row.day, on)}" if row.day != on else ""
    where = f", {row.where} water" if row.where != "display" else ""
    task = rules.tasks.get((row.what if row.kind in TICKS else row.note).partition("#")[0].partition(" ")[0])
    title = write_text(write_text.fill(task.title)) if task is not None else row.what
    amount = f"{row.value.replace('>', 'over ').replace('<', 'under ')} {row.unit}".strip()
    if row.kind in TICKS:
        return f"{title}: {row.kind}{when}"
    if row.kind == "event":
        return (f"Failed: {title}" if row.what == "failed" else dict(events_told(rules)).get(row.what, row.what.replace("_", " ").capitalize())) + where + when
    if row.kind in ("added", "moved", "lost"):
        animal = read_animals(seen.folder.livestock).find(row.what).animal
        return f"{KINDS[row.kind]}: {amount or 1} x {animal.name if animal is not None else row.what}{where}{when}"
    if row.kind == "reading":
        return f"{READINGS[row.what].title} {amount}{where}{when}"
    what = "" if row.kind in ("changed_water", "poured") else f"{row.what.replace('_', ' ')} "
    return f"{KINDS.get(row.kind, row.kind)}: {what}{amount}{where}{when}"


def _lately(ask: Ask, seen: Seen, write_text: Writer) -> list[tuple[str, str]]:
    """What this device wrote within the last minute and may take back: its tag, and what it was."""
    if ask.device is None or ask.place is None:
        return []
    found = []
    for sent in ask.site.memory.lately(ask.place.slug, ask.device.id, UNDO_S):
        rows = [r for r in seen.folder.journal.rows if tag_of(r.note) == sent.tag]
        if rows:
            found.append((sent.tag, _words(rows, seen, write_text)))
    return found


__all__ = ["did", "told"]
