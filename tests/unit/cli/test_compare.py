"""Tanks side by side: the dates are those of `plan`, the effort is counted by hand, and causes are found by planning again.

The tank of the effort tests: 100 x 50 x 50 cm outside, 10 mm glass, water 3 cm below the rim, 15 kg of rock (0.5 L/kg), 15 kg of sand
(0.38 L/kg): inside 98 x 48 x 46 cm = 216.384 L, net 203.184 L; salt mix 38 g a litre. The shares are fixed by the test."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.files.tank import Tank
from planner.judge.facts import gather
from planner.judge.figures import quantity as figure_of
from planner.plan.comparison import Comparison, Setup, compare, differing_keys, mark_of, with_keys
from planner.plan.effort import Effort, effort_of
from planner.plan.goods import GOODS
from planner.plan.milestones import next_animal, wish_list_done
from planner.show.json.output_schema import schema_of
from planner.show.terminal.comparison import comparison_lines
from planner.show.terminal.comparison_causes import contrast_sentences
from planner.show.words.tank_keys import phrases, shown_name, silent_side, topic
from planner.show.words.words import plain_text
from planner.terms.records import State, Task, Window
from tests.engine_desk import book_with, journal_of, tank_with
from tests.rulecases import BASE, rulebook, set_path
from tests.unit.plan_builder import phase, plan, quantity, task, window

ON = date(2026, 3, 2)
BOOK = book_with(fill_reserve=(10, "%"), weekly_change_share=(10, "%"), big_change_planned=(75, "%"), curing_litres_per_kg=(2.5, "L/kg"), nitrate_after_change=(10, "mg/L as NO3"), nitrate_after_change_stony=(10, "mg/L as NO3"))
LIVE = {"rock__kind": "live", "rock__cured_in": "tank"}


def setup_of(folder: str = "a", *rows: str, **changes: Any) -> Setup:
    tank = tank_with(**changes)
    return Setup(folder, tank, journal_of(*rows, tank=tank), rulebook(), ON, None)


def compared(*changes: dict[str, Any]) -> Comparison:
    return compare([setup_of(f"tank-{n}", **change) for n, change in enumerate(changes)])


def keys_of(comparison: Comparison, n: int = 0) -> list[tuple[str, ...]]:
    return [c.keys for c in comparison.contrasts[n].causes]


# --- milestones and effort, on plans made by hand


def animals_task(id: str, day: Window, **changes: Any) -> Task:
    return task(id, day.likely, role="animals", window=day, animals=(("amphiprion-ocellaris", 1),), **changes)


def test_the_first_animal_is_the_first_in_each_scenario() -> None:
    crew = animals_task("crew/stage#1", window(date(2026, 5, 1), date(2026, 5, 20), date(2026, 6, 30)))
    fish = animals_task("fish/stage#1", window(date(2026, 4, 20), date(2026, 5, 25), date(2026, 6, 25)))
    apart = animals_task("quarantine/batch#1", window(date(2026, 4, 1)), where="quarantine")
    assert next_animal(plan(crew, fish, apart)) == Window(date(2026, 4, 20), date(2026, 5, 20), date(2026, 6, 25))


def test_animals_that_are_in_are_not_the_first_to_come() -> None:
    done = animals_task("crew/stage#1", window(date(2026, 4, 1)), state=State.DONE)
    assert next_animal(plan(done)) == Window(None, None, None)


def test_the_wish_list_is_complete_with_its_last_stage() -> None:
    stages = [animals_task("fish/stage#1", window(date(2026, 5, 1), date(2026, 5, 9), date(2026, 7, 1))), animals_task("corals/stage#2", window(date(2026, 5, 8), date(2026, 5, 10), date(2026, 6, 1)))]
    assert wish_list_done(plan(*stages)) == Window(date(2026, 5, 8), date(2026, 5, 10), date(2026, 7, 1))
    assert wish_list_done(plan(*stages, animals_task("fish/stage#3", Window(None, None, None)))).likely is None


FISH = animals_task("fish/stage#1", window(date(2026, 6, 1)))
GATES = (phase("water"), phase("scape"))


def effort(*tasks: Task, gates: Sequence[Any] = GATES, **changes: Any) -> Effort:
    tank = tank_with(equipment__bin="250 L", **changes)
    return effort_of(plan(*gates, *tasks, FISH), tank, journal_of(tank=tank), BOOK)


def test_litres_are_counted_each_time_they_are_poured_or_taken_out() -> None:
    done = effort(task("leak-test/fill", minutes=150), task("rock/soak", minutes=30), task("big-change/change#1", minutes=90))
    big = 203.184 * 0.75  # one batch of 152.388 L: the bin holds it, and nitrate has not been read
    assert done.salt_water_l == pytest.approx(203.184 * 1.1 + big)
    assert done.fresh_water_l == pytest.approx(15 * 2.5)  # the soaking water; no topping up is in this plan
    assert done.salt_g == pytest.approx((203.184 + big) * 38)
    # leak test in and out, first fill in, soaking in and out, change out and in
    assert done.carried_l == pytest.approx(2 * 216.384 + 203.184 * 1.1 + 2 * 37.5 + 2 * big)
    assert (done.water_changes, done.changed_l) == (1, pytest.approx(big))
    assert done.hours == pytest.approx((150 + 30 + 90 + 30) / 60)  # the fish's own task takes the builder's 30 minutes


def test_live_rock_in_a_bin_is_cured_in_salt_water() -> None:
    done = effort(task("rock/curing-bin"), task("rock/cure-weekly#1"), task("rock/cure-weekly#2"), gates=(), rock__kind="live", rock__cured_in="bin")
    assert done.salt_water_l == pytest.approx(37.5 + 2 * 18.75) and done.salt_g == pytest.approx(75 * 38)
    assert done.carried_l == pytest.approx(2 * 37.5 + 2 * 2 * 18.75) and done.water_changes == 2


def test_bought_water_is_carried_home_and_takes_no_salt() -> None:
    done = effort(water__source="ready_mixed")
    assert done.salt_g == 0 and done.carried_l == pytest.approx(2 * 203.184 * 1.1)
    assert effort(water__source="distilled").carried_l == pytest.approx(2 * 203.184 * 1.1)


def test_water_that_is_in_the_tank_is_no_longer_counted() -> None:
    done = effort(gates=(phase("water", opened=ON), phase("scape", opened=ON)))
    assert (done.salt_water_l, done.salt_g, done.carried_l) == (0, 0, 0)


def test_each_batch_takes_its_time() -> None:
    tank = tank_with(equipment__bin="60 L")
    done = effort_of(plan(*GATES, task("big-change/mix", minutes=45), FISH), tank, journal_of(tank=tank), BOOK)
    count = figure_of("big_change_batches", gather(tank, journal_of(tank=tank), ON), BOOK)
    assert count is not None and count.value > 1 and done.hours == pytest.approx((count.value * 45 + 30) / 60)


def test_what_comes_after_the_first_animal_does_not_count() -> None:
    late = task("care/weekly-change#1", date(2026, 6, 2), minutes=60)
    assert effort(late).water_changes == 0 and effort(replace(late, date=date(2026, 6, 1))).water_changes == 1


def test_tests_and_doses_are_those_still_open() -> None:
    tests = [task("cycle/tests#1", role="test", reads=("ammonia", "nitrite")), task("cycle/tests#2", role="test", reads=("ammonia", "nitrite"), state=State.DONE)]
    dose = task("cycle/first-dose", writes=("dosed", "ammonia"), amounts=(("ammonia_dose", quantity("ammonia_dose", 1.55, "g")), ("ammonia_dose_mg", quantity("ammonia_dose_mg", 2, "mg/L as N"))))
    done = effort(*tests, dose)
    assert (done.tests, done.readings, done.ammonium_chloride_g) == (1, 2, 1.55)


# --- causes


def test_one_key_changed_is_the_whole_difference() -> None:
    made = compared({}, {"water__temperature": "28 C"})
    assert keys_of(made) == [("water.temperature",)]
    contrast = made.contrasts[0]
    assert contrast.apart_days == contrast.whole_days and not contrast.together
    assert contrast.causes[0].outcome.milestones == contrast.other.outcome.milestones


def test_live_rock_changes_together_with_its_ammonia() -> None:
    assert keys_of(compared({}, LIVE)) == [("rock.kind", "rock.cured_in", "cycle.ammonia")]


def test_cured_rock_and_food_are_two_causes() -> None:
    assert keys_of(compared({}, {"rock__kind": "cured", "cycle__ammonia": "food"})) == [("rock.kind",), ("cycle.ammonia",)]


def test_each_cause_is_planned_alone_in_the_first_tank() -> None:
    made = compared({}, {"water__temperature": "28 C", "cycle__seed": "bottled", "equipment__bin": "30 L"})
    assert sorted(keys_of(made)) == [("cycle.seed",), ("equipment.bin",), ("water.temperature",)]
    for cause in made.contrasts[0].causes:
        assert differing_keys(made.sides[0].setup.tank, cause.after) == [cause.keys]
        alone = compare([made.sides[0].setup, replace(made.sides[1].setup, tank=cause.after)]).contrasts[0]
        assert alone.causes[0].outcome == cause.outcome


def test_causes_that_act_on_one_another_are_not_shared_out() -> None:
    made = compared({}, {"water__temperature": "28 C", "equipment__bin": "30 L", "keeper__shopping_days": ["saturday"]})
    contrast = replace(made.contrasts[0], apart_days=14, whole_days=9)
    assert contrast.together
    assert any("add up to 14 days later" in s and "together they make 9 days later" in s for s in contrast_sentences(contrast, made, None))
    assert not replace(contrast, apart_days=10).together


def test_chores_are_counted_as_far_as_the_first_animal_however_far_that_is() -> None:
    now, later = (s.outcome for s in compared({}, {"start": "2026-06-01"}).sides)  # thirteen weeks later, beyond the twelve that a plan lists unasked
    shifted = replace(now.effort, until=later.effort.until)
    assert later.effort.until is not None and now.effort.until is not None and (later.effort.until - now.effort.until).days == 91
    assert later.effort == shifted and later.effort.tests > 20


def test_names_and_ids_are_no_difference() -> None:
    made = compared({}, {"name": "another name", "id": "7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10", "units": "us"})
    assert keys_of(made) == [] and contrast_sentences(made.contrasts[0], made, None) == ["Their tank files differ in nothing that the plan looks at."]


def test_a_key_without_effect_is_said_to_have_none() -> None:
    made = compared({}, {"keeper__reminder_time": "07:00"})
    assert contrast_sentences(made.contrasts[0], made, None) == ["They also differ in reminder time, which alone changes nothing above."]


def test_what_moves_the_first_animal_most_is_said_first() -> None:
    made = compared({}, {"water__temperature": "26.5 C", "equipment__bin": "10 L", "keeper__shopping_days": ["sunday"]})
    moved = {c.keys[0]: abs((c.outcome.milestones["first_animal"].likely - made.sides[0].outcome.milestones["first_animal"].likely).days)  # type: ignore[operator]
             for c in made.contrasts[0].causes}
    assert len(set(moved.values())) > 1
    assert max(moved, key=lambda k: moved[k]) == "equipment.bin" and contrast_sentences(made.contrasts[0], made, None)[0].startswith("A mixing bin of 10 L instead of a mixing bin of 60 L")


def test_journals_are_a_cause_of_their_own() -> None:
    made = compare([setup_of("a"), setup_of("b", "2026-03-02,done,site/place")])
    assert keys_of(made) == [("journal",)]


def test_every_key_of_the_tank_file_can_be_carried_over_and_named() -> None:
    full = tank_with(rock={"kind": "live", "mass": "9 kg", "cured_in": "bin"}, sand={"kind": "live", "depth": "2 cm"}, cycle={"ammonia": "dosed", "dose": "1 mg/L as N", "seed": "bottled"},
                     water={"source": "tap", "mixed_in": "tank", "salinity": "34 ppt", "temperature": "26 C", "salt_per_litre": "37"}, tank={"volume": "100 L"}, room={"temperature": "25 C"},
                     equipment={"heater": "100 W", "circulation": "900 L/h", "skimmer": "yes", "light": "60 W", "bin": "30 L", "ro_rate": "90 L/day", "top_up": "yes", "battery_air": "yes",
                                "quarantine_tank": "20 L"}, keeper={"shopping_days": ["sunday"], "away": [{"from": "2026-04-01", "to": "2026-04-09"}], "reminder_time": "07:00"},
                     wish_list=[{"animal": "amphiprion-ocellaris"}], already={"site": "2026-03-01"}, start="2026-03-09", test_kits=None)
    base = tank_with()
    groups = differing_keys(base, full)
    made: Tank = base
    for keys in groups:
        made = with_keys(made, full, keys)
        before, after = phrases(keys, base, full, ("A", "B"))
        assert before != after and "None" not in before + after + topic(keys) and "_" not in before + after
    assert differing_keys(made, full) == [] and len(groups) >= 25


def test_marks_go_on_after_z() -> None:
    assert [mark_of(n) for n in (0, 25, 26, 52)] == ["A", "Z", "A2", "A3"]


# --- the page


def page(comparison: Comparison, width: int = 80) -> str:
    return plain_text(comparison_lines(comparison, width))


def cells(line: str) -> int:
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in line)


def test_tanks_of_another_size_are_announced_first() -> None:
    text = page(compared({}, {"tank__length": "60 cm"}))
    assert text.splitlines()[1].startswith("Mind that the boxes differ in size: A 250 L, B 150 L")
    assert "Mind" not in page(compared({}, LIVE))


def test_a_seventh_tank_stands_below_the_others() -> None:
    text = page(compared(*({"water__temperature": f"{24 + n / 2} C"} for n in range(7))))
    heads = [line.split() for line in text.splitlines() if line.startswith(" " * 20) and line.split() and set(line.split()) <= set("ABCDEFG")]
    assert heads[:2] == [["A", "B", "C", "D"], ["E", "F", "G"]]
    assert max(map(cells, text.splitlines())) <= 80


def test_the_chart_has_one_scale() -> None:
    made = compared({}, LIVE)
    lines = page(made).splitlines()
    chart = lines[lines.index("Drawn to one scale") + 1 :]
    lead = chart[0].index(" A ") + 3
    drawn = [line[lead:] for line in chart[:4]]
    windows = [s.outcome.milestones[name] for name in ("cycle_done", "first_animal") for s in made.sides]
    end = max(w.latest for w in windows if w.latest)
    for line, w in zip(drawn, windows, strict=True):
        assert w.earliest and w.likely and w.latest
        spots = [round((day - ON).days / (end - ON).days * (80 - lead - 1)) for day in (w.earliest, w.likely, w.latest)]
        assert [line.index("-"), line.index("o"), len(line) - 1] == spots and set(line) == {" ", "-", "o"}


HOSTILE = ["\x1b[31mred\x1b[0m", "a\nb\rc", "\u202egnp.exe", "日本語" * 40, "x" * 200, "e\u0301" * 80, "|  quick  likely", "#let x = 1; `$(rm)`", "\u200b\u2066"]


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("width", [80, 120])
def test_no_name_breaks_the_page(name: str, width: int) -> None:
    setups = [replace(s, tank=s.tank.model_copy(update={"name": name}), folder=name) for s in (setup_of(), setup_of(**LIVE))]
    text = page(compare(setups), width)
    assert max(map(cells, text.splitlines())) <= width
    assert not [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf")]
    assert shown_name(name) == shown_name(shown_name(name))


# --- the command


def run(*args: object) -> Result:
    return CliRunner().invoke(newtank, ["compare", *map(str, args)])


def folder_of(root: Path, name: str, **changes: Any) -> Path:
    data: dict[str, Any] = json.loads(json.dumps(BASE))
    for key, value in changes.items():
        set_path(data, key.replace("__", "."), value)
    (root / name).mkdir()
    (root / name / "tank.yaml").write_text(yaml.safe_dump(data, sort_keys=False), "utf-8")
    return root / name


@pytest.fixture
def folders(tmp_path: Path) -> list[Path]:
    wishes = [{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "lysmata-amboinensis"}]
    return [folder_of(tmp_path, "dry", wish_list=wishes), folder_of(tmp_path, "live", wish_list=wishes, rock={"kind": "live", "mass": "15 kg", "cured_in": "tank"})]


def document(*args: object) -> dict[str, Any]:
    result = run(*args, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_the_dates_are_those_of_the_plan(folders: list[Path]) -> None:
    found = document(*folders, "--on", ON)
    for folder, tank in zip(folders, found["tanks"], strict=True):
        one = json.loads(CliRunner().invoke(newtank, ["plan", str(folder), "--on", str(ON), "--json"]).stdout)
        gates = {p["id"]: {k: p[k] for k in ("earliest", "likely", "latest")} for p in one["phases"]}
        assert tank["milestones"]["cycle_done"] == gates["cycle"] and tank["milestones"]["open_for_animals"] == gates["animals"]
        stages = [{"earliest": t["earliest"], "likely": t["date"], "latest": t["latest"]} for t in one["tasks"] if t["id"].startswith(("fish/stage#", "crew/stage#", "corals/stage#"))]
        assert len(stages) >= 2
        for when in ("earliest", "likely", "latest"):
            assert tank["milestones"]["wish_list_done"][when] == max(s[when] for s in stages)
            assert tank["milestones"]["first_animal"][when] == min(s[when] for s in stages)
        assert tank["net_volume_l"] == one["tank"]["net_volume_l"]


def test_the_object_follows_its_schema_and_is_the_same_twice(folders: list[Path]) -> None:
    found = document(*folders, "--on", ON)
    jsonschema.validate(found, schema_of("compare"))
    assert found == document(*folders, "--on", ON)
    assert [c["keys"] for c in found["contrasts"][0]["causes"]] == [["rock.kind", "rock.cured_in", "cycle.ammonia"]]


BINS = "rock_bin: 20 each, rock_pump: 15 each"


def with_prices(folders: list[Path], root: Path, prices: str) -> tuple[dict[str, Any], str]:
    (root / "shop.yaml").write_text(f"name: Lagoon corner\ncurrency: EUR\nprices: {{{prices}}}\n")
    return document(*folders, "--on", ON, "--shop", root / "shop.yaml"), run(*folders, "--on", ON, "--shop", root / "shop.yaml").stdout


def test_prices_give_a_cost(folders: list[Path], tmp_path: Path) -> None:
    everything = ", ".join(f"{g.id}: {'0 each' if g.measure == 'each' else '0 per kg' if g.measure == 'mass' else '0 per L'}" for g in GOODS.values() if "rock" not in g.id)
    found, text = with_prices(folders, tmp_path, f"dry_rock: 5 per kg, live_rock: 12 per kg, {BINS}, rock_cement: 0 each, {everything}")
    assert [t["cost"] for t in found["tanks"]] == [110.0, 180.0]  # 15 kg x 5 and a bin with its pump for the soaking, 15 kg x 12
    assert "70.00 EUR more to pay." in found["contrasts"][0]["sentences"][0]
    assert next(line for line in text.splitlines() if line.startswith("lines with a price")).split()[-2:] == ["110.00", "180.00"]


def test_a_missing_price_is_no_saving(folders: list[Path], tmp_path: Path) -> None:
    found, _ = with_prices(folders, tmp_path, f"dry_rock: 5 per kg, phosphate_kit: 20 each, {BINS}")
    said = " ".join(found["contrasts"][0]["sentences"])
    assert "; no price for live rock, so the cost is not compared." in said and "to pay" not in said


def test_lines_without_a_number_are_counted_with_or_without_a_price(folders: list[Path], tmp_path: Path) -> None:
    found, text = with_prices(folders, tmp_path, "dry_rock: 5 per kg")
    counted = [sum(x["quantity"]["value"] is None and not x["described"] for x in tank["shopping"]) for tank in found["tanks"]]
    assert min(counted) > 0
    assert next(line for line in text.splitlines() if line.startswith("  lines without a number")).split()[-2:] == [str(n) for n in counted]


def test_what_a_tank_file_leaves_unsaid_is_no_better_way() -> None:
    for changes, silent, other in (({"equipment__bin": None}, "B", "A"), ({"equipment__ro_rate": None}, "B", "A")):
        said = contrast_sentences((made := compared({}, changes)).contrasts[0], made, None)
        assert len(said) == 1 and said[0].startswith(f"{silent} leaves unsaid what {other} says about the ") and "instead of" not in said[0]
    made = compared({"equipment__bin": None}, {})
    assert contrast_sentences(made.contrasts[0], made, None)[0].startswith("A leaves unsaid what B says about the mixing bin")


def test_the_machine_form_names_who_leaves_a_point_unsaid(folders: list[Path], tmp_path: Path) -> None:
    silent = folder_of(tmp_path, "silent", equipment__bin=None)
    found = document(folder_of(tmp_path, "plain"), silent, "--on", ON)
    assert [(c["keys"], c["unsaid_by"]) for c in found["contrasts"][0]["causes"]] == [(["equipment.bin"], "B")]
    assert [c["unsaid_by"] for c in document(*folders, "--on", ON)["contrasts"][0]["causes"]] == [None]


def test_no_thing_is_described_and_a_box_that_differs_too_is_compared() -> None:
    assert silent_side(["equipment.skimmer"], tank_with(equipment__skimmer="no"), tank_with(equipment__skimmer="yes")) is None
    assert silent_side(["tank"], tank_with(tank__lid="yes"), tank_with(tank__length="90 cm")) is None
    assert silent_side(["tank"], tank_with(tank__lid="yes"), tank_with()) == 1


@pytest.mark.parametrize("by_shop", [True, False])
def test_house_rules_hold_in_every_plan_compared(folders: list[Path], tmp_path: Path, by_shop: bool) -> None:
    (tmp_path / "house" / "setup").mkdir(parents=True)
    (tmp_path / "house" / "setup" / "numbers.yaml").write_text("numbers:\n  weekly_change_share: {value: 15, unit: '%'}\n")
    (tmp_path / "shop.yaml").write_text("name: Lagoon corner\nrules: house\n")
    found = document(*folders, "--on", ON, *(("--shop", tmp_path / "shop.yaml") if by_shop else ("--rules", tmp_path / "house")))
    plain = document(*folders, "--on", ON)
    for ours, theirs in zip(plain["tanks"], found["tanks"], strict=True):
        salt = [next(x["quantity"]["value"] for x in tank["shopping"] if x["item"] == "salt") for tank in (ours, theirs)]
        assert salt[1] - salt[0] == pytest.approx(8 * 0.05 * 203.184 * 38, abs=0.2)  # eight weekly changes of 15 instead of 10 %, 38 g a litre


def test_the_page_is_plain_text_in_a_pipe(folders: list[Path]) -> None:
    result = run(*folders, "--on", ON)
    assert result.exit_code == 0 and "\x1b" not in result.stdout
    assert max(map(cells, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize("pick", [lambda f: f[:1], lambda f: f[:0], lambda f: [f[0], f[0]], lambda f: [f[0], f[1] / ".." / f[0].name], lambda f: [f[0], f[1].parent]])
def test_wrong_use_ends_with_two(folders: list[Path], pick: Any) -> None:
    result = run(*pick(folders))
    assert result.exit_code == 2 and "Error:" in result.stderr


def test_a_mistake_in_a_file_is_told_and_the_rest_compared(folders: list[Path]) -> None:
    path = folders[1] / "tank.yaml"
    path.write_text(path.read_text().replace("mass: 15 kg", "mas: 15 kg"))
    result = run(*folders, "--on", ON)
    assert result.exit_code == 1 and "unknown key `mas`" in result.stderr and "What makes the difference" in result.stdout
    found = json.loads(run(*folders, "--on", ON, "--json").stdout)
    assert {p["code"] for p in found["problems"]} == {"unknown-key"}


def test_a_folder_that_cannot_be_planned_is_left_out(folders: list[Path], tmp_path: Path) -> None:
    broken = folder_of(tmp_path, "broken", tank=None)
    result = run(folders[0], broken, folders[1], "--on", ON)
    assert result.exit_code == 1 and "size of the tank" in result.stderr and "2 ways to set up a tank" in result.stdout
    alone = run(folders[0], broken, "--on", ON)
    assert alone.exit_code == 1 and "takes two to compare" in alone.stderr and not alone.stdout


def test_a_mistake_in_the_shop_file_is_told_with_its_place(folders: list[Path], tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text("name: Lagoon corner\nprices: {dry_rok: 5 per kg}\n")
    result = run(*folders, "--on", ON, "--shop", tmp_path / "shop.yaml")
    assert result.exit_code == 1 and "write `dry_rock`" in result.stderr and "When" in result.stdout


def test_a_plan_with_a_journal_counts_what_is_still_to_do(folders: list[Path]) -> None:
    before = document(*folders, "--on", ON)["tanks"][0]["hours"]
    (folders[0] / "journal.csv").write_text("when,kind,what,value,unit,where,note\n2026-03-02,done,site/place,,,display,\n")
    found = document(*folders, "--on", ON)
    assert found["tanks"][0]["hours"] == pytest.approx(before - 0.5)  # choosing the place takes half an hour
    assert "no longer counted: A has 1 entry." in run(*folders, "--on", ON).stdout


def test_wishes_that_cannot_be_kept_are_named(tmp_path: Path) -> None:
    wishes = [{"animal": "amphiprion-ocellaris"}, {"animal": "日本語" * 30}]
    made = [folder_of(tmp_path, "a", wish_list=wishes), folder_of(tmp_path, "b", wish_list=wishes[:1])]
    text = run(*made, "--on", ON).stdout
    assert "  - 日本語" in text and max(map(cells, text.splitlines())) <= 80
    assert document(*made, "--on", ON)["tanks"][0]["left_out"] == ["日本語" * 30]
