"""What the catalogue takes where nothing is said, and what a shop may make of our animals and figures, on both sides of each limit. Contract of this project; figures are those of the files, whose sources stand there."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.house_animals import tighter_steps
from planner.stock.room_and_load import (
    RoomStep,
    mass_from_length_g,
    nitrogen_from_load_mg_per_day,
    nitrogen_from_mass_mg_per_day,
    room_from_size,
    step_from_length,
)
from planner.terms.problems import Place, Problem

RULES = Path(__file__).parents[3] / "rules" / "livestock"
PLAIN = "adult_cm: 4, word: Ours."


@cache
def shipped() -> Catalogue:
    return load_catalogue([RULES])


def laid(tmp_path: Path, animal: str, group: str = "fish") -> Catalogue:
    (tmp_path / "house.yaml").write_text(f"group: {group}\nkinds: {{plain: {{body: perch, swims: near_rock}}}}\nanimals:\n  - {{{animal}}}\n", encoding="utf-8")
    return load_catalogue([RULES, tmp_path])


def test_what_an_entry_does_not_say_is_the_usual(tmp_path: Path) -> None:
    found = laid(tmp_path, f"id: a, name: a, latin: a b, kind: plain, {PLAIN}").get("a")
    assert found is not None
    assert (found.manner, found.least, found.most, found.temp_low_c, found.temp_high_c, found.age_days, found.skill, found.light, found.truce, found.source) == ("mild", 1, 1, 24, 27, 30, "easy", "none", True, "practice")


@pytest.mark.parametrize(("size", "fits"), [("0.1", True), ("0", False), ("-1", False)])
def test_an_animal_has_a_size(size: str, fits: bool, tmp_path: Path) -> None:
    assert (laid(tmp_path, f"id: a, name: a, latin: a b, kind: plain, adult_cm: {size}, word: Ours.").get("a") is not None) is fits


@pytest.mark.parametrize(
    ("keys", "loosened"),
    [("age_days: 30", False), ("age_days: 31", False), ("age_days: 29", True), ("together: [1, 1]", False), ("together: [0, 1]", True), ("together: [1, 2]", True), ("together: [1, 0]", True), ("temp_c: [24, 26]", False), ("temp_c: [23, 26]", True), ("temp_c: [24, 27]", True), ("temp_c: [25, 25]", False), ("temp_c: [26, 25]", True), ("skill: attentive", False), ("skill: specialist", False), ("manner: mild", False), ("manner: bold", False), ("word: Ours. More.", False), ("word: Other.", True), ("latin: Other name", True)],
)
def test_an_animal_of_ours_may_only_ask_for_more(keys: str, loosened: bool, tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(f"group: fish\nkinds: {{plain: {{body: perch, swims: near_rock}}}}\nanimals:\n  - {{id: base, name: base, latin: a b, kind: plain, temp_c: [24, 26], {PLAIN}}}\n", encoding="utf-8")
    over = tmp_path / "over"
    over.mkdir()
    (over / "house.yaml").write_text(f"group: fish\nkinds: {{}}\nanimals:\n  - {{id: base, {keys}}}\n", encoding="utf-8")
    problems = load_catalogue([RULES, tmp_path, over]).problems
    assert ("loosened" in [p.code for p in problems]) is loosened, [str(p) for p in problems]


@pytest.mark.parametrize(("length", "step"), [(1, RoomStep(60, 65)), (60, RoomStep(60, 65)), (60.1, RoomStep(75, 100)), (75, RoomStep(75, 100)), (100, RoomStep(100, 190)), (101, RoomStep(202, 1563))])
def test_an_animal_takes_the_next_step_of_tanks(length: float, step: RoomStep) -> None:
    """Beyond the last step the volume grows with the cube: 190 L x (202/100)^3 = 1566."""
    steps = (RoomStep(60, 65), RoomStep(75, 100), RoomStep(100, 190))
    if length <= 100:
        assert step_from_length(length, steps) == step
    else:
        assert step_from_length(202, steps) == RoomStep(202, round(190 * 2.02**3))


@pytest.mark.parametrize(("least", "moves", "more"), [(1, True, 0), (2, True, 0), (3, True, 1), (5, True, 1), (3, False, 0)])
def test_a_shoal_of_three_takes_one_step_more(least: int, moves: bool, more: int) -> None:
    figures = shipped().figures
    one, found = (room_from_size(4, "near_rock", "mild", moves, n, 0, figures) for n in (1, least))
    assert figures.steps.index(found) - figures.steps.index(one) == more
    assert room_from_size(4, "near_rock", "mild", True, 5, figures.steps[-1].length_cm, figures) == figures.steps[-1] == room_from_size(4, "near_rock", "mild", True, 1, figures.steps[-1].length_cm, figures)


def test_a_bolder_manner_takes_more_room_where_it_moves() -> None:
    figures = shipped().figures

    def run(manner: str, moves: bool = True) -> float:
        return room_from_size(16, "open", manner, moves, 1, 0, figures).length_cm

    assert run("mild") <= run("bold") <= run("fierce") and run("mild") < run("fierce") and run("fierce", False) == run("mild", False) == run("mild")


def test_mass_and_nitrogen_grow_from_nothing() -> None:
    """0.0155 g/cm3 x 8^3 = 7.94 g; a load of two is twice that of a fish of 10 g."""
    figures = shipped().figures
    assert mass_from_length_g(8, 0.0155) == pytest.approx(7.936) and nitrogen_from_load_mg_per_day(2, figures) == pytest.approx(2 * nitrogen_from_mass_mg_per_day(10, figures)) and nitrogen_from_load_mg_per_day(0, figures) == 0
    for wrong in (0, -1):
        with pytest.raises(ValueError, match="above zero"):
            mass_from_length_g(wrong, 0.0155)
        with pytest.raises(ValueError, match="above zero"):
            nitrogen_from_mass_mg_per_day(wrong, figures)


@pytest.mark.parametrize(("steps", "fits"), [("same", True), ("more", True), ("less", False), ("fewer", False)])
def test_steps_of_a_house_keep_our_lengths_and_give_as_much_water(steps: str, fits: bool) -> None:
    ours = (RoomStep(60, 65), RoomStep(75, 100))
    theirs = {"same": ours, "more": (RoomStep(60, 70), RoomStep(75, 100)), "less": (RoomStep(60, 64), RoomStep(75, 100)), "fewer": ours[:1]}[steps]
    problems: list[Problem] = []
    assert tighter_steps(ours, theirs, Place("house"), problems) == (theirs if fits else ours) and bool(problems) is not fits
    assert tighter_steps(ours, (), Place("house"), problems) == ours == tighter_steps((), ours, Place("house"), problems)
