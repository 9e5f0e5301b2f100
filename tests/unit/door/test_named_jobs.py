"""Which job is meant by what was typed. Contract of this project; no outside figures."""

from __future__ import annotations

import pytest

from planner.door.acts import Desk
from planner.door.which_task import find_task, job_named, job_numbered, task_titled, tasks_meant
from planner.plan.day_jobs import Day, Job
from planner.terms.records import State, Task
from planner.terms.units import Refusal
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.door.test_entry_words import STAMP
from tests.unit.plan_builder import ON, plan, task

KEYS = ["care/water-change", "cycle/test", "fish/test", "site/level"]


def desk(*open_jobs: Task, rows: tuple[str, ...] = ()) -> Desk:
    made = tank_with()
    return Desk(made, journal_of(*rows, tank=made), rulebook(), ON, plan(*open_jobs), STAMP, None)


def refused(found: object) -> Refusal:
    assert isinstance(found, Refusal), found
    return found


@pytest.mark.parametrize(("typed", "meant"), [("site/level", "site/level"), ("site/level#2", "site/level#2"), ("level", "site/level"), ("level#3", "site/level#3"), ("water-change", "care/water-change")])
def test_a_job_is_named_by_its_id_or_the_last_part_of_it(typed: str, meant: str) -> None:
    assert find_task(typed, KEYS) == meant


def test_a_last_part_of_two_jobs_is_for_the_keeper_to_tell() -> None:
    told = refused(find_task("test", KEYS))
    assert "cycle/test" in told.message and "fish/test" in told.message and "site/level" not in told.message


@pytest.mark.parametrize(("typed", "offered"), [("77", "`newtank today den`"), ("xxx", "`newtank plan den --all`")])
def test_a_command_in_a_refusal_carries_the_folder_as_the_typed_one_did(typed: str, offered: str) -> None:
    assert offered in refused(job_named(typed, Day(plan(), (Job(1, task("site/level", ON), "open", True),)), KEYS, "den")).fix
    assert refused(tasks_meant(desk(), ["site"], folder="den")).fix.startswith("`newtank why den site`")


@pytest.mark.parametrize(("typed", "near"), [("site/lvel", "'site/level'"), ("lvel", "'level'"), ("xxx", "`newtank plan --all`"), ("lvl", "`newtank plan --all`"), ("twelve", "`newtank plan --all`")])
def test_a_slip_is_answered_with_the_nearest_and_a_word_of_three_letters_with_the_list(typed: str, near: str) -> None:
    assert near in refused(find_task(typed, [*KEYS, "over/well"])).fix


JOBS = (task("a/one", title="Test the salt water", state=State.PLANNED), task("b/two", title="Salt water test", state=State.DUE), task("c/three", title="Stir salt into the water", state=State.PLANNED),
        task("d/four", title="Read the meter", state=State.DONE), task("e/five", title="Feed the fish", state=State.PLANNED), task("f/six", title="Feed the crew", state=State.LATE))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("salt water test", "b/two"), ("Test the", "a/one"), ("stir", "c/three"), ("the salt", "a/one"), ("water salt test", "b/two"), ("salt into", "c/three"), ("feed", "f/six"), ("feed the fish", "e/five"), ("the fish", "e/five"), ("read the meter", "d/four"), ("st", None), ("sti", "c/three"), ("salt fish", None)],
)
def test_a_job_is_named_by_words_of_its_title_and_one_of_today_goes_first(typed: str, meant: str | None) -> None:
    found = task_titled(typed, plan(*JOBS))
    assert (found.id if isinstance(found, Task) else found) == meant


def test_words_of_two_titles_are_for_the_keeper_to_tell() -> None:
    both = plan(task("a/one", title="Feed the fish", state=State.DUE), task("b/two", title="Feed the crew", state=State.DUE), task("c/three", title="Feed the eel", state=State.PLANNED))
    told = refused(task_titled("feed", both))
    assert "Feed the fish" in told.message and "Feed the crew" in told.message and "eel" not in told.message


def test_two_rounds_of_one_job_are_one_and_the_first_is_meant() -> None:
    found = task_titled("feed", plan(task("a/one#1", title="Feed the fish"), task("a/one#2", title="Feed the fish")))
    assert isinstance(found, Task) and found.id == "a/one#1"


def day(*forbids: bool) -> Day:
    return Day(plan(), tuple(Job(n, task(f"a/job-{n}", title=f"Job {n}"), "due", False, forbid) for n, forbid in enumerate(forbids, 1)))  # type: ignore[arg-type]


def test_a_number_is_one_of_the_page_and_never_one_that_only_forbids() -> None:
    page = day(False, True, False)
    assert [getattr(job_numbered(n, page), "number", None) for n in (0, 1, 2, 3, 4)] == [None, 1, None, 3, None]
    assert "It has 1 and 3" in refused(job_numbered(2, page)).fix and "nothing on it" in refused(job_numbered(1, day(True))).fix


def test_a_job_of_the_page_is_named_by_number_id_or_title() -> None:
    page = Day(plan(*JOBS), day(False, False).jobs)
    by_number = job_named("2", page, KEYS)
    assert isinstance(by_number, Job) and by_number.task.id == "a/job-2"
    assert job_named("level", page, KEYS) == "site/level" and job_named("feed the fish", page, KEYS) == "e/five"
    assert "no task" in refused(job_named("nonsense", page, KEYS)).message


@pytest.mark.parametrize("typed", ["site", "gate/site", "gate/anything"])
def test_a_gate_is_no_job(typed: str) -> None:
    assert refused(tasks_meant(desk(), [typed])).code == "a-gate"


@pytest.mark.parametrize(("typed", "right"), [("cycle/pause#0", False), ("cycle/pause#1", True), ("cycle/pause#x", False), ("cycle/pause#-1", False), ("cycle/pause#", True)])
def test_rounds_of_a_job_count_from_one(typed: str, right: bool) -> None:
    found = tasks_meant(desk(), [typed])
    assert isinstance(found, list) if right else refused(found).code == "not-a-number"


def test_the_same_job_named_twice_is_meant_once_and_one_wrong_name_is_refused() -> None:
    assert tasks_meant(desk(), ["site/level", "level", "site/rcd"]) == ["site/level", "site/rcd"]
    assert refused(tasks_meant(desk(), ["site/level", "nonsense"])).code == "unknown-task"


def test_a_last_part_means_the_one_open_job_that_has_it() -> None:
    shared = next(base for base in (key.partition("/")[2] for key in rulebook().tasks) if sum(k.endswith(f"/{base}") for k in rulebook().tasks) > 1)
    one, other = [key for key in rulebook().tasks if key.endswith(f"/{shared}")][:2]
    assert tasks_meant(desk(task(one, state=State.DUE), task(other, state=State.PLANNED)), [shared]) == [one]
    assert refused(tasks_meant(desk(task(one, state=State.DUE), task(other, state=State.LATE)), [shared])).code == "unknown-task"


def test_a_number_is_looked_up_on_the_page_alone() -> None:
    assert tasks_meant(desk(), ["2"], lambda: day(False, False)) == ["a/job-2"]
    assert refused(tasks_meant(desk(), ["3"], lambda: day(False, False))).code == refused(tasks_meant(desk(), ["2"])).code == "unknown-task"
