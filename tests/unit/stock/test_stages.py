"""Stages: who goes in when, why, and what holds them back."""

from __future__ import annotations

import itertools
import random
from pathlib import Path

import pytest

from planner.show.words.causes import all_words, cause_words
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.stages.ammonia import Proof, Water
from planner.stock.stages.filter import FilterCare
from planner.stock.stages.order import plan_stages
from planner.stock.stages.records import QuarantineTank, StageDays, StagePlan
from planner.stock.stages.search import Limits, Quarantine, Unit, solve_stages
from planner.stock.verdict import Wish

RULES = Path(__file__).parents[3] / "rules" / "livestock"
GATE = 740_000  # an ordinal; 740_000 % 7 == 2
FILLED = GATE - 45


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def any_day(day: int) -> int | None:
    return day


def _plan(
    catalogue: Catalogue, *wishes: str, quarantine: QuarantineTank | None = None, handled: float | None = 300.0
) -> StagePlan:
    listed = [Wish(w.split(":")[0], int((w.split(":") + ["1"])[1])) for w in wishes]
    return plan_stages(listed, catalogue, StageDays(GATE, FILLED, any_day), quarantine, handled)


def _after_gate(plan: StagePlan) -> dict[str, int]:
    return {w.animal_id: s.day - GATE for s in plan.stages for w in s.wishes}


def test_crew_comes_first_then_one_wish_for_fish_then_two(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "amphiprion-ocellaris:2", "gramma-loreto", "nemateleotris-magnifica", "trochus-maculatus:4")
    assert _after_gate(plan) == {
        "trochus-maculatus": 0, "amphiprion-ocellaris": 14, "gramma-loreto": 28, "nemateleotris-magnifica": 28,
    }  # fmt: skip
    assert plan.proved and [s.number for s in plan.stages] == [1, 2, 3]


def test_groups_wait_after_the_gate_and_animals_for_the_age_of_the_tank(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "discosoma-spp", "caulastraea-furcata", "montipora-digitata", "synchiropus-splendidus", "zebrasoma-flavescens")
    assert _after_gate(plan) == {
        "discosoma-spp": 28,
        "caulastraea-furcata": 56,
        "zebrasoma-flavescens": 120 - 45,
        "montipora-digitata": 182,
        "synchiropus-splendidus": 300 - 45,
    }


def test_the_boss_comes_after_everyone_gentler_and_two_rivals_go_in_by_size(catalogue: Catalogue) -> None:
    days = _after_gate(_plan(catalogue, "pseudocheilinus-hexataenia", "amphiprion-ocellaris", "gramma-loreto"))
    assert days["pseudocheilinus-hexataenia"] > max(days["amphiprion-ocellaris"], days["gramma-loreto"])
    tangs = _after_gate(_plan(catalogue, "ctenochaetus-tominiensis", "ctenochaetus-strigosus"))
    assert tangs["ctenochaetus-strigosus"] < tangs["ctenochaetus-tominiensis"]


def test_goby_and_shrimp_move_in_together_and_a_pair_is_not_split(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "alpheus-bellulus", "amphiprion-ocellaris:2", "cryptocentrus-cinctus")
    days = _after_gate(plan)
    assert days["alpheus-bellulus"] == days["cryptocentrus-cinctus"]
    assert [w.count for s in plan.stages for w in s.wishes if w.animal_id == "amphiprion-ocellaris"] == [2]
    assert any("share a burrow" in text for s in plan.stages for text in all_words(s.because, "metric"))


def test_one_quarantine_tank_takes_one_batch_after_the_other(catalogue: Catalogue) -> None:
    fish = ("amphiprion-ocellaris:2", "gramma-loreto", "nemateleotris-magnifica", "ecsenius-bicolor")
    plan = _plan(catalogue, *fish, quarantine=QuarantineTank(GATE - 42))
    stages = [s for s in plan.stages if s.quarantine_from is not None]
    assert [s.day - GATE for s in stages] == [0, 45, 90]  # 42 days in quarantine and 3 days' pause each
    for s, following in itertools.pairwise(stages):
        assert s.quarantine_from is not None and following.quarantine_from is not None
        assert s.day - s.quarantine_from >= 42 and following.quarantine_from >= s.day + 3
        assert "its fish spend 42 days in quarantine, and the last batch must leave first" in cause_words(following.because[0], "metric")
    assert all(not s.risk for s in plan.stages)


def test_fish_go_into_quarantine_as_late_as_their_move_allows(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "gramma-loreto", quarantine=QuarantineTank(GATE - 100))
    (stage,) = plan.stages
    assert (stage.day, stage.quarantine_from) == (GATE, GATE - 42)


def test_a_large_fish_is_never_the_first_where_the_list_has_a_small_one(catalogue: Catalogue) -> None:
    # Foxfaces grow to some 20 cm and are placid; shops still begin with a small fish (common practice, no source).
    aged = StageDays(GATE, GATE - 400, any_day)  # old enough for either, so that nothing but its size holds the large one back
    both = plan_stages([Wish("siganus-vulpinus", 1), Wish("amphiprion-ocellaris", 2)], catalogue, aged, None, 600.0)
    assert [w.animal_id for s in both.stages for w in s.wishes] == ["amphiprion-ocellaris", "siganus-vulpinus"]
    assert [w.animal_id for s in _plan(catalogue, "siganus-vulpinus").stages for w in s.wishes] == ["siganus-vulpinus"]


def test_without_quarantine_the_first_stage_with_fish_says_what_that_risks(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "trochus-maculatus", "amphiprion-ocellaris", "gramma-loreto")
    assert [bool(s.risk) for s in plan.stages] == [False, True, False]


def test_a_stage_adds_no_more_than_its_share_of_what_the_filter_handles(catalogue: Catalogue) -> None:
    """A quarter of 40 mg is 10 mg: neon goby 0.9, gramma 3.6 and firefish 2.3 mg a day are light. A quarter of 30 mg is
    7.5: the clownfish gives 6.9, so the goby does not fit beside it; the midas blenny alone is more and goes alone."""
    light = _plan(catalogue, "elacatinus-oceanops", "gramma-loreto", "nemateleotris-magnifica", handled=40.0)
    assert len(light.stages) == 2
    heavy = _plan(catalogue, "elacatinus-oceanops", "ecsenius-midas", "amphiprion-ocellaris", handled=30.0)
    assert len(heavy.stages) == 3
    assert all(s.nitrogen_added_mg_per_day <= 7.5 or len(s.wishes) == 1 for s in heavy.stages)


def test_a_bold_fish_does_not_wait_for_a_gentle_one_that_must_come_months_later(catalogue: Catalogue) -> None:
    days = _after_gate(_plan(catalogue, "synchiropus-splendidus", "halichoeres-melanurus", "pseudocheilinus-hexataenia"))
    assert days["halichoeres-melanurus"] < days["pseudocheilinus-hexataenia"] < days["synchiropus-splendidus"]


def test_wishes_beyond_what_the_filter_handles_are_returned(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "amphiprion-ocellaris:2", "zebrasoma-flavescens", "gramma-loreto", handled=20.0)
    assert [w.animal_id for w, _ in plan.not_placed] == ["zebrasoma-flavescens"]
    assert plan.stages[-1].nitrogen_mg_per_day <= 20


def test_shopping_days_and_absences_move_a_stage_and_the_stage_says_so(catalogue: Catalogue) -> None:
    def saturdays_but_not_in_march(day: int) -> int | None:
        return next(d for d in range(day, day + 60) if d % 7 == 5 and not GATE + 10 <= d < GATE + 40)

    days = StageDays(GATE, FILLED, saturdays_but_not_in_march)
    stages = plan_stages([Wish("trochus-maculatus"), Wish("gramma-loreto")], catalogue, days).stages
    assert [s.day - GATE for s in stages] == [3, 45]
    assert all(f"It comes {days} days later, because no day before suits your shopping days and absences." in cause_words(s.why_then, "metric") for s, days in zip(stages, (3, 28), strict=True))


def test_every_stage_says_why_then_and_why_together(catalogue: Catalogue) -> None:
    plan = _plan(catalogue, "trochus-maculatus", "amphiprion-ocellaris:2", "gramma-loreto", "zoanthus-spp", "pseudocheilinus-hexataenia")
    assert all(cause_words(s.why_then, "metric").startswith("This day, because") and s.why_together for s in plan.stages)
    assert any("The ocellaris clownfish comes after the banded trochus snail, which should settle first." in cause_words(s.why_then, "metric") for s in plan.stages)


def test_no_usable_day_leaves_the_latest_wish_unplaced_and_places_the_rest(catalogue: Catalogue) -> None:
    days = StageDays(GATE, FILLED, lambda d: d if d <= GATE + 60 else None)
    plan = plan_stages([Wish("trochus-maculatus"), Wish("montipora-digitata")], catalogue, days)
    assert [w.animal_id for s in plan.stages for w in s.wishes] == ["trochus-maculatus"]
    assert [w.animal_id for w, _ in plan.not_placed] == ["montipora-digitata"]


def test_the_earlier_wish_goes_first_among_equals(catalogue: Catalogue) -> None:
    one = _after_gate(_plan(catalogue, "gramma-loreto", "nemateleotris-magnifica"))
    other = _after_gate(_plan(catalogue, "nemateleotris-magnifica", "gramma-loreto"))
    assert one["gramma-loreto"] == 0 and other["nemateleotris-magnifica"] == 0


def test_moving_every_day_moves_every_stage_by_as_much(catalogue: Catalogue) -> None:
    listed = [Wish(i) for i in ("trochus-maculatus", "gramma-loreto", "zebrasoma-flavescens", "discosoma-spp")]
    here = plan_stages(listed, catalogue, StageDays(GATE, FILLED, any_day)).stages
    there = plan_stages(listed, catalogue, StageDays(GATE + 70, FILLED + 70, any_day)).stages
    assert [s.day + 70 for s in here] == [s.day for s in there]
    assert [s.wishes for s in here] == [s.wishes for s in there]


def test_a_circle_of_orders_has_no_plan() -> None:
    units = [Unit(0, 0, 1, after=2), Unit(0, 0, 1, after=1)]
    assert solve_stages(units, Limits(14, (2, 3, 4), 1, 10), None, any_day) is None


def test_a_single_heavy_unit_may_exceed_the_share_but_only_alone() -> None:
    units = [Unit(0, 0, 50), Unit(0, 0, 3), Unit(0, 0, 3)]
    solution = solve_stages(units, Limits(14, (3, 3, 4), 3, 10), None, any_day)
    assert solution is not None and solution.days == (0, 14, 14)


@pytest.mark.slow
def test_no_wish_of_a_long_list_is_lost_to_a_search_that_is_cut_short(catalogue: Catalogue) -> None:
    care = FilterCare(Water(600.0, 8.2, 25.5, 35.0), Proof(1.0, 0.25, 1.0, 7.0))
    names = [a.id for a in catalogue.animals if a.skill in ("easy", "attentive")]
    days = StageDays(GATE, FILLED, lambda d: d + (5 - d) % 7)
    for seed in range(4):
        listed = [Wish(i) for i in random.Random(seed).sample(names, 35)]
        for box, filter in itertools.product((None, QuarantineTank(GATE - 42)), (None, care)):
            plan = plan_stages(listed, catalogue, days, box, None, filter)
            assert not plan.not_placed and {w for s in plan.stages for w in s.wishes} == set(listed)


def test_a_search_that_is_cut_short_still_gives_a_plan_that_keeps_every_rule_and_says_so() -> None:
    units = [Unit((i * 13) % 60, i % 3, (i * 7) % 10 if i % 3 == 0 else 0) for i in range(45)]
    limits = Limits(14, (2, 3, 4), 1, 12)
    box = Quarantine(0, 42, 3)
    solution = solve_stages(units, limits, box, any_day, most_labels=50)
    assert solution is not None and not solution.proved
    days = sorted(set(solution.days))
    assert solution.last_day_at_best <= days[-1]
    assert all(b - a >= 14 for a, b in itertools.pairwise(days))
    for day in days:
        inside = [u for u, d in zip(units, solution.days, strict=True) if d == day]
        assert all(u.release <= day for u in inside)
        assert all(sum(u.sort == s for u in inside) <= m for s, m in enumerate((2, 3, 4)))
        loads = [u.load for u in inside if u.load]
        assert sum(loads) <= 12 or len(loads) == 1
    fish_days = sorted({d for u, d in zip(units, solution.days, strict=True) if u.sort == 0})
    assert fish_days[0] >= 42 and all(b - a >= 45 for a, b in itertools.pairwise(fish_days))


def test_fish_crew_and_each_group_of_corals_have_days_of_their_own(catalogue: Catalogue) -> None:
    listed = ("amphiprion-ocellaris:2", "gramma-loreto", "lysmata-amboinensis:2", "discosoma-spp", "sarcophyton-glaucum", "caulastraea-furcata", "montipora-digitata")
    plan = _plan(catalogue, *listed)
    kinds = [{catalogue.get(w.animal_id).group for w in s.wishes} for s in plan.stages]  # type: ignore[union-attr]
    assert all(len(groups) == 1 for groups in kinds)
    assert {"discosoma-spp", "sarcophyton-glaucum"} in [{w.animal_id for w in s.wishes} for s in plan.stages]
    assert any("have their own days" in text for s in plan.stages for text in all_words(s.because, "metric"))


def test_fish_wait_for_crew_that_comes_within_four_weeks_and_not_for_later_crew(catalogue: Catalogue) -> None:
    def first_fish(crew_floor: int) -> int:
        days = StageDays(GATE, FILLED, any_day, floors=(GATE + 7, 0, GATE + crew_floor))
        plan = plan_stages([Wish("amphiprion-ocellaris", 2), Wish("trochus-maculatus", 4)], catalogue, days, None, 300.0)
        return _after_gate(plan)["amphiprion-ocellaris"]

    assert (first_fish(10), first_fish(35), first_fish(36)) == (24, 49, 7)


def test_the_stage_whose_way_is_clear_keeps_its_animals_and_is_only_put_off(catalogue: Catalogue) -> None:
    wishes = [Wish("ecsenius-stigmatura", 1), Wish("gramma-loreto", 1), Wish("nemateleotris-magnifica", 1)]
    free = plan_stages(wishes, catalogue, StageDays(GATE, FILLED, any_day), None, 300.0)
    stands = frozenset({"nemateleotris-magnifica"})
    assert {w.animal_id for w in free.stages[0].wishes} != stands
    kept = plan_stages(wishes, catalogue, StageDays(GATE, FILLED, any_day, next_ids=stands, next_day=GATE + 5), None, 300.0)
    assert ({w.animal_id for w in kept.stages[0].wishes}, kept.stages[0].day) == (stands, GATE + 5)
    late = plan_stages(wishes, catalogue, StageDays(GATE, FILLED, any_day, next_ids=stands, next_day=GATE + 5, today=GATE + 9), None, 300.0)
    assert ({w.animal_id for w in late.stages[0].wishes}, late.stages[0].day) == (stands, GATE + 9)
