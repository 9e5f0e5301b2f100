"""A shop's animals over ours: one of ours may be made to ask for more, never for less, nor be sold under another name."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.rulebook.read import shipped
from planner.stock.catalogue import Catalogue, load_catalogue

OURS = load_catalogue([shipped("rules") / "livestock"])
ID = "pterois-volitans"


def laid(folder: Path, *animals: str, group: str = "fish", **files: str) -> Catalogue:
    if animals:
        (folder / "ours.yaml").write_text(f"group: {group}\nanimals:\n" + "".join(f"  - {{{a}}}\n" for a in animals), encoding="utf-8")
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return load_catalogue([shipped("rules") / "livestock", folder])


@pytest.mark.parametrize("change", [
    "adult_cm: 20", "run_cm: 60", "gape: 0.1", "age_days: 10", "skill: easy", "hazards: []", "eats: [fish]", "swims: stays", "body: thread", "together: [1, 3]", "together: [0, 1]",
    "temp_c: [20, 27]", "temp_c: [24, 30]", "word: It is harmless.", "name: kitten fish", "latin: Pterois mitis", "family: Gobiidae", "house: goby", "form: rock goby", "flow: strong",
    "manner: angry", "skill: nobody", "houses: [clownfish]", "truce: maybe", "adult_cm: big", "together: [1]",
])
def test_an_animal_of_ours_does_not_look_safer(change: str, tmp_path: Path) -> None:
    both = laid(tmp_path, f"id: {ID}, {change}")
    told = both.problems
    before, after = OURS.get(ID), both.get(ID)
    assert len(told) == 1 and told[0].source_line.strip().startswith("- {id:")
    assert before and after and replace(after, place=before.place) == before
    assert both.house == ()


@pytest.mark.parametrize(("change", "said"), [
    ("temp_c: [20, 27]", "is 20, 27 here, looser than 24, 27 at rules/livestock/fish.yaml"), ("skill: easy", "is easy here, looser than seasoned at rules/livestock/fish.yaml"),
    ("gape: 0.1", "is 0.1 here, looser than 0.5 at rules/livestock/fish.yaml"), ("hazards: []", "is nothing here, looser than venom_spines at rules/livestock/fish.yaml"),
])
def test_what_is_looser_is_told_with_both_values_at_the_value(change: str, said: str, tmp_path: Path) -> None:
    problem = laid(tmp_path, f"id: {ID}, {change}").problems[0]
    assert said in problem.message
    assert problem.source_line[problem.place.column - 1 :].startswith(change.partition(": ")[2])


def test_a_run_that_ours_leaves_to_its_size_is_told_with_both_lengths(tmp_path: Path) -> None:
    problem = laid(tmp_path, "id: amphiprion-ocellaris, run_cm: 10").problems[0]
    ours = OURS.get("amphiprion-ocellaris")
    assert ours and problem.message.startswith("with 'run_cm' 10 ") and f"instead of {ours.run_cm:.3g} cm" in problem.message
    assert problem.source_line[problem.place.column - 1 :].startswith("10}")


@pytest.mark.parametrize("change", ["load: -1", "run_cm: -5", "reach_cm: -2"])
def test_no_figure_of_an_animal_is_less_than_nothing(change: str, tmp_path: Path) -> None:
    problems = laid(tmp_path, f"id: ours, name: our goby, latin: Gobius domus, kind: goby, adult_cm: 4, word: x, {change}").problems
    assert any("less than nothing" in p.message for p in problems)


def test_a_key_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    problem = laid(tmp_path, f"id: {ID}, tank_l: 80").problems[0]
    assert "tank_l" in problem.message and "run_cm, sand_cm" in problem.fix


@pytest.mark.parametrize(("change", "attribute", "value"), [
    ("adult_cm: 40", "adult_cm", 40), ("run_cm: 240", "run_cm", 240), ("age_days: 200", "age_days", 200), ("skill: specialist", "skill", "specialist"), ("manner: fierce", "manner", "fierce"),
    ("jumps: true", "jumps", True), ("truce: false", "truce", False), ("temp_c: [25, 26]", "temp_low_c", 25), ("cites: II", "cites", "II"), ("sand_cm: 3", "sand_cm", 3),
    ("hazards: [venom_spines, sting]", "hazards", ("venom_spines", "sting")),
])
def test_an_animal_of_ours_may_ask_for_more(change: str, attribute: str, value: object, tmp_path: Path) -> None:
    both = laid(tmp_path, f"id: {ID}, {change}")
    after = both.get(ID)
    assert both.problems == () and after and getattr(after, attribute) == value
    assert [(r.id, r.shipped) for r in both.house] == [(f"animal/{ID}", OURS.get(ID).place)]  # type: ignore[union-attr]


@pytest.mark.parametrize("names", ["name: kitten fish, latin: Pterois volitans", "name: Red Lionfish, latin: Nemo nullus", "name: x, latin: Nemo nullus, also: [volitans lionfish]"])
def test_an_animal_of_ours_is_not_sold_under_another_id(names: str, tmp_path: Path) -> None:
    both = laid(tmp_path, f"id: kitten, {names}, kind: lionfish, adult_cm: 5, word: x")
    assert [p.code for p in both.problems] == ["loosened"] and str(OURS.get(ID).place) in both.problems[0].message  # type: ignore[union-attr]
    assert both.get("kitten") is None


def test_an_animal_twice_in_a_file_names_both_places(tmp_path: Path) -> None:
    new = "id: ours, name: our goby, latin: Gobius domus, kind: goby, adult_cm: {}, word: x"
    both = laid(tmp_path, new.format(4), new.format(9))
    assert [p.code for p in both.problems] == ["twice"] and "ours.yaml:3:5" in both.problems[0].message
    assert both.get("ours").adult_cm == 4  # type: ignore[union-attr]


@pytest.mark.parametrize(("number", "fine"), [("stage_gap: {value: 21}", True), ("stage_gap: {value: 7}", False), ("adult_share: {value: 0.5}", False), ("metabolic_exponent: {value: 0.1}", False), ("stage_gap: {value: x}", False)])
def test_a_figure_moves_only_where_somebody_said_which_way_is_safer(number: str, fine: bool, tmp_path: Path) -> None:
    both = laid(tmp_path, numbers=f"numbers:\n  {number}\n")
    name = number.partition(":")[0]
    assert (both.problems == ()) == fine
    assert (both.figures.value(name) == OURS.figures.value(name)) != fine
    assert [r.id for r in both.house] == ([f"number/{name}"] if fine else [])


def test_finer_steps_of_room_are_refused_and_larger_ones_taken(tmp_path: Path) -> None:
    ours = OURS.figures.steps
    finer = ", ".join(f"[{s.length_cm}, {s.volume_l}], [{s.length_cm + 1}, {s.volume_l}]" for s in ours)
    assert [p.code for p in laid(tmp_path, numbers=f"steps: [{finer}]\n").problems] == ["loosened"]
    larger = ", ".join(f"[{s.length_cm}, {s.volume_l * 2}]" for s in ours)
    both = laid(tmp_path, numbers=f"steps: [{larger}]\n")
    assert both.problems == () and both.get(ID).room_l == 2 * OURS.get(ID).room_l  # type: ignore[union-attr]


def test_a_copy_of_our_own_animals_changes_nothing(tmp_path: Path) -> None:
    for path in (shipped("rules") / "livestock").glob("*.yaml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    both = load_catalogue([shipped("rules") / "livestock", tmp_path])
    assert both.problems == () and both.house == () and len(both.animals) == len(OURS.animals)
