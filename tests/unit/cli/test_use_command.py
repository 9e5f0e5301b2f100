"""`newtank use`: the page and its machine form, from a folder."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import jsonschema
from click.testing import CliRunner

from planner.cli import newtank
from planner.show.json.output_schema import schema_of

ON = date(2026, 6, 30)


def folder(tmp_path: Path, *levels: float) -> Path:
    (tmp_path / "tank.yaml").write_text("tank: {volume: 200 L}\ntimezone: UTC\ntest_kits:\n  alkalinity: {step: 0.5}\n")
    rows = [f"{ON - timedelta(days=1 + 4 * (len(levels) - 1 - n))},reading,alkalinity,{v},dKH,display," for n, v in enumerate(levels)]
    (tmp_path / "journal.csv").write_text("when,kind,what,value,unit,where,note\n" + "\n".join(rows) + "\n")
    return tmp_path


def run(*args: str) -> str:
    result = CliRunner().invoke(newtank, ["use", *args, "--on", ON.isoformat()], prog_name="newtank")
    assert result.exit_code == 0, result.output
    return result.output


def test_a_known_use_is_told_with_its_band_and_its_dose(tmp_path: Path) -> None:
    page = " ".join(run(str(folder(tmp_path, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5))).split())
    assert "The tank uses 0.12 dKH a day. That is known." in page or "The tank uses 0.13 dKH a day. That is known." in page
    assert "From 6 readings over 20 days." in page
    assert "of sodium bicarbonate a day" in page


def test_too_few_readings_give_no_dose(tmp_path: Path) -> None:
    page = " ".join(run(str(folder(tmp_path, 8.0, 7.5))).split())
    assert "Not known. It takes 3 exact readings, and there are 2." in page
    assert "Nothing is dosed before the use is known." in page


def test_the_machine_form_has_use_band_and_dose(tmp_path: Path) -> None:
    found = json.loads(run(str(folder(tmp_path, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)), "--json"))
    jsonschema.validate(found, schema_of("use"))
    alkalinity = found["uses"][0]
    assert (alkalinity["name"], alkalinity["said"], alkalinity["readings"]) == ("alkalinity", "known", 6)
    assert alkalinity["low"] < alkalinity["use"] < alkalinity["high"]
    assert found["dose"]["state"] == "dose" and 0 < found["dose"]["dkh_a_day"] < alkalinity["use"]
