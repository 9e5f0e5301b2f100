"""Commands that write the journal, run as a keeper runs them. What is expected is this project's own contract; the
amount of ammonium chloride is worked out here from atomic masses."""

from __future__ import annotations

import csv
import json
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import Any, Self

import pytest
from click.testing import CliRunner, Result

from planner import make_plan, read_folder
from planner.cli import newtank
from planner.files.journal import HEADER, read_journal, read_row
from planner.files.journal_form import NewRow
from planner.files.journal_write import tag_of
from planner.files.tank import read_tank
from planner.judge.facts import zone_of
from planner.rulebook.read import shipped
from planner.terms.problems import Problem
from planner.terms.records import Row

TANK = """\
name: case tank
start: 2026-03-02
timezone: Europe/Berlin
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}
rock: {kind: dry, mass: 15 kg}
sand: {kind: dry, mass: 15 kg}
water: {source: ro}
equipment: {bin: 60 L, ro_rate: 190 L/day}
test_kits:
  ammonia: {basis: ion, step: 0.25}
"""
MONDAY = "2026-03-02"
N, H, CL = 14.007, 1.008, 35.45  # abridged standard atomic weights, IUPAC 2021


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A tank on its first day, everything ahead of it."""
    (tmp_path / "tank.yaml").write_text(TANK, "utf-8")
    return tmp_path


@pytest.fixture
def cycling(folder: Path) -> Path:
    """A tank whose cycle begins."""
    (folder / "tank.yaml").write_text(TANK + "already: {start-up: 2026-03-01}\n", "utf-8")
    return folder


def run(folder: Path, command: str, *args: str, on: str | None = MONDAY, answers: str | None = None) -> Result:
    return CliRunner().invoke(newtank, [command, str(folder), *args, *(("--on", on) if on else ())], input=answers)


def told(folder: Path, command: str, *args: str, on: str = MONDAY) -> dict[str, Any]:
    done = CliRunner(catch_exceptions=False).invoke(newtank, [command, str(folder), *args, "--on", on, "--json"])
    assert done.exit_code == 0, done.output
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def text(folder: Path) -> str:
    path = folder / "journal.csv"
    return path.read_bytes().decode("utf-8") if path.exists() else ""


def rows(folder: Path) -> tuple[Row, ...]:
    tank, _ = read_tank((folder / "tank.yaml").read_bytes(), "tank.yaml")
    assert tank is not None
    journal, problems = read_journal((folder / "journal.csv").read_bytes(), "journal.csv", tank, zone_of(tank))
    assert problems == ()
    return journal.rows


def said(folder: Path) -> list[tuple[str, str, str, str, str]]:
    return [(r.kind, r.what, r.value, r.unit, r.where) for r in rows(folder)]


def refused(folder: Path, command: str, *args: str, on: str = MONDAY) -> str:
    before = text(folder)
    done = run(folder, command, *args, on=on)
    assert done.exit_code == 2, done.output
    assert text(folder) == before
    return " ".join(done.output.split())


# --- log


def test_the_top_of_a_kits_scale_is_said_to_be_taken_as_more(folder: Path) -> None:
    (folder / "tank.yaml").write_text(TANK.replace("test_kits:", "test_kits:\n  phosphate: {step: 0.25, highest: 2}", 1), "utf-8")
    heard = " ".join(run(folder, "log", "phosphate=2").output.split())
    assert "phosphate over 2 mg/L, because your kit ends at 2 and the water may hold more" in heard and "--note diluted" in heard
    assert said(folder)[0][:3] == ("reading", "phosphate", ">2")



def test_readings_are_written_with_their_units_at_the_reminder_time_of_a_pretended_day(folder: Path) -> None:
    assert run(folder, "log", "ammonia=0.25", "nitrite=over5 mg/L as N", "salinity=1.026 SG 25/25", "temperature=25.5C", "ph=8,1").exit_code == 0
    assert sorted(said(folder)) == [
        ("reading", "ammonia", "0.25", "mg/L as ion", "display"), ("reading", "nitrite", ">5", "mg/L as N", "display"), ("reading", "ph", "8.1", "", "display"),
        ("reading", "salinity", "1.026", "SG 25/25", "display"), ("reading", "temperature", "25.5", "C", "display"),
    ]  # fmt: skip
    assert {r.at.isoformat() for r in rows(folder) if r.at} == {"2026-03-02T18:00:00+01:00"}
    assert len({tag_of(r.note) for r in rows(folder)} - {None}) == 1


def test_a_dose_that_is_noted_ticks_the_job_that_ordered_it_and_none_is_ordered_again(cycling: Path) -> None:
    told = run(cycling, "note", "dosed", "ammonia", "1.5g", "--yes").output
    assert said(cycling) == [("done", "cycle/first-dose", "", "", "display"), ("dosed", "ammonia", "1.5", "g", "display")]
    assert "ticked “Give the first dose of ammonia”" in " ".join(told.split())
    assert "Give the first dose" not in run(cycling, "today", on="2026-03-03").output
    run(cycling, "undo")
    assert said(cycling) == []


def test_a_dose_of_something_else_or_before_the_job_was_due_ticks_nothing(cycling: Path) -> None:
    run(cycling, "note", "dosed", "bicarbonate", "1.5g", "--yes")
    run(cycling, "note", "dosed", "ammonia", "1.5g", "--yes", "--at", "2026-02-20")
    assert [s[0] for s in said(cycling)] == ["dosed", "dosed"]


@pytest.mark.parametrize("command", [("log", "ammonia=0.25 mg/L as N"), ("done", "site/place"), ("note", "event", "leak"), ("note", "dosed", "ammonia", "1.5g"), ("postpone", "site/level", "--to", "2026-04-01")])
def test_a_typed_row_is_judged_once_before_it_is_written(folder: Path, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    judged: list[tuple[str, ...]] = []

    def counted(row: NewRow, *rest: Any) -> Row | Problem:
        judged.append(row.fields)
        return read_row(row, *rest)

    monkeypatch.setattr("planner.door.entry_words.read_row", counted)
    assert run(folder, *command).exit_code == 0
    assert len(judged) == len(rows(folder)) == 1


def test_without_a_pretended_day_rows_carry_local_time_with_its_offset(folder: Path) -> None:
    assert run(folder, "log", "ph=8.1", on=None).exit_code == 0
    at = rows(folder)[0].at
    assert at is not None
    assert at.utcoffset() is not None
    assert at.utcoffset() == at.astimezone(zone_of(read_tank(TANK, "t")[0])).utcoffset()  # type: ignore[arg-type]


@pytest.mark.parametrize(("reading", "fix"), [
    ("ammonia=70", "can be 0 to 64 mg/L as ion"), ("ph=81", "impossible"), ("ammonia=", "no value"), ("amonia=1", "ammonia=1"), ("nitrite=0.5", "mg/L as N"),
    ("salinity=1.026", '`"salinity=1.026 SG 25/25"`'), ("salinity=1.026", "`salinity=35ppt`"), ("temperature=25 L", "°C"), ("0.25", "NAME=VALUE"), ("calcium=1,000", "1000"), ("ammonia=-1", "impossible"),
])  # fmt: skip
def test_what_cannot_be_is_refused_with_the_fix_and_nothing_is_written(folder: Path, reading: str, fix: str) -> None:
    assert fix in refused(folder, "log", "ph=8.1", reading)


def test_with_an_animal_in_an_improbable_value_is_written_and_doubted_since_it_may_be_true(folder: Path) -> None:
    run(folder, "note", "added", "trochus", "2", "--yes")
    done = run(folder, "log", "oxygen=2.5", "ph=8.8")
    assert done.exit_code == 0 and said(folder)[-2:] == [("reading", "oxygen", "2.5", "mg/L", "display"), ("reading", "ph", "8.8", "", "display")]
    assert "usually 4 to 12" in " ".join(done.output.split()) and "test again at once" in " ".join(done.output.split())


@pytest.mark.parametrize(("reading", "asked", "unit"), [
    # One German degree is 17.848 mg/L of CaCO3 (DIN 38409-6): 200 are 11.2. 77 °F are 25 °C.
    ("alkalinity=200", "200 is taken as 200 mg/L CaCO3, 11.2 dKH. Is that right?", "mg/L CaCO3"), ("temperature=77", "77 is taken as 77 °F, 25 °C. Is that right?", ""),
])  # fmt: skip
def test_a_bare_number_that_makes_sense_in_another_unit_alone_is_asked_about(folder: Path, monkeypatch: pytest.MonkeyPatch, reading: str, asked: str, unit: str) -> None:
    assert f"{asked} Add --yes if so" in refused(folder, "log", reading)
    monkeypatch.setattr("planner.cli.entry.has_terminal", lambda: True)
    assert "Nothing was written" in run(folder, "log", reading, answers="n\n").output and text(folder) == ""
    assert asked in " ".join(run(folder, "log", reading, answers="y\n").output.split()) and said(folder)[0][1:4] == (*reading.split("="), unit)


@pytest.mark.parametrize("reading", ["alkalinity=8", "alkalinity=200ppm", "alkalinity=2.9 meq/L"])
def test_an_alkalinity_in_degrees_or_with_its_unit_is_written_without_a_question(folder: Path, reading: str) -> None:
    assert "Is that right" not in run(folder, "log", reading).output and len(said(folder)) == 1


def test_an_improbable_value_is_written_only_with_a_yes(folder: Path) -> None:
    assert "--yes" in refused(folder, "log", "ph=6.9")
    assert run(folder, "log", "ph=6.9", "--yes").exit_code == 0
    assert said(folder) == [("reading", "ph", "6.9", "", "display")]


def test_the_past_is_welcome_and_the_future_is_refused(folder: Path) -> None:
    assert run(folder, "log", "ph=8.1", "--at", "2026-02-20 07:30").exit_code == 0
    assert str(rows(folder)[0].at) == "2026-02-20 07:30:00+01:00"
    assert "not come yet" in refused(folder, "log", "ph=8.1", "--at", "2026-03-03")
    assert run(folder, "log", "ph=8.1", "--at", "yesterday").exit_code == 0
    assert "2026-03-01,reading" in text(folder)


def test_a_reading_goes_to_the_water_of_the_test_that_asks_for_it(folder: Path) -> None:
    (folder / "tank.yaml").write_text(TANK.replace("{kind: dry, mass: 15 kg}\nsand", "{kind: live, mass: 15 kg}\nsand") + "already: {leak-test: 2026-03-01}\n", "utf-8")
    day = "2026-03-20"
    asked = {(t["where"], *t["reads"]) for t in told(folder, "log", on=day)["due"]}
    assert ("source", "tds") in {(w, r[0]) for w, *r in asked}
    assert told(folder, "log", "tds=0", on=day)["written"][0]["where"] == "source"
    assert told(folder, "log", "calcium=400", on=day)["written"][0]["where"] == "display"
    assert told(folder, "log", "tds=0", "--where", "mixing", on=day)["written"][0]["where"] == "mixing"


def test_where_two_waters_may_be_meant_the_commands_to_choose_from_can_be_typed_as_they_stand(folder: Path) -> None:
    (folder / "tank.yaml").write_text(TANK.replace("{kind: dry, mass: 15 kg}\nsand", "{kind: live, mass: 15 kg}\nsand") + "already: {leak-test: 2026-03-01}\n", "utf-8")
    run(folder, "log", "tds=0", "--where", "display", on="2026-03-19")
    refused = run(folder, "log", "tds=0", on="2026-03-20")
    assert refused.exit_code == 2
    for water in ("display", "source"):
        assert f"`newtank log {folder} tds=0 --on 2026-03-20 --where {water}`" in " ".join(refused.output.split())
    assert not any("2026-03-20" in row[0] for row in csv.reader(text(folder).splitlines()))


def test_a_test_is_ticked_once_all_its_readings_of_the_day_are_there(cycling: Path) -> None:
    run(cycling, "done", "first-dose")
    assert "ammonia=VALUE nitrite=VALUE" in run(cycling, "log", on="2026-03-05").output
    assert [w["kind"] for w in told(cycling, "log", "ammonia=2.5", on="2026-03-05")["written"]] == ["reading", "done"]  # the check of the dose
    second = told(cycling, "log", "nitrite=0 mg/L as N", on="2026-03-05")["written"]
    assert [(w["kind"], w["what"]) for w in second] == [("reading", "nitrite")]  # one reading answers one test
    both = told(cycling, "log", "ammonia=2.5", "nitrite=0 mg/L as N", on="2026-03-09")["written"]
    assert ("done", "cycle/tests#1") in [(w["kind"], w["what"]) for w in both]
    assert ("done", "cycle/check-test", "", "", "display") in said(cycling)


def test_readings_of_another_water_tick_nothing(cycling: Path) -> None:
    run(cycling, "done", "first-dose")
    written = told(cycling, "log", "ammonia=2.5", "nitrite=0 mg/L as N", "--where", "mixing", on="2026-03-05")["written"]
    assert {w["kind"] for w in written} == {"reading"}


def test_on_a_terminal_the_due_readings_are_asked_one_by_one(cycling: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.write.has_terminal", lambda: True)
    run(cycling, "done", "first-dose")
    done = run(cycling, "log", on="2026-03-05", answers="2.5\n0.5\n0.5 mg/L as N\n\n\n\n\n\n")  # the nitrite kit's basis is not described
    assert done.exit_code == 0, done.output
    assert [s[:3] for s in said(cycling)][2:] == [
        ("done", "cycle/check-test", ""), ("done", "cycle/tests#1", ""), ("reading", "ammonia", "2.5"), ("reading", "nitrite", "0.5")]


def test_on_a_terminal_the_test_of_another_vessel_is_left_for_a_log_of_its_own(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.write.has_terminal", lambda: True)
    (folder / "tank.yaml").write_text(TANK + "already: {leak-test: 2026-03-01}\n", "utf-8")
    (folder / "journal.csv").write_text("when,kind,what,value,unit,where,note\n2026-03-02 18:00,done,water/mix,,,display,\n2026-03-03 18:00,done,water/look,,,display,\n2026-03-03 18:05,reading,salinity,35,ppt,mixing,\n"
                                        "2026-03-03 18:05,reading,temperature,25,C,mixing,\n2026-03-03 18:05,done,water/measure#1,,,mixing,\n2026-03-03 18:30,done,water/mix-more#1,,,display,\n", "utf-8")
    done = run(folder, "log", "--where", "mixing", on="2026-03-04", answers="\n" * 9)
    assert "“Test the batch in the bin, and bring it to 35 ppt” comes afterwards" in done.output and done.output.count("salinity (mixing)") == 1, done.output


def test_json_says_what_was_written_and_what_moved(cycling: Path) -> None:
    run(cycling, "done", "first-dose")
    found = told(cycling, "log", "ammonia=0.25", "nitrite=0.5 mg/L as N", on="2026-03-07")
    gate = next(m for m in found["moved"] if m["id"] == "gate/cycle")
    assert gate["from"] != gate["to"]
    assert "ammonia 0.25 mg/L as NH4" in gate["because"]
    assert found["written"][0]["line"] == 4
    assert found["written"][0]["note"].startswith("[")


def test_what_moved_is_said_in_groups(cycling: Path) -> None:
    run(cycling, "done", "first-dose")
    output = run(cycling, "log", "ammonia=0.25", "nitrite=0.5 mg/L as N", "--all", on="2026-03-07").output
    assert "sooner" in output
    assert "End of “Grow the filter without animals”" in output
    assert output.count("because") == 1


def stocked(tmp_path: Path) -> Path:
    """A reef of half a year with animals in, as one of the shipped stories keeps it."""
    folder = tmp_path / "stocked"
    folder.mkdir()
    for name in ("tank.yaml", "journal.csv"):
        (folder / name).write_bytes((shipped("scenarios") / "live-rock-small" / name).read_bytes())
    return folder


def test_the_answer_to_a_reading_that_raises_an_alarm_begins_with_the_danger_and_its_job(tmp_path: Path) -> None:
    reef = stocked(tmp_path)
    output = run(reef, "log", "ammonia=1 mg/L as N", on="2026-05-05").output
    told = " ".join(output.split())
    assert told.startswith("Danger Ammonia with animals in, the gravest of three levels. Change half the water now, 25 L: `newtank today ")
    number = told.partition("`newtank today ")[2].partition("`")[0].split()[-1]
    page = run(reef, "today", on="2026-05-05").output
    assert any(line.split()[:1] == [number] and "Change half the water now" in line for line in page.splitlines()), "the page of the day has the job in full"
    whole = " ".join(run(reef, "today", "--steps", on="2026-05-05").output.split())
    assert "Do not feed today. Every meal becomes more ammonia, or uses oxygen that is short." in whole
    assert "Danger" not in run(reef, "log", "ph=8.2", on="2026-05-05").output, "an alarm that was up before is no news"


# --- done


def test_a_tick_writes_the_dose_that_it_stands_for(cycling: Path) -> None:
    assert run(cycling, "done", "cycle/first-dose").exit_code == 0
    assert [s[:2] for s in said(cycling)] == [("done", "cycle/first-dose"), ("dosed", "ammonia")]
    litres = json.loads(run(cycling, "plan", "--json").stdout)["tank"]["net_volume_l"]
    wanted_g = 2.0 * litres / 1000 * (N + 4 * H + CL) / N  # 2 mg/L as N, the dose of a tank file that names none
    assert rows(cycling)[1].low == pytest.approx(wanted_g, rel=2e-3)
    assert rows(cycling)[1].unit == "g"


def test_the_amount_that_was_given_is_written_instead(cycling: Path) -> None:
    assert run(cycling, "done", "first-dose", "--amount", "1.4").exit_code == 0
    assert said(cycling)[1] == ("dosed", "ammonia", "1.4", "g", "display")
    assert "--amount" in refused(cycling, "done", "look", "--amount", "3 L")
    assert "no amount" in refused(cycling, "done", "re-dose", "--amount", "much")


def test_litres_are_never_assumed(folder: Path) -> None:
    assert "2 L or 2 gal" in refused(folder, "note", "poured", "2").replace("`", "")
    assert "20 L" in refused(folder, "done", "big-change/change", "--amount", "20").replace("`", "")


@pytest.mark.parametrize(("what", "more"), [("water", True), ("fresh", False), ("top", False), ("topped-up", False)])
def test_only_salt_water_makes_the_tank_larger(folder: Path, what: str, more: bool) -> None:
    assert ("counts as 180 L" in run(folder, "note", "poured", what, "180 L", "--yes").output) is more


def test_a_water_change_without_a_known_amount_asks_for_one(cycling: Path) -> None:
    # Only a keeper who vouches for the cycle has no more nitrate to come: there, a reading of none leaves nothing to change.
    (cycling / "tank.yaml").write_text(TANK + "already: {start-up: 2026-03-01, cycle: 2026-03-01}\n", "utf-8")
    run(cycling, "log", "nitrate=0")
    assert "--amount" in refused(cycling, "done", "big-change/change")
    assert run(cycling, "done", "big-change/change", "--amount", "40 L").exit_code == 0
    assert ("changed_water", "water", "40", "L", "display") in said(cycling)


def test_a_second_tick_of_the_day_asks(folder: Path) -> None:
    run(folder, "done", "site/floor")
    assert "ticked already" in refused(folder, "done", "site/floor")
    assert run(folder, "done", "site/floor", "--yes").exit_code == 0


def test_a_repeating_task_is_ticked_by_its_number(cycling: Path) -> None:
    run(cycling, "done", "cycle/look")
    assert "ticked already" in refused(cycling, "done", "cycle/look")
    run(cycling, "done", "cycle/look", on="2026-03-04")
    run(cycling, "done", "cycle/look#7", on="2026-03-05")
    assert [s[1] for s in said(cycling)] == ["cycle/look#1", "cycle/look#2", "cycle/look#7"]


def test_a_tick_behind_a_shut_gate_is_written_with_a_word(folder: Path) -> None:
    done = run(folder, "done", "cycle/first-dose")
    assert done.exit_code == 0
    assert "was not asked for yet" in " ".join(done.output.split())
    assert len(rows(folder)) == 2


def test_unknown_tasks_and_gates_are_no_ticks(folder: Path) -> None:
    assert "leak-test/watch" in refused(folder, "done", "leak-test/wach")
    assert "opens on test results" in refused(folder, "done", "gate/cycle")
    assert "opens on test results" in refused(folder, "done", "animals")
    assert "number" in refused(folder, "done", "cycle/look#x")


def test_of_several_tasks_the_good_ones_are_ticked_and_one_wrong_name_exits_2(folder: Path) -> None:
    done = run(folder, "done", "site/floor", "site/nowhere")
    assert done.exit_code == 2 and "Not done: site/nowhere: there is no task 'site/nowhere'" in done.output
    assert [r[:2] for r in said(folder)] == [("done", "site/floor")]


def test_a_title_without_quotes_is_one_job_and_a_word_of_it_ticks_no_other(folder: Path) -> None:
    """`done Feed the filter` wrote a dose, and then said “Not done: the”."""
    title = next(t.title for t in make_plan(read_folder(folder, date(2026, 3, 2))).tasks if t.key == "site/floor")
    assert run(folder, "done", *title.split()).exit_code == 0
    assert [r[:2] for r in said(folder)] == [("done", "site/floor")]


def test_of_words_that_are_no_title_together_nothing_is_written(folder: Path) -> None:
    assert "in quotes" in refused(folder, "done", "site/floor", "nowhere")


def test_what_hangs_on_a_failed_one_of_several_fails_too(cycling: Path) -> None:
    assert run(cycling, "done", "cycle/first-dose").exit_code == 0
    before = text(cycling)
    done = run(cycling, "done", "cycle/check-test", "cycle/first-dose", "cycle/look")  # a second dose is asked about, and nobody answers
    assert done.exit_code == 2 and "Test ammonia one hour after the first dose: it comes after “Give the first dose of ammonia”, which failed" in done.output
    assert "cycle/look" in text(cycling)[len(before) :] and "first-dose" not in text(cycling)[len(before) :]


def test_a_tick_writes_the_dose_that_the_page_asks_for_where_the_wish_list_asks_for_more(cycling: Path) -> None:
    """The proof is as large as the judged list wants it; a tick that wrote the least one would never open the gate."""
    (cycling / "tank.yaml").write_text((cycling / "tank.yaml").read_text("utf-8") + "wish_list:\n  - {animal: pomacanthus-imperator, count: 1}\n", "utf-8")
    (cycling / "journal.csv").write_text("when,kind,what,value,unit,where,note\n2026-02-01 18:00,dosed,ammonia,2,mg/L as N,display,\n"
                                         "2026-02-28 18:00,reading,ammonia,0,mg/L as N,display,\n2026-02-28 18:00,reading,nitrite,0,mg/L as N,display,\n", "utf-8")
    asked = next(dict(t.amounts)["challenge_dose"] for t in make_plan(read_folder(cycling, date(2026, 3, 2))).tasks if t.key == "cycle/challenge-dose")
    assert dict(asked.inputs)["rise"] not in ("1 mg/L as N", "")
    assert run(cycling, "done", "cycle/challenge-dose", "--yes").exit_code == 0
    (dosed,) = [row for row in said(cycling) if row[:2] == ("dosed", "ammonia") and row[3] == "g"]
    assert float(dosed[2]) == pytest.approx(asked.value, rel=0.01)


# --- skip and postpone


def test_what_protects_is_not_skipped(folder: Path) -> None:
    assert "protects" in refused(folder, "skip", "site/rcd")
    assert run(folder, "skip", "site/place", "--note", "stands already").exit_code == 0
    assert said(folder)[0][:2] == ("skipped", "site/place")
    assert "already" in refused(folder, "skip", "site/place")


def test_postponing_moves_the_task_and_what_hangs_on_it(folder: Path) -> None:
    found = told(folder, "postpone", "site/place", "--to", "2026-04-12")
    moved = {m["id"]: (m["from"], m["to"]) for m in found["moved"]}
    assert moved["site/place"] == ("2026-03-02", "2026-04-12")
    assert moved["gate/site"][1] == "2026-04-12"
    assert said(folder) == [("postponed", "site/place", "2026-04-12", "", "display")]


def test_nothing_is_put_off_into_the_past_and_a_protection_never_forward(folder: Path) -> None:
    assert "has passed" in refused(folder, "postpone", "site/place", "--to", "2026-03-01")
    assert "is not a date. Write a day such as sat or tomorrow" in refused(folder, "postpone", "site/place", "--to", "soon")
    assert "can only be put off" in refused(folder, "postpone", "leak-test/watch", "--to", MONDAY)
    assert run(folder, "postpone", "leak-test/watch", "--to", "2026-04-01").exit_code == 0


# --- note


@pytest.mark.parametrize(("args", "row"), [
    (("dosed", "ammonia", "1.5g"), ("dosed", "ammonia", "1.5", "g", "display")),
    (("dosed", "ammonia", "2 mg/L as N"), ("dosed", "ammonia", "2", "mg/L as N", "display")),
    (("changed_water", "10%"), ("changed_water", "water", "10", "%", "display")),
    (("changed_water", "water", "12 L"), ("changed_water", "water", "12", "L", "display")),
    (("poured", "120", "L"), ("poured", "water", "120", "L", "display")),
    (("added", "amphiprion-ocellaris", "2", "--where", "quarantine"), ("added", "amphiprion-ocellaris", "2", "", "quarantine")),
    (("moved", "amphiprion-ocellaris"), ("moved", "amphiprion-ocellaris", "", "", "display")),
    (("lost", "Amphiprion ocellaris", "1"), ("lost", "amphiprion-ocellaris", "1", "", "display")),
    (("event", "leak"), ("event", "leak", "", "", "display")),
    (("power cut",), ("event", "power_cut", "", "", "display")),
    (("event", "moonlight"), ("event", "moonlight", "", "", "display")),
])  # fmt: skip
def test_every_kind_of_fact_can_be_noted(folder: Path, args: tuple[str, ...], row: tuple[str, ...]) -> None:
    done = run(folder, "note", *args)
    assert done.exit_code == 0, done.output
    assert said(folder) == [row]


@pytest.mark.parametrize(("args", "fix"), [
    (("dosed", "ammonia", "2"), "2 mg/L as N"), (("dosed", "ammonia"), "rise"), (("changed_water", "10"), "10 %"), (("changed_water", "110%"), "impossible"),
    (("added", "clownfish"), "amphiprion-ocellaris"), (("added", "amphiprion-ocellaris", "0"), "whole number"), (("lek",), "leak"),
    (("reading", "ph", "8"), "newtank log"), (("done", "site/floor"), "newtank done"), (("added",), "ANIMAL"), (("failed",), "task"),
])  # fmt: skip
def test_a_slip_in_a_fact_is_answered_with_the_fix(folder: Path, args: tuple[str, ...], fix: str) -> None:
    assert fix in refused(folder, "note", *args)


@pytest.mark.parametrize(("word", "event"), [("fish gasping", "gasping"), ("white spots", "spots"), ("heater broken", "heater_off"), ("pump stopped", "pump_stopped"), ("sick fish", "ill"), ("film", "algae_seen"), ("algae", "algae_seen"), ("Rotten eggs", "smell"), ("blackout", "power_cut")])
def test_a_keepers_word_for_an_event_finds_the_one_that_the_rules_know(folder: Path, word: str, event: str) -> None:
    found = told(folder, "note", "event", word)
    assert found["written"][0]["what"] == event
    spelled_so = word.lower().replace(" ", "_") == event  # then nothing of the keeper's word is lost
    assert spelled_so or word.lower() in found["written"][0]["note"]


@pytest.mark.parametrize(("said_so", "offered"), [
    (("my heater is dead",), "Did you mean heater_off (the heater does not heat) or heater_stuck (the heater does not switch off)?"),
    (("leek",), "Write `leak`"),
])
def test_a_sentence_that_is_no_kind_of_entry_is_answered_with_the_events_it_may_speak_of(folder: Path, said_so: tuple[str, ...], offered: str) -> None:
    assert offered in " ".join(refused(folder, "note", *said_so).split())


def test_an_entry_for_a_day_that_has_not_come_says_so_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Clock(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            return cls(2026, 2, 28, 12, tzinfo=tz)

    monkeypatch.setattr("planner.cli.entry.datetime", Clock)
    note = f"Written for 2 Mar, which has not come yet; `newtank undo {folder}` takes it back."
    assert " ".join(run(folder, "log", "ph=8.2").output.split()).count(note) == 1
    assert note not in run(folder, "undo").output and note not in run(folder, "log", "ph=8.2", on="2026-02-28").output


@pytest.mark.parametrize(("word", "first"), [("leek", "leak"), ("poisson", "palytoxin")])
def test_an_event_that_no_rule_knows_is_written_and_the_known_ones_are_told_the_nearest_first(folder: Path, word: str, first: str) -> None:
    done = run(folder, "note", "event", word, "--yes")
    assert done.exit_code == 0
    assert said(folder) == [("event", word, "", "", "display")]
    assert f"Known are {first}, " in " ".join(done.output.split())


def test_a_failed_check_holds_what_depends_on_it(folder: Path) -> None:
    found = told(folder, "note", "failed", "leak-test/watch")
    assert found["written"][0]["note"].startswith("leak-test/watch ")
    assert "leak-test" in {h["gate"] for h in found["holds_raised"]}


def test_a_leak_is_written_and_says_what_to_do_now(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)  # of the five lines of an answer a long path takes some
    output = " ".join(run(Path(), "note", "leak").output.split())
    assert "On hold" in output
    assert "stop the leak" in output


def test_an_animal_before_its_gate_is_written_and_holds(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    done = run(Path(), "note", "added", "amphiprion-ocellaris", "2")
    assert done.exit_code == 0
    assert "On hold" in done.output
    assert "not open" in done.output


def test_an_animal_that_cannot_live_here_is_written_with_the_reason_why_it_cannot_stay(folder: Path) -> None:
    # A yellow tang grows to some 20 cm and swims all day; no keeper puts one into 100 L (common practice, no source).
    done = run(folder, "note", "added", "zebrasoma-flavescens")
    assert done.exit_code == 0
    assert "cannot stay in this tank" in done.output
    assert "Never release it" in done.output
    assert "cannot stay" not in run(folder, "note", "added", "lysmata-amboinensis").output


def test_animals_two_days_after_the_last_ones_are_written_and_the_usual_spacing_is_told(folder: Path) -> None:
    assert "lie between two stages" not in run(folder, "note", "added", "lysmata-amboinensis").output
    assert "came 2 days ago; 14 days" in " ".join(run(folder, "note", "added", "gramma-loreto", on="2026-03-04").output.split())


def test_more_than_lived_there_cannot_be_lost(folder: Path) -> None:
    run(folder, "note", "added", "amphiprion-ocellaris", "2")
    assert "knows of 2" in refused(folder, "note", "lost", "amphiprion-ocellaris", "5")
    assert run(folder, "note", "lost", "amphiprion-ocellaris", "1").exit_code == 0
    elsewhere = run(folder, "note", "lost", "gramma-loreto", "1")
    assert elsewhere.exit_code == 0
    assert "--where" in elsewhere.output


def test_a_tick_of_a_task_that_this_kind_of_tank_has_not_is_written_and_said(folder: Path) -> None:
    done = run(folder, "done", "rock/receive")  # cured and live rock alone are received; this tank has dry rock
    assert done.exit_code == 0
    assert "no task of this tank" in done.output
    assert "no task of this tank" not in run(folder, "done", "rock/rinse").output


def test_litres_poured_change_the_volume_and_it_is_said(folder: Path) -> None:
    assert "by its measures this tank holds about" in refused(folder, "note", "poured", "1500 L")
    run(folder, "note", "poured", "1500 L", "--yes")
    assert rows(folder)[-1].note.startswith("confirmed")
    run(folder, "undo")
    assert "counts as 180 L" in run(folder, "note", "poured", "180 L").output


@pytest.mark.parametrize("hostile", ['a, "b"; c', "two\nlines\r\nand more", "=1+1", "@SUM(A1)", "+cmd", "-2", "[ab12]", "\t\x00tab", "\udcff", "tail [zzzz]", ""])
def test_any_remark_keeps_the_row_whole_and_one_undo_takes_it_back(folder: Path, hostile: str) -> None:
    assert run(folder, "note", "event", "leak", "--note", hostile).exit_code == 0
    (row,) = rows(folder)
    assert (row.kind, row.what) == ("event", "leak")
    assert not row.note.startswith(("=", "+", "-", "@"))
    assert run(folder, "undo").exit_code == 0
    assert rows(folder) == ()


# --- undo


def test_undo_takes_back_all_rows_of_the_last_command_and_no_more(cycling: Path) -> None:
    run(cycling, "log", "ph=8.1")
    run(cycling, "done", "first-dose")
    before = text(cycling)
    found = told(cycling, "undo")
    assert [w["what"] for w in found["written"]] == ["dosed:ammonia", "done:cycle/first-dose"]
    assert "cycle/first-dose" in found["newly_due"]
    assert text(cycling).startswith(before)
    assert [s[1] for s in said(cycling)] == ["ph"]
    assert "took back: pH 8.1" in run(cycling, "undo").output
    assert "no entry" in refused(cycling, "undo")


def test_undo_of_a_tick_reopens_its_number(cycling: Path) -> None:
    run(cycling, "done", "cycle/look")
    run(cycling, "undo")
    run(cycling, "done", "cycle/look")
    assert [s[1] for s in said(cycling)] == ["cycle/look#1"]


# --- the file


def test_a_torn_last_row_is_reported_and_what_follows_is_whole(folder: Path) -> None:
    torn = f"{HEADER}\n2026-03-01,reading,ph,8.0,,,\"clear [ab12]\"\n2026-03-01,reading,ammonia,0.2"
    (folder / "journal.csv").write_text(torn, "utf-8")
    done = run(folder, "log", "ph=8.2")
    assert done.exit_code == 1
    assert "journal.csv:3" in done.output
    assert "cut off" in done.output
    lines = text(folder).splitlines()
    assert "\n".join(lines[:3]) == torn
    assert lines[3].startswith("2026-03-02T18:00+01:00,reading,ph,8.2,")


def test_a_spreadsheets_journal_goes_on_in_its_own_form(folder: Path) -> None:
    before = "\ufeffwhen;kind;what;value;unit;where;note\r\n01.03.2026;reading;ph;8,05;;;\r\n".encode()
    (folder / "journal.csv").write_bytes(before)
    assert run(folder, "log", "ph=8.15", "--note", "a; b").exit_code == 0
    after = (folder / "journal.csv").read_bytes()
    assert after.startswith(before)
    assert after[len(before):].decode().startswith('2026-03-02T18:00+01:00;reading;ph;8,15;;display;"a; b [')
    assert after.endswith(b"\r\n")
    assert [r.low for r in rows(folder)] == [8.05, 8.15]
    assert run(folder, "undo").exit_code == 0
    assert [r.low for r in rows(folder)] == [8.05]


def test_problems_of_the_files_are_told_and_do_not_keep_a_fact_out(folder: Path) -> None:
    (folder / "journal.csv").write_text(f"{HEADER}\n2026-03-01,redding,ph,8.0,,,\n", "utf-8")
    done = run(folder, "note", "leak")
    assert done.exit_code == 1
    assert "redding" in done.output
    assert ",event,leak," in text(folder)


def test_the_machine_form_names_the_problems_too(folder: Path) -> None:
    (folder / "journal.csv").write_text(f"{HEADER}\n2026-03-01,reading,ph,8.0,,", "utf-8")
    done = run(folder, "log", "ph=8.2", "--json")
    assert done.exit_code == 1
    document = json.loads(done.stdout)
    assert [(p["file"].rpartition("/")[2], p["line"]) for p in document["problems"]] == [("journal.csv", 2)]
    assert "cut off" in document["warnings"][0]
    assert document["written"][0]["line"] == 3


def test_a_journal_that_cannot_be_opened_is_said_without_a_trace(folder: Path) -> None:
    (folder / "journal.csv").mkdir()
    done = run(folder, "log", "ph=8.2")
    assert done.exit_code == 1
    assert "this is a folder, not a file" in done.output
    assert isinstance(done.exception, SystemExit)


def test_a_journal_that_cannot_be_written_is_said_without_a_trace(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("planner.cli.entry.append_rows", full)
    done = run(folder, "log", "ph=8.2")
    assert done.exit_code == 1
    assert "No space left on device. The disk is full: free some space on it. Nothing was written." in done.output
    assert isinstance(done.exception, SystemExit)


def test_millilitres_of_ammonia_are_written_with_a_word(folder: Path) -> None:
    done = run(folder, "note", "dosed", "ammonia", "4 mL")
    assert done.exit_code == 0
    assert "the rise instead" in done.output


def test_a_day_without_a_due_test_says_so_and_writes_nothing(folder: Path) -> None:
    done = run(folder, "log")
    assert (done.exit_code, text(folder)) == (0, "")
    assert "No test is due" in done.output


def test_a_slip_in_an_event_or_a_dose_is_asked_about_and_nothing_is_written(folder: Path) -> None:
    for args in (("event", "leek"), ("dosed", "amonia", "2 mg/L as N")):
        done = run(folder, "note", *args)
        assert done.exit_code == 2 and "Did you mean" in done.stderr
        assert not (folder / "journal.csv").exists()
    assert run(folder, "note", "dosed", "amonia", "2 g", "--yes").exit_code == 0


def test_undo_takes_back_one_line_also_one_that_cannot_be_read(folder: Path) -> None:
    assert run(folder, "note", "event", "leak").exit_code == 0
    with (folder / "journal.csv").open("a", encoding="utf-8") as journal:
        journal.write("2026-03-04,added,trochus,two,,display,\n")
    assert run(folder, "undo", "--line", "9").exit_code == 2
    assert run(folder, "undo", "--line", "3").exit_code == 0
    assert run(folder, "undo", "--line", "2").exit_code == 0
    assert rows(folder) == ()


def test_a_tick_whose_cause_is_not_ticked_is_asked_about(folder: Path) -> None:
    assert "“Watch the full tank for 48 h” comes after “Fill the tank with fresh water, a quarter at a time”" in refused(folder, "done", "leak-test/watch")
    run(folder, "done", "leak-test/watch", "--yes")
    assert ("done", "leak-test/watch") in [s[:2] for s in said(folder)]


def test_a_dose_of_ammonia_and_an_animal_are_asked_about_in_either_order(cycling: Path) -> None:
    run(cycling, "done", "first-dose", on="2026-03-05")
    assert "Ammonia was dosed on the same day" in refused(cycling, "note", "added", "trochus", "2", on="2026-03-05")
    run(cycling, "note", "added", "trochus", "2", "--yes", on="2026-03-06")
    assert "An animal came on the same day" in refused(cycling, "note", "dosed", "ammonia", "2 mg/L as N", on="2026-03-06")
    assert "Animals live in the tank" in refused(cycling, "note", "dosed", "ammonia", "2 mg/L as N", on="2026-03-07")


def test_a_damaged_row_of_an_animal_makes_a_tick_of_ammonia_a_question(cycling: Path) -> None:
    with (cycling / "journal.csv").open("a", encoding="utf-8") as journal:
        journal.write("" if journal.tell() else "when,kind,what,value,unit,where,note\n")
        journal.write("2026-03-02,added,trochus,two,,display,\n")
    assert "cannot be read" in refused(cycling, "done", "first-dose", on="2026-03-05")


def test_a_dose_that_no_rule_can_ask_is_asked_about(folder: Path) -> None:
    assert "the largest that is ever asked of this tank" in refused(folder, "note", "dosed", "ammonia", "9 mg/L as N")
    run(folder, "note", "dosed", "ammonia", "9 mg/L as N", "--yes")
    assert rows(folder)[-1].note.startswith("confirmed")


# --- the answer, numbers and names


def test_log_and_done_answer_in_five_lines_and_all_tells_each_date(cycling: Path) -> None:
    for words in (("done", "cycle/first-dose"), ("log", "ammonia=2", "nitrite=0 mg/L as N", "ph=8.1", "alkalinity=160ppm")):
        done = run(cycling, *words)
        assert done.exit_code == 0 and len([line for line in done.stdout.splitlines() if line.strip()]) <= 5, done.output
    assert "160 ppm (taken as mg/L CaCO3) is 9 dKH" in " ".join(done.output.split())
    whole = run(cycling, "log", "ammonia=1", "--all", on="2026-03-04")
    assert "because" in whole.stdout and len(whole.stdout.splitlines()) > 5


def test_a_number_tells_its_title_and_a_dose_is_asked_about(cycling: Path) -> None:
    jobs = {j["id"]: j for j in told(cycling, "today")["jobs"]}
    dose = jobs["cycle/first-dose"]["number"]
    assert "was it done? Add --yes" in refused(cycling, "done", str(dose))
    done = run(cycling, "done", str(dose), "--yes")
    assert done.exit_code == 0 and jobs["cycle/first-dose"]["title"] in done.output
    assert ("done", "cycle/first-dose") in [r[:2] for r in said(cycling)]


def test_a_number_beyond_the_list_is_refused(cycling: Path) -> None:
    assert "today's list has no number 99" in refused(cycling, "done", "99")
    assert "has no number" in refused(cycling, "skip", "99") and "has no number" in refused(cycling, "postpone", "99", "--to", "sat")


def test_all_is_asked_once_and_leaves_out_doses_and_tests(cycling: Path) -> None:
    assert "Add --yes" in refused(cycling, "done", "all")
    done = run(cycling, "done", "all", "--yes")
    ticked = {r[1].partition("#")[0] for r in said(cycling) if r[0] == "done"}
    assert done.exit_code == 0 and "cycle/look" in ticked and "cycle/first-dose" not in ticked and "; doses, " in done.output


def test_a_few_words_of_a_title_name_a_task(cycling: Path) -> None:
    title = next(j["title"] for j in told(cycling, "today")["jobs"] if j["id"].startswith("cycle/look"))
    assert run(cycling, "done", title.lower()).exit_code == 0
    assert [r[1] for r in said(cycling)] == ["cycle/look#1"]


@pytest.mark.parametrize(("word", "day"), [("tomorrow", "2026-03-03"), ("sat", "2026-03-07"), ("Monday", "2026-03-09")])  # 2 March 2026 is a Monday
def test_a_job_is_put_off_to_a_day_by_its_name(cycling: Path, word: str, day: str) -> None:
    number = next(j["number"] for j in told(cycling, "today")["jobs"] if j["id"].startswith("cycle/look"))
    assert run(cycling, "postpone", str(number), "--to", word).exit_code == 0
    assert [r[:3] for r in said(cycling)] == [("postponed", "cycle/look#1", day)]


def test_a_job_that_was_ticked_today_is_shown_as_done_and_asks_for_no_tick(folder: Path) -> None:
    assert "newtank done" in run(folder, "today", "1").output
    assert run(folder, "done", "1").exit_code == 0
    shown = run(folder, "today", "1").output
    assert shown.startswith("[x]") and "newtank done" not in shown


def test_what_an_entry_has_to_say_besides_is_as_wide_as_a_page_also_where_it_is_piped(cycling: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(cycling)
    told = [CliRunner().invoke(newtank, [*command, "--on", MONDAY]).output for command in (("log", "alkalinity=160 ppm", "salinity=1.025 SG 25/25", "temperature=78 F"), ("done", "cycle/re-dose", "--amount", "1 g", "--yes"))]
    assert "Read as: " in told[0] and "Note: " in told[1]
    assert [line for text in told for line in text.splitlines() if len(line) > 80 and "`" not in line] == []
