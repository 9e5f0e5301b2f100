"""Worked values of the care that has no end, each with its source beside it, against the planner's own functions."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from ways_back import ph_at_pco2

from planner.science import ammonia, dilution, dosing, evaporation, molar, reef_air, salts, trouble, use
from planner.science.use import Change, Dose, Sample, State
from planner.terms.units import PO4_PER_P
from planner.terms.written_amounts import nitrogen_factor
from tests.each import over

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "care.csv").read_text(encoding="utf-8").splitlines()))

SEEN = [Sample(t, y, 0.2) for t, y in zip((0, 3, 7, 10, 14), (8.4, 7.8, 7.0, 6.5, 5.7), strict=True)]
FED = [Sample(t, y, 0.2) for t, y in zip((0, 3, 7, 10, 14), (8.2, 7.2, 5.8, 5.8, 5.2), strict=True)]
DOSES = [Dose(7.5 + n, 0.2) for n in range(7)]
CHANGES = [Change(7.01, 0.15, 9.0)]
FREE = ammonia.nh3_fraction(8.2, 26, 35)
AIR_600 = ph_at_pco2(8, 600)


def fit(samples: list[Sample], doses: list[Dose] = [], changes: list[Change] = []) -> use.Fit:  # noqa: B006  # never written to
    found = use.fit_use(samples, doses, changes)
    assert found is not None
    return found


def made_readings() -> str:
    """What a kit of 0.1 would show of a tank that begins at 8.2 dKH and uses 0.35 a day, with those inputs."""
    level, seen = 8.2, []
    events = sorted([(s.t, "read", 0.0, 0.0) for s in FED] + [(d.t, "dose", d.rise, 0.0) for d in DOSES] + [(c.t, "swap", c.share, c.new) for c in CHANGES])
    before = 0.0
    for t, what, one, two in events:
        level, before = level - 0.35 * (t - before), t
        if what == "dose":
            level += one
        elif what == "swap":
            level = level * (1 - one) + one * two
        else:
            seen.append(f"{level + 1e-9:.1f}")
    return " ".join(seen)


def filtered() -> State:
    return use.follow(State(0.0, 8.4, 0.1, 0.04, 0.0, 0.09), SEEN[1:])


def known_share(times: tuple[float, ...], runs: int = 20_000) -> float:
    draw = random.Random(11)
    close = sum(abs(fit([Sample(t, 8 - 0.25 * t + draw.gauss(0, 0.3), 0.3) for t in times]).use - 0.25) <= 0.075 for _ in range(runs))
    return close / runs


SERIES = (8.0 - 6.2) / 4
ANSWERS: dict[str, Callable[[], float]] = {
    "alk_bicarbonate_1dkh_100l": lambda: dosing.bicarbonate_g(100, 1), "alk_carbonate_1dkh_100l": lambda: dosing.carbonate_g(100, 1),
    "alk_mass_ratio_carbonate_to_bicarbonate": lambda: dosing.carbonate_g(100, 1) / dosing.bicarbonate_g(100, 1),
    "alk_lime_1dkh_100l": lambda: salts.lime_g(100, 1), "alk_purity_95pct": lambda: dosing.bicarbonate_g(180, 0.5, 0.95),
    "alk_series_days": lambda: math.ceil((8.0 - 6.2) / 0.5 - 1e-9), "alk_series_daily_grams": lambda: dosing.bicarbonate_g(180, SERIES), "alk_series_with_use": lambda: dosing.bicarbonate_g(180, 0.5 + 0.3),
    "ca_dihydrate_20mg_200l": lambda: dosing.calcium_chloride_g(200, 20), "ca_anhydrous_20mg_200l": lambda: salts.calcium_anhydrous_g(200, 20),
    "ca_wrong_form_error": lambda: 100 * (dosing.calcium_chloride_g(200, 20) / salts.calcium_anhydrous_g(200, 20) - 1),
    "mg_chloride_50mg_200l": lambda: dosing.magnesium_chloride_g(200, 50), "mg_sulfate_50mg_200l": lambda: salts.magnesium_sulfate_g(200, 50),
    "mg_mix_sulfate_mole_share": lambda: 100 * salts.SULFATE_SHARE_OF_MAGNESIUM, "mg_mix_mass_ratio": lambda: salts.magnesium_mix_g(200, 50)[0] / salts.magnesium_mix_g(200, 50)[1],
    "mg_mix_50mg_200l_chloride": lambda: salts.magnesium_mix_g(200, 50)[0], "mg_mix_50mg_200l_sulfate": lambda: salts.magnesium_mix_g(200, 50)[1],
    "balanced_ca_per_meq": lambda: salts.calcium_with_alkalinity_mg_l(molar.DKH_PER_MEQ), "balanced_ca_per_dkh": lambda: salts.calcium_with_alkalinity_mg_l(1),
    **{f"ph_at_8dkh_pco2_{p}": (lambda p=p: ph_at_pco2(8, p)) for p in (420, 600, 800, 1000, 1500)},
    "ph_step_after_equilibrium": lambda: ph_at_pco2(9, 600) - AIR_600, "ph_step_outdoor_air": lambda: ph_at_pco2(8, 420) - ph_at_pco2(8, 1000),
    **{f"omega_aragonite_{a}dkh_ca{c}_ph{p}": (lambda a=a, c=c, p=p: reef_air.aragonite_saturation(a, c, p))
       for a, c, p in ((7, 420, 8.2), (8, 420, 8.2), (12, 450, 8.4), (10, 500, 8.6), (8, 420, 8.3), (9, 440, 8.3), (10, 440, 8.4), (11, 420, 8.3))},
    "nh3_from_tan_025": lambda: ammonia.species_mg_l_from_n(0.25 * FREE, "NH3"), "tan_for_free_005": lambda: 0.05 / ammonia.species_mg_l_from_n(FREE, "NH3"),
    "nh3_factor_ph_up_02": lambda: FREE / ammonia.nh3_fraction(8.0, 26, 35), "nh3_clownfish_harm_as_tan": lambda: 0.57 / FREE,
    "change_single_1_to_025": lambda: 100 * dilution.change_fraction(1.0, 0.25), "change_two_halves": lambda: dilution.concentration_after_changes(1.0, 0.5, 2),
    "change_with_source_nitrate": lambda: 100 * dilution.change_fraction(50, 20, 5), "changes_needed_nitrate": lambda: dilution.changes_needed(60, 20, 0.2),
    "nitrate_steady_peak": lambda: -use.trough(0, 2 / 7, 0.1),
    "alk_step_emergency_half": lambda: dilution.concentration_after_changes(7, 0.5, 1, 10) - 7,
    **{f"salt_down_day{n}": (lambda s=s: 200 * dilution.change_fraction(s, s - 1)) for n, s in ((1, 38), (2, 37), (3, 36))},
    "topup_reservoir_limit": lambda: trouble.topup_reservoir_days(200, 35, 1.0), "saltwater_topup_error": lambda: 2 * 35 / 200, "leak_from_salinity_drift": lambda: use.leak_l_day(200, 35, 0.175),
    "salt_trim_up": lambda: 200 * 38 / 35, "po4_um": lambda: 0.5e-3 * molar.PO4, "po4_um_low": lambda: 0.2e-3 * molar.PO4,
    "no3_um": lambda: 3e-3 * molar.NO3, "np_molar": lambda: 10 / molar.NO3 / (0.05 / molar.PO4),
    "thiosulfate_safe": lambda: salts.thiosulfate_mg(1, 1), "thiosulfate_least": lambda: salts.thiosulfate_mg(1, 1, least=True),
    "do_sat_26": lambda: evaporation.oxygen_saturation_mg_l(35, 26), "do_percent": lambda: 100 * 5.0 / evaporation.oxygen_saturation_mg_l(35, 28.5),
    "cooling_rate_power_cut": lambda: 250 * 0.79 / (trouble.WH_PER_L_K * 250),
    "ice_cooling": lambda: trouble.ice_cooling_k(1, 200, 27),
    "dhw_two_weeks_plus1": lambda: trouble.heat_memory([1.0] * 14), "dhw_mixed": lambda: trouble.heat_memory([1.0, 2.0, 0.8, 1.2]),
    "salt_bucket_weeks": lambda: trouble.weeks_left(20_000, 0.3 * 200 * 38, 20 * 38), "kit_days": lambda: 7 * trouble.weeks_left(50, 0, 2.5, 0.2),
    "use_plain_slope": lambda: fit(SEEN).use, "use_plain_se": lambda: fit(SEEN).use_se, "use_with_inputs_slope": lambda: fit(FED, DOSES, CHANGES).use, "use_inputs_ignored": lambda: fit(FED).use,
    "use_with_inputs_se": lambda: fit(FED, DOSES, CHANGES).use_se,
    "ca_use_combined": lambda: use.combined((0.3 * salts.CALCIUM_MG_L_PER_DKH, 0.06 * salts.CALCIUM_MG_L_PER_DKH), (3.4, 1.515))[0],
    "dose_first_week": lambda: dosing.bicarbonate_g(180, use.next_dose(0.3, None, first_share=0.8, most_step=0.25, most=1.0)),
    "dose_ca_partner": lambda: dosing.calcium_chloride_g(180, salts.calcium_with_alkalinity_mg_l(0.24)), "forecast_after_week": lambda: use.level_band(7.8, 0.15, 0.3, 0.05, 0.24, 7)[0],
    "evap_mad_limit": lambda: 2.0 + 3 * 1.4826 * use.median_and_spread([2.1, 1.9, 2.0, 2.2, 2.0, 1.8, 2.1])[1], "change_only_holds_use": lambda: use.most_use_held(9.0, 7.5, 0.1),
    "trough_with_changes_only": lambda: use.trough(9.0, 0.05, 0.1), "topup_reservoir_days": lambda: trouble.topup_reservoir_days(200, 35, 2.0), "lime_paste_cap": lambda: salts.lime_g(100, 0.25),
    "calcium_at_35": lambda: salts.value_at_35(390, 33), "alk_overdose_change": lambda: 100 * dilution.change_fraction(14, 11, 8), "tap_water_antidote": lambda: salts.thiosulfate_mg(20, 1.0),
    "pco2_from_ph": lambda: reef_air.pco2_uatm(8, 7.9, 26), "pco2_from_ph_low_alk": lambda: reef_air.pco2_uatm(5, 7.9, 26),
    "kalman_level": lambda: filtered().level, "kalman_use": lambda: filtered().use, "kalman_use_sd": lambda: math.sqrt(filtered().p_use),
    "known_within_30pct_3_readings": lambda: known_share((0, 3, 7)), "known_within_30pct_5_readings": lambda: known_share((0, 3, 7, 10, 14)),
}
NOT_OURS = {
    "use_with_inputs_readings": "readings made from the truth: an input of the rows after it, tried below",
    "balanced_ca_mixed_community": "measured of a reef flat; the planner reckons with skeletons alone, within 20 %",
    "mg_per_dkh_high_mg_calcite_15pct": "an estimate for coralline algae; the planner steers magnesium by its level",
    "kcl_10mg_200l": "the planner gives no dose of potassium", "scorpionfish_o2_50g": "a resting fish; the planner reckons no breath of a single animal",
    "mg_reference_35": "a reference to compare with; the aim of the rules is tried below", "k_reference_35": "a reference alone; no rule looks at potassium",
}


@over("row", [r for r in ROWS if r["name"] not in NOT_OURS], ids=lambda r: r["name"])
def test_the_planner_agrees_with(row: dict[str, str]) -> None:
    found = ANSWERS[row["name"]]()
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]) or 1e-9), f"{row['name']} ({row['inputs']}): {found:.6g} {row['unit']}, but {row['source']} has {row['expected']}"


def test_every_row_is_asked_or_says_why_not() -> None:
    assert len(ROWS) == 96
    assert set(ANSWERS) | set(NOT_OURS) == {r["name"] for r in ROWS}
    assert set(ANSWERS).isdisjoint(NOT_OURS)


def test_every_row_names_its_source() -> None:
    assert all(r["source"].strip() and r["how"].strip() and r["unit"].strip() for r in ROWS)


def test_the_readings_with_inputs_are_those_of_the_truth_they_were_made_from() -> None:
    assert made_readings() == next(r["expected"] for r in ROWS if r["name"] == "use_with_inputs_readings")


def test_the_larger_of_the_two_bounds_of_top_up_wins() -> None:
    """Half as much again, 3.0 L, is more than the robust bound of 2.44 L."""
    assert use.top_up_most([2.1, 1.9, 2.0, 2.2, 2.0, 1.8, 2.1]) == pytest.approx(3.0)


def test_phosphorus_and_nitrogen_have_the_same_factors_wherever_they_are_turned() -> None:
    assert pytest.approx(PO4_PER_P, rel=1e-4) == 94.9714 / 30.97376  # g/mol, IUPAC
    assert nitrogen_factor("nitrate", "ion") == pytest.approx(62.0049 / 14.0067, rel=1e-4)


def test_the_aims_of_calcium_and_magnesium_lie_within_a_twentieth_of_the_sea() -> None:
    """Reference sea water at 35 ppt and 25 °C has 422 mg/L of calcium and 1314 of magnesium (Millero 2008)."""
    from tests.rulecases import rulebook

    assert rulebook().number("calcium_aim") == pytest.approx(422, rel=0.05)
    assert rulebook().number("magnesium_aim") == pytest.approx(float(next(r["expected"] for r in ROWS if r["name"] == "mg_reference_35")), rel=0.05)
