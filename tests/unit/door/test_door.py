"""What another program may rely on: the names of `planner`, what they give back, and that no mistake of a keeper raises."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from planner import TankFolder, make_plan, read_folder, write_row
from planner.cli import newtank
from planner.cli.common import load_tank
from planner.door.which_task import job_numbered
from planner.door.write import log, postpone, skip, tick
from planner.plan.day_jobs import Day, Job
from planner.rulebook.read import shipped
from planner.terms.problems import Problem
from planner.terms.records import CLOSED, URGENT, Row
from planner.terms.units import Refusal
from tests.rulecases import BASE
from tests.unit.plan_builder import plan, task

ROOT = Path(__file__).parents[3]
TANK = ("start: 2026-01-05\ntimezone: Europe/London\ntank: {length: 90 cm, width: 45 cm, height: 45 cm}\nrock: {kind: dry, mass: 12 kg}\n"
        "test_kits:\n  ammonia: {basis: N, step: 0.25}\n")
DAY = date(2026, 1, 5)


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    (tmp_path / "tank.yaml").write_text(TANK, encoding="utf-8")
    return tmp_path


def codes(found: Row | tuple[Problem, ...]) -> list[str]:
    assert isinstance(found, tuple), found
    return [p.code for p in found]


def test_importing_planner_loads_nothing_else() -> None:
    run = "import sys; before = set(sys.modules); import planner; print(*sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", run], cwd=ROOT, capture_output=True, text=True, check=True)
    assert {m.partition(".")[0] for m in done.stdout.split()} - sys.stdlib_module_names == {"planner"}
    assert "planner.door" not in done.stdout


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    import planner

    assert not hasattr(planner, "make_plant")


@pytest.mark.parametrize("story", ["dry-rock-us", "shop-handover"])
def test_the_plan_of_a_folder_is_the_plan_of_the_command(story: str) -> None:
    folder = shipped("scenarios") / story
    on = date(2026, 6, 1)
    assert make_plan(read_folder(folder, on)) == load_tank(folder, on.isoformat()).plan()


HOUSE = """phase: visit
title: We come and look
order: 85
intro: Somebody looks at the tank.
after: [cycle]
tasks: [{id: come, title: Look at the tank with us, anchor: {phase: visit}, steps: [Look at it.]}]
gate: {title: The shop has seen the tank, opens_when: {done: visit/come}}
"""


def test_a_phase_of_the_shop_can_be_passed_on_the_keepers_word(tank: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    house = tmp_path_factory.mktemp("house")
    (house / "setup").mkdir()
    (house / "setup" / "visit.yaml").write_text(HOUSE, encoding="utf-8")
    (tank / "tank.yaml").write_text(TANK + "already: {site: 2026-01-05, visit: 2026-01-05}\n", encoding="utf-8")
    folder = read_folder(tank, DAY, house)
    assert folder.problems == ()
    assert {p.id for p in make_plan(folder).phases if p.opened is not None} >= {"site", "cycle", "visit"}


def test_a_phase_that_no_rule_has_is_told_with_the_nearest_and_left_out(tank: Path) -> None:
    (tank / "tank.yaml").write_text(TANK + "already: {cycel: 2026-01-05, water: 2026-01-05}\n", encoding="utf-8")
    folder = read_folder(tank, DAY)
    assert [(p.code, p.place.line, p.place.column, p.fix) for p in folder.problems] == [("not-a-choice", 7, 11, "write `cycle`")]
    assert folder.tank is not None and list(folder.tank.already) == ["water"]


def test_a_plan_from_parts_has_the_stages_of_the_wish_list_too() -> None:
    folder = read_folder(shipped("scenarios") / "dry-rock-us", date(2026, 3, 1))
    assert folder.tank is not None
    assert folder.tank.wish_list
    plan = make_plan(folder.tank, folder.journal, folder.rules, folder.on)
    assert any(task.animals for task in plan.tasks)
    assert plan == make_plan(folder)


def test_another_day_may_be_asked_of_the_same_folder(tank: Path) -> None:
    folder = read_folder(tank, DAY)
    assert make_plan(folder, on=date(2026, 2, 1)).on == date(2026, 2, 1)


def test_without_a_day_a_folder_is_read_for_the_tanks_own_day(tank: Path) -> None:
    late = datetime.fromisoformat("2026-07-01T23:30:00+00:00")  # half past midnight in London
    assert read_folder(tank, now=late).on == date(2026, 7, 2)


def test_a_folder_without_a_tank_file_is_a_problem_and_no_plan(tmp_path: Path) -> None:
    folder = read_folder(tmp_path)
    assert (folder.tank, [p.code for p in folder.problems]) == (None, ["file-missing"])
    with pytest.raises(ValueError, match="nothing can be planned"):
        make_plan(folder)


def test_a_journal_that_cannot_be_opened_leaves_nothing_to_plan_from(tank: Path) -> None:
    (tank / "journal.csv").mkdir()
    folder = read_folder(tank, DAY)
    assert (folder.tank, [p.code for p in folder.problems]) == (None, ["not-a-file"])


def test_house_rules_lie_over_the_shipped_ones(tank: Path) -> None:
    house = shipped("scenarios") / "shop-handover" / "house-rules"
    assert read_folder(tank, DAY, house).rules.house
    assert not read_folder(tank, DAY).rules.house


def test_a_row_is_written_as_the_command_writes_it(tank: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    other = tmp_path_factory.mktemp("other")
    (other / "tank.yaml").write_text(TANK, encoding="utf-8")
    row = write_row(tank, "reading", "ammonia", 0.5, note="=evening", at="08:15", on=DAY)
    assert isinstance(row, Row)
    done = CliRunner().invoke(newtank, ["log", str(other), "ammonia=0.5", "--note", "=evening", "--at", "08:15", "--on", DAY.isoformat()])
    assert done.exit_code == 0, done.output
    ours, theirs = ([re.sub(r"\[\w+\]", "[tag]", line) for line in (f / "journal.csv").read_text().splitlines()] for f in (tank, other))
    assert ours == theirs[:2]
    assert ours[1] == "2026-01-05T08:15+00:00,reading,ammonia,0.5,mg/L as N,display,\"'=evening [tag]\""


def test_a_row_that_was_written_is_the_row_that_is_read_back(tank: Path) -> None:
    write_row(tank, "event", "leak", on=DAY)
    row = write_row(tank, "poured", "water", 40, "L", at=DAY, on=DAY)
    assert isinstance(row, Row)
    assert (row.line, row.low, row.where) == (3, 40.0, "display")
    assert row in read_folder(tank, DAY).journal.rows


def test_a_tick_stands_in_the_water_of_its_task(tank: Path) -> None:
    row = write_row(tank, "done", "water/mix", on=DAY)
    assert isinstance(row, Row)
    assert row.where == read_folder(tank, DAY).rules.tasks["water/mix"].where


@pytest.mark.parametrize(("args", "code"), [
    (("reading", "amonia", 1), "unknown-reading"),
    (("reading", "ammonia", "a bit"), "not-a-number"),
    (("reading", "ammonia", 1, "L"), "unit-unknown"),
    (("sang", "to the fish"), "unknown-kind"),
    (("done", "water/mixx"), "unknown-task"),
    (("event", "leak", "", "", "bucket"), "unknown-water"),
])
def test_a_slip_writes_nothing_and_comes_back_as_a_problem(tank: Path, args: tuple[str, ...], code: str) -> None:
    assert codes(write_row(tank, *args, on=DAY)) == [code]
    assert not (tank / "journal.csv").exists()


def test_what_has_not_happened_yet_is_not_written(tank: Path) -> None:
    assert codes(write_row(tank, "event", "leak", at=date(2026, 1, 6), on=DAY)) == ["in-the-future"]


def test_a_row_that_is_written_to_no_tank_is_a_problem(tmp_path: Path) -> None:
    assert codes(write_row(tmp_path, "event", "leak")) == ["file-missing"]


def test_a_folder_is_frozen(tank: Path) -> None:
    folder = read_folder(tank, DAY)
    assert isinstance(folder, TankFolder)
    with pytest.raises(AttributeError):
        folder.on = DAY  # type: ignore[misc]


def test_the_readmes_lines_run(tank: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (block,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    (tmp_path / "my-tank").mkdir()
    (tmp_path / "my-tank" / "tank.yaml").write_text(TANK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    exec(compile(block, "README.md", "exec"), {})
    shown = capsys.readouterr().out
    assert "Row(" in shown
    assert "reading,ammonia,0.25,mg/L as N" in (tmp_path / "my-tank" / "journal.csv").read_text()


# --- what a page or a virtual keeper does


def written(rows: tuple[Row, ...]) -> list[tuple[str, str, str]]:
    return [(r.kind, r.what, r.value) for r in rows]


def test_readings_tick_the_test_that_they_answer(tank: Path) -> None:
    story, on = shipped("scenarios") / "dry-rock-us", date(2026, 1, 16)
    for name in ("tank.yaml", "journal.csv"):
        (tank / name).write_bytes((story / name).read_bytes())
    done = log(read_folder(tank, on), ["tds=0", "chlorine=0"])
    assert done.problems == ()
    assert [(r.kind, r.what, r.where) for r in done.rows] == [("reading", "tds", "source"), ("reading", "chlorine", "source"), ("done", "water/test-ro", "source")]
    assert make_plan(read_folder(tank, on)).task("water/test-ro").state == "done"  # type: ignore[union-attr]


def test_a_tick_writes_the_fact_that_its_task_stands_for(tank: Path) -> None:
    done = tick(read_folder(tank, DAY), ["care/weekly-change"], amount="12 L")
    assert (written(done.rows), done.problems) == ([("done", "care/weekly-change#1", ""), ("changed_water", "water", "12")], ())


def test_a_second_tick_of_one_day_is_written_only_by_who_is_sure(tank: Path) -> None:
    tick(read_folder(tank, DAY), ["site/place"])
    again = tick(read_folder(tank, DAY), ["site/place"])
    assert (again.rows, [p.code for p in again.problems]) == ((), ["is-it-meant"])
    assert written(tick(read_folder(tank, DAY), ["site/place"], sure=True).rows) == [("done", "site/place", "")]


def test_what_protects_is_not_skipped_but_put_off(tank: Path) -> None:
    folder = read_folder(tank, DAY)
    key = next(key for key, rule in sorted(folder.rules.tasks.items()) if rule.protects and not rule.is_arrival and make_plan(folder).task(key))
    assert [p.code for p in skip(folder, [key]).problems] == ["protects"]
    task = make_plan(folder).task(key)
    assert task is not None
    later = date(2026, 3, 1) if task.date is None else task.date + timedelta(days=5)
    assert written(postpone(folder, [key], later).rows) == [("postponed", key, later.isoformat())]


def test_a_task_may_be_left_out_and_stays_so(tank: Path) -> None:
    folder = read_folder(tank, DAY)
    key = next(t.key for t in make_plan(folder).tasks if not folder.rules.tasks[t.key].protects and t.id == t.key and t.state in URGENT)
    assert written(skip(folder, [key], "not mine").rows) == [("skipped", key, "")]
    task = make_plan(read_folder(tank, DAY)).task(key)
    assert task is not None
    assert task.state == "skipped"


@pytest.mark.parametrize(("tasks", "code"), [(["water"], "a-gate"), (["site/plaice"], "unknown-task"), (["care/water-change#0"], "not-a-number")])
def test_what_is_no_task_is_not_ticked(tank: Path, tasks: list[str], code: str) -> None:
    assert [p.code for p in tick(read_folder(tank, DAY), tasks).problems] == [code]
    assert not (tank / "journal.csv").exists()


def test_a_number_that_is_not_on_the_page_is_refused_with_those_that_are() -> None:
    """An order that only forbids keeps its number and stands among what must not happen yet, with none to tick."""
    jobs = tuple(Job(n, task(f"care/{n}"), "open", True, forbids=n == 4) for n in (1, 2, 3, 4, 5))
    for number in (4, 9):
        refused = job_numbered(number, Day(plan(), jobs))
        assert isinstance(refused, Refusal) and refused.fix == "It has 1 to 3 and 5: see `newtank today`."


def test_what_protects_is_not_put_off_to_a_day_before_its_own(tank: Path) -> None:
    folder = read_folder(tank, DAY)
    key, task = next((t.key, t) for t in make_plan(folder).tasks if folder.rules.tasks[t.key].protects and t.id == t.key and t.date is not None and t.date > DAY)
    assert task.date is not None
    assert [p.code for p in postpone(folder, [key], task.date - timedelta(days=1)).problems] == ["protects"]


def test_every_open_job_of_a_tank_that_begins_can_be_put_off(tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_text(yaml.safe_dump(BASE, sort_keys=False), encoding="utf-8")
    folder = read_folder(tmp_path, DAY)
    ids = [t.id for t in make_plan(folder).tasks if t.state not in CLOSED]
    done = postpone(folder, ids, DAY + timedelta(days=400))
    assert done.problems == () and {r.what for r in done.rows} == set(ids)
    assert any(id.startswith("water/mix-more") for id in ids)
