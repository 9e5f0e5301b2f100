"""Any other fact, and taking the last entry back: note, undo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

import click

from planner.cli.common import console_width, folder_alone, json_option, load_tank, no_more, print_answer, take_folder, tank_options, typed_folder
from planner.cli.complete import completing
from planner.cli.entry import Pen, Refused, all_option, entry_options, make_sure, take
from planner.cli.ticks import task_ids
from planner.door import entry_words as entries
from planner.door.acts import tick_of_dose
from planner.door.folder import Loaded, read_animals
from planner.door.questions import collisions, doubt_of, task_key
from planner.files.journal import confirmed, row_unit
from planner.files.journal_write import NewRow, undo_line, undo_rows
from planner.judge.facts import animals_in
from planner.plan.occurrences import closings
from planner.rulebook.events import FIRST_OF_ALL, event_called, event_leading, events_sharing, nearest_first, speaks_of_danger, speaks_of_death
from planner.show.words.words import command, listed, uncapped
from planner.terms.journal_words import DOSES, one_word
from planner.terms.problems import nearest
from planner.terms.units import Refusal


@click.command("note")
@click.argument("args", nargs=-1, metavar="[DIR] KIND WHAT [VALUE]", shell_complete=completing("facts"))
@tank_options
@entry_options
@json_option
def note_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                 where: str | None, note: str, yes: bool, whole: bool, as_json: bool) -> None:
    """Any other fact: dosed, changed_water, poured, added, moved, lost, event. Without arguments it lists what can happen.

    `newtank note dosed ammonia 4.1g`, `note changed_water 10%`, `note poured 120L`, `note added ANIMAL 2`,
    `note event leak`, `note failed leak-test/watch`.
    """
    folder, rest = take_folder(args, tank_dir)
    loaded = load_tank(folder, on_text, rules_dir)
    if not rest:
        _offer(loaded, as_json)
        return
    pen = Pen(loaded, as_json, at_text, whole)
    events = entries.known_events(pen.loaded.rules)
    remark = entries.safe_text(note)
    if entries.event_word(rest[0]) not in entries.NOTE_KINDS and speaks_of_danger(entries.event_word(" ".join(rest))):
        click.echo(FIRST_OF_ALL, err=True)
    if rest and entries.event_word(rest[0]) == "event" and len(rest) > 1 and entries.event_word(rest[1]) == "failed":
        rest = rest[1:]
    if rest and entries.event_word(rest[0]) == "failed":
        (id,) = task_ids(pen, rest[1:2], "note failed")
        no_more(rest[2:])
        if id.partition("#")[2] and "#" not in rest[1]:
            id = _last_closed(pen.loaded, id)
        pen.add(NewRow(pen.stamp.text, "event", "failed", "", "", where or pen.loaded.rules.tasks[task_key(id)].where, f"{id} {remark}".strip()))
        pen.write()
        return
    if rest and (leading := event_leading(rest, events)) is not None:  # `note gasping`, `note power cut`
        _, begin, end = leading
        rest = ("event", "_".join(rest[begin:end]), *rest[end:])
    split = entries.split_fact(rest, events)
    if isinstance(split, Refusal) and split.code == "unknown-kind" and (offer := _events_meant(pen, " ".join(rest), events)):
        raise Refused(f"{split.message}. {offer}")
    kind, what, value, unit = take(split)
    if kind == "event":
        what, remark = _event(pen, what, remark, events, yes)
        if what == "bought":
            from planner.plan.supplies import read_purchase

            take(read_purchase(value))
    if kind == "dosed" and one_word("dosed", what) not in DOSES and (near := nearest(one_word("dosed", what), DOSES)) is not None:
        make_sure(f"Nobody knows the dose '{what}'. Did you mean {near}? Is '{what}' meant as it stands?", yes)
        remark = confirmed(remark)
    what = _known_what(kind, what, yes, pen.loaded.livestock)
    if kind == "dosed" and not value and what not in ("copper", "medicine"):
        make_sure(f"How much {what} was dosed? Without a rise (`2 mg/L as N`) or a mass (`4.1 g`) the forecast cannot count it. Write it without?", yes)
    row = NewRow(pen.stamp.text, kind, what, value, unit, where or "display", remark)
    for question in collisions(pen.desk, row):
        make_sure(question, yes)
    read = pen.add(row)
    if (doubt := doubt_of(pen.desk, read)) is not None:
        make_sure(doubt, yes)
        (entry,) = pen.entries
        pen.entries = [entries.Entry(replace(entry.new, note=confirmed(entry.new.note)), replace(entry.row, note=confirmed(entry.row.note)))]
    if kind == "dosed" and what.lower() == "ammonia" and row_unit(read) == "L":
        pen.warnings.append("How strong a bottle is the plan cannot know, so a volume counts for nothing in the forecast. Say the rise instead (`2 mg/L as N`), or the mass.")
    if kind in ("added", "moved", "lost"):
        _say_of_animals(pen, kind, row)
    if (tick := tick_of_dose(pen.desk, pen.entries[-1])) is not None:
        pen.add(tick)
    pen.write()


def _offer(loaded: Loaded, as_json: bool) -> None:
    """Every word for something that happened, with what it means."""
    from planner.show.terminal.eventlist import event_lines, events_told

    print_answer(as_json, (), lambda: {"events": [{"id": event, "title": title} for event, title in events_told(loaded.rules)]}, lambda: event_lines(loaded.rules, console_width(), typed_folder(loaded.path)))


def _say_of_animals(pen: Pen, kind: str, row: NewRow) -> None:
    from planner.door.animal_warnings import of_arrival, of_loss

    catalogue = pen.loaded.catalogue or read_animals(pen.loaded.livestock)
    count = max(1, round(float(row.value))) if row.value else 1
    if kind == "lost":
        told = take(of_loss(pen.desk, catalogue, row.what, count, row.where))
        pen.warnings += [told] if told is not None else []
    elif row.where == "display":
        pen.warnings += of_arrival(pen.desk, catalogue, row.what, count)


def _last_closed(loaded: Loaded, id: str) -> str:
    """A check that failed was most often just ticked: its last number, else the open one."""
    done = closings(task_key(id), loaded.facts())
    return f"{task_key(id)}#{done[-1][0]}" if done else id


def _events_meant(pen: Pen, text: str, events: Sequence[str]) -> str:
    """A question with the events of which a sentence of the keeper may speak; "" where it shares no word with any. A death is a
    fact of its own, with the animal that it struck."""
    if speaks_of_death(entries.event_word(text)):
        living = listed(sorted(animals_in(pen.desk.facts, "display"))[:4], "or")
        return f"Did an animal die? Then write: `{command('note', typed_folder(pen.loaded.path), 'lost ANIMAL')}`{f', such as {living}' if living else ''}."
    from planner.show.terminal.eventlist import events_told

    titles = dict(events_told(pen.loaded.rules))
    near = events_sharing(entries.event_word(text), [e for e in titles if e in events])
    offers = listed((f"{e} ({uncapped(titles[e])})" for e in near), "or")
    return f"Did you mean {offers}? `{command('note', typed_folder(pen.loaded.path))}` lists them all." if near else ""


def _event(pen: Pen, what: str, remark: str, events: Sequence[str], yes: bool) -> tuple[str, str]:
    """The event as the rules call it, with the keeper's own word kept as a remark; one that no rule knows as it stands,
    and a warning that it changes nothing."""
    found = event_called(what, events)
    if found is None:
        near = nearest(what, events)
        if near is not None:  # the plan takes a slip for the known event, so it is asked about
            make_sure(f"No rule knows the event '{what}'. Did you mean {near}? Then write: `{command('note', typed_folder(pen.loaded.path), 'event', near)}`. Is '{what}' meant as it stands?", yes)
            remark = confirmed(remark)
        meant = f" If it was {near}, write: `{command('note', typed_folder(pen.loaded.path), 'event', near)}`." if near is not None else ""
        pen.warnings.append(f"No rule knows the event '{what}': it is written, and changes nothing in the plan.{meant} "
                            f"Known are {', '.join(e for e in nearest_first(what, events) if e != 'failed')}; a check that failed has `{command('note', typed_folder(pen.loaded.path), 'failed TASK')}`.")
        return what, remark
    if found == what:
        return what, remark
    pen.warnings.append(f"'{what.replace('_', ' ')}' is written as the event {found}, by which the plan knows it; your word stands in the remark.")
    return found, f"{what.replace('_', ' ')} {remark}".strip()


def _known_what(kind: str, what: str, yes: bool, livestock: tuple[Path, ...]) -> str:
    """An animal as the catalogue spells it. A slip would hide it from the plan, so it is asked about."""
    if kind in ("added", "moved", "lost"):
        catalogue = read_animals(livestock)
        found = catalogue.find(what)
        if found.how in ("id", "name") and found.animal is not None:
            return found.animal.id
        if found.candidates:
            make_sure(f"'{what}' may be {catalogue.choice(found.candidates)}. Name one of them. Is '{what}' meant as it stands?", yes)
        else:
            near = get_close_matches(what.lower(), [a.name for a in catalogue.animals], n=4, cutoff=0.6)
            meant = f"Did you mean {listed(near, 'or')}?" if near else "Write its common name as the shop does, such as ocellaris clownfish or turbo snail."
            make_sure(f"The catalogue has no animal '{what}', so the plan would not know what it needs. {meant} Is '{what}' meant as it stands?", yes)
    return what


@click.command("undo")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@all_option
@click.option("--line", "line", type=int, metavar="N", help="Take back line N of the journal alone, also one that cannot be read.")
@json_option
def undo_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, line: int | None, whole: bool, as_json: bool) -> None:
    """Take the last entry back: everything that the last command wrote, or one line. Nothing is deleted; new rows say that it is void."""
    folder = folder_alone(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, whole=whole)
    one = undo_line(pen.loaded.journal, line, pen.loaded.on) if line is not None else None
    if line is not None and one is None:
        raise Refused(f"line {line} of the journal holds no row that stands")
    for row in (one,) if one is not None else undo_rows(pen.loaded.journal):
        pen.add(row)
    if not pen.entries:
        raise Refused("the journal has no entry to take back")
    pen.write(tagged=False, if_unchanged=True)


__all__ = ["note_command", "undo_command"]
