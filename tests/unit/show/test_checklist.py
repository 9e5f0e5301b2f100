"""The checklist on the terminal: what a beginner reads, in which order, and that every line fits."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.rulebook.provenance import Caution
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.words import Word
from planner.show.terminal.checklist import plan_lines, since_lines
from planner.show.words.words import Page, day_words, plain_text, short_day, window_words, wrap
from planner.terms.causes import cause
from planner.terms.records import Answer, Moved, Plan, State
from planner.terms.texts import on_day
from tests.engine_desk import plan_with
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, hold, need, phase, plan, quantity, task, window

MAINS = Caution(title="Mains beside water", text="Salt water conducts.", defer="Ask a licensed electrician; local code comes first.")
ALERT = AlertRule.model_validate({"alert": "ammonia-alarm", "title": "Ammonia with animals", "when": {"event": "smell"}, "say": "Act now."})
RULES = Rulebook((), (ALERT,), {}, {}, {"mains": MAINS}, words={"ro": Word(term="RO", says="nearly pure water")})


def whole(p: Plan, width: int = 80, only: str | None = None) -> str:
    return plain_text(plan_lines(p, RULES, width, phase=only))


def joined(text: str) -> str:
    """The text without its line breaks, so that a sentence can be looked for wherever it wraps."""
    return " ".join(text.split())


# --- words -----------------------------------------------------------------------------------------------------

def test_a_notice_of_the_whole_plan_has_days_as_the_rest_of_the_page() -> None:
    notice = cause("spike", day=on_day(ON, "on "), clear=cause("not_clear_yet"), quiet=on_day(ON + timedelta(days=14)))
    told = joined(whole(plan(notices=(notice,))))
    assert "on Mon 2 Mar, after animals came" in told and "after Mon 16 Mar at the earliest" in told


def test_lines_that_do_not_count_yet_are_told_with_the_day_of_the_page() -> None:
    told = joined(plain_text(plan_lines(plan_with(rulebook(), "2026-03-09,event,leak", on="2026-03-05"), rulebook(), 80)))
    assert "Journal line 2 is dated after Thu 5 Mar and does not count yet." in told


def test_a_day_is_written_out_without_any_locale() -> None:
    assert day_words(date(2026, 3, 2)) == "Mon 2 Mar 2026"


def test_a_year_is_said_only_where_it_is_another_one() -> None:
    assert short_day(date(2026, 12, 31), ON) == "Thu 31 Dec"
    assert short_day(date(2027, 1, 1), ON) == "Fri 1 Jan 2027"


def test_a_window_names_likely_quick_and_slow() -> None:
    assert window_words(window(date(2026, 2, 27), date(2026, 3, 2), date(2026, 3, 9)), ON) == "likely Mon 2 Mar (quick 27 Feb, slow 9 Mar)"


def test_a_window_of_one_day_is_said_once() -> None:
    assert window_words(window(date(2026, 3, 9)), ON) == "likely Mon 9 Mar"


def test_a_date_that_cannot_be_had_gives_its_reason() -> None:
    assert window_words(window(None), ON, "away for two years") == "no date can be given: away for two years"


def test_a_number_stays_beside_its_unit_at_the_end_of_a_line() -> None:
    for width in range(20, 60):
        for line in wrap("Fill the bin with 165 L of water and stir in 6.27 kg of salt until 35 ppt is reached.", width):
            assert not line.rstrip().endswith(("165", "6.27", "35")), f"torn at {width}: {line!r}"


# --- plan ------------------------------------------------------------------------------------------------------

def test_the_header_gives_litres_salinity_with_its_pair_and_weight() -> None:
    figures = (quantity("net_volume", 203.2, "L"), quantity("gross_volume", 250, "L"), quantity("target_salinity", 35, "ppt"), quantity("target_sg", 1.02643, "SG 25/25"),
               quantity("total_weight", 336_700, "g"), quantity("floor_load", 6.6, "kN/m²"))
    text = joined(whole(plan(quantities=figures)))
    assert "203 L once rock and sand are in" in text and "250 L" in text and "35 ppt, that is SG 1.0264 at 25/25" in text and "337 kg when full, 6.6 kN/m²" in text


def test_the_time_line_has_a_row_a_phase_with_three_dates() -> None:
    p = plan(phase("cycle", title="Grow the filter", window=window(date(2026, 4, 1), date(2026, 4, 20), date(2027, 1, 5))))
    row = next(line for line in whole(p).splitlines() if line.startswith("Grow the filter  "))
    assert row.split()[3:] == ["ahead", "1", "Apr", "20", "Apr", "5", "Jan", "2027"]


def test_a_wide_terminal_draws_the_band_from_quick_to_slow() -> None:
    p = plan(phase("cycle", title="Grow the filter", window=window(date(2026, 4, 1), date(2026, 4, 20), date(2026, 6, 5))))
    row = next(line for line in whole(p, 120).splitlines() if line.startswith("Grow the filter  "))
    band = row.split("5 Jun")[1]
    assert band.strip().startswith("|") and "o" in band and band.index("|") < band.index("-") < band.index("o") < band.rindex("-")


def test_what_is_done_is_folded_into_one_line() -> None:
    done = [task(f"site/{n}", date(2026, 2, 20), state=State.DONE, closed_on=date(2026, 2, 21), title=f"Step {n}", steps=("Do it well.",)) for n in "ab"]
    text = whole(plan(phase("site", state="open", started=date(2026, 2, 20)), *done))
    assert "[x] done: Step a (21 Feb); Step b (21 Feb)" in text and "Do it well." not in text


def test_steps_are_told_for_the_current_phase_and_not_for_a_later_one() -> None:
    now = task("site/level", date(2026, 3, 12), steps=("Use a spirit level.",))
    later = task("cycle/dose", date(2026, 4, 12), steps=("Weigh the salt.",), state=State.WAITING, tentative=True, title="Dose ammonia")
    p = plan(phase("site", state="open", started=ON), phase("cycle"), now, later)
    assert "Use a spirit level." in whole(p)
    assert "Weigh the salt." not in whole(p) and "Dose ammonia" in whole(p)
    assert "Weigh the salt." in whole(p, only="cycle") and "Use a spirit level." not in whole(p, only="cycle")


def test_a_gate_says_what_is_met_and_what_is_not() -> None:
    p = plan(phase("site", state="open", started=ON, needs=(need("stand is level", Answer.YES), need("floor is known", Answer.UNKNOWN), need("RCD tested", Answer.NO))))
    lines = [line.strip() for line in whole(p).splitlines()]
    assert "met      stand is level" in lines and "not yet  floor is known" in lines and "not yet  RCD tested" in lines


def test_a_phase_passed_on_word_says_that_no_evidence_backs_it() -> None:
    p = plan(phase("site", state="done", opened=date(2026, 2, 1), started=date(2026, 1, 20), on_word=True))
    assert "on your word, not on evidence" in joined(whole(p))


def test_later_times_of_a_repeating_task_are_dates_alone() -> None:
    tasks = [task(f"care/test#{n}", ON + timedelta(days=7 * n), title="Test nitrate", steps=("Shake the bottle.",)) for n in range(1, 8)]
    text = whole(plan(phase("care", state="open", started=ON), *tasks))
    assert text.count("Shake the bottle.") == 1 and "16 Mar, 23 Mar, 30 Mar and so on (3 more until 20 Apr)" in joined(text)


def test_moved_dates_tell_from_to_and_by_how_much() -> None:
    moved = (Moved("cycle/dose", "Dose ammonia", date(2026, 3, 5), date(2026, 3, 9), "journal line 7"), Moved("x/y", "New thing", None, date(2026, 3, 6), "journal line 7"),
             Moved("x/z", "Old thing", date(2026, 3, 6), None, "journal line 7"))
    text = joined(plain_text(since_lines(plan(), date(2026, 2, 20), ["2026-03-01 ammonia 2, line 7"], moved, 80)))
    assert "Dose ammonia: Thu 5 Mar to Mon 9 Mar, 4 days later" in text and "New thing: new: Fri 6 Mar" in text and "Old thing: Fri 6 Mar no longer holds" in text
    assert "1 journal entry since: - 2026-03-01 ammonia 2, line 7" in text and "because journal line 7" in text


def test_nothing_moved_is_said() -> None:
    assert "No date moved." in plain_text(since_lines(plan(), ON, [], (), 80))


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_no_line_is_longer_than_the_terminal(width: int) -> None:
    long = "A very long title that has to go over several lines because somebody wrote all of it down in one single breath"
    t = task("water/mix", ON, state=State.LATE, due=date(2026, 1, 1), title=long, steps=(long * 3,), watch=(long,), because=("https://" + "x" * 200,), cautions=("mains",),
             amounts=(("salt_first_fill", quantity("salt_first_fill", 6270, "g")),))
    p = plan(phase("water", title=long, state="open", started=ON, reason=long, window=window(None), needs=(need(long),)), t, hold("water", long), name=long, notices=(long,))
    assert max(len(line) for line in whole(p, width).splitlines()) <= width


def test_a_plain_page_has_no_escape_codes_and_no_trailing_spaces() -> None:
    text = whole(plan(phase("water", state="open", started=ON), task()))
    assert "\x1b" not in text and all(line == line.rstrip() for line in text.splitlines())


def test_a_page_never_opens_with_an_empty_line_nor_holds_two() -> None:
    page = Page(80)
    page.gap()
    page.say("one")
    page.gap()
    page.gap()
    page.say("two")
    assert plain_text(page.lines) == "one\n\ntwo"


def test_when_a_job_that_is_not_firm_comes_again_stands_under_its_title() -> None:
    jobs = [task(f"care/test#{n}", ON + timedelta(days=40 + 7 * n), title="Test the water", tentative=True) for n in (1, 2, 3)]
    lines = whole(plan(phase("care", state="open", started=ON), *jobs)).splitlines()
    assert [line[:14] for line in lines if line.lstrip().startswith("again ")] == ["    again 25 A"]
