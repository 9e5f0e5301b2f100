"""Animals beside one tank and beside each other, on both sides of each limit. The limits are those of the catalogue's figures, whose sources stand beside them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from planner.stock.animals import SKILLS, Animal
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.find_animal import Names
from planner.stock.neighbours import clashes_between, welcomes
from planner.stock.stages.order import plan_stages
from planner.stock.stages.records import QuarantineTank, StageDays
from planner.stock.suitability import Reason, TankForStock, reasons_for, verdict_of
from planner.stock.sums import Wish, claim_l, ground_cm2, ground_there_cm2, nitrogen_told
from planner.stock.verdict import judge_wishes
from planner.terms.causes import cause
from tests.unit.stock.test_verdict import TANK

RULES = Path(__file__).parents[3] / "rules" / "livestock"


@cache
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def animal(known_as: str = "gramma-loreto", /, **traits: object) -> Animal:
    found = catalogue().get(known_as)
    assert found is not None
    return replace(found, **traits)  # type: ignore[arg-type]


def weight(code: str, kind: Animal, tank: TankForStock = TANK, count: int = 1) -> str:
    """What weighs in the reason of this code: "" where there is none."""
    return next((r.weight for r in reasons_for(kind, count, tank, catalogue().figures) if r.code == code), "")


# --- one animal


@pytest.mark.parametrize("experience", [None, "first", "some", "seasoned", "other"])
@pytest.mark.parametrize("skill", SKILLS)
def test_what_an_animal_asks_of_its_keeper_is_weighed_against_what_he_has_done(skill: str, experience: str | None) -> None:
    """One step more than the keeper has done is a condition, two are too many; a first tank takes no more than an attentive keeper can."""
    asks, untold = SKILLS.index(skill), experience not in ("first", "some", "seasoned")
    wanted = {0: ("", "", "", ""), 1: ("condition", "condition", "", ""), 2: ("condition", "refuses", "condition", ""), 3: ("condition", "refuses", "refuses", "condition")}[asks]
    at = 0 if untold else 1 + ("first", "some", "seasoned").index(str(experience))
    assert weight("skill", animal(skill=skill), replace(TANK, experience=experience)) == wanted[at]
    assert (weight("word", animal(skill=skill), replace(TANK, experience=experience)) == "note") is (wanted[at] == "")


@pytest.mark.parametrize(("count", "least", "most", "number", "pair"), [(1, 1, 0, "", ""), (4, 5, 0, "refuses", ""), (5, 5, 0, "", ""), (2, 1, 2, "", "condition"), (3, 1, 2, "refuses", ""), (1, 1, 2, "", ""), (3, 1, 3, "", ""), (4, 1, 3, "refuses", ""), (2, 1, 3, "", "")])
def test_so_many_and_no_more_nor_fewer(count: int, least: int, most: int, number: str, pair: str) -> None:
    kind = animal(least=least, most=most)
    assert (weight("number", kind, count=count), weight("pair", kind, count=count)) == (number, pair)


@pytest.mark.parametrize(("there", "found"), [(None, "condition"), (21.9, "condition"), (22.0, ""), (26.0, ""), (26.1, "condition"), (27.0, "condition"), (27.1, "refuses"), (21.0, "condition"), (20.9, "refuses")])
def test_warmth_is_a_condition_up_to_a_degree_off(there: float | None, found: str) -> None:
    assert weight("warmth", animal(temp_low_c=22.0, temp_high_c=26.0), replace(TANK, temperature_c=there)) == found


@pytest.mark.parametrize(
    ("needs", "kind", "depth", "sand", "grain"),
    [(0, "fine", 0.0, "", ""), (3, "fine", 3.0, "", ""), (3, "fine", 2.9, "condition", ""), (3, "fine", 0.0, "refuses", ""), (3, "none", 5.0, "refuses", ""), (3, "fine", None, "condition", ""), (3, None, None, "condition", ""), (4.9, "coarse", 6.0, "", ""), (5, "coarse", 6.0, "", "condition"), (5, "mixed", 5.0, "", ""), (5, None, 5.0, "", "condition"), (5, "coarse", 0.0, "refuses", "")],
)
def test_sand_is_as_deep_as_the_animal_digs(needs: float, kind: str | None, depth: float | None, sand: str, grain: str) -> None:
    digger, tank = animal(sand_cm=needs), replace(TANK, sand_kind=kind, sand_depth_cm=depth)
    assert (weight("sand", digger, tank), weight("grain", digger, tank)) == (sand, grain)


@pytest.mark.parametrize(("swims", "group", "kg", "found"), [("near_rock", "fish", None, "condition"), ("near_rock", "fish", 0.0, "condition"), ("perches", "fish", 0.0, "condition"), ("open", "fish", 0.0, ""), ("near_rock", "crustacean", 0.0, "")])
def test_rock_is_asked_for_by_fish_that_live_near_it(swims: str, group: str, kg: float | None, found: str) -> None:
    assert weight("cover", animal(swims=swims, group=group), replace(TANK, rock_kg=kg)) == found


def test_rock_at_the_exact_figure_is_enough_and_a_dragonet_is_refused_below_it() -> None:
    figures = catalogue().figures
    plain, grazer = animal(), animal("synchiropus-splendidus")
    for kind, need, short in ((plain, figures.value("rock_per_litre") * min(TANK.net_volume_l, plain.room_l), "condition"), (grazer, figures.value("old_rock_kg"), "refuses")):
        assert (weight("cover", kind, replace(TANK, rock_kg=need)), weight("cover", kind, replace(TANK, rock_kg=need - 0.01))) == ("", short)


@pytest.mark.parametrize(("jumps", "lid", "found"), [(True, None, "condition"), (True, False, "condition"), (True, True, ""), (False, None, ""), (False, False, "")])
def test_a_lid_is_asked_for_by_what_jumps(jumps: bool, lid: bool | None, found: str) -> None:
    assert weight("lid", animal(jumps=jumps), replace(TANK, lid=lid)) == found


def test_light_at_the_exact_figure_is_told_as_enough_and_half_of_it_is_no_refusal_yet() -> None:
    lit = next(a for a in catalogue().animals if a.light != "none")
    need = catalogue().figures.value(f"light_{lit.light}")
    assert [weight("light", lit, replace(TANK, light_par=par)) for par in (need, need - 0.1, need / 2, need / 2 - 0.1, None)] == ["note", "condition", "condition", "refuses", "condition"]
    assert weight("light", animal(light="none"), replace(TANK, light_par=None)) == ""


@pytest.mark.parametrize(("group", "volume", "length", "room", "run"), [("fish", 95.0, 100.0, "", ""), ("fish", 94.9, 100.0, "refuses", ""), ("fish", 95.0, 99.9, "", "refuses"), ("fish", 94.9, 99.9, "refuses", ""), ("fish", 95.0, None, "", "condition"), ("crustacean", 95.0, 10.0, "", ""), ("crustacean", 95.0, None, "", ""), ("crustacean", 94.9, 10.0, "refuses", "")])
def test_room_and_run_at_their_limits(group: str, volume: float, length: float | None, room: str, run: str) -> None:
    """A twentieth below 100 L is the same tank (common practice, no source); only fish need a run."""
    assert catalogue().figures.value("room_grace") == 0.05
    kind, tank = animal(group=group, room_l=100.0, run_cm=100.0), replace(TANK, net_volume_l=volume, length_cm=length)
    assert (weight("room", kind, tank), weight("run", kind, tank)) == (room, run)


@pytest.mark.parametrize(("weights", "verdict"), [((), "fits"), (("note",), "fits"), (("note", "condition"), "with_conditions"), (("condition", "refuses"), "refused"), (("refuses",), "refused")])
def test_the_heaviest_reason_decides(weights: tuple[str, ...], verdict: str) -> None:
    assert verdict_of(tuple(Reason("x", w, cause("no_place")) for w in weights)) == verdict  # type: ignore[arg-type]


def test_refusals_stand_first_and_notes_last() -> None:
    order = [r.weight for r in reasons_for(animal("zoanthus-spp", light="high", skill="attentive"), 1, replace(TANK, light_par=1.0), catalogue().figures)]
    assert order == sorted(order, key=["refuses", "condition", "note"].index) and order[0] == "refuses"


# --- two animals


def kinds(a: Animal, b: Animal, volume: float = 300, length: float | None = 120) -> list[tuple[str, bool]]:
    return [(c.kind, c.hard) for c in clashes_between(a, b, volume, length, catalogue().figures)]


def fish(id: str, **traits: object) -> Animal:
    return animal("gramma-loreto", **{"id": id, "name": id, "eats": (), "nips": (), "rivals": (), "house": id, "form": id, "houses": (), "counts_as": (), "truce": False, "manner": "mild", **traits})


@pytest.mark.parametrize(
    ("hunter", "prey", "found"),
    [({"eats": ("fish",)}, {"adult_cm": 4.0}, [("eats", True)]), ({"eats": ("little_fish",)}, {"adult_cm": 4.0}, [("eats", True)]), ({"nips": ("fish",)}, {"adult_cm": 4.0}, [("eats", False)]), ({"eats": ("fish",)}, {"adult_cm": 4.1}, []), ({}, {"adult_cm": 1.0}, []),
     ({"eats": ("fish",)}, {"adult_cm": 6.0, "body": "reed"}, [("eats", True)]), ({"eats": ("fish",)}, {"adult_cm": 6.1, "body": "reed"}, []),
     ({"eats": ("shrimp",)}, {"group": "crustacean", "counts_as": ("shrimp",)}, [("eats", True)]), ({"eats": ("shrimp",)}, {"group": "crustacean", "counts_as": ("little_shrimp",)}, [("eats", True)]), ({"eats": ("little_shrimp",)}, {"group": "crustacean", "counts_as": ("shrimp",)}, []),
     ({"nips": ("shrimp",)}, {"group": "crustacean", "counts_as": ("little_shrimp",)}, [("eats", False)]), ({"eats": ("snail",)}, {"group": "crustacean", "counts_as": ("little_shrimp",)}, []), ({"eats": ("shrimp",)}, {"group": "crustacean", "counts_as": ("shrimp",), "houses": ("hunter",)}, [])],
)
def test_a_mouth_takes_what_fits_and_what_it_eats(hunter: dict[str, object], prey: dict[str, object], found: list[tuple[str, bool]]) -> None:
    """Of 10 cm with a gape of 0.4: 4 cm, and half again of what is slender."""
    one, other = fish("hunter", adult_cm=10.0, gape=0.4, **hunter), fish("prey", **({"adult_cm": 4.0, "body": "perch", "gape": 0.0} | prey))
    assert kinds(one, other) == found and kinds(other, one) == found


@pytest.mark.parametrize(
    ("one", "other", "found"),
    [({}, {}, []), ({"rivals": ("house",)}, {}, []), ({"rivals": ("house",), "house": "h"}, {"house": "h"}, [("rivals", True)]), ({"rivals": ("form",), "form": "f"}, {"form": "f"}, [("rivals", True)]), ({"rivals": ("house",), "form": "f"}, {"form": "f"}, []),
     ({"rivals": ("house",), "house": "h", "group": "crustacean"}, {"house": "h"}, []), ({"rivals": ("house",), "house": "h", "truce": True}, {"house": "h"}, [("rivals", True)])],
)
def test_kin_and_look_alikes_fight_where_one_of_them_minds(one: dict[str, object], other: dict[str, object], found: list[tuple[str, bool]]) -> None:
    assert kinds(fish("a", **one), fish("b", **other)) == found and kinds(fish("b", **other), fish("a", **one)) == found


@pytest.mark.parametrize("fierce", [False, True])
def test_two_that_make_peace_do_so_from_their_exact_litres_on(fierce: bool) -> None:
    peace = catalogue().figures.value("truce_fierce" if fierce else "truce_factor") * 100
    a, b = (fish(name, rivals=("house",), house="h", truce=True, room_l=room, manner="fierce" if fierce and name == "a" else "mild") for name, room in (("a", 100.0), ("b", 80.0)))
    assert (kinds(a, b, peace), kinds(a, b, peace - 0.1)) == ([("rivals", False)], [("rivals", True)])
    assert [c.room_l for c in clashes_between(a, b, peace - 0.1, 120, catalogue().figures)] == [peace]


def coral(name: str, **traits: object) -> Animal:
    stinging = next(a for a in catalogue().animals if a.group == "large_polyp" and a.reach_cm)
    return replace(stinging, **{"id": name, "name": name, "latin": f"{name} sp.", "adult_cm": 10.0, "reach_cm": 15.0, **traits})


@pytest.mark.parametrize(
    ("other", "length", "found"),
    [({}, 35.0, [("stings", False)]), ({}, 34.9, [("stings", True)]), ({}, None, [("stings", False)]), ({"reach_cm": 0.0}, 10.0, []), ({"reach_cm": 16.0}, 36.0, [("stings", False)]), ({"reach_cm": 16.0}, 35.9, [("stings", True)]), ({"latin": "one other"}, 10.0, [])],
)
def test_two_that_sting_stand_apart_by_the_longer_reach(other: dict[str, object], length: float | None, found: list[tuple[str, bool]]) -> None:
    """Two of 10 cm and a reach of 15 cm between them take 35 cm; kin of one genus do not sting each other."""
    assert kinds(coral("one"), coral("two", **other), length=length) == found == kinds(coral("two", **other), coral("one"), length=length)


def test_the_one_that_reaches_further_is_named_as_the_one_that_stings_and_of_equals_the_first() -> None:
    (far,) = clashes_between(coral("one"), coral("two", reach_cm=16.0), 300, 200, catalogue().figures)
    (same,) = clashes_between(coral("one"), coral("two"), 300, 200, catalogue().figures)
    assert (far.actor, far.other, same.actor) == ("two", "one", "one")


def test_two_anemones_fight_and_each_is_welcome_to_its_guest() -> None:
    bubble, carpet = animal("entacmaea-quadricolor"), animal("stichodactyla-haddoni")
    assert ("anemones", True) in kinds(bubble, carpet)
    assert welcomes(carpet, fish("x", kind=carpet.houses[0])) and welcomes(fish("x", houses=("y",)), fish("y")) and not welcomes(fish("x"), fish("y"))


# --- sums of a list


def test_what_is_said_of_nitrogen_turns_at_what_the_filter_handles() -> None:
    assert [nitrogen_told(given, handled, already).kind for given, handled, already in ((9, 10, 0), (10, 10, 0), (10.1, 10, 0), (5, None, 0), (5, 10, 0.1), (5, None, 0.1))] == ["nitrogen_within", "nitrogen_within", "nitrogen_beyond", "nitrogen_unproven", "nitrogen_already", "nitrogen_already"]


def test_room_is_claimed_by_what_moves_and_ground_by_what_stings() -> None:
    figures = catalogue().figures
    assert claim_l(coral("one"), 3, figures) == 0 and claim_l(animal(), 1, figures) > 0
    assert ground_cm2(animal(reach_cm=0.0), 3) == 0 and ground_cm2(coral("one"), 2) == pytest.approx(2 * 3.14159265 * 12.5**2)  # two discs of 25 cm
    assert [ground_there_cm2(replace(TANK, **change), figures) is None for change in ({}, {"length_cm": None}, {"width_cm": None})] == [False, True, True]


def test_a_wish_of_none_is_a_mistake_and_one_of_one_is_none() -> None:
    with pytest.raises(ValueError, match="0 of"):
        judge_wishes(TANK, [Wish("gramma-loreto", 0)], catalogue())
    assert judge_wishes(TANK, [Wish("gramma-loreto", 1)], catalogue()).keep == (Wish("gramma-loreto", 1),)


def test_a_list_may_give_all_that_the_filter_handles_and_no_more() -> None:
    gives = animal().nitrogen_mg_per_day
    assert judge_wishes(TANK, [Wish("gramma-loreto")], catalogue(), gives).keep and not judge_wishes(TANK, [Wish("gramma-loreto")], catalogue(), gives * 0.999).keep


# --- names


NAMES = Names((animal("gramma-loreto", id="a-b", name="blue tang", latin="Aus bus", kind="tang", family="surgeonfish", also=("palette doctor",)), animal("gramma-loreto", id="c-d", name="clown goby", latin="Cus dus", kind="goby", family="gobies", also=()),
               animal("gramma-loreto", id="e-f", name="ocellaris clownfish", latin="Eus fus", kind="clownfish", family="damselfish", also=("false percula",)), animal("gramma-loreto", id="g-h", name="spotted clownfish", latin="Gus hus", kind="clownfish", family="damselfish", also=())))


@pytest.mark.parametrize(
    ("text", "how", "candidates"),
    [("a-b", "id", ("a-b",)), ("Blue Tang", "name", ("a-b",)), ("blue tangs", "name", ("a-b",)), ("AUS BUS", "name", ("a-b",)), ("palette doctor", "name", ("a-b",)), ("tang", "name", ("a-b",)), ("tangs", "name", ("a-b",)), ("bus", "name", ("a-b",)),
     ("clownfish", "ambiguous", ("e-f", "g-h")), ("clown fish", "ambiguous", ("e-f", "g-h")), ("clown", "name", ("c-d",)), ("goby", "name", ("c-d",)), ("percula", "name", ("e-f",)), ("blue tnag", "near", ("a-b",)), ("", "unknown", ()), ("zzzz", "unknown", ()), ("surgeonfish", "ambiguous", ("a-b",))],
)
def test_a_name_is_found_by_all_that_a_buyer_may_write(text: str, how: str, candidates: tuple[str, ...]) -> None:
    found = NAMES.find(text)
    assert (found.how, found.candidates, found.animal is not None) == (how, candidates, how in ("id", "name", "near"))


def test_a_word_of_four_letters_may_be_the_beginning_of_a_longer_one() -> None:
    more = Names((*NAMES.animals, animal("gramma-loreto", id="i-j", name="clow goby", latin="Ius jus", kind="goby", family="gobies", also=()), animal("gramma-loreto", id="k-l", name="clo clow blenny", latin="Kus lus", kind="blenny", family="blennies", also=()), animal("gramma-loreto", id="m-n", name="clo goby", latin="Mus nus", kind="goby", family="gobies", also=())))
    assert more.find("clow").candidates[:3] == ("c-d", "e-f", "g-h") and set(more.find("clo").candidates) == {"k-l", "m-n"}


# --- the order of stages


GATE = 740_000


def days_after_gate(*wishes: str, handled: float | None = 300.0, box: QuarantineTank | None = None, **days: object) -> dict[str, int]:
    made = StageDays(**({"gate_day": GATE, "first_salt_day": GATE - 400, "next_day_allowed": lambda d: d} | days))  # type: ignore[arg-type]
    plan = plan_stages([Wish(*((w.split(":")[0], int(w.split(":")[1])) if ":" in w else (w, 1))) for w in wishes], catalogue(), made, box, handled)
    return {w.animal_id: s.day - GATE for s in plan.stages for w in s.wishes}


@pytest.mark.parametrize(("salt", "day"), [(-250, 50), (-299, 1), (-300, 0), (-301, 0)])
def test_an_animal_waits_for_the_age_that_it_asks_of_a_tank(salt: int, day: int) -> None:
    """A mandarin asks for 300 days (the catalogue's own)."""
    assert animal("synchiropus-splendidus").age_days == 300
    wait = int(catalogue().figures.value("wait_dragonet"))
    assert days_after_gate("synchiropus-splendidus", first_salt_day=GATE + salt) == {"synchiropus-splendidus": max(day, wait)}


@pytest.mark.parametrize(("floors", "day"), [((0, 0, 0), 0), ((GATE, 0, 0), 0), ((GATE + 3, 0, 0), 3), ((0, GATE + 3, GATE + 3), 0)])
def test_a_floor_holds_its_own_sort_back(floors: tuple[int, int, int], day: int) -> None:
    assert days_after_gate("gramma-loreto", floors=floors) == {"gramma-loreto": day}


def test_a_floor_of_a_group_holds_that_group_back_alone() -> None:
    assert days_after_gate("gramma-loreto", group_floors=(("fish", GATE + 5), ("snail", GATE + 9))) == {"gramma-loreto": 5}
    assert days_after_gate("gramma-loreto", group_floors=(("fish", GATE - 5),)) == {"gramma-loreto": 0}


def test_today_and_the_last_animals_hold_every_stage_back() -> None:
    gap = int(catalogue().figures.value("stage_gap"))
    assert days_after_gate("gramma-loreto", today=GATE + 4) == {"gramma-loreto": 4} and days_after_gate("gramma-loreto", today=GATE - 4) == {"gramma-loreto": 0}
    assert days_after_gate("gramma-loreto", last_day=GATE - 1) == {"gramma-loreto": gap - 1} and days_after_gate("gramma-loreto", last_day=GATE - gap) == {"gramma-loreto": 0}
    assert days_after_gate("gramma-loreto", last_day=GATE - 1, least_gap=gap + 2) == {"gramma-loreto": gap + 1} and days_after_gate("gramma-loreto", last_day=GATE - 1, least_gap=1) == {"gramma-loreto": gap - 1}


def test_a_batch_enters_quarantine_so_many_days_after_the_last_fish() -> None:
    stay, pause = (int(catalogue().figures.value(key)) for key in ("quarantine_days", "quarantine_pause"))
    assert days_after_gate("gramma-loreto", box=QuarantineTank(GATE)) == {"gramma-loreto": stay}
    assert days_after_gate("gramma-loreto", box=QuarantineTank(GATE), last_fish_day=GATE) == {"gramma-loreto": stay + pause}
    assert days_after_gate("gramma-loreto", box=QuarantineTank(GATE + pause + 1), last_fish_day=GATE) == {"gramma-loreto": stay + pause + 1}
    assert days_after_gate("trochus-maculatus:4", box=QuarantineTank(GATE)) == {"trochus-maculatus": 0}


def test_fish_in_quarantine_move_before_all_others_and_together() -> None:
    found = days_after_gate("amphiprion-ocellaris:2", "gramma-loreto", "nemateleotris-magnifica", box=QuarantineTank(GATE - 100), waiting=frozenset({"gramma-loreto", "nemateleotris-magnifica"}))
    assert found["gramma-loreto"] == found["nemateleotris-magnifica"] < found["amphiprion-ocellaris"]
    boss = days_after_gate("pseudocheilinus-hexataenia", "gramma-loreto", box=QuarantineTank(GATE - 100), waiting=frozenset({"pseudocheilinus-hexataenia"}))
    assert boss["pseudocheilinus-hexataenia"] < boss["gramma-loreto"]


def test_the_first_fish_come_one_wish_alone_and_later_ones_two() -> None:
    first = days_after_gate("gramma-loreto", "nemateleotris-magnifica")
    later = days_after_gate("gramma-loreto", "nemateleotris-magnifica", last_fish_day=GATE - 100, last_day=GATE - 100)
    assert first["gramma-loreto"] < first["nemateleotris-magnifica"] and later["gramma-loreto"] == later["nemateleotris-magnifica"] == 0


def test_once_a_fish_is_in_a_large_one_waits_for_no_small_one() -> None:
    both = ("siganus-vulpinus", "amphiprion-ocellaris:2")
    assert days_after_gate(*both, handled=600.0)["siganus-vulpinus"] > 0 == days_after_gate(*both, handled=600.0, last_fish_day=GATE - 100)["siganus-vulpinus"]


def test_the_wishes_of_a_list_are_placed_up_to_what_the_filter_handles() -> None:
    gives = sum(animal(i).nitrogen_mg_per_day for i in ("gramma-loreto", "nemateleotris-magnifica"))
    assert len(days_after_gate("gramma-loreto", "nemateleotris-magnifica", handled=gives)) == 2 and len(days_after_gate("gramma-loreto", "nemateleotris-magnifica", handled=gives * 0.999)) == 1
    assert len(days_after_gate("gramma-loreto", "nemateleotris-magnifica", handled=None)) == 2


def test_a_burrow_is_shared_by_one_shrimp_and_one_goby() -> None:
    two = days_after_gate("alpheus-bellulus", "cryptocentrus-cinctus", "amblyeleotris-randalli")
    assert two["alpheus-bellulus"] == two["cryptocentrus-cinctus"] != two.get("amblyeleotris-randalli", -1)
    assert days_after_gate("cryptocentrus-cinctus", "alpheus-bellulus")["alpheus-bellulus"] == days_after_gate("cryptocentrus-cinctus", "alpheus-bellulus")["cryptocentrus-cinctus"]
