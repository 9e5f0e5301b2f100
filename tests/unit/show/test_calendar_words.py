"""The words of a calendar entry: what protects comes first, titles are short, and nothing breaks out of its line."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import date

import pytest

from planner.rulebook.provenance import Caution
from planner.show.calendar.calendar import calendar_from_plan, entries_from_plan, planned_entries
from planner.show.calendar.entries import full_text, summary
from planner.show.calendar.text import fitted, one_line, shorten
from planner.terms.records import State
from tests.each import over
from tests.unit.plan_builder import ON, TANK_ID, phase, plan, quantity, task, window
from tests.unit.show.calendar_help import DAY, JOB, NOTHING, NOW, RULES, events, export, late, only

# --- words -----------------------------------------------------------------------------------------------------


def test_the_uid_comes_from_the_tank_and_the_task_and_from_nothing_else() -> None:
    first = only(plan(task("care/test#3", date(2026, 3, 9), title="Test")))
    other = only(plan(task("care/test#3", date(2026, 5, 9), title="Renamed", tentative=True), name="Other"))
    assert first.uid == other.uid == str(uuid.uuid5(uuid.UUID(TANK_ID), "care/test#3"))


def test_light_undated_skipped_and_never_exported_done_jobs_have_no_entry() -> None:
    p = plan(
        task("a/light", calendar=False), task("a/undated", None), task("a/skipped", state=State.SKIPPED),
        task("a/done", state=State.DONE, closed_on=date(2026, 3, 1)),
        phase("leak-test", opened=date(2026, 2, 1), state="done"), phase("corals", None),
    )
    assert {r.entry.key for r in export(p)[0].entries} == {DAY, "end"}


def test_a_tank_without_an_id_is_refused() -> None:
    with pytest.raises(ValueError, match="id"):
        entries_from_plan(plan(task(), tank_id=None), RULES)


def test_a_job_goes_by_its_short_title() -> None:
    assert only(plan(task("fish/stage-1", title="Bring in the first fish"))).title == RULES.tasks["fish/stage-1"].short == "First fish"


@over("key", sorted(k for k, t in RULES.tasks.items() if k.partition("/")[0] in {p.phase for p in RULES.phases} and t.calendar and t.every is None))
def test_behind_a_gate_a_short_title_loses_no_word(key: str) -> None:
    assert summary(only(plan(task(key, tentative=True, role="test")))) == f"maybe {RULES.tasks[key].short}"


def test_every_phase_has_a_name_that_fits_before_done() -> None:
    for rule in RULES.phases:
        if rule.role != "without_end":
            gate = next(e for e in entries_from_plan(plan(phase(rule.phase, started=ON)), RULES) if e.state == "provisional")
            assert summary(gate) == f"maybe {rule.short} done"


@pytest.mark.parametrize(("title", "signs", "cut"), [
    ("Test ammonia, nitrite", 18, "Test ammonia"), ("Fill for the leak test", 18, "Fill for the leak"), ("Bring in the corals", 18, "Bring"), ("Calibrate the meter", 18, "Calibrate"),
    ("Donaudampfschifffahrt", 10, "Donaudamp…"), ("short", 5, "short")])
def test_a_title_is_cut_between_words_and_ends_in_none_that_hangs(title: str, signs: int, cut: str) -> None:
    found = fitted(title, signs)
    assert len(found) <= signs
    assert found == cut or (cut == "Bring" and found == "Bring in the…")


def test_everything_is_filed_under_one_of_five_words() -> None:
    roles = ("animals", "remedy", "step", "shopping", "test", "care")
    p = plan(*(task(f"a/{role}", role=role) for role in roles), late(3, "a/late"), phase())
    assert {str(e["CATEGORIES"].to_ical().decode()) for e in events(p).values()} == {"Work", "Test", "Shopping", "Animals", "Milestone"}


def test_the_text_says_when_how_much_and_what() -> None:
    p = plan(task(
        amounts=(("salt_mass", quantity("salt_mass", 7600, "g")),), cautions=("drip_loop",),
        window=window(date(2026, 3, 8), date(2026, 3, 10), date(2026, 3, 20)),
    ))
    text = full_text(only(p))
    assert "If quick: 8 March 2026. Likely: 10 March 2026. If slow: 20 March 2026." in text
    assert "- salt mass: 7.6 kg" in text
    assert "1. Fill the bin with RO water.\n2. Stir in the salt." in text
    assert "lb" in full_text(only(replace(p, units="us")))


MAINS = Caution(title="Mains beside water", line="Switch off first.", weight="danger", text="Loops and an RCD. " * 4, defer="Ask a licensed electrician.")
SHOPS = Caution(title="Mind the cat", text="She sleeps on the lid.", defer="Ask her.")
GUARDED = replace(RULES, cautions={"mains": MAINS, "cat": SHOPS})


@pytest.mark.parametrize("steps", [2, 200])
def test_the_sentence_that_protects_comes_first_of_all_and_is_never_cut(steps: int) -> None:
    p = plan(task(cautions=("cat", "mains"), steps=("Step by step, in several words.",) * steps))
    for entry in planned_entries(p, GUARDED, {}):
        if entry.key != "end":
            text = full_text(entry)
            assert text.startswith("Danger: Switch off first.\nCare: Mind the cat. Ask her.\n\n")
            assert "Loops and an RCD." not in text
            assert len(text.encode()) <= 2000
    assert full_text(only(p)).endswith("(More, in the tank's folder: newtank today)") is (steps == 200)


def test_cautions_longer_than_a_description_are_all_there() -> None:
    many = {f"c{n}": Caution(title=f"Caution {n}", line=f"Sentence {n} that protects somebody. " * 8, weight="danger", text="x", defer="y") for n in range(9)}
    (entry,) = entries_from_plan(plan(task(cautions=tuple(many))), replace(RULES, cautions=many))
    assert all(f"Sentence {n} that" in full_text(entry) for n in range(9))


def test_a_day_tells_the_caution_of_two_jobs_once() -> None:
    p = plan(task("a/one", cautions=("mains",)), task("a/two", cautions=("mains", "cat")))
    (entry,) = (e for e in planned_entries(p, GUARDED, {}) if e.key == DAY)
    assert entry.guard == "Danger: Switch off first.\nCare: Mind the cat. Ask her."


@pytest.mark.parametrize("slow", [None, date(2026, 3, 9)])
def test_a_window_without_a_slow_date_or_with_one_before_the_likely_is_still_said_in_order(slow: date | None) -> None:
    p = plan(task(window=window(date(2026, 3, 8)), tentative=True))
    p = replace(p, tasks=(replace(p.tasks[0], window=replace(p.tasks[0].window, latest=slow)),))
    wanted = "more than two years away" if slow is None else "10 March 2026"
    assert f"If slow: {wanted}." in full_text(only(p))


# --- hostile words ---------------------------------------------------------------------------------------------

HOSTILE = {
    "a raw line break": "Fill\r\nATTENDEE:mailto:x@example.org",
    "a BEGIN line": "x\nEND:VEVENT\nBEGIN:VEVENT",
    "control characters": "Fill\x00 \x1b[31mtank\x07\x7f\x85now",
    "unusual line ends": "one\u2028two\u2029three\x0bfour",
    "separators": r"a, b; c: d \n e \\ \;",
    "emoji": "Add fish \U0001f420\U0001f468\u200d\U0001f469\u200d\U0001f467 \U0001f44d\U0001f3fd",
    "right to left": "\u202eקריאה של אמוניה",
    "half a surrogate pair": "broken \ud83d here",
    "a byte-order mark": "\ufeffSalt",
    "two hundred characters": "Rinse the sand " * 14,
    "three hundred wide characters": "塩" * 300,
    "only control characters": "\x00\x01",
    "a formula": "=SUM(A1)",
    "quotes": 'the "big" change, "again"',
}


@pytest.mark.parametrize("title", HOSTILE.values(), ids=HOSTILE.keys())
@pytest.mark.parametrize("tentative", [False, True])
def test_a_hostile_title_stays_one_line_of_one_entry(title: str, tentative: bool) -> None:
    p = plan(task(title=title, steps=(title,), tentative=tentative))
    event = events(p)[JOB]
    written = str(event["SUMMARY"])
    assert written == summary(only(p))
    assert len(written) <= 24
    assert one_line(written) == written
    assert written.startswith("maybe ") is tentative
    assert "ATTENDEE" not in event
    assert len(written) > 2


def test_the_tanks_name_is_escaped_and_read_back_whole() -> None:
    data, _ = calendar_from_plan(plan(task(), name="Reef; south, \\ top\nrow"), RULES, NOTHING, now=NOW)
    assert data.count(b"NAME:Reef\\; south\\, \\\\ top row\r\n") == 2


def test_words_are_cut_between_signs_never_inside_one() -> None:
    family = "\U0001f468\u200d\U0001f469\u200d\U0001f467"
    for octets in range(4, 40):
        short = shorten(f"{family}e\u0301{family} x", octets)
        assert len(short.encode()) <= octets
        assert short[:-1] in ("", family, f"{family}e\u0301", f"{family}e\u0301{family}", f"{family}e\u0301{family} ")\
            or short == f"{family}e\u0301{family} x"


def test_whoever_reads_the_calendar_is_told_what_to_do_with_a_diluted_result() -> None:
    from tests.engine_desk import plan_with, tank_with

    rows = ("2026-03-01,dosed,ammonia,2,mg/L as N", "2026-03-08,reading,ammonia,0,mg/L as N", "2026-03-08,reading,nitrite,>5,mg/L as N")
    made = plan_with(RULES, *rows, on="2026-03-09", tank=tank_with(id=TANK_ID, already={"start-up": "2026-02-28"}))
    texts = [full_text(e) for e in planned_entries(made, RULES, {})]
    assert any("Multiply the result by 5 and log that." in t for t in texts)
