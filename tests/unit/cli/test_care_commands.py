"""`supplies`, `away`, `note` without arguments, and a day on which the keeper is away: from a folder to the page."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.show.json.output_schema import schema_of

JOURNAL = "when,kind,what,value,unit,where,note\n2026-02-01,added,amphiprion-ocellaris,2,,display,\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "tank.yaml").write_text("name: Bay reef\ntank: {volume: 200 L}\ntimezone: UTC\nkeeper:\n  away:\n    - {from: 2026-07-03, to: 2026-07-10}\n")
    (tmp_path / "journal.csv").write_text(JOURNAL)
    return tmp_path


def run(*args: str, code: int = 0) -> str:
    result = CliRunner().invoke(newtank, list(args), prog_name="newtank")
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


def test_a_purchase_is_written_and_counted(folder: Path) -> None:
    run("note", str(folder), "bought", "ammonia_kit", "50 tests", "--on", "2026-06-01")
    found = json.loads(run("supplies", str(folder), "--on", "2026-06-02", "--json"))
    jsonschema.validate(found, schema_of("supplies"))
    assert next(s for s in found["supplies"] if s["id"] == "ammonia_kit")["left"] == 40


def test_a_purchase_of_something_unknown_is_refused_and_not_written(folder: Path) -> None:
    assert "Nobody keeps stock of 'gold'" in run("note", str(folder), "bought", "gold", "1kg", "--on", "2026-06-01", code=2)
    assert (folder / "journal.csv").read_text() == JOURNAL


def test_what_is_not_written_is_not_guessed(folder: Path) -> None:
    assert "Nothing is written of salt mix" in run("supplies", str(folder), "--on", "2026-06-02")


def test_an_absence_names_its_nights_its_limit_and_its_visits(folder: Path) -> None:
    page = run("away", str(folder), "2026-07-03", "2026-07-10", "--on", "2026-06-10")
    assert "This tank may not be alone for a night." in page and "Somebody has to come every day." in page
    assert "For the person who looks after it" in page and "When you are back" in page
    found = json.loads(run("away", str(folder), "2026-07-03", "2026-07-10", "--on", "2026-06-10", "--json"))
    jsonschema.validate(found, schema_of("away"))
    assert found["nights"] == 7 and found["alone_nights"] == min(limit["nights"] for limit in found["limits"])


@pytest.mark.parametrize(("on", "said"), [
    ("2026-06-18", ""), ("2026-06-19", "no animals, no new device"), ("2026-06-25", "no animals, no new device"), ("2026-06-26", "Run the top-up"), ("2026-06-28", "Run the top-up"),
    ("2026-06-29", "empty the skimmer's cup"), ("2026-06-30", "empty the skimmer's cup"), ("2026-07-01", "Only look"), ("2026-07-02", "Only look"), ("2026-07-03", "Before you leave: Close lid"),
    ("2026-07-11", "You are back from your absence. Count"), ("2026-07-12", "You are back from your absence. Count"), ("2026-07-13", ""),
])  # fmt: skip
def test_each_page_before_and_after_an_absence_says_what_its_day_asks_for(folder: Path, on: str, said: str) -> None:
    """14, 7, 4 and 2 days before, the day itself and two days after: common practice, no source."""
    page = run("today", str(folder), "--on", on)
    told = {text for text in ("no animals, no new device", "Run the top-up", "empty the skimmer's cup", "Only look", "Before you leave", "You are back from") if text in page}
    assert all(said.startswith(text) or text in said for text in told) and said in page
    assert bool(told) == bool(said)


def test_a_limit_of_an_absence_is_told_once(folder: Path) -> None:
    assert run("away", str(folder), "2026-07-03", "2026-07-10", "--on", "2026-06-10").count("Nothing tops the water up") == 1


def test_litres_that_cannot_be_right_do_not_lengthen_an_absence(folder: Path) -> None:
    """Ten times the water would rise in salinity ten times as slowly; the plan does not believe it before it is confirmed."""
    def nights(*rows: str) -> list[int]:
        (folder / "journal.csv").write_text(JOURNAL + "".join(f"{row}\n" for row in rows))
        found = json.loads(run("away", str(folder), "2026-07-03", "2026-07-10", "--on", "2026-06-10", "--json"))
        return sorted(limit["nights"] for limit in found["limits"] if limit["why"] == "no_top_up")

    slipped = "2026-02-01,poured,water,2000,L,display,"
    assert nights(slipped) == nights() != nights(f"{slipped}confirmed")


def test_an_absence_that_the_plan_does_not_know_is_given_to_paste(folder: Path) -> None:
    assert "from: 2026-08-01, to: 2026-08-09" in run("away", str(folder), "2026-08-01", "2026-08-09", "--on", "2026-06-10")
    assert "The plan does not know of it" not in run("away", str(folder), "2026-07-03", "2026-07-10", "--on", "2026-06-10")


@pytest.mark.parametrize("days", [("2026-07-10", "2026-07-03"), ("tomorrow", "2026-07-03"), ("2026-07-03",), ("2025-07-03", "2025-07-10")])
def test_days_that_make_no_absence_are_refused(folder: Path, days: tuple[str, ...]) -> None:
    run("away", str(folder), *days, "--on", "2026-06-10", code=2)


def test_while_the_keeper_is_away_today_speaks_of_nothing_else(folder: Path) -> None:
    page = run("today", str(folder), "--on", "2026-07-04")
    assert "you are away until Fri 10 Jul" in page and "All other jobs wait for your return." in page
    assert "newtank done" not in page
    assert "you are away" not in run("today", str(folder), "--on", "2026-07-10")


def test_note_alone_offers_what_can_happen(folder: Path) -> None:
    page = run("note", str(folder))
    assert "spots White spots on a fish" in page and "electric_shock Somebody had a shock" in page
    assert {e["id"] for e in json.loads(run("note", str(folder), "--json"))["events"]} >= {"heater_off", "pump_stopped", "velvet"}


@pytest.mark.parametrize(("word", "alarm"), [("white spots", "spots/vet"), ("fish gasping", "gasping/air"), ("heater broken", "heater-off/warm"), ("pump stopped", "pump-stopped/air"), ("tingle", "electric-shock/act")])
def test_what_a_keeper_types_changes_the_day(folder: Path, word: str, alarm: str) -> None:
    run("note", str(folder), "event", word, "--on", "2026-06-10")
    today = json.loads(run("today", str(folder), "--on", "2026-06-10", "--json"))
    assert alarm in [t["id"].partition("#")[0] for t in (*today["late"], *today["due"])]
