"""What holds of every page, whatever a plan says: it fits, it is plain, nothing open is left out, it never fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.plan.day_jobs import Day
from planner.rulebook.provenance import Caution
from planner.rulebook.shapes import Rulebook
from planner.show.json.plan_document import plan_document, today_document
from planner.show.terminal.checklist import plan_lines
from planner.show.terminal.today import today_lines
from planner.show.words.words import Page, plain_text, wrap
from planner.terms.records import Answer, Forecast, Hold, Need, Phase, Plan, Quantity, State, Task, Trace, Waiting, Window
from planner.terms.traces import Alive, Joined
from tests.story_facts import against_schema
from tests.unit.plan_builder import jobs_of_plan

RULES = Rulebook((), (), {}, {}, {k: Caution(title=f"Caution {k}", text="Take care. " * 8, defer="Ask somebody licensed.") for k in ("mains", "weight")})
ON = date(2026, 3, 2)
WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs"), max_codepoint=0x24F), max_size=120)
TITLES = st.builds(lambda n, text: f"Task{n}x {text}", st.integers(0, 10**6), WORDS)
DAYS = st.one_of(st.none(), st.integers(-400, 800).map(lambda n: ON + timedelta(days=n)))
WINDOWS = st.builds(Window, DAYS, DAYS, DAYS)
PHASES = ("site", "water", "cycle", "care")


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    tasks = []
    for n in range(draw(st.integers(0, 8))):
        day, state, owner = draw(DAYS), draw(st.sampled_from(State)), draw(st.sampled_from(PHASES))
        amounts = (("salt_first_fill", Quantity("salt_first_fill", draw(st.floats(0, 1e6)), "g", "f", (), "s")),) if draw(st.booleans()) else ()
        tasks.append(Task(
            f"{owner}/t{n}", f"{owner}/t{n}", 1, owner, f"Task{n}x {draw(WORDS)}", "step", day, day, "18:00", draw(WINDOWS), state, state == State.WAITING, amounts,
            tuple(draw(st.lists(WORDS, max_size=3))), tuple(draw(st.lists(WORDS, max_size=1))), tuple(draw(st.sets(st.sampled_from(("mains", "weight", "gone"))))),
            tuple(draw(st.lists(TITLES, max_size=2))), (), draw(st.sampled_from(((), ("ammonia", "nitrite")))), "display", True, draw(st.integers(0, 600)), None, day, ""))
    needs = tuple(Need(Trace(Joined(how="all"), draw(st.sampled_from(Answer)), tuple(Alive(what, 1) for what in draw(st.lists(WORDS, max_size=2))), say=draw(WORDS))) for _ in range(draw(st.integers(0, 3))))
    phases = tuple(Phase(p, draw(TITLES), draw(st.sampled_from(("done", "open", "ahead", "on_hold"))), draw(DAYS), draw(DAYS), draw(WINDOWS), draw(WORDS), needs, role="without_end" if p == "care" else "") for p in PHASES)
    holds = (Hold("cycle", ON, draw(WORDS), ("cycle/t0", "cycle/nothing")),) if draw(st.booleans()) else ()
    waiting = (Waiting("cycle", draw(TITLES), needs, draw(WINDOWS)),) if draw(st.booleans()) else ()
    return Plan(ON, None, draw(TITLES), "UTC", draw(st.sampled_from(("metric", "us"))), "18:00", (), phases, tuple(tasks), holds, waiting, tuple(draw(st.lists(WORDS, max_size=2))),
                Forecast({}))


@settings(max_examples=25, deadline=None)
@given(plans(), st.integers(60, 120))
def test_every_page_fits_is_plain_and_names_every_open_task(plan: Plan, width: int) -> None:
    for lines in (plan_lines(plan, RULES, width), today_lines(Day(plan, jobs_of_plan(plan, RULES)), RULES, width), plan_lines(plan, RULES, width, phase="cycle")):
        text = plain_text(lines)
        assert all(len(line) <= width and line == line.rstrip() for line in text.split("\n"))
        assert "\x1b" not in text and "\n\n\n" not in text
    whole = plain_text(plan_lines(plan, RULES, width))
    for task in plan.tasks:
        assert f"{task.title.split()[0]}" in whole, task.id


@settings(max_examples=25, deadline=None)
@given(plans())
def test_a_caution_of_what_is_told_in_full_stands_in_full_exactly_once(plan: Plan) -> None:
    text = " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, RULES)), RULES, 80, steps=True)).split())
    told = {key for t in plan.tasks if t.state in (State.LATE, State.DUE) for key in t.cautions if key in RULES.cautions}
    for key in RULES.cautions:
        assert text.count(f"Caution {key}. Take care.") == (1 if key in told else 0)


@settings(max_examples=15, deadline=None)
@given(plans())
def test_every_plan_has_a_machine_form_by_the_schema(plan: Plan) -> None:
    assert against_schema(plan_document(plan, RULES), "plan") == []
    assert against_schema(today_document(Day(plan, jobs_of_plan(plan, RULES)), RULES), "today") == []


@settings(max_examples=15, deadline=None)
@given(plans())
def test_the_order_of_phases_and_tasks_is_the_plans_own(plan: Plan) -> None:
    document = plan_document(plan, RULES)
    assert [t["id"] for t in document["tasks"]] == [t.id for t in plan.tasks] and [p["id"] for p in document["phases"]] == list(PHASES)
    assert plan_document(replace(plan, tasks=plan.tasks[::-1]), RULES)["tasks"] == document["tasks"][::-1]


@given(st.text(max_size=300), st.integers(20, 120))
def test_wrapping_loses_no_word(text: str, width: int) -> None:
    lines = wrap(text, width)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(len(line) <= width for line in lines)


@given(st.lists(st.tuples(WORDS, WORDS), max_size=5), st.integers(60, 120))
def test_a_marked_line_keeps_its_words_and_its_right_edge(pairs: list[tuple[str, str]], width: int) -> None:
    page = Page(width)
    for text, right in pairs:
        page.item("[ ]", text, " ".join(right.split())[:30])
    told = "".join(plain_text(page.lines).split())
    assert all("".join(right.split()[:1])[:30] in told for _, right in pairs)
    assert all(sum(len(s.text) for s in line) <= width or not "".join(s.text for s in line)[width:].strip() for line in page.lines)
