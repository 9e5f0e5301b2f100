"""The wish list in this plan: names looked up, animals judged, and the keepable ones staged after the expected gate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner.absences import next_day_allowed
from planner.catalogue import Catalogue
from planner.gather import Facts, sand_kg
from planner.model import Plan
from planner.rulebook import Rulebook
from planner.stages import QuarantineTank, StageDays, StagePlan, plan_stages
from planner.stocking import StockVerdict, TankForStock, Wish, judge_wishes


@dataclass(frozen=True, slots=True)
class StockPlan:
    """Verdicts, and the stages twice: from the likely and from the quick day of the gate. `unclear` holds wishes whose
    name fits several animals or none, each with what could be meant."""

    verdict: StockVerdict
    stages: StagePlan | None
    earliest: StagePlan | None
    unclear: tuple[tuple[str, tuple[str, ...]], ...]
    handled_mg_n_per_day: float
    gate_open: bool


def tank_for_stock(facts: Facts) -> TankForStock:
    """The tank as the stocking rules see it; what is not described stays unknown."""
    tank, glass = facts.tank, facts.tank.tank
    depth = tank.sand.depth_cm
    if depth is None and tank.sand.mass_kg and glass.length_cm and glass.width_cm:
        depth = sand_kg(tank) * 1000 / 1.4 / (glass.length_cm * glass.width_cm)
    sand = "none" if tank.sand.kind == "none" else None
    light = tank.equipment.light.par if tank.equipment.light is not None else None
    return TankForStock(facts.net_volume_l, glass.length_cm, glass.width_cm, glass.height_cm, sand, depth, tank.rock.mass_kg, glass.lid,
                        tank.water.temperature_c, light, "first")


def plan_stock(facts: Facts, plan: Plan, rules: Rulebook, catalogue: Catalogue) -> StockPlan:
    """Judge and stage the tank file's wish list. Days count from the plan's gate to animals; without one in reach there
    are verdicts and no stages."""
    wishes: list[Wish] = []
    unclear: list[tuple[str, tuple[str, ...]]] = []
    for wish in facts.tank.wish_list:
        found = catalogue.find(wish.animal)
        if found.animal is None:
            unclear.append((wish.animal, tuple(found.candidates)))
        else:
            wishes.append(Wish(found.animal.id, wish.count))
    light = facts.tank.rock.kind == "live" or bool(wishes)
    handled = rules.number("challenge_least" if light else "challenge_full") * facts.net_volume_l
    verdict = judge_wishes(tank_for_stock(facts), wishes, catalogue, handled)
    gate = plan.phase("animals")
    window = gate.window if gate is not None else None
    staged = [_stage(day, facts, plan, rules, catalogue, verdict, handled) for day in ((window.likely, window.earliest) if window else (None, None))]
    return StockPlan(verdict, staged[0], staged[1], tuple(unclear), handled, gate is not None and gate.opened is not None)


def _stage(gate: date | None, facts: Facts, plan: Plan, rules: Rulebook, catalogue: Catalogue, verdict: StockVerdict, handled: float) -> StagePlan | None:
    if gate is None or not verdict.keep:
        return None
    day = max(gate, facts.on)
    fill = next((p.opened or p.window.likely for p in plan.phases if p.id == "scape"), None) or facts.on

    def allowed(ordinal: int) -> int | None:
        found = next_day_allowed(date.fromordinal(ordinal), "animals", facts.tank, rules.days("quiet_before_absence"), round(rules.number("long_absence")), facts.on)
        return found.toordinal() if found is not None else None

    box = QuarantineTank(facts.on.toordinal()) if facts.tank.equipment.quarantine_tank else None
    return plan_stages(verdict.keep, catalogue, StageDays(day.toordinal(), fill.toordinal(), allowed), box, handled)
