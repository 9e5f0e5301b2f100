"""The answer to an entry: five lines at most, the hold before all else, and how a reading was understood."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.plan.day_jobs import Day
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.show.terminal.effect import Effect, effect_lines, effect_of
from planner.show.terminal.effect_brief import brief_lines, brings_danger, danger_lines, next_words
from planner.show.words.understood import understood_words
from planner.show.words.words import plain_text
from planner.terms.causes import cause
from planner.terms.records import Hold, Moved, Plan, Row, State
from tests.engine_desk import journal_of
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, jobs_of_plan, phase, plan, task

LONG = "Ammonia is at a level at which it harms the gills of every fish and shrimp within hours, and it goes on doing so until it is gone from the water. " * 3


def rows(*lines: str) -> tuple[Row, ...]:
    return journal_of(*lines).rows


READ = rows("2026-03-02 18:00,reading,ammonia,2,mg/L as N")


def effect(written: tuple[Row, ...] = READ, **changes: object) -> Effect:
    values: dict[str, object] = {"written": written, "moved": (), "newly_due": (), "raised": (), "lifted": (), "opened": (), "shut": ()}
    return Effect(**(values | changes))  # type: ignore[arg-type]


def told(found: Effect, width: int = 80) -> list[str]:
    return plain_text(brief_lines(found, plan(phase("cycle", title="Grow the filter")), width)).splitlines()


@pytest.mark.parametrize("width", [60, 80, 120])
def test_there_are_five_lines_at_most_whatever_happened(width: int) -> None:
    many = rows(*(f"2026-03-02 18:{n:02},reading,{name},{value},{unit}" for n, (name, value, unit) in enumerate([("ammonia", 2, "mg/L as N"), ("nitrite", 1, "mg/L as N"), ("ph", 8, ""), ("salinity", 35, "ppt")] * 4)))
    moved = tuple(Moved(f"cycle/t{n}", f"Task {n}", ON, date(2026, 3, 4 + n), "") for n in range(9))
    full = effect(many, moved=moved, raised=(Hold("fish", ON, LONG, ()), Hold("fish", ON, "Another.", ())), forecast=(LONG, "The filter proven is expected later."), advice=(LONG,), newly_due=(task("cycle/x"),), opened=(phase("cycle"),))
    lines = told(full, width)
    assert len(lines) <= 5 and max(map(len, lines)) <= width
    assert lines[0].startswith("Written") and "On hold" in "\n".join(lines)


def test_a_hold_that_finds_no_room_says_where_it_stands_whole() -> None:
    text = " ".join(" ".join(told(effect(raised=(Hold("fish", ON, LONG, ()),)))).split())
    assert "On hold What comes next. `newtank today` says what to do." in text and "..." not in text


def test_a_gate_that_opens_before_its_animals_came_finishes_nothing_and_one_without_animals_is_not_told() -> None:
    """The gate to corals says that the tank is steady enough for them; they come after it."""
    coral = task("corals/stage", role="animals", animals=(("zoanthus-spp", 2),))
    shut, wide = phase("corals", title="Corals"), phase("corals", title="Corals", opened=ON, state="done")

    def said(after: Plan) -> str:
        return " ".join(" ".join(told(effect_of(plan(shut, *after.tasks), after, READ))).split())

    assert "Ready for What is still to come of “Corals”." in said(plan(wide, coral)) and "Finished" not in said(plan(wide, coral))
    assert "Finished “Corals”." in said(plan(wide, replace(coral, state=State.DONE)))
    assert "Corals" not in said(plan(wide, notices=(cause("none_wished", sort="corals"),)))


def test_a_rule_that_holds_nothing_any_more_is_not_said_to_be_over() -> None:
    """"Add no animal while..." goes on to be the rule once a test has met it."""
    free = " ".join(" ".join(told(effect(lifted=(Hold("crew", ON, "Add no animal while ammonia shows.", ()),)))).split())
    assert "Goes on This no longer stands in the way: Add no animal while ammonia shows." in free and "is over" not in free


ALERTS = tuple(AlertRule.model_validate({"alert": id, "title": title, "rank": rank, "when": {"event": "smell"}, "say": "Act."})
               for id, title, rank in (("mild", "Nitrate is up", "nutrients"), ("grave", "Ammonia with animals in, the gravest of three levels", "ammonia")))
GRAVE_RULES = Rulebook((), ALERTS, {}, {}, {})
BOTH = tuple(task(f"{id}/act", ON, state=State.DUE, title=title) for id, title in (("mild", "Feed less"), ("grave", "Change half the water now")))


@pytest.mark.parametrize("width", [60, 80])
def test_the_gravest_alarm_that_an_entry_raised_is_told_first_and_whole_with_the_number_of_its_job(width: int) -> None:
    p = plan(*BOTH)
    raised = effect(newly_due=BOTH, raised=(Hold("fish", ON, LONG, ()),))
    danger = danger_lines(raised, Day(p, jobs_of_plan(p, GRAVE_RULES)), GRAVE_RULES, width)
    lines = plain_text(brief_lines(raised, p, width, danger=danger)).splitlines()
    number = next(j.number for j in jobs_of_plan(p, GRAVE_RULES) if j.task.phase == "grave")
    assert " ".join(" ".join(lines).split()).startswith(
        f"Danger Ammonia with animals in, the gravest of three levels. Change half the water now: `newtank today {number}` Written ")
    assert len(lines) <= 5 and max(map(len, lines)) <= width


def test_an_alarm_that_stood_before_the_entry_or_kills_nothing_soon_is_no_danger_of_it() -> None:
    assert brings_danger(effect(newly_due=BOTH), GRAVE_RULES)
    assert not brings_danger(effect(newly_due=BOTH[:1]), GRAVE_RULES) and not brings_danger(effect(), GRAVE_RULES)


def test_the_date_that_moved_most_is_told_with_the_number_of_others() -> None:
    moved = (Moved("cycle/a", "Feed", date(2026, 3, 3), date(2026, 3, 4), ""), Moved("gate/cycle", "Grow the filter", date(2026, 3, 20), date(2026, 3, 25), ""), Moved("cycle/new", "New", None, ON, ""))
    assert told(effect(moved=moved))[-1] == "Moved     “Grow the filter” by 5 days, Fri 20 Mar to Wed 25 Mar. 1 other date moved:" or "5 days, Fri 20 Mar to Wed 25 Mar. 1 other date moved" in " ".join(" ".join(told(effect(moved=moved))).split())


def test_one_ticked_job_with_a_long_title_is_named_and_not_counted() -> None:
    lines = told(Effect(rows("2026-03-02 18:00,done,site/call"), (), (), (), (), (), (), titles={"site/call": "Call a structural engineer about the floor"}))
    assert "“Call a structural engineer about the floor”" in " ".join(lines) and "1 jobs" not in " ".join(lines)


def test_a_chore_that_was_ticked_says_when_it_comes_again() -> None:
    ticked = rows("2026-03-02 18:00,done,cycle/look#3")
    assert told(effect(ticked, moved=(Moved("cycle/look#4", "Look", None, date(2026, 3, 3), ""),)))[-1] == "Moved     Nothing. “Look” comes again on Tue 3 Mar."


def test_nothing_moved_is_said() -> None:
    assert told(effect())[-1] == "Moved     Nothing."


@pytest.mark.parametrize(("row", "typed", "words"), [
    # 50.04 mg of CaCO3 and 2.8036 dKH in each meq/L: 160 / 50.04 * 2.8036 = 8.96.
    ("alkalinity,160,mg/L CaCO3", "ppm", "160 ppm (taken as mg/L CaCO3) is 9 dKH"),
    ("ammonia,0.5,mg/L as N", "", "ammonia 0.5 is taken as 0.5 mg/L as N"),
    ("temperature,77,F", "F", "77 F is 25 °C"), ("alkalinity,8,dKH", "dKH", ""), ("ph,8.1,", "", ""), ("temperature,25,C", "°C", ""),
])
def test_what_was_assumed_or_converted_is_echoed(row: str, typed: str, words: str) -> None:
    (read,) = rows(f"2026-03-02 18:00,reading,{row}")
    assert understood_words(read, typed, "metric") == words


def test_a_title_of_what_moved_is_told_whole_or_not_at_all() -> None:
    title = "Feed the filter when ammonia is below 0.61 mg/L as NH3, a title of some length"
    moved = tuple(Moved(f"cycle/t{n}", title, ON, date(2026, 3, 14 + n), "") for n in range(9))
    short = told(effect(moved=moved))
    assert f"“{title}”" in " ".join(" ".join(short).split())
    crowded = told(effect(moved=moved, forecast=(" ".join(LONG.split()[:38]) + ".",)))
    assert len(crowded) <= 5 and "..." not in " ".join(crowded) and "9 dates, the most by 20 days: `newtank plan --since 2026-03-01`." in " ".join(crowded)


def test_do_now_says_a_deed_and_only_then_what_it_is_about() -> None:
    raised = effect(newly_due=BOTH[:1], raised=(Hold("fish", ON, "Add no fish.", ("mild/act",), do="So little harms nobody."),))
    lines = told(raised)
    assert lines[1] == "Do now    Feed less. So little harms nobody."
    assert any(line.startswith("On hold") for line in lines)


def test_beside_the_line_of_danger_no_second_deed_is_told() -> None:
    p = plan(*BOTH)
    raised = effect(newly_due=BOTH, raised=(Hold("fish", ON, "Add no fish.", ("grave/act",), do="Gills burn within hours."),))
    lines = plain_text(brief_lines(raised, p, 80, danger=danger_lines(raised, Day(p, jobs_of_plan(p, GRAVE_RULES)), GRAVE_RULES, 80))).splitlines()
    assert not any(line.startswith("Do now") for line in lines) and "Alarm     Gills burn within hours." in lines


def test_an_alarm_that_asks_for_nothing_but_a_test_is_no_danger() -> None:
    milder = next(a for a in rulebook().alerts if a.alert == "nitrite-doubt")
    assert milder.place == ALERTS[1].place and ALERTS[1].is_grave and not milder.is_grave
    assert next(a for a in rulebook().alerts if a.alert == "ammonia-one").is_grave


def test_a_job_that_was_a_maybe_of_today_is_named_once_the_test_calls_it() -> None:
    maybe = task("cycle/re-dose", ON, title="Feed the filter", state=State.DUE, tentative=True)
    found = effect_of(plan(maybe), plan(replace(maybe, tentative=False)), READ)
    assert [t.id for t in found.newly_due] == ["cycle/re-dose"]
    assert any(line.startswith("Now due   Feed the filter") for line in told(found))


def test_what_an_entry_raised_is_not_the_deed_of_now_while_a_graver_alarm_stands_first_on_the_page() -> None:
    notices = tuple(cause("alarm", alert=id, title=title, told="Act.") for id, title in (("grave", "Ammonia"), ("mild", "Nitrate is up")))
    before = plan(BOTH[1], notices=notices[:1])
    after = plan(*BOTH, notices=notices, holds=(Hold("fish", ON, "Nitrate is up.", ("mild/act",), do="So little harms nobody."),))
    raised = effect_of(before, after, READ)
    day = Day(after, jobs_of_plan(after, GRAVE_RULES))
    number = next(j.number for j in day.jobs if j.task.phase == "grave")
    then = next_words(raised, day, GRAVE_RULES)
    assert then == f"Change half the water now: `newtank today {number}`"
    lines = plain_text(brief_lines(raised, after, 80, then=then)).splitlines()
    assert not any(line.startswith("Do now") for line in lines) and "Alarm     So little harms nobody." in lines
    assert not any("DO NOW" in line for line in plain_text(effect_lines(raised, after, 80)).splitlines())
    # Once its remedy is done the milder one stands first.
    alone = effect_of(plan(notices=notices[:1]), replace(after, tasks=BOTH[:1]), READ)
    assert "Do now    Feed less. So little harms nobody." in told(alone)


def test_what_an_entry_raised_beside_a_graver_alarm_comes_after_its_job() -> None:
    graver = AlertRule.model_validate({"alert": "air", "title": "Out of breath", "rank": "oxygen", "when": {"event": "smell"}, "say": "Act."})
    rules = Rulebook((), (*ALERTS, graver), {}, {}, {})
    p = plan(*BOTH, task("air/stone", ON, state=State.DUE, title="Put an air stone in"))
    day = Day(p, jobs_of_plan(p, rules))
    first = next(j.number for j in day.jobs if j.task.phase == "air")
    (line,) = plain_text(danger_lines(effect(newly_due=BOTH[1:]), day, rules, 160)).splitlines()
    assert f"Change half the water now, after job {first}: " in line
    (line,) = plain_text(danger_lines(effect(newly_due=p.tasks), day, rules, 160)).splitlines()
    assert line.startswith("Danger    Out of breath. Put an air stone in: ")
