"""The commands that show, run as a keeper runs them: text and machine form, exit codes, width, colour, folders."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from planner.cli import COMMANDS, HELP, MEANT, newtank
from planner.cli.common import typed_folder
from planner.door.folder import read_folder
from planner.door.which_task import task_titled
from planner.rulebook.read import shipped
from planner.show.calendar.feeds import FEEDS, feed
from planner.show.json.output_schema import schema_of
from planner.terms.codes import CODES
from planner.terms.records import State, Task
from planner.terms.units import Refusal
from tests.unit.plan_builder import ON, plan
from tests.unit.plan_builder import task as made

TANK = """id: 7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10
name: Corner reef
start: 2026-03-02
timezone: Europe/London
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}
rock: {kind: dry, mass: 15 kg}
sand: {kind: dry, mass: 15 kg}
water: {source: ro}
equipment: {bin: 60 L, ro_rate: 190 L/day}
room: {temperature: 21 °C, floor: solid}
test_kits:
  ammonia: {basis: N, step: 0.25}
  nitrite: {basis: N, step: 0.25}
  nitrate: {basis: ion, step: 5}
"""
JOURNAL = """when,kind,what,value,unit,where,note
2026-03-02,done,site/place,,,display,
2026-03-02,done,site/level,,,display,
2026-03-03T18:00+00:00,reading,ammonia,2,mg/L as N,display,
2026-03-05T18:00+00:00,reading,ammonia,1,mg/L as N,display,
2026-03-05T18:00+00:00,reading,nitrite,>5,mg/L as N,display,
2026-03-06,reading,salinity,1.026,SG 25/25,mixing,
"""
SHOWING = (("plan",), ("today",), ("why", "leak-test/watch"), ("why", "gate/cycle"), ("why", "cycle"), ("readings",), ("plan", "--phase", "water"),
           ("plan", "--since", "2026-03-03"))


@pytest.fixture
def reef(tmp_path: Path) -> Path:
    folder = tmp_path / "reef"
    folder.mkdir()
    (folder / "tank.yaml").write_text(TANK, encoding="utf-8")
    (folder / "journal.csv").write_text(JOURNAL, encoding="utf-8")
    return folder


def run(*words: str, columns: int = 80) -> Result:
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(newtank, list(words))


def ask(reef: Path, *words: str, on: str = "2026-03-07", columns: int = 80) -> Result:
    return run(words[0], str(reef), *words[1:], "--on", on, columns=columns)


def told(reef: Path, *words: str, **options: Any) -> str:
    """The text on one line, so that sentences can be looked for wherever they wrap."""
    done = ask(reef, *words, **options)
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split())


def document(reef: Path, *words: str, on: str = "2026-03-07") -> dict[str, Any]:
    found: dict[str, Any] = json.loads(ask(reef, *words, "--json", on=on).stdout)
    return found


@pytest.mark.parametrize("words", SHOWING, ids=" ".join)
@pytest.mark.parametrize("columns", [80, 120])
def test_no_line_is_longer_than_the_terminal_and_no_escape_code_is_piped(reef: Path, words: tuple[str, ...], columns: int) -> None:
    done = ask(reef, *words, columns=columns)
    assert done.exit_code == 0, done.output
    assert max(len(line) for line in done.output.splitlines()) <= columns
    assert "\x1b" not in done.output


@pytest.mark.parametrize(("words", "schema"), [(("plan",), "plan"), (("today",), "today"), (("why", "cycle/first-dose"), "why"), (("why", "gate/animals"), "why"), (("readings",), "readings")])
def test_the_machine_form_follows_its_schema(reef: Path, words: tuple[str, ...], schema: str) -> None:
    if words[1:] == ("cycle/first-dose",):
        words = ("why", next(t["key"] for t in document(reef, "plan")["tasks"] if t["phase"] == "cycle"))
    jsonschema.validate(document(reef, *words), schema_of(schema))


def test_the_plan_text_and_its_machine_form_agree_on_every_open_task(reef: Path) -> None:
    text = told(reef, "plan", "--all", columns=120)
    for task in document(reef, "plan")["tasks"]:
        assert " ".join(task["title"].split()) in text, task["id"]


def test_the_day_lists_what_the_machine_form_calls_due(reef: Path) -> None:
    text = told(reef, "today")
    found = document(reef, "today")
    lines = {j["number"]: j for j in found["jobs"]}
    assert found["late"] and {j["id"] for j in lines.values()} == {t["id"] for t in found["late"] + found["due"]}
    for number, job in lines.items():
        assert re.search(rf" {number} (?:\([a-z,: ]+\) )?{re.escape(' '.join(job['title'].split()[:3]))}", text), job


def test_the_number_of_a_job_ticks_that_job(reef: Path) -> None:
    jobs = document(reef, "today")["jobs"]
    ticked = document(reef, "done", "2", "--yes")
    assert [r["what"] for r in ticked["written"] if r["kind"] == "done"] == [jobs[1]["id"]]
    after = document(reef, "today")["jobs"]
    assert [(j["number"], j["id"]) for j in after[: len(jobs)]] == [(j["number"], j["id"]) for j in jobs] and after[1]["state"] == "done"


def test_the_steps_and_cautions_of_a_job_told_in_a_line_are_one_command_away(reef: Path) -> None:
    found, named = document(reef, "today"), {task["id"]: task for task in document(reef, "plan")["tasks"]}
    for job in found["jobs"]:
        text = told(reef, "today", str(job["number"]), columns=1000).replace(f" {typed_folder(reef)}`", "`").replace(f" {typed_folder(reef)} -o", " -o")  # a step of the JSON is typed in the folder
        assert all(" ".join(step.split()) in text for step in named[job["id"]]["steps"]), job
        assert all(" ".join(f"{c['title']}. {c['text']} {c['defer']}".split()) in text for key in named[job["id"]]["cautions"] for c in [found["cautions"][key]]), job
        assert "tick newtank done" in text or "newtank log" in text, job


def test_the_same_day_gives_the_same_bytes(reef: Path) -> None:
    assert ask(reef, "plan").stdout_bytes == ask(reef, "plan").stdout_bytes


def test_one_phase_alone_is_told_with_every_step_of_its_open_tasks(reef: Path) -> None:
    text = told(reef, "plan", "--phase", "water")
    tasks = [t for t in document(reef, "plan")["tasks"] if t["phase"] == "water" and t["state"] != "done"]
    assert len(tasks) > 5 and all(" ".join(step.split()) in text for t in tasks for step in t["steps"])
    assert "When each phase may be over" not in text and "Leak test with fresh water" not in text


def test_since_a_day_lists_the_newer_rows_alone(reef: Path) -> None:
    text = told(reef, "plan", "--since", "2026-03-03")
    assert "3 journal entries since" in text and "nitrite over 5 mg/L as N, line 6" in text and "line 4" not in text


def test_since_a_day_tells_what_a_newer_row_moved(reef: Path) -> None:
    with (reef / "journal.csv").open("a", encoding="utf-8") as file:
        file.write("2026-03-06,postponed,site/shop-water,2026-03-20,,display,\n")
    moved = {m["id"]: m for m in document(reef, "plan", "--since", "2026-03-03")["moved"]}
    assert (moved["site/shop-water"]["from"], moved["site/shop-water"]["to"]) == ("2026-03-07", "2026-03-20")
    assert "Buy salt, a mixing bin and containers: Sat 7 Mar to Fri 20 Mar, 13 days later" in told(reef, "plan", "--since", "2026-03-03")
    assert "site/shop-water" not in {m["id"] for m in document(reef, "plan", "--since", "2026-03-06")["moved"]}


def test_until_a_day_shows_repeating_tasks_further_ahead(reef: Path) -> None:
    near, far = (len(document(reef, "plan", *more)["tasks"]) for more in ((), ("--until", "2027-03-01")))
    assert far > near


def test_without_a_command_the_page_of_any_day_can_be_asked_for_as_with_today(reef: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(reef)
    assert run("--on", "2026-03-07").output == run("today", "--on", "2026-03-07").output
    assert run("--on", "2026-03-07", "--json").output == run("today", "--on", "2026-03-07", "--json").output
    assert "`newtank plan --on DATE`" in run("--on", "2026-03-07", "plan").output


@pytest.mark.parametrize("words", [("today", "no-such-job"), ("--no-such-option",), ("todya",), ("today", "--no-such-option"), ("plan", "--since", "yesterday")], ids=" ".join)
def test_what_is_wrong_stands_before_how_a_command_is_used(reef: Path, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(reef)
    done = run(*words)
    assert done.exit_code == 2 and done.output.startswith("Error: ")
    assert done.output.splitlines()[-2].startswith("Usage: newtank")


def test_why_takes_the_last_part_of_a_task_and_names_the_nearest_otherwise(reef: Path) -> None:
    assert "leak-test/watch" in told(reef, "why", "watch")
    done = ask(reef, "why", "leak-test/wach")
    assert done.exit_code == 2 and "Did you mean 'leak-test/watch'?" in done.output


def test_readings_show_values_trend_and_what_the_plan_asks(reef: Path) -> None:
    text = told(reef, "readings")
    assert "down 1" in text and "trend falling by 1 mg/L as N over 2 days" in text and "over 5 mg/L as N" in text
    assert "limits clear (your kit's zero)" in text and "salinity in the mixing water" in text
    assert "nitrite" not in told(reef, "readings", "ammonia").split("meaning")[0]


@pytest.mark.parametrize("story", sorted(p.parent.name for p in shipped("scenarios").glob("*/tank.yaml")))
def test_the_readings_of_every_story_can_be_shown(story: str) -> None:
    """Whatever kits its keeper described: a kit without steps is no reason to stop."""
    done = run("readings", str(shipped("scenarios") / story), "--on", "2027-06-01")
    assert done.exit_code == 0, done.exception
    assert done.output.count("  trend ") >= 2 or "The journal has no reading yet." in done.output


def test_a_page_of_readings_counts_in_the_keepers_own_kit_alone(reef: Path) -> None:
    """1 mg/L as N is 17.031 / 14.007 = 1.216 mg/L as NH3 (atomic weights: IUPAC 2021), so that the last dose reads 2.43."""
    (reef / "tank.yaml").write_text(TANK.replace("ammonia: {basis: N, step: 0.25}", "ammonia: {basis: NH3, step: 0.25}"), encoding="utf-8")
    lines = ask(reef, "readings", "ammonia").output.partition("meaning")[0].splitlines()
    assert not [line for line in lines if re.search(r"as N\b", line[:64])], "only what was written keeps the unit in which it was"
    text = " ".join(" ".join(lines).split())
    assert "2.43 mg/L as NH3" in text and "trend falling by 1.22 mg/L as NH3 over 2 days" in text


def test_each_limit_is_a_line_that_says_from_where_on_what_is_to_be_done(reef: Path) -> None:
    """The ladder of ammonia alarms, which begins at 0.19, 0.38, 0.5 and 1 mg/L as N in the shipped rules; pH alarms at both ends."""
    assert "change half the water" not in ask(reef, "readings", "ammonia").output, "what harms animals is no limit before there are any"
    with (reef / "journal.csv").open("a", encoding="utf-8") as journal:
        journal.write("2026-03-06,added,trochus,2,,display,\n")
    lines = [" ".join(line.split()) for line in ask(reef, "readings", "ammonia").output.splitlines()]
    assert "from 1 mg/L as N: change half the water" in lines
    assert "0.38 to 0.5 mg/L as N: change water" in lines
    run("log", str(reef), "ph=8.1", "--on", "2026-03-07")
    lines = [" ".join(line.split()).removeprefix("limits ") for line in ask(reef, "readings", "ph").output.splitlines()]
    assert "7.6 to 7.8: bring in fresh air" in lines, "a band below a limit never reads as if all above it were meant"
    assert "below 7.6: aerate, change water" in lines and "above 8.7: stop doses, change water" in lines


def test_a_reading_in_specific_gravity_stands_beside_what_was_written(reef: Path) -> None:
    assert "34.5 ppt 1.026 SG 25/25" in told(reef, "readings", "salinity")


def test_rules_are_listed_with_grade_and_source_and_pass_their_check() -> None:
    done = run("rules", "--phase", "leak-test")
    assert done.exit_code == 0 and "aim for" in done.output and "common practice, no source" in done.output
    assert max(len(line) for line in done.output.splitlines()) <= 80
    found = json.loads(run("rules", "--json").stdout)
    jsonschema.validate(found, schema_of("rules"))
    assert all(n["source"] for n in found["numbers"] if n["grade"] != "practice")


def test_each_number_is_counted_in_one_family() -> None:
    found = json.loads(run("rules", "--json").stdout)
    assert sum(sum(grades.values()) for grades in found["families"].values()) == len(found["numbers"])
    assert sum(grades["standard"] for grades in found["families"].values()) == sum(n["grade"] == "standard" for n in found["numbers"])
    assert f"{found['families']['fish']['practice']} practice" in next(line for line in run("rules").output.splitlines() if line.startswith("fish  "))


def test_codes_are_listed_with_what_is_said() -> None:
    told = run("rules", "--codes").output
    assert "\nunknown-reading\n  unknown reading `amonia`\n" in told
    listed = json.loads(run("rules", "--codes", "--json").stdout)["codes"]
    assert [c["code"] for c in listed] == sorted(CODES)


def test_a_rule_file_with_a_mistake_is_reported_with_its_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the shipped cases, which a folder of house rules is held against elsewhere and not here."""
    monkeypatch.setattr("planner.plan.rule_cases.loosened_cases", lambda *_: ())
    setup = tmp_path / "rules" / "setup"
    setup.mkdir(parents=True)
    (setup / "site.yaml").write_text("phase: site\ntitle: A\norder: 1\nintro: B\nnumbers:\n  a: {value: 1, unit: h, grade: standard}\ngate: {title: C, opens_when: {done: site/level}}\n", encoding="utf-8")
    done = run("rules", "--check", "--rules", str(tmp_path / "rules"))
    assert done.exit_code == 1 and "setup/site.yaml:6" in done.output


def test_problems_in_the_keepers_files_end_with_one_after_everything_was_planned(reef: Path) -> None:
    with (reef / "journal.csv").open("a", encoding="utf-8") as file:
        file.write("2026-03-06,reading,salinity,oops,ppt,mixing,\n")
    for words in SHOWING:
        done = ask(reef, *words)
        assert done.exit_code == 1 and "journal.csv:8:" in done.stderr and len(done.stdout) > 200
    assert "1 problem in" in ask(reef, "today").stdout
    assert document(reef, "plan")["problems"][0]["line"] == 8


@pytest.mark.parametrize(("words", "says"), [
    (("plan", "nowhere"), "this plan has no phase 'nowhere'"), (("plan", "site", "x"), "is no tank folder"), (("plan", "--on", "yesterday"), "is not a date"), (("plan", "--on", "2026-02-30"), "is not in the calendar"), (("plan", "--phase", "watr"), "Did you mean 'water'?"),
    (("plan", "--since", "3 March"), "--since '3 March' is not a date"), (("why",), "name one job or phase"), (("why", "gate/nothing"), "this plan has no phase 'nothing'"),
    (("readings", "amonia"), "Did you mean 'ammonia'?"), (("today", "x"), "there is no task 'x'"), (("today", "site/level", "x"), "x"), (("today", "site/level", "--json"), "no JSON"),
])
def test_wrong_use_ends_with_two_and_says_what_was_wanted(reef: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], says: str) -> None:
    monkeypatch.chdir(reef)
    done = run(*words)
    assert done.exit_code == 2 and says in " ".join(done.output.split()), done.output


def test_the_list_of_commands_has_each_once_in_a_line_that_is_whole() -> None:
    told = run("--help").output
    assert sorted(name for lines in HELP.values() for name in lines) == sorted(COMMANDS) and "..." not in told.partition("Options:")[2]
    assert all(f"{name} " in told and says in told for lines in HELP.values() for name, says in lines.items())
    assert max(map(len, told.splitlines())) <= 80


def test_a_word_that_a_newcomer_tries_says_where_the_thing_is() -> None:
    for word, says in MEANT.items():
        assert word not in COMMANDS and says in " ".join(run(word).output.split())


def test_an_option_that_is_missing_is_said_with_what_it_wants(reef: Path) -> None:
    assert "Error: --to DATE is missing. Its new day, such as sat, tomorrow or 2026-03-14." in " ".join(ask(reef, "postpone", "site/level").output.split())


def test_a_title_that_begins_with_the_words_is_meant_before_one_that_has_them_somewhere() -> None:
    titles = {"a/one": "Check the tank and top up", "a/two": "Top up with pure water", "a/three": "Feed the filter when ammonia is low", "a/four": "Feed the waiting filter"}
    p = plan(*(made(id, ON, title=title) for id, title in titles.items()))
    for words, key in (("top up", "a/two"), ("feed the filter", "a/three"), ("waiting feed", "a/four"), ("tank top", "a/one")):
        found = task_titled(words, p)
        assert isinstance(found, Task) and found.key == key
    assert isinstance(task_titled("filter feed", p), Refusal)


def test_a_whole_title_is_meant_before_a_longer_one_and_a_ticked_job_where_nothing_open_is() -> None:
    p = plan(made("a/one", ON, title="Test ammonia and nitrite of the new crew"), made("a/two", ON, title="Test ammonia and nitrite"), made("a/three", ON, title="Ask the insurer", state=State.DONE),
             made("a/four", ON, title="Rinse the rock", state=State.DONE), made("a/five", ON, title="Rinse the sand"))
    for words, key in (("Test ammonia and nitrite", "a/two"), ("insurer", "a/three"), ("rinse the", "a/five")):
        found = task_titled(words, p)
        assert isinstance(found, Task) and found.key == key


def test_a_page_of_many_jobs_says_once_how_to_tick_them_and_shows_no_id(reef: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(reef)
    page = run("plan", "rock").stdout
    title = page.partition('newtank done "')[2].partition('"')[0]
    assert len(title) > 5 and page.count("newtank done") == 1 and title in page.partition("To tick a job")[0]
    assert f"ticked “{title}”" in " ".join(run("done", title, "--yes").stdout.split())


def test_a_phase_is_found_by_its_place_as_the_pages_count(reef: Path) -> None:
    assert told(reef, "plan", "2") == told(reef, "plan", "leak-test")



def test_words_of_a_title_need_no_quotes(reef: Path) -> None:
    assert told(reef, "why", "watch") == told(reef, "why", "leak-test/watch")
    assert "there is no task 'no such thing'" in " ".join(ask(reef, "why", "no", "such", "thing").output.split())


def test_a_folder_without_a_tank_says_how_to_begin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("today")
    assert done.exit_code == 2 and "newtank start" in done.output


def test_the_current_folder_is_the_tank_when_none_is_named(reef: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here = ask(reef, "plan", "--json").stdout
    monkeypatch.chdir(reef)
    assert run("plan", "--on", "2026-03-07", "--json").stdout == here == run("plan", "--tank", ".", "--on", "2026-03-07", "--json").stdout


# --- calendar --------------------------------------------------------------------------------------------------

def test_the_calendar_is_written_once_and_stays_the_same_bytes(reef: Path, tmp_path: Path) -> None:
    out = tmp_path / "reef.ics"
    first = run("calendar", str(reef), "-o", str(out))
    assert first.exit_code == 0 and "new" in first.output and (reef / "calendar-log.csv").is_file()
    data = out.read_bytes()
    again = run("calendar", str(reef), "-o", str(out), "--json")
    assert out.read_bytes() == data and json.loads(again.stdout)["changes"] == []
    jsonschema.validate(json.loads(again.stdout), schema_of("calendar"))


def test_a_lost_log_is_filled_again_from_the_file_and_told(reef: Path, tmp_path: Path) -> None:
    out = tmp_path / "reef.ics"
    run("calendar", str(reef), "-o", str(out))
    data, log = out.read_bytes(), reef / "calendar-log.csv"
    rows = len(log.read_text(encoding="utf-8").splitlines())
    log.unlink()
    done = run("calendar", str(reef), "-o", str(out))
    assert "nothing changed" in done.output and "was exported from it" in done.stderr and done.exit_code == 1
    assert out.read_bytes() == data and len(log.read_text(encoding="utf-8").splitlines()) == rows
    assert run("calendar", str(reef), "-o", str(out)).exit_code == 0


def test_a_lost_log_beside_another_calendar_of_the_tank_is_told(reef: Path, tmp_path: Path) -> None:
    run("calendar", str(reef), "-o", str(reef / "old.ics"))
    (reef / "calendar-log.csv").unlink()
    done = run("calendar", str(reef), "-o", str(tmp_path / "new.ics"))
    assert done.exit_code == 1 and "old.ics was exported from it" in " ".join(done.stderr.split())


def test_pretending_a_day_leaves_the_log_alone(reef: Path, tmp_path: Path) -> None:
    assert ask(reef, "calendar", "-o", str(tmp_path / "a.ics")).exit_code == 0
    assert not (reef / "calendar-log.csv").exists()


def test_a_pretended_day_never_replaces_a_calendar_that_was_exported(reef: Path, tmp_path: Path) -> None:
    out = tmp_path / "reef.ics"
    run("calendar", str(reef), "-o", str(out))
    data = out.read_bytes()
    refused = run("calendar", str(reef), "-o", str(out), "--on", "2026-03-10")
    assert refused.exit_code == 1 and "pretended day must not replace it" in refused.stderr and out.read_bytes() == data
    other = tmp_path / "other.ics"
    assert [run("calendar", str(reef), "-o", str(other), "--on", f"2026-03-{day}").exit_code for day in (10, 11)] == [0, 0]
    assert run("calendar", str(reef), "-o", str(other)).exit_code == 0


def test_both_feeds_are_published_whole_and_only_when_they_change(reef: Path, tmp_path: Path) -> None:
    first = run("calendar", str(reef), "--publish", str(tmp_path), "--json")
    assert first.exit_code == 0 and not (reef / "calendar-log.csv").exists()
    jsonschema.validate(json.loads(first.stdout), schema_of("calendar"))
    assert [Path(f["file"]).name for f in json.loads(first.stdout)["feeds"]] == ["jobs.ics", "outlook.ics"]
    for which in FEEDS:
        read = read_folder(reef)
        assert (tmp_path / f"{which}.ics").read_bytes() == feed(read, which, read.on).data
    again = run("calendar", str(reef), "--publish", str(tmp_path))
    assert again.output.count("unchanged") == 2
    assert sorted(p.name for p in tmp_path.iterdir() if p.is_file()) == ["jobs.ics", "outlook.ics"]


def test_a_foreign_or_a_newer_feed_is_left_as_it_is(reef: Path, tmp_path: Path) -> None:
    run("calendar", str(reef), "--publish", str(tmp_path))
    (tmp_path / "outlook.ics").write_text("mine", encoding="utf-8")
    newer = re.sub(rb"\r\nLAST-MODIFIED:2", b"\r\nLAST-MODIFIED:3", (tmp_path / "jobs.ics").read_bytes(), count=1)
    (tmp_path / "jobs.ics").write_bytes(newer)
    done = run("calendar", str(reef), "--publish", str(tmp_path))
    said = " ".join(done.stderr.split())
    assert done.exit_code == 1 and "newer than what would be written" in said and "was not written by newtank" in said
    assert (tmp_path / "jobs.ics").read_bytes() == newer and (tmp_path / "outlook.ics").read_text(encoding="utf-8") == "mine"


def test_feeds_of_a_pretended_day_replace_each_other_and_never_a_real_one(reef: Path, tmp_path: Path) -> None:
    assert [run("calendar", str(reef), "--publish", str(tmp_path), "--on", f"2026-03-{day}").exit_code for day in (20, 10)] == [0, 0]
    assert run("calendar", str(reef), "--publish", str(tmp_path)).exit_code == 0
    real = (tmp_path / "jobs.ics").read_bytes()
    assert run("calendar", str(reef), "--publish", str(tmp_path), "--on", "2026-03-20").exit_code == 1
    assert (tmp_path / "jobs.ics").read_bytes() == real


def test_the_calendar_asks_what_to_write(reef: Path) -> None:
    assert "-o FILE.ics to import, or --publish DIR to subscribe to" in run("calendar", str(reef)).stderr


def test_somebody_elses_calendar_is_never_overwritten(reef: Path, tmp_path: Path) -> None:
    out = tmp_path / "family.ics"
    out.write_text("BEGIN:VCALENDAR\nPRODID:-//other//EN\nVERSION:2.0\nEND:VCALENDAR\n", encoding="utf-8")
    before = out.read_bytes()
    done = run("calendar", str(reef), "-o", str(out))
    assert done.exit_code == 1 and out.read_bytes() == before and not (reef / "calendar-log.csv").exists()


def test_a_tank_without_an_id_gets_the_line_to_paste(reef: Path, tmp_path: Path) -> None:
    (reef / "tank.yaml").write_text(TANK.split("\n", 1)[1], encoding="utf-8")
    done = run("calendar", str(reef), "-o", str(tmp_path / "a.ics"))
    assert done.exit_code == 1 and "\nid: " in done.stderr and not (tmp_path / "a.ics").exists()
    line = next(row for row in done.stderr.splitlines() if row.startswith("id: "))
    (reef / "tank.yaml").write_text(line + "\n" + TANK.split("\n", 1)[1], encoding="utf-8")
    assert run("calendar", str(reef), "-o", str(tmp_path / "a.ics")).exit_code == 0


# --- terminals -------------------------------------------------------------------------------------------------

@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
@pytest.mark.parametrize(("environment", "styled"), [({}, True), ({"NO_COLOR": "1"}, True), ({"TERM": "dumb"}, False)], ids=["terminal", "NO_COLOR", "dumb"])
def test_a_terminal_gets_weight_and_red_for_danger_and_a_dumb_one_plain_text(reef: Path, environment: dict[str, str], styled: bool) -> None:
    import pty

    master, slave = pty.openpty()
    base = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS")} | {"TERM": "xterm-256color"}
    child = subprocess.Popen([sys.executable, "-m", "planner", "today", str(reef), "--on", "2026-03-07"], stdout=slave, stderr=subprocess.DEVNULL, env=base | environment,
                             cwd=Path(__file__).parents[3])
    os.close(slave)
    chunks = []
    while True:
        try:
            chunk = os.read(master, 65536)
        except OSError:
            break
        if not chunk:
            break
        chunks.append(chunk)
    assert child.wait() == 0
    os.close(master)
    output = b"".join(chunks)
    assert (b"\x1b[" in output) is styled and b"Corner reef" in output
    codes = {code for part in output.split(b"\x1b[")[1:] for code in part.split(b"m", 1)[0].split(b";")}
    assert codes <= {b"0", b"1", b"2", b"4", *([b"31"] if not environment else [])}, "bold, dim, underline and red alone; no red with NO_COLOR"
    assert (b"31" in codes) is (not environment)
