"""House rules as a shop and its buyer see them: in `rules`, in `why`, and on the cards of the plan."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.rulebook.read import shipped
from planner.show.json.output_schema import schema_of
from tests.rulecases import rulebook

EXAMPLE = shipped("scenarios") / "shop-handover" / "house-rules"
TANK = shipped("scenarios") / "shop-handover"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> object:
    def command(*args: str, columns: int = 80) -> Result:
        monkeypatch.setenv("COLUMNS", str(columns))
        monkeypatch.setenv("NO_COLOR", "1")
        return CliRunner().invoke(newtank, [*args])

    return command


def test_rules_lists_what_the_shop_changed_with_both_places(run: object) -> None:
    result = run("rules", "--rules", str(EXAMPLE))  # type: ignore[operator]
    flat = " ".join(result.output.split())
    assert result.exit_code == 0
    assert f"tds most: 2 mg/L; the shipped rule says 5 mg/L ({rulebook().places['number/tds_most']})" in flat
    assert "house-rules/setup/water.yaml:3:3" in flat
    assert "animal elacatinus-evelynae: sharknose goby (added)" in flat


def test_rules_without_a_folder_speaks_of_no_house_rule(run: object) -> None:
    assert "house rule" not in run("rules").output.lower()  # type: ignore[operator]


def test_one_phase_lists_the_house_rules_that_bear_on_it(run: object) -> None:
    flat = " ".join(run("rules", "--rules", str(EXAMPLE), "--phase", "leak-test").output.split())  # type: ignore[operator]
    assert "leak watch: 72 h" in flat and "bring-sample" not in flat and "tank-to-tank" not in flat


def test_the_lists_as_objects_hold_what_their_schema_says(run: object) -> None:
    found = json.loads(run("rules", "--rules", str(EXAMPLE), "--json").output)  # type: ignore[operator]
    jsonschema.validate(found, schema_of("rules"))
    by_id = {rule["id"]: rule for rule in found["house"]}
    assert by_id["number/leak_watch"] == {"id": "number/leak_watch", "change": "changed", "rule": f"{by_id['number/leak_watch']['rule']}", "now": "72 h", "was": "48 h",
                                          "shipped": str(rulebook().places["number/leak_watch"])}
    assert by_id["water/bring-sample"]["change"] == "added"


def test_why_names_the_house_rule_and_what_ours_says(run: object) -> None:
    result = run("why", str(TANK), "leak-test/watch", "--on", "2026-05-09", "--rules", str(EXAMPLE))  # type: ignore[operator]
    flat = " ".join(result.output.split())
    assert result.exit_code == 0
    assert f"house-rules/setup/leak-test.yaml:3:3: leak watch: 72 h; the shipped rule says 48 h ({rulebook().places['number/leak_watch']})" in flat
    found = json.loads(run("why", str(TANK), "leak-test/watch", "--on", "2026-05-09", "--rules", str(EXAMPLE), "--json").output)  # type: ignore[operator]
    jsonschema.validate(found, schema_of("why"))
    assert [rule["id"] for rule in found["house"]] == ["number/leak_watch"]


def test_why_of_a_gate_names_what_the_shop_asks_for(run: object, tmp_path: Path) -> None:
    (tmp_path / "setup").mkdir()
    (tmp_path / "setup" / "site.yaml").write_text("phase: site\ngate:\n  needs_too:\n    - {event: photo_sent, say: We have seen a photograph.}\n", encoding="utf-8")
    flat = " ".join(run("why", str(TANK), "gate/site", "--on", "2026-05-09", "--rules", str(tmp_path)).output.split())  # type: ignore[operator]
    assert "a condition that must hold too for gate/site: We have seen a photograph. (added)" in flat
    assert "not yet: We have seen a photograph." in flat


def test_the_cards_of_changed_tasks_are_marked_and_no_others(run: object) -> None:
    with_house = run("plan", str(TANK), "--on", "2026-05-09", "--rules", str(EXAMPLE), "--json")  # type: ignore[operator]
    tasks = json.loads(with_house.output)["tasks"]
    marked = {t["key"] for t in tasks if t["house"]}
    assert {"water/bring-sample", "leak-test/watch", "site/shop-rock", "fish/stage-choose"} <= marked
    assert "site/rcd" not in marked
    page = run("plan", str(TANK), "--on", "2026-05-09", "--all", "--rules", str(EXAMPLE)).output  # type: ignore[operator]
    assert "from      a house rule" in page and "Watch the full tank for 3 days (house rule)" in page
    assert "house rule" not in run("plan", str(TANK), "--on", "2026-05-09", "--all").output  # type: ignore[operator]


@pytest.mark.parametrize("columns", [80, 120])
def test_no_line_is_wider_than_the_terminal(columns: int, run: object) -> None:
    for args in (["rules", "--rules", str(EXAMPLE)], ["why", str(TANK), "water/mix", "--on", "2026-05-09", "--rules", str(EXAMPLE)], ["today", str(TANK), "--on", "2026-05-09", "--rules", str(EXAMPLE)]):
        long = [line for line in run(*args, columns=columns).output.splitlines() if len(line) > columns and "/" not in line]  # type: ignore[operator]
        assert long == []


def test_a_breach_is_told_by_every_command_and_the_plan_still_comes(run: object, tmp_path: Path) -> None:
    (tmp_path / "numbers.yaml").write_text("numbers:\n  mix_apart: {value: 1}\n", encoding="utf-8")
    for args in (["today", str(TANK), "--on", "2026-05-09"], ["rules"]):
        result = run(*args, "--rules", str(tmp_path))  # type: ignore[operator]
        assert result.exit_code == 1
        assert "numbers.yaml:2:3: `mix_apart` is 1 here and 12 h" in result.output and "1 problem." in result.output
        assert len(result.output.splitlines()) > 20


def test_an_animal_of_the_shop_is_told_where_it_would_loosen_ours(run: object, tmp_path: Path) -> None:
    (tmp_path / "livestock").mkdir()
    (tmp_path / "livestock" / "fish.yaml").write_text("group: fish\nanimals:\n  - {id: pterois-volitans, adult_cm: 5}\n", encoding="utf-8")
    result = run("rules", "--rules", str(tmp_path))  # type: ignore[operator]
    assert result.exit_code == 1 and "'adult_cm' of 'pterois-volitans' is 5 here, looser than 30 at rules/livestock/fish.yaml" in result.output


@pytest.mark.slow
def test_the_check_runs_the_cases_of_the_folder_and_ours(run: object, tmp_path: Path) -> None:
    result = run("rules", "--check", "--rules", str(EXAMPLE))  # type: ignore[operator]
    assert result.exit_code == 0 and "6 of the folder's own" in result.output
    (tmp_path / "a.cases.yaml").write_text("- case: open at once\n  on: 2026-03-02\n  expect:\n    gates: {site: open}\n", encoding="utf-8")
    failed = run("rules", "--check", "--rules", str(tmp_path))  # type: ignore[operator]
    assert failed.exit_code == 1 and "the case 'open at once' does not hold" in failed.output


def test_an_animal_of_the_shop_is_known_when_it_is_written_down(run: object, tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_bytes((TANK / "tank.yaml").read_bytes())
    written = run("note", str(tmp_path), "added", "sharknose goby", "1", "--on", "2026-06-01", "--rules", str(EXAMPLE), "--where", "quarantine", "--yes")  # type: ignore[operator]
    assert "elacatinus-evelynae" in (tmp_path / "journal.csv").read_text("utf-8"), written.output
