"""Wish lists judged: one animal, two, the whole list, and what is kept when not all can live together."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from pathlib import Path

import pytest

from planner.show.words.causes import all_words, cause_words
from planner.show.words.wish_list import change_words
from planner.stock.animals import Animal
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.largest_set import Sum, largest_keepable
from planner.stock.neighbours import clashes_between
from planner.stock.sums import claim_l
from planner.stock.verdict import AnimalVerdict, StockVerdict, TankForStock, Wish, judge_wishes
from planner.terms.causes import Amount, Cause, Span, about, cause

RULES = Path(__file__).parents[3] / "rules" / "livestock"
TANK = TankForStock(
    net_volume_l=300, length_cm=120, width_cm=50, sand_kind="fine", sand_depth_cm=5, rock_kg=30, lid=True,
    temperature_c=25.5, light_par=150, experience="first",
)  # fmt: skip


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def _one(catalogue: Catalogue, animal_id: str, tank: TankForStock = TANK, count: int = 1) -> AnimalVerdict:
    return judge_wishes(tank, [Wish(animal_id, count)], catalogue, 300.0).animals[0]


def _codes(verdict: AnimalVerdict, weight: str) -> set[str]:
    return {r.code for r in verdict.reasons if r.weight == weight}


def _judge(catalogue: Catalogue, *ids: str, tank: TankForStock = TANK, handled: float | None = 300.0) -> StockVerdict:
    return judge_wishes(tank, [Wish(i) for i in ids], catalogue, handled)


@pytest.mark.parametrize("animal_id", ["amphiprion-ocellaris", "gramma-loreto", "trochus-maculatus", "discosoma-spp"])
def test_a_beginners_animal_fits_a_well_described_tank(animal_id: str, catalogue: Catalogue) -> None:
    assert _one(catalogue, animal_id).verdict == "fits"


@pytest.mark.parametrize(
    ("animal_id", "code"),
    [
        ("paracanthurus-hepatus", "room"),
        ("lythrypnus-dalli", "warmth"),
        ("synchiropus-splendidus", "skill"),
        ("chromis-viridis", "number"),
    ],
)
def test_an_animal_is_refused_with_its_reason_and_the_smallest_change(
    animal_id: str, code: str, catalogue: Catalogue
) -> None:
    verdict = _one(catalogue, animal_id)
    assert verdict.verdict == "refused" and code in _codes(verdict, "refuses")
    assert all(r.change for r in verdict.reasons if r.weight == "refuses")


@pytest.mark.parametrize(
    ("animal_id", "field", "code"),
    [
        ("nemateleotris-magnifica", "lid", "lid"),
        ("cryptocentrus-cinctus", "sand_depth_cm", "sand"),
        ("gramma-loreto", "length_cm", "run"),
        ("gramma-loreto", "temperature_c", "warmth"),
        ("gramma-loreto", "rock_kg", "cover"),
        ("discosoma-spp", "light_par", "light"),
    ],
)
def test_what_the_tank_file_does_not_say_becomes_a_question_and_never_a_yes(
    animal_id: str, field: str, code: str, catalogue: Catalogue
) -> None:
    assert _one(catalogue, animal_id).verdict == "fits"
    verdict = _one(catalogue, animal_id, replace(TANK, **{field: None}))
    assert verdict.verdict == "with_conditions" and code in _codes(verdict, "condition")
    assert any(cause_words(r.why, "metric").startswith("Tell us") for r in verdict.reasons)


@pytest.mark.parametrize(
    ("animal_id", "change", "code", "weight"),
    [
        ("nemateleotris-magnifica", {"lid": False}, "lid", "condition"),
        ("cryptocentrus-cinctus", {"sand_kind": "none"}, "sand", "refuses"),
        ("cryptocentrus-cinctus", {"sand_depth_cm": 2.0}, "sand", "condition"),
        ("cryptocentrus-cinctus", {"sand_kind": "coarse"}, "grain", "condition"),
        ("cryptocentrus-cinctus", {"sand_kind": "coarse", "sand_depth_cm": 2.0}, "grain", "condition"),
        ("gramma-loreto", {"length_cm": 59.0}, "run", "refuses"),
        ("gramma-loreto", {"net_volume_l": 61.0}, "room", "refuses"),  # 65 L less a twentieth is 61.75 L
        ("gramma-loreto", {"temperature_c": 28.0}, "warmth", "condition"),
        ("gramma-loreto", {"temperature_c": 28.1}, "warmth", "refuses"),
        ("gramma-loreto", {"rock_kg": 3.0}, "cover", "condition"),
        ("discosoma-spp", {"light_par": 29.0}, "light", "condition"),
        ("discosoma-spp", {"light_par": 14.0}, "light", "refuses"),
    ],
)
def test_each_trait_of_the_tank_is_judged_at_its_limit(
    animal_id: str, change: dict[str, object], code: str, weight: str, catalogue: Catalogue
) -> None:
    verdict = _one(catalogue, animal_id, replace(TANK, **change))  # type: ignore[arg-type]
    assert code in _codes(verdict, weight)


def test_people_are_warned_of_poison_and_of_papers(catalogue: Catalogue) -> None:
    buttons = _one(catalogue, "zoanthus-spp")
    text = " ".join(all_words((r.why for r in buttons.reasons), "metric"))
    assert "gloves and goggles" in text and "emergency number first" in text and "never boil" in text.lower()
    assert any(r.code == "permit" and "CITES" in (said := cause_words(r.why, "metric")) and "Never release it" in said for r in _one(catalogue, "caulastraea-furcata").reasons)


def test_an_animal_that_is_guarded_or_has_become_an_invader_says_so(catalogue: Catalogue) -> None:
    for animal, word in (("pterapogon-kauderni", "Endangered"), ("pterois-volitans", "invaded")):
        told = [cause_words(r.why, "metric") for r in _one(catalogue, animal).reasons if r.code == "law"]
        assert len(told) == 1 and word in told[0] and "local law" in told[0] and "never release" in told[0]
    assert not any(r.code == "law" for r in _one(catalogue, "gramma-loreto").reasons)


def test_experience_opens_what_a_first_tank_does_not(catalogue: Catalogue) -> None:
    seen = [
        _one(catalogue, "stichodactyla-haddoni", replace(TANK, experience=level, light_par=300)).verdict
        for level in ("first", "some", "seasoned")
    ]
    assert seen == ["refused", "refused", "with_conditions"]


def test_partners_are_exceptions_that_others_of_their_size_are_not(catalogue: Catalogue) -> None:
    shrimp, goby, carpet = (catalogue.get(i) for i in ("alpheus-bellulus", "cryptocentrus-cinctus", "stichodactyla-haddoni"))
    clown, gramma = catalogue.get("amphiprion-ocellaris"), catalogue.get("gramma-loreto")
    assert shrimp and goby and carpet and clown and gramma
    hunting_goby = replace(goby, eats=("shrimp",))
    assert clashes_between(shrimp, hunting_goby, 300, 120, catalogue.figures) == ()
    assert clashes_between(carpet, clown, 300, 120, catalogue.figures) == ()
    assert [c.hard for c in clashes_between(carpet, gramma, 300, 120, catalogue.figures)] == [True]


def test_the_mouth_decides_who_is_food(catalogue: Catalogue) -> None:
    """A grown comet of 16 cm with a gape of 0.4 takes 6.4 cm of ordinary build and half again, 9.6 cm, of a slender one."""
    comet = catalogue.get("calloplesiops-altivelis")
    damsel = catalogue.get("chrysiptera-parasema")
    assert comet is not None and damsel is not None

    def eaten(size_cm: float, body: str) -> bool:
        prey: Animal = replace(damsel, adult_cm=size_cm, body=body)
        return any(c.kind == "eats" and c.hard for c in clashes_between(comet, prey, 300, 120, catalogue.figures))

    assert [eaten(s, "perch") for s in (6.4, 6.5)] == [True, False]
    assert [eaten(s, "slim") for s in (9.6, 9.7)] == [True, False]


def test_rivals_make_peace_in_a_tank_that_is_large_enough(catalogue: Catalogue) -> None:
    yellow, scopas = catalogue.get("zebrasoma-flavescens"), catalogue.get("zebrasoma-scopas")
    assert yellow and scopas and yellow.room_l == 260
    hard = [clashes_between(yellow, scopas, v, 300, catalogue.figures)[0].hard for v in (779, 780)]
    assert hard == [True, False]


def test_keep_honours_the_order_of_the_list(catalogue: Catalogue) -> None:
    kept = _judge(catalogue, "amphiprion-ocellaris", "amphiprion-frenatus", "gramma-loreto").keep
    assert [w.animal_id for w in kept] == ["amphiprion-ocellaris", "gramma-loreto"]
    turned = _judge(catalogue, "amphiprion-frenatus", "amphiprion-ocellaris", "gramma-loreto").keep
    assert [w.animal_id for w in turned] == ["amphiprion-frenatus", "gramma-loreto"]


def test_more_animals_beat_an_earlier_one_that_stands_in_their_way(catalogue: Catalogue) -> None:
    """The boxer is first on the list but cannot live with either of two other shrimp."""
    verdict = _judge(catalogue, "stenopus-hispidus", "lysmata-amboinensis", "lysmata-debelius")
    assert [w.animal_id for w in verdict.keep] == ["lysmata-amboinensis", "lysmata-debelius"]
    left = verdict.left_out[0]
    assert left.animal_id == "stenopus-hispidus" and "giving up the skunk cleaner shrimp and fire shrimp" in change_words(left, "metric")


def test_nobody_in_keep_clashes_and_what_is_left_out_says_what_would_admit_it(catalogue: Catalogue) -> None:
    rng = random.Random(3)
    for _ in range(20):
        ids = rng.sample([a.id for a in catalogue.animals], 14)
        verdict = _judge(catalogue, *ids, tank=replace(TANK, experience="seasoned", light_par=300))
        kept = {w.animal_id for w in verdict.keep}
        assert not any(set(c.between) <= kept for c in verdict.conflicts)
        refused = {a.animal_id for a in verdict.animals if a.verdict == "refused"}
        assert not refused & kept and kept | {x.animal_id for x in verdict.left_out} == set(ids)
        assert all(x.why and x.smallest_change for x in verdict.left_out)


def test_what_is_offered_instead_fits_and_clashes_with_nobody_kept(catalogue: Catalogue) -> None:
    verdict = _judge(catalogue, "amphiprion-ocellaris", "gramma-loreto", "pterois-volitans", "gramma-melacara", tank=replace(TANK, net_volume_l=150, length_cm=90))
    offers = [i for left in verdict.left_out for i in left.instead]
    assert offers
    again = _judge(catalogue, *(w.animal_id for w in verdict.keep), offers[0], tank=replace(TANK, net_volume_l=150, length_cm=90))
    number_asked = catalogue.get(offers[0])
    assert number_asked is not None and not again.conflicts


def test_the_sums_are_two_sentences_and_name_both_sides(catalogue: Catalogue) -> None:
    """Two 8 cm clownfish: mass 0.0155 x 512 = 7.94 g each, 8.28 mg x (0.794)^0.77 = 6.93 mg/day each."""
    sums = judge_wishes(TANK, [Wish("amphiprion-ocellaris", 2)], catalogue, 300.0).sums
    assert sums.nitrogen_given_mg_per_day == pytest.approx(13.86, abs=0.02)
    nitrogen, room = all_words((sums.nitrogen_told, sums.room_told), "metric")
    assert "14 mg" in nitrogen and "300 mg" in nitrogen
    assert "65 L" in room and "300 L" in room
    assert nitrogen.count(".") == 2 and room.count(".") == 1 and "%" not in nitrogen + room
    unknown = judge_wishes(TANK, [Wish("amphiprion-ocellaris", 2)], catalogue, None).sums
    assert "not known" in cause_words(unknown.nitrogen_told, "metric")


def test_a_list_that_gives_more_nitrogen_than_is_handled_is_cut_to_fit(catalogue: Catalogue) -> None:
    verdict = _judge(catalogue, "zebrasoma-flavescens", "gramma-loreto", "nemateleotris-magnifica", handled=20.0)
    assert [w.animal_id for w in verdict.keep] == ["gramma-loreto", "nemateleotris-magnifica"]
    assert "mg of nitrogen a day" in cause_words(verdict.left_out[0].why, "metric") and "proved" in change_words(verdict.left_out[0], "metric")


def test_wishes_for_one_animal_are_added_up_and_strangers_are_named(catalogue: Catalogue) -> None:
    verdict = judge_wishes(TANK, [Wish("trochus-maculatus", 2), Wish("no-such-fish"), Wish("trochus-maculatus", 3)], catalogue)
    assert [(a.animal_id, a.count) for a in verdict.animals] == [("trochus-maculatus", 5)]
    assert verdict.unknown == ("no-such-fish",)
    with pytest.raises(ValueError, match="no-such|0 of"):
        judge_wishes(TANK, [Wish("trochus-maculatus", 0)], catalogue)


def test_an_empty_list_is_judged_too(catalogue: Catalogue) -> None:
    verdict = judge_wishes(TANK, [], catalogue, None)
    assert verdict.keep == () and verdict.animals == () and verdict.sums.nitrogen_given_mg_per_day == 0


def test_the_largest_set_says_so_when_its_search_is_cut_short() -> None:
    rng = random.Random(5)
    excludes = [0] * 40
    for i, j in itertools.combinations(range(40), 2):
        if rng.random() < 0.15:
            excludes[i] |= 1 << j
    sums = [Sum(tuple(rng.random() for _ in range(40)), 6.0)]
    cut = largest_keepable(excludes, sums, most_steps=5)
    assert not cut.proved
    assert sum(sums[0].weights[i] for i in cut.indices) <= 6.0
    assert not any(excludes[i] >> j & 1 or excludes[j] >> i & 1 for i, j in itertools.combinations(cut.indices, 2))


def test_negative_weights_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        largest_keepable([0], [Sum((-1.0,), 5.0)])


def test_a_pair_claims_a_quarter_more_than_one_and_a_fierce_fish_more_than_a_mild_one(catalogue: Catalogue) -> None:
    """Claims by hand: clownfish 0.15 x 65 L = 9.75, a pair 12.19; sixline 0.4 x 100 L = 40."""
    clown, sixline = catalogue.get("amphiprion-ocellaris"), catalogue.get("pseudocheilinus-hexataenia")
    assert clown is not None and sixline is not None
    assert claim_l(clown, 1, catalogue.figures) == pytest.approx(9.75)
    assert claim_l(clown, 2, catalogue.figures) == pytest.approx(12.1875)
    assert claim_l(sixline, 1, catalogue.figures) == pytest.approx(40)


def test_claims_beyond_the_volume_leave_the_last_wish_out_and_name_the_volume(catalogue: Catalogue) -> None:
    """Two anthias groups and a tang in 260 L: 7 anthias claim 0.25 x 260 x 2.5 = 162.5 L, the tang 65, five chromis 57."""
    wishes = [Wish("pseudanthias-squamipinnis", 7), Wish("zebrasoma-flavescens"), Wish("chromis-viridis", 5)]
    verdict = judge_wishes(replace(TANK, net_volume_l=260), wishes, catalogue, None)
    assert [w.animal_id for w in verdict.keep] == ["pseudanthias-squamipinnis", "zebrasoma-flavescens"]
    assert change_words(verdict.left_out[0], "metric") == "a tank with 285 L of water"


def test_a_rival_left_out_comes_in_for_the_other_or_in_a_larger_tank(catalogue: Catalogue) -> None:
    verdict = _judge(catalogue, "zebrasoma-flavescens", "zebrasoma-scopas")
    assert change_words(verdict.left_out[0], "metric") == "giving up the yellow tang, or a tank with 780 L of water"


def test_a_guest_is_told_of_its_host_and_a_refused_neighbour_adds_no_condition(catalogue: Catalogue) -> None:
    verdict = _judge(catalogue, "amphiprion-ocellaris", "entacmaea-quadricolor", "synchiropus-splendidus")
    by_id = {a.animal_id: a for a in verdict.animals}
    assert "It shares a home with the bubble-tip anemone and is safe from its sting." in all_words((r.why for r in by_id["amphiprion-ocellaris"].reasons), "metric")
    assert by_id["synchiropus-splendidus"].verdict == "refused"
    assert "may_eat" not in _codes(by_id["entacmaea-quadricolor"], "condition")


def test_a_tank_a_twentieth_below_a_round_step_of_room_is_large_enough(catalogue: Catalogue) -> None:
    assert "room" not in _codes(_one(catalogue, "gramma-loreto", replace(TANK, net_volume_l=62.0)), "refuses")


@pytest.mark.parametrize(("why", "metric", "us"), [
    # 1 US gal = 3.785411784 L, 1 in = 2.54 cm, 1 lb = 453.59237 g (NIST SP 811, appendix B); °F = 1.8 °C + 32
    (cause("room_and_run_short", grown=Amount(9.5, "cm"), room=about(65.2, "L"), run=about(60, "cm"), there=about(40, "L"), length=Amount(45.5, "cm")),
     "Fully grown (9.5 cm) it needs about 65 L of water and 60 cm of length to swim. Your tank has 40 L and 45.5 cm.",
     "Fully grown (3.7 in) it needs about 17 gal of water and 24 in of length to swim. Your tank has 11 gal and 18 in."),
    (cause("too_warm_or_cold", band=Span(22, 25, "°C"), there=Amount(25.5, "°C")), "It lives at 22 to 25 °C, and your tank is at 25.5 °C.", "It lives at 71.6 to 77 °F, and your tank is at 77.9 °F."),
    (cause("more_rock", needed=about(15, "kg")), "15 kg of rock", "33 lb of rock"),
    (cause("more_ground", floor=Amount(0.5, "m²")), "a tank with 0.50 m² of floor, or one colony less", "a tank with 0.50 m² of floor, or one colony less"),
])
def test_causes_of_the_verdict_are_told_in_the_buyers_units(why: Cause, metric: str, us: str) -> None:
    assert (cause_words(why, "us"), cause_words(why, "metric")) == (us, metric)


def test_the_grain_of_sand_is_asked_for_where_something_digs_deep_in_sand_that_is_there(catalogue: Catalogue) -> None:
    def grain(animal_id: str, **sand: object) -> bool:
        return any(r.code == "grain" for r in _one(catalogue, animal_id, replace(TANK, **sand)).reasons)

    shallow = next(a.id for a in catalogue.animals if 0 < a.sand_cm < 5)
    assert grain("cryptocentrus-cinctus", sand_kind=None) and not grain(shallow, sand_kind="coarse")
    assert not grain("cryptocentrus-cinctus", sand_kind="none") and not grain("cryptocentrus-cinctus", sand_kind="coarse", sand_depth_cm=0.0)
