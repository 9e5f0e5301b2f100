"""Rule texts: braces are read into parts at load, and what means something at a keyboard alone stands in braces."""

from __future__ import annotations

import pickle
from copy import deepcopy
from pathlib import Path

import pytest

from planner.judge.figures import RESTS_ON
from planner.rulebook.check import check_rules
from planner.rulebook.house.overlay import load_house
from planner.rulebook.read import load_rules
from planner.rulebook.texts import parse_text, parts_in, plain_text
from planner.terms.problems import Problem
from planner.terms.texts import ByUnits, Command, Either, Figure, TankFile, TankKey, TaskDay, TaskName, Text, joined, parts_of
from planner.terms.units import Refusal
from tests.rulecases import RULES, rulebook


def refusal(text: object) -> str:
    with pytest.raises(Refusal) as found:
        parse_text(text)
    return found.value.code


@pytest.mark.parametrize(("text", "parts"), [
    ("Wait {leak_watch} and look.", ("Wait ", Figure("leak_watch"), " and look.")),
    ("Note it with {note:leak}.", ("Note it", Command("note", "leak", "", " with "), ".")),
    ("Note {note:smell curing}", ("Note ", Command("note", "smell", "curing", ""))),
    ("Log it, with {where:source}", ("Log it", Command("where", "", "source", ", with "))),
    ("Note it with {failed:site/level}", ("Note it", Command("failed", "site/level", "", " with "))),
    ("Tick {task:site/level}", ("Tick ", TaskName("site/level"))),
    ("Fetch it on {day:site/level water/mix}", ("Fetch it on ", TaskDay(("site/level", "water/mix")))),
    ("Stay with {coral_gap}", ("Stay with ", Figure("coral_gap"))),
    ("Write {key:room.floor} into {tank file}", ("Write ", TankKey("room.floor"), " ", TankFile("into "))),
    ("In {units:100 L|26 gal}", ("In ", ByUnits("100 L", "26 gal"))),
    ("{type:Set {key:rock.kind}|Say so}.", (Either(("Set ", TankKey("rock.kind")), ("Say so",)), ".")),
])
def test_braces_become_parts(text: str, parts: tuple[object, ...]) -> None:
    made = parse_text(text)
    assert (made, parts_of(made)) == (text, parts)
    assert [type(a) for a in parts_of(made)] == [type(b) for b in parts]


def test_a_text_without_braces_is_no_more_than_its_words() -> None:
    assert type(parse_text("Look at the floor, 3 mg/L and/or pH 8.1.")) is str


@pytest.mark.parametrize("text", [
    "Note it with `newtank note event leak`.", "Run newtank today.", "Log it with --where source.", "Set room.floor.", "Write it into the tank file.", "Tick rock/give-over.",
    "Look at algae_seen.", "{type:Write `this`|that}", "{type:Write it|Set rock.kind}",
])
def test_what_only_a_keyboard_knows_is_refused_outside_of_braces(text: str) -> None:
    assert refusal(text) == "text-literal"


@pytest.mark.parametrize("text", [
    "Wait {leak_watch.", "Wait leak_watch}.", "{Leak watch}", "{note:}", "{note:smell cellar}", "{failed:level}", "{failed:site/level curing}", "{where:cellar}", "{task:level}", "{day:level}", "{day:}", "{do:start}",
    "{type:one}", "{type:one|two|three}", "{say:this}", "{}",
])
def test_braces_that_cannot_be_read_are_refused(text: str) -> None:
    assert refusal(text) == "text-braces"


def test_a_caution_takes_no_braces() -> None:
    with pytest.raises(Refusal, match="no meaning"):
        plain_text("Wait {leak_watch}.")


def test_a_text_keeps_its_parts_when_it_is_copied_kept_or_joined() -> None:
    text = parse_text("Wait {leak_watch}.")
    for again in (deepcopy(text), pickle.loads(pickle.dumps(text, pickle.HIGHEST_PROTOCOL))):
        assert (again, parts_of(again)) == (text, ("Wait ", Figure("leak_watch"), "."))
    both = joined("First.", text, by=" ")
    assert (both, parts_of(both)) == ("First. Wait {leak_watch}.", ("First.", " ", "Wait ", Figure("leak_watch"), "."))
    assert not isinstance(joined("a", "b"), Text)


def test_a_sentence_made_of_rule_texts_and_other_words_has_its_parts_too() -> None:
    assert parts_in("at least {leak_watch} since Watch it (leak-test/watch), `{Ours}`") == ("at least ", Figure("leak_watch"), " since Watch it (leak-test/watch), `{Ours}`")


# --- in files

FILE = "setup/leak-test.yaml"
LINE = "      - Stop for {quarter_stop} or longer"


def with_line(new: str) -> tuple[list[Problem], int]:
    """Problems of the shipped rules with one step put otherwise, and the number of its line."""
    path = RULES / FILE
    lines = path.read_text(encoding="utf-8").splitlines()
    n = next(n for n, line in enumerate(lines) if line.startswith(LINE))
    book, problems = load_rules(RULES, {path: "\n".join([*lines[:n], new, *lines[n + 1 :]])}, RESTS_ON)
    assert [p.phase for p in book.phases] == [p.phase for p in rulebook().phases]
    assert len(book.phase("leak-test").tasks) == len(rulebook().phase("leak-test").tasks)
    return [*problems, *check_rules(book)], n + 1


@pytest.mark.parametrize(("line", "code", "column", "fix"), [
    ("      - Set room.floor first.", "text-literal", 9, "put it in braces: "),
    ("      - Note it with `newtank note event leak`.", "text-literal", 9, "put it in braces: "),
    ("      - Write it down: the day and the hour.", "text-unquoted", 9, "put quotes around this text"),
    ("      - Write it down: the day: and the hour.", "text-unquoted", 9, "put quotes around this text"),
    ("      - Write it down\n        and say so: to both.", "text-unquoted", 9, "put quotes around this text"),
    ("      - Fill {leak_water of plain water.", "text-braces", 9, "close the brace, or take it out"),
])
def test_a_wrong_text_is_named_with_its_place_and_takes_nothing_else_along(line: str, code: str, column: int, fix: str) -> None:
    problems, number = with_line(line)
    first = problems[0]
    assert (first.code, str(first.place)) == (code, f"rules/{FILE}:{number + line.count(chr(10)) * (column == 9 and 'say so' in line)}:{column}")
    assert first.fix.startswith(fix)
    assert {p.code for p in problems} <= {code, "text-unquoted"}


def test_the_id_of_a_task_in_plain_words_is_refused() -> None:
    problems, _ = with_line("      - Tick site/level once more.")
    assert [(p.code, p.fix) for p in problems] == [("text-literal", "write `{task:site/level}`")]


@pytest.mark.parametrize(("name", "code"), [("{note:moonlight}", "unknown-event"), ("{failed:site/lvel}", "unknown-task"), ("{task:site/lvel}", "unknown-task"), ("{key:room.flor}", "unknown-tank-key"),
                                            ("{leak_wach}", "unknown-figure")])
def test_what_braces_name_must_be_there(name: str, code: str) -> None:
    problems, _ = with_line(f"      - Look at {name}.")
    assert [p.code for p in problems] == [code]


def test_a_shops_text_is_held_to_the_same(tmp_path: Path) -> None:
    (tmp_path / "setup").mkdir()
    (tmp_path / "setup" / "site.yaml").write_text(
        "phase: site\ntasks:\n  - id: carpet\n    title: Roll up the carpet\n    steps:\n      - Set room.floor first.\n"
        "  - id: mat\n    title: Lay out the mat\n    steps:\n      - Note a hole with {note:leak}.\n      - Mind this: it is wet.\n"
        "  - id: door\n    title: Shut the door\n    steps:\n      - Note it with {note:moonlight}.\n"
        "  - id: lamp\n    title: Note a damp spot with {note:leak}\n", encoding="utf-8")
    book, problems = load_house(tmp_path, rulebook(), "house")
    assert [(p.code, str(p.place)) for p in problems] == [
        ("text-literal", "house/setup/site.yaml:6:9"), ("text-unquoted", "house/setup/site.yaml:11:9"), ("unknown-event", "house/setup/site.yaml:12:5")]
    assert [key for key in book.tasks if key not in rulebook().tasks] == ["site/lamp"]
    assert isinstance(book.tasks["site/lamp"].title, Text)
