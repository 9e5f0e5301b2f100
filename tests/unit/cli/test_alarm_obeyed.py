"""An ammonia alarm obeyed from its log to the next day, by the clock. An hour for the water to mix and a test before and after each large
change are common practice, no source."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank

EVENING, MORNING = "2026-05-05", "2026-05-06"
BEFORE, AFTER = "Test ammonia and pH before you change water", "Test ammonia and pH an hour after the change"


TANK = """\
name: case tank
start: 2026-03-02
timezone: Europe/Berlin
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}
rock: {kind: dry, mass: 15 kg}
sand: {kind: dry, mass: 15 kg}
water: {source: ro}
equipment: {bin: 60 L, ro_rate: 190 L/day}
room: {temperature: 21 C, floor: solid}
test_kits:
  ammonia: {basis: N, step: 0.25}
  nitrite: {basis: N, step: 0.25}
  nitrate: {basis: ion, step: 5}
already: {big-change: 2026-03-01}
"""
CLEAR = [f"2026-03-20T09:00+01:00,reading,{name},{value},{unit},display," for name, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]


@pytest.fixture
def reef(tmp_path: Path) -> Path:
    """A reef with a fish in since yesterday."""
    (tmp_path / "tank.yaml").write_text(TANK, "utf-8")
    rows = (*CLEAR, "2026-05-04T18:00+02:00,added,amphiprion-ocellaris,1,,display,")
    (tmp_path / "journal.csv").write_text("\n".join(("when,kind,what,value,unit,where,note", *rows, "")), "utf-8")
    return tmp_path


def run(reef: Path, *args: str, on: str, at: str = "") -> str:
    command, *rest = args
    done = CliRunner().invoke(newtank, [command, str(reef), *rest, "--on", on, *(("--at", at) if at else ())])
    return " ".join(done.output.split())


def number_of(reef: Path, title: str, on: str) -> str:
    """The number of a job on the page of the day."""
    page = CliRunner().invoke(newtank, ["today", str(reef), "--steps", "--on", on]).output
    lines = [line.split() for line in page.splitlines() if f"  {title}" in line or f") {title}" in line]
    assert lines, page
    return lines[0][0]


def middle(reef: Path) -> None:
    """The gravest level, half of the water changed, and the test after it, on one evening."""
    run(reef, "log", "ammonia=1 mg/L as N", on=EVENING, at="18:00")
    run(reef, "done", number_of(reef, "Change half the water now", EVENING), "--yes", on=EVENING, at="19:00")
    run(reef, "log", "ammonia=0.6 mg/L as N", "ph=8.1", on=EVENING, at="20:05")


def test_the_answer_to_the_change_names_the_next_act_with_its_hour(reef: Path) -> None:
    run(reef, "log", "ammonia=1 mg/L as N", on=EVENING, at="18:00")
    told = run(reef, "done", number_of(reef, "Change half the water now", EVENING), "--yes", on=EVENING, at="19:00")
    assert f"Next {AFTER}, from 20:00: `newtank today" in told
    assert "comes again" not in told


def test_the_test_that_was_just_logged_is_not_asked_for_again_that_evening(reef: Path) -> None:
    middle(reef)
    page = run(reef, "today", on=EVENING)
    assert "Give no food, and look for a dead animal" in page and "This job needs no change of its own today" in page
    assert AFTER not in page.partition("Done:")[0] and BEFORE not in page


def test_no_sentence_of_that_evening_asks_for_another_change(reef: Path) -> None:
    middle(reef)
    page = run(reef, "today", on=EVENING).partition("Done:")[0]
    assert "two large changes" not in page.lower() and "--amount" not in page and "Change water" not in page


def test_the_next_morning_begins_with_the_test_and_nothing_is_late(reef: Path) -> None:
    middle(reef)
    page = run(reef, "today", on=MORNING)
    assert 0 < page.index(BEFORE) < page.index("Test first, then change 102 L of water, at least")
    assert "tomorrow if" not in page
    alarm = page.partition("Today")[2].partition("All steps")[0]
    assert "late" not in alarm


def test_a_morning_test_ticks_and_names_the_change_and_another_one_follows_the_change(reef: Path) -> None:
    middle(reef)
    told = run(reef, "log", "ammonia=0.55 mg/L as N", "ph=8.1", on=MORNING, at="07:30")
    assert f"ticked “{BEFORE}”" in told and "Next Change 102 L of water, at least" in told
    change = number_of(reef, "Change 102 L", MORNING)
    told = run(reef, "done", change, "--amount", "80L", "--yes", on=MORNING, at="09:30")
    assert f"{AFTER}, from 10:30" in told
    assert "too soon" in run(reef, "log", "ammonia=0.5 mg/L as N", "ph=8.1", on=MORNING, at="10:00")
    assert f"ticked “{AFTER}”" in run(reef, "log", "ammonia=0.5 mg/L as N", "ph=8.1", on=MORNING, at="10:35")


def test_a_change_between_two_amounts_is_never_written_with_the_whole_of_it(reef: Path) -> None:
    middle(reef)
    before = (reef / "journal.csv").read_bytes()
    change = number_of(reef, "Test first, then change", MORNING)
    assert "how much" in run(reef, "today", change, on=MORNING) and "water to change: 102 L" in run(reef, "today", change, on=MORNING), "the amount that the title names first"
    assert "--amount" in run(reef, "done", change, "--yes", on=MORNING)
    assert (reef / "journal.csv").read_bytes() == before
    assert f"done {reef} {change} --amount AMOUNT --yes" in run(reef, "today", on=MORNING), "the line of the page works as it is typed"


def test_a_piped_page_prints_the_tick_of_a_change_as_it_works(reef: Path) -> None:
    run(reef, "log", "ammonia=1 mg/L as N", on=EVENING, at="18:00")
    change = number_of(reef, "Change half the water now", EVENING)
    assert f"done {reef} {change} --amount AMOUNT --yes" in run(reef, "today", on=EVENING)
    assert "changed_water" not in (reef / "journal.csv").read_text("utf-8").splitlines()[-1]
    run(reef, "done", change, "--yes", on=EVENING, at="19:00")
    assert "changed_water" in (reef / "journal.csv").read_text("utf-8").splitlines()[-1]


def test_a_change_ticked_with_less_asks_for_the_rest_that_evening_until_a_test_tells_what_it_left(reef: Path) -> None:
    run(reef, "log", "ammonia=0.4 mg/L as N", "ph=8.1", on=EVENING, at="06:00")
    change = number_of(reef, "Change ", EVENING)
    assert f"done {reef} {change} --amount AMOUNT --yes" in run(reef, "today", on=EVENING)
    told = run(reef, "done", change, "--amount", "10L", "--yes", on=EVENING, at="06:30")
    assert "10 L of water changed" in told
    assert "You changed less than this job needs. This is the rest of it, for today." in run(reef, "today", on=EVENING)
    told = run(reef, "log", "ammonia=0.3 mg/L as N", "ph=8.1", on=EVENING, at="18:35")
    assert "ticked “Test ammonia and pH 12 h after the change”" in told
    assert "Next The alarm goes on. Wed 6 May: Change " in told, "nobody learns of tomorrow's change only tomorrow: its water has to be mixed"
    assert "the rest of it" not in run(reef, "today", on=EVENING)


def mild(reef: Path) -> None:
    """The mildest level, its change in the evening, and a first clear test the next morning."""
    run(reef, "log", "ammonia=0.4 mg/L as N", "ph=8.1", on=EVENING, at="17:00")
    run(reef, "done", number_of(reef, "Change ", EVENING), "--yes", on=EVENING, at="18:00")


def test_nobody_is_fed_once_the_change_is_ticked_while_ammonia_shows(reef: Path) -> None:
    """Care of the trade: a meal becomes ammonia within the day (common practice, no source)."""
    mild(reef)
    for on in (EVENING, MORNING):
        page = run(reef, "today", "--steps", on=on)
        assert "Do not feed today. While ammonia shows, every meal becomes more of it." in page
        assert "feed no more than they eat" not in page
    run(reef, "log", "ammonia=0", "ph=8.1", on=MORNING, at="08:00")
    page = run(reef, "today", on=MORNING)
    assert "Feed half as much as usual." in page and "Do not feed today" not in page


def test_the_test_of_the_next_morning_is_no_later_one_and_after_a_good_one_names_no_change(reef: Path) -> None:
    mild(reef)
    assert re.search(r"Later: (\(as above: [a-z ,]+\) )?Test ammonia and pH 12 h after the change", run(reef, "today", on=EVENING))
    assert "Later:" not in run(reef, "today", on=MORNING)
    run(reef, "log", "ammonia=0", "ph=8.1", on=MORNING, at="08:00")
    page = run(reef, "today", on="2026-05-07")
    assert "Test ammonia and pH once more" in page and "after the change" not in page
    assert "Tested:" not in page.partition("Today")[0], "what raised the alarm is no last reading any more"


def test_the_morning_after_an_untested_change_of_the_gravest_level_begins_with_the_test(reef: Path) -> None:
    run(reef, "log", "ammonia=1 mg/L as N", on=EVENING, at="18:00")
    assert "Test first" not in run(reef, "today", on=EVENING), "on the first evening the change comes at once"
    assert "Test first" not in run(reef, "today", on=MORNING), "without a change there is nothing new to test"
    run(reef, "done", number_of(reef, "Change half the water now", EVENING), "--yes", on=EVENING, at="19:00")
    assert "Test first, then change half the water" in run(reef, "today", on=MORNING)
