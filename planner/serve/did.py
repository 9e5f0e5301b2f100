"""What was just done, on top of the next page: what an entry meant, what may still be taken back in one touch, and what was taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from planner.door.folder import read_animals
from planner.files.journal_write import tag_of
from planner.serve.asking import Ask
from planner.serve.entry import TOLD
from planner.serve.markup import Writer, html
from planner.serve.tanks import Seen
from planner.show.terminal.effect import effect_of
from planner.show.terminal.effect_brief import again_words, meaning, moved_dates, moved_words
from planner.show.terminal.eventlist import events_told
from planner.show.words.hand import plan_by_hand
from planner.show.words.words import short_day
from planner.terms.readings import READINGS
from planner.terms.records import Plan, Row
from planner.terms.row_words import in_words

UNDO_S = 60
"""So long an entry is offered to be taken back in one touch; later it takes two."""
SLIPS_S = 86_400.0
"""So long an entry of another day stands among those that may be taken back."""
KINDS = {"changed_water": "Water changed", "poured": "Poured in", "dosed": "Dosed", "added": "Came", "moved": "Moved", "lost": "Died"}
TICKS = ("done", "skipped", "postponed")


@dataclass(frozen=True, slots=True)
class Did:
    """What the last entry meant; the newest entry, which goes back at one touch for a minute; and all others of today and yesterday, or
    sent since then for another day, the newest first. An entry is its tag and its words."""

    told: list[tuple[str, Markup]]
    newest: tuple[str, str] | None
    others: list[tuple[str, str]]


def did(ask: Ask, seen: Seen, write_text: Writer, after: Plan | None = None) -> Did:
    """`after`: the plan as this page writes it, where it is at hand."""
    assert ask.place is not None
    memory, by_tag = ask.site.memory, dict[str, list[Row]]()
    for row in seen.folder.journal.rows:
        if (tag := tag_of(row.note)) is not None:
            by_tag.setdefault(tag, []).append(row)
    sent = {s.tag for s in memory.lately(ask.place.slug, SLIPS_S)}
    lately = [tag for tag, rows in reversed(by_tag.items()) if tag in sent or rows[0].day >= seen.folder.on - timedelta(days=1)]
    newest = next((s.tag for s in memory.lately(ask.place.slug, UNDO_S, ask.device.id) if s.tag in by_tag), None) if ask.device is not None else None
    words = {tag: _words(by_tag[tag], seen, write_text) for tag in lately}
    return Did(told(ask, seen, write_text, after, newest), (newest, words[newest]) if newest is not None else None, [(tag, said) for tag, said in words.items() if tag != newest])


def told(ask: Ask, seen: Seen, write_text: Writer, after: Plan | None = None, stands: str | None = None) -> list[tuple[str, Markup]]:
    """What the entry that led to this page did, if it is still known. `stands`: the tag of the entry that stands there with the way to take it back."""
    found = TOLD.get(ask.query.get("did", ""))
    if found is None or found[0].on != seen.folder.on:
        return []
    before, rows, warnings = found
    effect = effect_of(plan_by_hand(before, write_text), after or plan_by_hand(seen.plan, write_text), rows)
    tag = tag_of(rows[0].note)
    written = any(tag_of(r.note) == tag for r in seen.folder.journal.rows)
    lines = [] if tag == stands else [("Written" if written else "Taken back", html(_words(rows, seen, write_text)))]
    lines += [(label, html(ways[0])) for label, ways, _ in list(meaning(effect, "It stands below."))[:3]]
    if written:
        lines.append(("Moved", html(moved_words(effect, seen.plan))) if moved_dates(effect, seen.plan) else ("No date moved.", html(again_words(effect, seen.plan))))
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
    amount = in_words(f"{row.value} {row.unit}".strip())
    if row.kind in TICKS:
        to = f" to {short_day(date.fromisoformat(row.value), on)}" if row.kind == "postponed" else ""
        return f"{title}: {row.kind}{to}{when}"
    if row.kind == "event":
        return (f"Failed: {title}" if row.what == "failed" else dict(events_told(rules)).get(row.what, row.what.replace("_", " ").capitalize())) + where + when
    if row.kind in ("added", "moved", "lost"):
        animal = read_animals(seen.folder.livestock).find(row.what).animal
        return f"{KINDS[row.kind]}: {amount or 1} x {animal.name if animal is not None else row.what}{where}{when}"
    if row.kind == "reading":
        return f"{READINGS[row.what].title} {amount}{where}{when}"
    what = "" if row.what == "water" else "pure water " if row.kind == "poured" and row.what == "fresh" else f"{row.what.replace('_', ' ')} "
    return f"{KINDS.get(row.kind, row.kind)}: {what}{amount}{where}{when}"


__all__ = ["Did", "did", "told"]
