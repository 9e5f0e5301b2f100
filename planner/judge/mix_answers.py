"""What a keeper works out at the sink: salt, corrections, doses, changes. One function a question, from the science
rooms' formulas; each answer carries its inputs, formula, source and valid range.

Raises OutOfRange where a number lies outside its formula.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.science import ammonia, dilution, dosing, evaporation, salt, water
from planner.science.formula import Formula, require
from planner.terms.records import Amount, Quantity
from planner.terms.written_amounts import nitrogen_factor

SG_PAIRS_C: Mapping[str, tuple[float, float]] = {
    "25/25": (25.0, 25.0), "20/20": (20.0, 20.0), "20/4": (20.0, 4.0), "15/15": (15.0, 15.0), "60F/60F": (15.555555555555555, 15.555555555555555),
}


@dataclass(frozen=True, slots=True)
class Worked:
    """An answer: named results in internal units, what went in, the formula, its source and range, steps to follow
    day by day, remarks, and the keys of the cautions that belong to it."""

    title: str
    result: tuple[tuple[str, Amount], ...]
    inputs: tuple[tuple[str, Amount], ...]
    formula: Formula
    steps: tuple[tuple[tuple[str, Amount], ...], ...] = ()
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


CHANGING = ("mains", "wet_floor", "lifting", "infection", "waste_water")
"""Cautions of a water change."""


def salt_for(volume_l: float, salinity: float, *, salinity_now: float = 0.0, salt_per_litre_g: float = salt.SALT_PER_LITRE_DEFAULT_G) -> Worked:
    """Salt mix for `volume_l` finished litres, g, and the fresh water to begin with, L. Ranges: `salt.salt_mass_g`."""
    grams = salt.salt_mass_g(volume_l, salinity, salt_per_litre_g, salinity_now=salinity_now)
    result = [("salt", Amount(grams, "g"))]
    if salinity_now == 0:
        result.append(("fresh_water", Amount(salt.fresh_water_for_mix_l(volume_l, salinity, salt_per_litre_g), "L")))
    result.append(("specific_gravity", Amount(water.sg_from_salinity(salinity), "SG 25/25")))
    return Worked(
        "Salt for a volume", tuple(result),
        (("finished_water", Amount(volume_l, "L")), ("salinity_now", Amount(salinity_now, "ppt")), ("salinity_target", Amount(salinity, "ppt")),
         ("salt_per_litre_at_35_ppt", Amount(salt_per_litre_g, "g/L"))),
        salt.FORMULAS["salt_mass_g"],
        remarks=("Add the salt to moving water, never water to salt. Start with nine tenths, let it mix for a day, test, and add the rest by the reading.",
                 "Salt mixes hold different amounts of moisture. The bag says how many grams make a litre at 35 ppt."), cautions=("dust", "mains"))


def salinity_everywhere(salinity: float, temperature_c: float = 25.0) -> Worked:
    """One salinity in every unit that an instrument shows. Ranges: 0-42 ppt; conductivity from 2 ppt."""
    result = [("salinity", Amount(salinity, "ppt")), ("salt_by_mass", Amount(water.grams_per_kg_from_salinity(salinity), "g/kg")),
              ("salt_by_volume", Amount(water.grams_per_litre_from_salinity(salinity, temperature_c), "g/L"))]
    result += [(f"specific_gravity_{pair}", Amount(water.sg_from_salinity(salinity, *temperatures), f"SG {pair}")) for pair, temperatures in SG_PAIRS_C.items()]
    if salinity >= 2:
        result.append(("conductivity_25c", Amount(water.conductivity_from_salinity(salinity), "mS/cm at 25 °C")))
    result.append(("density", Amount(water.density_kg_m3(salinity, temperature_c), "kg/m³")))
    return Worked("Salinity in every unit", tuple(result), (("salinity", Amount(salinity, "ppt")), ("temperature", Amount(temperature_c, "°C"))),
                  water.FORMULAS["sg_from_salinity"], remarks=("A specific gravity means little without the two temperatures printed on the instrument.",))


def salinity_by_hydrometer(reading_sg: float, pair: str, water_c: float) -> Worked:
    """Salinity from a glass hydrometer read in water that is not at the temperature of its scale."""
    scale_c, reference_c = SG_PAIRS_C[pair]
    salinity = water.salinity_from_hydrometer(reading_sg, water_c, scale_temperature_c=scale_c, reference_temperature_c=reference_c)
    return Worked("Salinity from a hydrometer", (("salinity", Amount(salinity, "ppt")), ("specific_gravity", Amount(water.sg_from_salinity(salinity), "SG 25/25"))),
                  (("reading", Amount(reading_sg, f"SG {pair}")), ("water", Amount(water_c, "°C"))), water.FORMULAS["salinity_from_hydrometer"],
                  remarks=("This counts on a glass float. A plastic swing arm expands more and is less accurate.",))


def raise_salinity(volume_l: float, now: float, target: float, *, per_day: float, salt_per_litre_g: float = salt.SALT_PER_LITRE_DEFAULT_G) -> Worked:
    """Salt day by day, g, none above `per_day` ppt. Ranges: `salt.raise_salinity_steps`."""
    steps = salt.raise_salinity_steps(volume_l, now, target, daily_limit_ppt=per_day, salt_per_litre_g=salt_per_litre_g)
    return Worked(
        "Raise salinity", (("salt_in_all", Amount(sum(s.salt_g for s in steps), "g")), ("days", Amount(len(steps), "days"))),
        (("water", Amount(volume_l, "L")), ("salinity_now", Amount(now, "ppt")), ("salinity_target", Amount(target, "ppt")), ("most_in_a_day", Amount(per_day, "ppt"))),
        salt.FORMULAS["raise_salinity_steps"],
        tuple((("day", Amount(s.day, "")), ("salt", Amount(s.salt_g, "g")), ("to", Amount(s.salinity_to, "ppt"))) for s in steps),
        ("Dissolve each portion in a bucket of tank water first, and test before the next.",), ("mains", "wet_floor", "lifting"))


def lower_salinity(volume_l: float, now: float, target: float, *, per_day: float, new_water: float = 0.0) -> Worked:
    """Litres to swap day by day for weaker water, none above `per_day` ppt. Ranges: `salt.lower_salinity_steps`."""
    steps = salt.lower_salinity_steps(volume_l, now, target, daily_limit_ppt=per_day, salinity_of_new_water=new_water)
    return Worked(
        "Lower salinity", (("swap_in_all", Amount(sum(s.swap_l for s in steps), "L")), ("days", Amount(len(steps), "days"))),
        (("water", Amount(volume_l, "L")), ("salinity_now", Amount(now, "ppt")), ("salinity_target", Amount(target, "ppt")), ("most_in_a_day", Amount(per_day, "ppt")),
         ("new_water", Amount(new_water, "ppt"))),
        salt.FORMULAS["lower_salinity_steps"],
        tuple((("day", Amount(s.day, "")), ("swap", Amount(s.swap_l, "L")), ("to", Amount(s.salinity_to, "ppt"))) for s in steps),
        ("First take the water out. Then add as much weaker water, slowly and at the temperature of the tank.",), ("mains", "wet_floor", "lifting", "infection"))


def ammonia_dose(volume_l: float, rise_n_mg_l: float, *, purity: float = 1.0, solution_percent: float | None = None) -> Worked:
    """Ammonium chloride, g, or plain ammonia solution, L, for a rise in mg/L as N. Ranges: `dosing.ammonium_chloride_g`."""
    inputs = [("water", Amount(volume_l, "L")), ("rise", Amount(rise_n_mg_l, "mg/L as N"))]
    cautions = ("ammonia", "chemicals", "children")
    remarks = ("Only for a tank without any animal. Test an hour later and compare.",)
    if solution_percent is None:
        grams = dosing.ammonium_chloride_g(volume_l, rise_n_mg_l, purity)
        return Worked("Ammonium chloride for the cycle", (("ammonium_chloride", Amount(grams, "g")),), (*inputs, ("purity", Amount(purity * 100, "%"))),
                      dosing.FORMULAS["ammonium_chloride_g"], remarks=remarks, cautions=cautions)
    ml = dosing.ammonia_solution_ml(volume_l, rise_n_mg_l, solution_percent)
    return Worked("Ammonia solution for the cycle", (("ammonia_solution", Amount(ml / 1000, "L")),), (*inputs, ("ammonia_by_mass", Amount(solution_percent, "%"))),
                  dosing.FORMULAS["ammonia_solution_ml"], remarks=remarks, cautions=cautions)


def free_ammonia_of(total_n_mg_l: float, ph: float, temperature_c: float, salinity: float) -> Worked:
    """Free ammonia, mg/L as NH3, to show and for warnings. Ranges: `ammonia.free_ammonia`."""
    free = ammonia.free_ammonia(total_n_mg_l, ph, temperature_c, salinity)
    return Worked(
        "Free ammonia", (("free_ammonia", Amount(free.shown_nh3_mg_l, "mg/L as NH3")), ("free_ammonia_for_warnings", Amount(free.warning_nh3_mg_l, "mg/L as NH3")),
                         ("free_share", Amount(free.shown_fraction * 100, "%"))),
        (("total_ammonia", Amount(total_n_mg_l, "mg/L as N")), ("ph", Amount(ph, "pH")), ("temperature", Amount(temperature_c, "°C")), ("salinity", Amount(salinity, "ppt"))),
        ammonia.FORMULAS["free_ammonia"],
        remarks=("Use the pH of a meter calibrated with ordinary buffers. Published constants differ, and the figure for warnings is the highest of them.",))


def nitrogen_everywhere(name: str, n_mg_l: float) -> Worked:
    """A reading of ammonia, nitrite or nitrate on every basis that kits use. Range: 0-10 000 mg/L as N."""
    require(name, n_mg_l, 0.0, 10_000.0, "mg/L as N")
    bases = {"ammonia": ("NH3", "NH4"), "nitrite": ("NO2",), "nitrate": ("NO3",)}[name]
    result = (("as_nitrogen", Amount(n_mg_l, "mg/L as N")), *((f"as_{b}", Amount(n_mg_l * nitrogen_factor(name, b), f"mg/L as {b}")) for b in bases))
    return Worked(f"{name.capitalize()} on every basis", result, ((name, Amount(n_mg_l, "mg/L as N")),), ammonia.FORMULAS["species_mg_l_from_n"])


def alkalinity_everywhere(dkh: float) -> Worked:
    """An alkalinity in dKH, meq/L and mg/L CaCO3. Range: 0-50 dKH."""
    return Worked("Alkalinity in every unit", (("alkalinity", Amount(dkh, "dKH")), ("alkalinity_meq", Amount(dosing.meq_l_from_dkh(dkh), "meq/L")),
                                              ("alkalinity_caco3", Amount(dosing.caco3_mg_l_from_dkh(dkh), "mg/L CaCO3"))),
                  (("alkalinity", Amount(dkh, "dKH")),), dosing.FORMULAS["caco3_mg_l_from_dkh"])


def alkalinity_dose(volume_l: float, rise_dkh: float, *, carbonate: bool = False, purity: float = 1.0, per_day: float | None = None) -> Worked:
    """Sodium bicarbonate (or carbonate), g, for a rise in dKH; over several days where `per_day` asks for it."""
    work, name = (dosing.carbonate_g, "sodium_carbonate") if carbonate else (dosing.bicarbonate_g, "sodium_bicarbonate")
    grams = work(volume_l, rise_dkh, purity)
    days = 1 if per_day is None else max(1, -int(-(rise_dkh / require("most in a day", per_day, 0.1, 15.0, "dKH")) // 1))
    steps = tuple((("day", Amount(n, "")), (name, Amount(grams / days, "g"))) for n in range(1, days + 1)) if days > 1 else ()
    inputs = [("water", Amount(volume_l, "L")), ("rise", Amount(rise_dkh, "dKH")), ("purity", Amount(purity * 100, "%"))]
    if per_day is not None:
        inputs.append(("most_in_a_day", Amount(per_day, "dKH")))
    remark = "Sodium carbonate raises pH too. Dissolve it well and pour it in slowly." if carbonate else "Dissolve it in RO water and pour it slowly into the flow."
    return Worked(f"{'Carbonate' if carbonate else 'Bicarbonate'} for alkalinity", ((name, Amount(grams, "g")),), tuple(inputs),
                  dosing.FORMULAS["carbonate_g" if carbonate else "bicarbonate_g"], steps, (remark, "Test the next day before you add more."), ("chemicals",))


def mineral_dose(mineral: str, volume_l: float, rise_mg_l: float, *, purity: float = 1.0) -> Worked:
    """Calcium chloride dihydrate or magnesium chloride hexahydrate, g, for a rise in mg/L. `mineral`: calcium or magnesium."""
    if mineral == "calcium":
        name, grams, formula = "calcium_chloride_dihydrate", dosing.calcium_chloride_g(volume_l, rise_mg_l, purity), dosing.FORMULAS["calcium_chloride_g"]
    else:
        name, grams, formula = "magnesium_chloride_hexahydrate", dosing.magnesium_chloride_g(volume_l, rise_mg_l, purity), dosing.FORMULAS["magnesium_chloride_g"]
    return Worked(f"{mineral.capitalize()} dose", ((name, Amount(grams, "g")),),
                  (("water", Amount(volume_l, "L")), ("rise", Amount(rise_mg_l, "mg/L")), ("purity", Amount(purity * 100, "%"))), formula,
                  remarks=("The grams are for this hydrate alone. Another form of the salt needs another weight.",
                           "Calcium chloride heats up as it dissolves. Stir it into plenty of water." if mineral == "calcium" else "Dissolve it in fresh water first."),
                  cautions=("chemicals",))


def water_change(volume_l: float, now: float, target: float, unit: str, *, new_water: float = 0.0, bin_l: float | None = None) -> Worked:
    """Litres to change to bring a concentration to its target: at once, or bin by bin. Ranges: `dilution`."""
    fraction = dilution.change_fraction(now, target, new_water)
    inputs = [("water", Amount(volume_l, "L")), ("now", Amount(now, unit)), ("target", Amount(target, unit)), ("new_water", Amount(new_water, unit))]
    result = [("share_at_once", Amount(fraction * 100, "%")), ("litres_at_once", Amount(fraction * volume_l, "L"))]
    if bin_l is None:
        return Worked("Water change", tuple(result), tuple(inputs), dilution.FORMULAS["change_fraction"], cautions=CHANGING)
    series = dilution.water_change_series(volume_l, now, target, min(bin_l, volume_l), new_water)
    result += [("changes", Amount(len(series), "batches")), ("litres_in_all", Amount(sum(s.litres for s in series), "L"))]
    return Worked("Water changes with one bin", tuple(result), (*inputs, ("bin", Amount(bin_l, "L"))), dilution.FORMULAS["water_change_series"],
                  tuple((("change", Amount(s.number, "")), ("litres", Amount(s.litres, "L")), ("after", Amount(s.after, unit))) for s in series), cautions=CHANGING)


def oxygen_at(salinity: float, temperature_c: float) -> Worked:
    """Dissolved oxygen at saturation, mg/L. Ranges: `evaporation.oxygen_saturation_mg_l`."""
    return Worked("Oxygen at saturation", (("oxygen", Amount(evaporation.oxygen_saturation_mg_l(salinity, temperature_c), "mg/L")),),
                  (("salinity", Amount(salinity, "ppt")), ("temperature", Amount(temperature_c, "°C"))), evaporation.FORMULAS["oxygen_saturation_mg_l"],
                  remarks=("Warm water holds less oxygen. A meter near this figure shows that the water is in balance with the air.",))


def from_quantities(title: str, made: tuple[Quantity, ...], cautions: tuple[str, ...] = ()) -> Worked:
    """Figures of a described tank as one answer, with their formulas, sources and inputs. At least one."""
    texts = dict(pair for q in made for pair in q.inputs)
    formula = Formula(made[-1].name, "; ".join(dict.fromkeys(q.formula for q in made)), "; ".join(dict.fromkeys(q.source for q in made)), "")
    remarks = (*(q.advice for q in made if q.advice), *(f"{name}: {text}" for name, text in texts.items()))
    return Worked(title, tuple((q.name, q.amount) for q in made), (), formula, remarks=remarks, cautions=cautions)
