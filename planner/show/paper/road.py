"""The second side: this tank drawn from its measures, what it holds and weighs, and the road to the animals, counted in
days from things that happen, because a calendar date is wrong at the first slip."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from planner.files.tank import Tank
from planner.judge.facts import gather, sand_kg
from planner.plan.milestones import first_animal, gate_window, next_fish, unplanned
from planner.plan.texts import told_amount
from planner.show.json.record_objects import Json
from planner.show.paper.wall import bare_span
from planner.show.words.words import bare_day
from planner.terms.amounts import format_amount
from planner.terms.records import CLOSED, Journal, Phase, Plan, Window

NAMES = {"ammonia_clear": "Ammonia clear", "nitrite_clear": "Nitrite clear", "cycle_done": "The filter is proven"}
FIRST_ANIMAL = "The first animal comes in"
FIRST_FOOD = {"dosed": "the first dose", "food": "the first food", "rock": "the day when the tank with its rock is warm and steady"}
WATERLINE_CM = 2.0
"""Drawn below the rim where the description names no water line; no words say it."""
DRY_SAND_KG_L = 1.6
"""kg of dry sand in a litre of its bed: common practice, no source; it only draws the bed where mass alone is known."""


def drawing_data(tank: Tank, plan: Plan) -> Json:
    """Lengths in cm for the drawing, with their words; `drawn` is false where the sides are not known, and the keeper writes
    them in."""
    glass = tank.tank
    sides = (glass.length_cm, glass.width_cm, glass.height_cm)
    known = all(s is not None for s in sides)

    def words(value: float | None) -> str:
        return "" if value is None else format_amount(value, "cm", plan.units)

    sand = tank.sand.depth_cm
    if sand is None and known and tank.sand.kind != "none":
        sand = sand_kg(tank) / DRY_SAND_KG_L * 1000 / ((glass.length_cm or 1) * (glass.width_cm or 1))
    figures = {q.name: told_amount(q, plan.units) for q in plan.quantities}
    facts = [(label, figures[name] + after) for label, name, after in (("Water in it, net", "net_volume", " for every dose"), ("Outside volume", "gross_volume", ""),
             ("Weight when full", "total_weight", ""), ("Load under the base", "floor_load", "")) if name in figures]
    if "target_salinity" in figures:
        facts.append(("Salinity", f"aim for {figures['target_salinity']}"))
        if "target_sg" in figures:
            facts.append(("That is", figures["target_sg"]))
    facts.append(("Temperature", "aim for " + format_amount(tank.water.temperature_c, "°C", plan.units)))
    if tank.rock.kind:
        facts.append(("Rock", tank.rock.kind + (f", {format_amount(tank.rock.mass_kg * 1000, 'g', plan.units)}" if tank.rock.mass_kg else "")))
    if glass.sump_l:
        facts.append(("Sump", format_amount(glass.sump_l, "L", plan.units)))
    return {
        "drawn": known, "sides": list(sides) if known else [80, 40, 45], "words": [words(s) for s in sides],
        "waterline": glass.waterline_cm if glass.waterline_cm is not None else WATERLINE_CM, "waterline_words": words(glass.waterline_cm),
        "sand": round(sand or 0.0, 2), "sand_words": words(tank.sand.depth_cm) or (words(round(sand, 1)) if sand else ""), "facts": facts,
        "net": figures.get("net_volume", ""),
    }


def road_data(plan: Plan, tank: Tank, journal: Journal) -> Json:
    """Stretches of the road, each counted from a day that the keeper writes in: the start, the first food of the filter, and
    the proof of the filter. Without a forecast of the cycle all is counted from the start."""
    cycle = plan.phase_as("proves_filter")
    fed = plan.forecast.curve[0].day if plan.forecast.curve else None
    start = gather(tank, journal, plan.on).start
    phases = [p for p in plan.phases if p.role != "without_end"]
    if cycle is None or fed is None:
        return {"stretches": [_stretch("Start", "the first day", start, [r for p in phases for r in _rows(p, plan, start)], plan)]}
    at = phases.index(cycle)
    proven = gate_window(plan, "proves_filter").likely
    cycle_rows = [_row(title, window, done, plan, fed, 0) for title, window, done in (*milestones(plan), (NAMES["cycle_done"], cycle.window, cycle.opened))]
    stretches = (
        _stretch("Start", "the first day", start, [r for p in phases[:at] for r in _rows(p, plan, start)], plan),
        _stretch("Filter", FIRST_FOOD[tank.cycle.ammonia or "dosed"], fed, cycle_rows, plan),
        _stretch("Animals", "the proof of the filter", proven, [r for p in phases[at + 1 :] for r in _rows(p, plan, proven)], plan),
    )
    return {"stretches": [s for s in stretches if s["rows"]]}


def milestones(plan: Plan) -> list[tuple[str, Window, date | None]]:
    """What is read clear on the way, with its span and the day on which it was. Before the first food the forecast counts from its
    likely day alone; here an early and a late first food widen the span, as they do that of the proof, or the paper would
    contradict itself."""
    fed, cycle = plan.forecast.curve[0].day, plan.phase_as("proves_filter")
    first = next((t.window for t in plan.tasks if cycle is not None and t.phase == cycle.id and t.state not in CLOSED and t.date == fed), None) if fed > plan.on else None
    early = fed - first.earliest if first is not None and first.earliest is not None else timedelta()
    late = first.latest - fed if first is not None and first.latest is not None else timedelta()

    def moved(window: Window) -> Window:
        return Window(max(plan.on, window.earliest - early) if window.earliest else None, window.likely, window.latest + late if window.latest else None)

    return [(NAMES[n], Window(e.happened, e.happened, e.happened) if e.happened else moved(e.window), e.happened) for n, e in plan.forecast.events.items() if n in NAMES and n != "cycle_done"]


def _stretch(title: str, event: str, day: date | None, rows: Sequence[Json], plan: Plan) -> Json:
    """`happened`: the day where it has come; else `likely`, beside the blank."""
    said = bare_day(day, plan.on) if day is not None else ""
    came = day is not None and day <= plan.on
    return {"title": title, "event": event, "happened": said if came else "", "likely": "" if came else said, "rows": sorted(rows, key=lambda row: row["at"])}


def _rows(phase: Phase, plan: Plan, base: date | None) -> list[Json]:
    """A phase; behind the one that opens the tank, the first animal and the first fish."""
    if phase.opened is None and unplanned(phase, plan):
        return [{"title": phase.title, "counted": "none planned", "likely": "", "done": False, "blank": False, "at": date.max.toordinal()}]
    row = _row(phase.title, phase.window, phase.opened, plan, base)
    if phase.role != "opens_to_animals" or phase.opened is not None:
        return [row]
    firsts = ((FIRST_ANIMAL, first_animal(plan)), ("The first fish come in", next_fish(plan)))
    rows = [row, *(_row(title, window, None, plan, base) for title, window in firsts if window.likely is not None)]
    if firsts[0][1].likely is None and phase.window.likely is not None and plan.phase_as("stocks_crew") is not None:
        likely = f"the first snails, once film shows, not before {bare_day(phase.window.likely, plan.on)}"
        rows.append({"title": FIRST_ANIMAL, "counted": "", "likely": likely, "done": False, "blank": True, "at": row["at"]})
    return rows


def _row(title: str, window: Window, opened: date | None, plan: Plan, base: date | None, first: int = 1) -> Json:
    """`first`: the number of the day from which is counted; the day of the first food is day 0, as on the cycle sheet."""
    day = opened or window.likely
    counted = f"day {(day - base).days + first}" if day is not None and base is not None and day >= base else ""
    likely = f"finished {bare_day(opened, plan.on)}" if opened else bare_span(window, plan)
    return {"title": title, "counted": counted, "likely": likely, "done": opened is not None, "blank": opened is None, "at": (day or date.max).toordinal()}


__all__ = ["drawing_data", "milestones", "road_data"]
