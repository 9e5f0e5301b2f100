"""What a stage does to the ammonia, and how the stages keep within what the filter takes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.science.cycle.step import Members, effective_growth_per_d
from planner.show.words.causes import cause_words
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.stages.ammonia import SLOW, Proof, Water, growth_rates, nh3_after_stage, resting_mg_n_l, slow_strength, tanks_ahead
from planner.stock.stages.filter import FilterCare
from planner.stock.stages.order import plan_stages
from planner.stock.stages.records import QuarantineTank, StageDays, StagePlan
from planner.stock.verdict import Wish

RULES = Path(__file__).parents[3] / "rules" / "livestock"
GATE = 740_000
PROOF = Proof(1.0, 0.25, 1.0, 7.0)


def water(net_l: float = 100.0, ph: float = 8.2) -> Water:
    return Water(net_l, ph, 25.5, 35.0)


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def planned(catalogue: Catalogue, care: FilterCare, *wishes: str, quarantine: bool = False) -> StagePlan:
    listed = [Wish(w.split(":")[0], int((w.split(":") + ["1"])[1])) for w in wishes]
    days = StageDays(GATE, GATE - 45, lambda d: d)
    return plan_stages(listed, catalogue, days, QuarantineTank(GATE - 42) if quarantine else None, 600.0, care)


@settings(max_examples=40, deadline=None)
@given(st.floats(1, 60), st.floats(0, 60), st.floats(20, 500), st.floats(1, 3), st.sampled_from([0, 14, 60]))
def test_more_load_never_gives_less_free_ammonia_and_a_larger_tank_never_more(load: float, more: float, litres: float, wider: float, wait: int) -> None:
    ahead = tanks_ahead(PROOF, water(litres)).live(wait, 1.0)
    low, _ = nh3_after_stage(ahead, load)
    high, _ = nh3_after_stage(ahead, load + more)
    assert all(a <= b + 1e-12 for a, b in zip(low.nh3_mg_l, high.nh3_mg_l, strict=True))
    roomy, _ = nh3_after_stage(tanks_ahead(PROOF, water(litres * wider)).live(wait, 1.0), load)
    assert all(a <= b + 1e-12 for a, b in zip(roomy.nh3_mg_l, low.nh3_mg_l, strict=True))
    assert list(low.nh3_mg_l) == sorted(low.nh3_mg_l)


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 2), st.floats(0, 2), st.integers(0, 400), st.integers(0, 400), st.sampled_from([7.9, 8.2, 8.5]))
def test_what_the_filter_takes_grows_with_what_lives_on_it_and_fades_by_day(before: float, more: float, days: int, later: int, ph: float) -> None:
    strength = slow_strength(PROOF, water(ph=ph), 0.05, 14, 14)
    assert strength.room(before + more, days, 4.0) >= strength.room(before, days, 4.0) - 1e-12
    assert strength.room(before, days + later, 4.0) <= strength.room(before, days, 4.0) + 1e-12
    assert strength.room(before, days, 4.0) <= strength.room(before, days, 3.0) + 1e-12


def test_a_filter_that_was_never_proven_takes_only_what_its_animals_have_fed() -> None:
    bare, proven = (slow_strength(p, water(), 0.05, 14, 14) for p in (None, PROOF))
    assert bare.room(0.0, 0, 0.1) < 0.1 * proven.room(0.0, 0, 0.1)
    assert bare.room(0.2, 30, 0.3) == pytest.approx(bare.room(0.2, 300, 0.3))


def test_a_higher_ph_a_stricter_limit_and_a_long_wait_each_leave_less() -> None:
    most = slow_strength(PROOF, water(), 0.05, 14, 14).room(0.02, 14, 0.1)
    assert slow_strength(PROOF, water(ph=8.4), 0.05, 14, 14).room(0.02, 14, 0.1) < most
    assert slow_strength(PROOF, water(), 0.02, 14, 14).room(0.02, 14, 0.1) < most
    assert slow_strength(PROOF, water(), 0.05, 14, 14).room(0.02, 90, 0.1) < 0.5 * most


PAIR = ("trochus-maculatus:2", "amphiprion-ocellaris:2", "gramma-loreto")


def test_in_a_roomy_tank_the_filter_changes_no_stage_and_each_says_what_it_leads_to(catalogue: Catalogue) -> None:
    plan = planned(catalogue, FilterCare(water(300.0), PROOF), *PAIR)
    bare = plan_stages([w for s in plan.stages for w in s.wishes], catalogue, StageDays(GATE, GATE - 45, lambda d: d), None, 600.0)
    assert [(s.day, s.wishes) for s in plan.stages] == [(s.day, s.wishes) for s in bare.stages]
    assert all(s.rise is not None and s.ration == 1 and "within the limit of 0.035 mg/L." in cause_words(s.why_load, "metric") for s in plan.stages)
    assert all(s.why_load in s.because for s in plan.stages)


def test_after_weeks_with_snails_alone_a_small_tank_takes_a_pair_on_a_smaller_ration_and_rests_longer(catalogue: Catalogue) -> None:
    """1.7 mg of snails keep few bacteria for six weeks of quarantine; 13.8 mg a day in 40 L at pH 8.4 are then too many at once."""
    plan = planned(catalogue, FilterCare(water(40.0, 8.4), PROOF), *PAIR, quarantine=True)
    pair = next(s for s in plan.stages if s.wishes[0].animal_id == "amphiprion-ocellaris")
    assert pair.ration < 1 and "of their usual food for the first 14 days" in cause_words(pair.feeding, "metric") and "Feed less for 14 days, because this stage is a large step for the filter." in cause_words(pair.why_load, "metric")
    following = plan.stages[pair.number]
    assert following.day - pair.day >= 28
    assert pair.rise is not None and pair.rise.nh3_mg_l[2] <= 0.035


def test_two_wishes_that_are_too_much_together_go_in_one_after_the_other(catalogue: Catalogue) -> None:
    """Gramma (3.6 mg a day) and firefish (2.3) share the second stage of fish where the filter takes them, and not in 25 L
    whose filter was never proven and lives on 4 mg a day."""
    def together(litres: float, proof: Proof | None) -> bool:
        plan = planned(catalogue, FilterCare(water(litres, 8.4), proof, ((GATE - 30, 4.0),)), "elacatinus-oceanops", "gramma-loreto", "nemateleotris-magnifica")
        return any({"gramma-loreto", "nemateleotris-magnifica"} <= {w.animal_id for w in s.wishes} for s in plan.stages)

    assert together(200.0, PROOF) and not together(25.0, None)


def test_what_even_the_least_ration_makes_no_better_has_no_stage(catalogue: Catalogue) -> None:
    plan = planned(catalogue, FilterCare(water(30.0, 8.4), None, ((GATE - 30, 0.1),)), "amphiprion-ocellaris:2", "elacatinus-oceanops")
    assert [w.animal_id for w, _ in plan.not_placed] == ["amphiprion-ocellaris"]
    assert "slow filter" in cause_words(plan.not_placed[0][1], "metric")


def test_animals_that_are_in_count_in_what_all_give(catalogue: Catalogue) -> None:
    plan = planned(catalogue, FilterCare(water(200.0), PROOF, ((GATE, 10.0), (GATE + 3, -4.0))), "gramma-loreto")
    assert plan.stages[0].nitrogen_mg_per_day == pytest.approx(6.0 + plan.stages[0].nitrogen_added_mg_per_day)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_no_stage_is_planned_beyond_the_limit_in_the_slow_case(catalogue: Catalogue, data: st.DataObject) -> None:
    names = data.draw(st.lists(st.sampled_from([a.id for a in catalogue.animals if a.skill == "easy"]), min_size=1, max_size=6, unique=True))
    care = FilterCare(water(data.draw(st.floats(20, 300)), data.draw(st.sampled_from([8.0, 8.2, 8.4]))), PROOF)
    plan = planned(catalogue, care, *names, quarantine=data.draw(st.booleans()))
    assert all(s.rise is not None and s.rise.nh3_mg_l[2] <= 0.035 for s in plan.stages)
    placed = {w.animal_id for s in plan.stages for w in s.wishes} | {w.animal_id for w, _ in plan.not_placed}
    assert placed == set(names)


def test_in_a_steady_tank_growth_just_makes_good_the_decay() -> None:
    """Monod: mu S/(K + S) = d at S = K d/(mu - d). Twice the decay leaves more than twice the ammonia; half the half saturation leaves half."""
    kinetics = water().kinetics
    rest = resting_mg_n_l(kinetics)
    mu = kinetics.decay_a_per_d * (kinetics.half_saturation_a_mg_n_l + rest) / rest
    assert resting_mg_n_l(replace(kinetics, half_saturation_a_mg_n_l=kinetics.half_saturation_a_mg_n_l / 2)) == pytest.approx(rest / 2)
    assert resting_mg_n_l(replace(kinetics, decay_a_per_d=2 * kinetics.decay_a_per_d)) > 2 * rest
    # It is the first guild of the slow tank that eats ammonia; how fast the second is changes nothing.
    slow = Members(np.array([[growth_rates([SLOW])[0]], [9.0]]), np.ones((2, 1)), np.zeros(1), np.ones(1))
    assert mu == pytest.approx(float(effective_growth_per_d(slow, kinetics)[0, 0]))
