"""`newtank words`: what a term means. The sheet of terms is the rules'; pages explain from it too."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import console_width, house_option, json_option, print_json
from planner.cli.complete import completing
from planner.cli.screen import show
from planner.door.folder import read_rules
from planner.rulebook.words import Word, find_word, words_in
from planner.show.words.words import Page
from planner.terms.problems import nearest


@click.command("words")
@click.argument("asked", nargs=-1, metavar="[TERM]", shell_complete=completing("terms"))
@house_option
@json_option
def words_command(asked: tuple[str, ...], rules_dir: Path | None, as_json: bool) -> None:
    """What a term means, under any of its names. Without TERM the whole sheet."""
    sheet = read_rules(rules_dir).book.words
    text = " ".join(asked)
    found = [find_word(text, sheet) or _near(text, sheet)] if text else list(sheet.values())
    words = [w for w in found if w is not None] or list(words_in([text], sheet))
    if not words:
        near = nearest(text, [said for w in sheet.values() for said in (w.term, *w.also, *w.avoid)])
        raise click.UsageError(f"the list of words has no '{text}'." + (f" Did you mean '{near}'?" if near else " `newtank words` lists them."))
    if as_json:
        print_json({"words": [{"term": w.term, "says": w.says, "also": list(w.also)} for w in words]})
        return
    page = Page(console_width())
    column = min(24, max(len(w.term) for w in words) + 2)
    for word in sorted(words, key=lambda w: w.term.lower()):
        page.labelled(word.term, f"{word.says}." + (f" Also: {', '.join(word.also)}." if word.also and text else ""), 0, column, label_role="strong")
    show(page.lines)


def _near(text: str, sheet: dict[str, Word]) -> Word | None:
    """The only word that begins so."""
    begun = [w for w in sheet.values() if any(said.lower().startswith(text.lower()) for said in (w.term, *w.also))]
    return begun[0] if len(begun) == 1 else None


__all__ = ["words_command"]
