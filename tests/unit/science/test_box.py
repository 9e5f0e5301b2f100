"""The box: volumes add up, masses add up, and the floor text defers."""

from pathlib import Path

import pytest

from planner.science import ammonia, dilution, dosing, evaporation, heat, reef_air, salt, salts, trouble, use, water
from planner.science import box as sizing
from planner.science.box import (
    displaced_l,
    floor_load,
    glass_mass_kg,
    gross_volume_l,
    inside_volume_l,
    net_volume_l,
    sand_mass_kg,
    tank_masses,
    water_depth_cm,
)
from planner.science.formula import Formula, OutOfRange

PLANNER = Path(__file__).parents[3] / "planner"
SCIENCE = (water, salt, ammonia, dosing, dilution, evaporation, heat, sizing, salts, trouble, reef_air, use)


def test_glass_and_waterline_come_off_the_shops_litres() -> None:
    assert gross_volume_l(100, 50, 50) == 250
    assert inside_volume_l(100, 50, 50, 10, 3) == pytest.approx(98 * 48 * 46 / 1000)
    assert water_depth_cm(50, 10, 3) == pytest.approx(46)


def test_rock_and_sand_push_water_out_and_a_sump_adds_some() -> None:
    assert displaced_l(20, 10) == pytest.approx(20 * 0.5 + 10 * 0.38)
    assert net_volume_l(200, 20, 10, 30) == pytest.approx(230 - 13.8)
    assert net_volume_l(200, 20, rock_displacement_l_per_kg=0.4) == pytest.approx(192)


def test_more_rock_than_tank_is_refused() -> None:
    with pytest.raises(OutOfRange, match="rock and sand"):
        net_volume_l(50, 120)


@pytest.mark.parametrize("glass_mm", [1.9, 41])
def test_panes_that_nobody_makes_are_refused(glass_mm: float) -> None:
    with pytest.raises(OutOfRange, match="glass"):
        inside_volume_l(100, 50, 50, glass_mm, 0)


def test_panes_thicker_than_the_box_are_refused() -> None:
    with pytest.raises(OutOfRange, match="glass"):
        inside_volume_l(6, 6, 50, 30, 0)


def test_a_waterline_below_the_base_is_refused() -> None:
    with pytest.raises(OutOfRange, match="waterline"):
        inside_volume_l(100, 50, 50, 10, 49.5)


def test_the_panes_weigh_what_their_areas_and_thickness_give() -> None:
    base, long_pane, short_pane = 1.0 * 0.5, 1.0 * 0.49, 0.48 * 0.49
    expected = (base + 2 * long_pane + 2 * short_pane) * 0.010 * 2500
    assert glass_mass_kg(100, 50, 50, 10) == pytest.approx(expected)


def test_sand_by_depth() -> None:
    assert sand_mass_kg(98 * 48, 3) == pytest.approx(98 * 48 * 3 / 1000 * 1.4)


def test_the_total_is_the_sum_of_its_parts() -> None:
    masses = tank_masses(50, 190, water_density_kg_l=1.0, rock_kg=25, sand_kg=22, stand_kg=40, other_kg=10)
    assert masses.water_kg == 190
    assert masses.total_kg == 337


def test_the_floor_gets_force_over_footprint() -> None:
    load = floor_load(337, 100, 50, "suspended")
    assert load.force_kn == pytest.approx(3.305, abs=0.001)
    assert load.pressure_kn_m2 == pytest.approx(6.61, abs=0.005)


@pytest.mark.parametrize("floor", ["solid", "suspended", "unknown"])
@pytest.mark.parametrize("mass", [0, 20, 337, 5000])
def test_the_floor_text_gives_figures_defers_and_never_judges(mass: float, floor: sizing.Floor) -> None:
    advice = floor_load(mass, 100, 50, floor).advice.lower()
    assert "kn/m²" in advice and "structural engineer" in advice and "local building rules" in advice
    for verdict in ("safe", "fine", "no problem", "strong enough", "will hold", "will carry", "ok"):
        assert verdict not in advice.replace("look", "")


def test_an_engineer_is_asked_for_unless_the_floor_is_known_to_be_solid() -> None:
    judged = "Have a structural engineer judge it"
    assert judged in floor_load(20, 60, 30).advice
    assert judged in floor_load(20, 60, 30, "suspended").advice
    assert judged not in floor_load(20, 60, 30, "solid").advice


@pytest.mark.parametrize("module", SCIENCE, ids=lambda m: m.__name__)
def test_every_formula_that_is_shown_has_its_text_its_source_and_its_range(module: object) -> None:
    formulas: dict[str, Formula] = module.FORMULAS  # type: ignore[attr-defined]
    assert formulas and set(formulas) <= set(module.__all__)  # type: ignore[attr-defined]
    for name, formula in formulas.items():
        assert formula.name == name
        assert formula.text and formula.source and formula.valid
        doc = getattr(module, name).__doc__
        assert doc and "Source:" in doc and ("Valid:" in doc or module is use)  # of a belief every reading is taken


def test_every_formula_is_shown_somewhere() -> None:
    """One that no maker of a figure looks up is no part of the program."""
    used = "".join(p.read_text(encoding="utf-8") for p in PLANNER.rglob("*.py") if "science" not in p.parts)
    assert [name for module in SCIENCE for name in module.FORMULAS if f'"{name}"' not in used] == []  # type: ignore[attr-defined]



def test_the_floors_figures_are_told_in_pounds_and_square_feet_to_a_us_buyer() -> None:
    # 337 kg = 743 lb; 100 x 50 cm = 0.5 m² = 5.38 ft²; 743 / 5.38 = 138 lb/ft² (NIST SP 811, appendix B)
    assert floor_load(337, 100, 50, "solid", "us").advice.startswith("743 lb on 5.4 ft² is 138 lb/ft²")
    assert floor_load(337, 100, 50, "solid").advice.startswith("337 kg on 0.50 m² is 6.6 kN/m²")
