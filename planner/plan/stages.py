"""The wish list in this plan: names looked up, animals judged, and what is still to come staged after the expected gates.

Two steps, because the dates of gates may not depend on the stages behind them: `judge_stock` says which animals can be
kept and knows no day; `stage_stock` puts those that are not in yet on days, once for every scenario.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from planner.files.tank import Away
from planner.judge.animals_in_journal import last_spike, read_arrivals
from planner.judge.evidence import water_of
from planner.judge.facts import Facts, sand_kg
from planner.plan.stage_records import SORTS, Clock, Judged, StagedAnimal, StagedAnimals, StockPlan
from planner.plan.task_days import days_after_absence
from planner.plan.usable_days import next_day_allowed
from planner.rulebook.shapes import Rulebook
from planner.stock.catalogue import Catalogue
from planner.stock.room_and_load import feed_from_mass_g_per_day
from planner.stock.stages.ammonia import Proof, Water
from planner.stock.stages.filter import FilterCare
from planner.stock.stages.order import RANK, plan_stages
from planner.stock.stages.records import QuarantineTank, Stage, StageDays, StagePlan
from planner.stock.stages.search import CORAL, CREW, FISH
from planner.stock.stages.why import sort_of
from planner.stock.sums import nitrogen_told
from planner.stock.verdict import TankForStock, Wish, judge_wishes
from planner.terms.amounts import listed
from planner.terms.causes import Cause, cause
from planner.terms.texts import on_day

assert (FISH, CORAL, CREW) == (0, 1, 2)  # the places in SORTS


def tank_for_stock(facts: Facts) -> TankForStock:
    """The tank as the stocking rules see it; what is not described stays unknown."""
    tank, glass = facts.tank, facts.tank.tank
    depth = tank.sand.depth_cm
    if depth is None and tank.sand.mass_kg and glass.length_cm and glass.width_cm:
        depth = sand_kg(tank) * 1000 / 1.4 / (glass.length_cm * glass.width_cm)
    sand = "none" if tank.sand.kind == "none" else None
    light = tank.equipment.light.par if tank.equipment.light is not None else None
    return TankForStock(facts.net_volume_l, glass.length_cm, glass.width_cm, sand, depth, tank.rock.mass_kg, None if glass.lid is None else bool(glass.lid),
                        tank.water.temperature_c, light, "first")


def judge_stock(facts: Facts, rules: Rulebook, catalogue: Catalogue) -> Judged:
    """Look up and judge the list, and what lives in the tank beside it. No day is looked at."""
    wishes: list[Wish] = []
    unclear: list[tuple[str, tuple[str, ...]]] = []
    for wish in facts.tank.wish_list:
        found = catalogue.find(wish.animal)
        if found.animal is None:
            unclear.append((wish.animal, tuple(found.candidates)))
        else:
            wishes.append(Wish(found.animal.id, wish.count))
    arrivals = read_arrivals(facts, catalogue)
    on_list = {w.animal_id for w in wishes}
    lost = {c.animal_id: c.count for c in arrivals.lost}
    others = [Wish(c.animal_id, n) for c in arrivals.came if c.animal_id not in on_list and (n := c.count - lost.get(c.animal_id, 0)) > 0]
    verdict = judge_wishes(tank_for_stock(facts), [*others, *wishes], catalogue, rules.number("challenge_full") * facts.net_volume_l)
    already = sum(a.nitrogen_mg_per_day * n for _, name, n in arrivals.changes if (a := catalogue.get(name)) is not None)
    proof = proof_for_list(verdict.keep, facts.net_volume_l, rules, catalogue)
    verdict = replace(verdict, sums=replace(verdict.sums, nitrogen_told=nitrogen_told(verdict.sums.nitrogen_given_mg_per_day, proof * facts.net_volume_l, already)))
    wanted = tuple(w for w in verdict.keep if w.animal_id in on_list)
    sorts = frozenset(SORTS[sort_of(animal)] for w in wanted if (animal := catalogue.get(w.animal_id)) is not None)
    return Judged(verdict, wanted, arrivals, tuple(unclear), proof * facts.net_volume_l, sorts, proof, bool(wishes),
                  _groups(wanted, catalogue) | (frozenset({""}) if unclear else frozenset()))


def _groups(wishes: Sequence[Wish], catalogue: Catalogue) -> frozenset[str]:
    """Their groups of the catalogue, and `grazer` where a snail among them eats film: one that eats leftovers cleans no glass."""
    animals = [a for w in wishes if (a := catalogue.get(w.animal_id)) is not None]
    return frozenset(a.group for a in animals) | frozenset("grazer" for a in animals if a.group == "mollusc" and "film" in a.food)


def fish_food_g(judged: Judged, catalogue: Catalogue) -> float | None:
    """Dry food of a day for the fish in the display, as large as they grow; None where one is in whose kind is not known."""
    if "fish" in judged.arrivals.general:
        return None
    fish = [(a, n) for _, name, n in judged.arrivals.changes if (a := catalogue.get(name)) is not None and sort_of(a) == FISH]
    return sum(n * feed_from_mass_g_per_day(a.mass_g, catalogue.figures) for a, n in fish) or None


def proof_for_list(keep: tuple[Wish, ...], net_l: float, rules: Rulebook, catalogue: Catalogue) -> float:
    """What the filter has to prove for these wishes, mg/L as N, rounded up to a tenth: several times what the first fish
    give in a day, or what all give at last, within the least and the full figure. An empty list asks for the full one.
    The first fish are taken as the largest wish among the gentlest; which of these comes first is settled later."""
    least, full = rules.number("challenge_least"), rules.number("challenge_full")
    found = [(a, a.nitrogen_mg_per_day * w.count) for w in keep if (a := catalogue.get(w.animal_id)) is not None]
    if not found:
        return full
    fish = [(RANK[a.manner], mg) for a, mg in found if sort_of(a) == FISH]
    gentlest = min((rank for rank, _ in fish), default=0)
    first = max((mg for rank, mg in fish if rank == gentlest), default=0.0)
    asked = max(rules.number("challenge_first_times") * first, rules.number("challenge_list_times") * sum(mg for _, mg in found)) / net_l
    return min(full, max(least, math.ceil(asked * 10 - 1e-9) / 10))


def next_stage(judged: Judged, facts: Facts, rules: Rulebook, catalogue: Catalogue, clock: Clock, gap_days: int) -> tuple[frozenset[str], date] | None:
    """The animals and the day of the first stage by these facts, which are those of the moment at which its way was cleared."""
    bounds = Bounds(_quiet(judged, facts, rules, gap_days)[1], gap_days, _health(facts, rules, catalogue), facts.on)
    stages = _stages_of(_stages(_still_to_come(judged), judged, clock, bounds, facts, rules, catalogue, reckon=False))
    return (frozenset(w.animal_id for w in stages[0].wishes), date.fromordinal(stages[0].day)) if stages else None


def _quiet(judged: Judged, facts: Facts, rules: Rulebook, gap_days: int) -> tuple[tuple[date, date | None] | None, date | None]:
    """The last spike of ammonia or nitrite under animals, and the day before which nothing comes in because of it."""
    spike = last_spike(facts, rules, judged.arrivals.first_day) if judged.arrivals.first_day is not None else None
    return spike, (spike[1] or facts.on) + timedelta(days=gap_days) if spike is not None else None


def stage_stock(judged: Judged, facts: Facts, rules: Rulebook, catalogue: Catalogue, clocks: tuple[Clock, Clock, Clock], gap_days: int,
                stands: tuple[frozenset[str], date] | None = None) -> StockPlan:
    """Stage what is not in yet, for the quick, likely and slow days of the gates. `stands`: the next stage, once its way is clear."""
    spike, quiet = _quiet(judged, facts, rules, gap_days)
    rest = _still_to_come(judged)
    bounds = Bounds(quiet, gap_days, _health(facts, rules, catalogue), stands=stands)
    likely = _stages(rest, judged, clocks[1], bounds, facts, rules, catalogue)
    causes = likely
    if likely is not None and any(s.day < facts.on.toordinal() for s in _stages_of(causes)):
        likely = _stages(rest, judged, clocks[1], replace(bounds, today=facts.on), facts, rules, catalogue)
    # The ammonia is worked out for the likely days alone; what these leave out has no place in the others either.
    refused = {w for w, _ in likely.not_placed} if likely is not None else set()
    rest = tuple(w for w in rest if w not in refused)
    solved: dict[Clock, StagePlan | None] = {clocks[1]: likely}
    for clock in clocks:
        if clock not in solved:
            solved[clock] = _stages(rest, judged, clock, replace(bounds, today=facts.on), facts, rules, catalogue, reckon=False)
    quick, slow = solved[clocks[0]], solved[clocks[2]]
    due = {w: date.fromordinal(s.day) for s in _stages_of(causes) for w in s.wishes}
    staged = tuple(part for stage in _stages_of(likely) for part in _by_sort(stage, (quick, likely, slow), due, catalogue))
    wishes = _about_wishes(judged, likely, catalogue)
    return StockPlan(judged.verdict, likely, quick, judged.unclear, staged,
                     tuple(_notices(judged, likely, spike, quiet, facts.on, catalogue, facts.tank.keeper.away, wishes)), tuple(n for part in wishes for n in part))


@dataclass(frozen=True, slots=True)
class Bounds:
    """No fish, coral or crew before `quiet`; stages so many days apart; no fish before the day in `health`, with the
    reason; no stage before `today`, if that is given; and the animals and the day of the stage that `stands`."""

    quiet: date | None
    gap_days: int
    health: tuple[date, Cause] | None = None
    today: date | None = None
    stands: tuple[frozenset[str], date] | None = None


def _health(facts: Facts, rules: Rulebook, catalogue: Catalogue) -> tuple[date, Cause] | None:
    """The day before which no fish comes in for an illness in the display, or since the display was emptied of fish to
    starve a parasite (event `fallow`), whichever is later; with the reason."""
    found = []
    for what, days, why in (("ill", rules.days("healthy_days"), "healthy_days_first"), ("fallow", int(catalogue.figures.value("fallow_days")), "fallow_days_first")):
        rows = [r for r in facts.rows("event", what) if r.where == "display"]
        if rows:
            found.append((rows[-1].day + timedelta(days=days), cause(why, days=days)))
    return max(found, key=lambda f: f[0], default=None)


def _stages_of(plan: StagePlan | None) -> tuple[Stage, ...]:
    return plan.stages if plan is not None else ()


def _still_to_come(judged: Judged) -> tuple[Wish, ...]:
    """The list without what came or was left out. What was lost is not bought again by itself, wherever it was lost."""
    gone = {c.animal_id: c.count for c in judged.arrivals.came}
    for c in (*judged.arrivals.lost_before, *judged.arrivals.left_out):
        gone[c.animal_id] = gone.get(c.animal_id, 0) + c.count
    return tuple(Wish(w.animal_id, n) for w in judged.wanted if (n := w.count - gone.get(w.animal_id, 0)) > 0)


def groups_to_come(judged: Judged, catalogue: Catalogue) -> frozenset[str]:
    """The groups of the list of which an animal is still to come, with "" for a name that is not clear."""
    return _groups(_still_to_come(judged), catalogue) | (judged.groups & {""})


def _stages(rest: tuple[Wish, ...], judged: Judged, clock: Clock, bounds: Bounds, facts: Facts, rules: Rulebook, catalogue: Catalogue,
            reckon: bool = True) -> StagePlan | None:
    gate, arrivals = clock.gate, judged.arrivals
    if gate is None or not judged.wanted:
        return None

    def allowed(ordinal: int) -> int | None:
        found = next_day_allowed(date.fromordinal(ordinal), "animals", facts.tank, rules.days("quiet_before_absence"), round(rules.number("long_absence")), facts.on, days_after_absence(facts, rules))
        return found.toordinal() if found is not None else None

    quiet = bounds.quiet.toordinal() if bounds.quiet else 0
    rules_say = tuple(d.toordinal() if d is not None else date.max.toordinal() for d in clock.floors)
    floors = tuple(max(d, quiet) for d in rules_say)
    because = [cause("clean_days_first", days=bounds.gap_days) if quiet > d else why for d, why in zip(rules_say, clock.why, strict=True)]
    if bounds.health is not None and bounds.health[0].toordinal() > floors[FISH]:
        floors, because[FISH] = (bounds.health[0].toordinal(), *floors[1:]), bounds.health[1]
    groups = tuple((name, d.toordinal()) for name, d in clock.groups if d is not None)
    box = QuarantineTank(clock.quarantine.toordinal()) if facts.tank.equipment.quarantine_tank else None
    free = StageDays(gate.toordinal(), clock.fill.toordinal(), allowed, (floors[0], floors[1], floors[2]), floors_why=(because[0], because[1], because[2]), group_floors=groups, least_gap=bounds.gap_days,
                     waiting=frozenset(c.animal_id for c in arrivals.in_quarantine))
    came: tuple[Wish, ...] = ()
    if arrivals.general:
        first = plan_stages(rest, catalogue, free, box, judged.handled_mg_n_per_day)
        rest, before = _without_general(rest, first, arrivals.general, catalogue), rest
        came = tuple(w for w in before if w not in rest)
    care = _care(judged, came, gate, facts, rules, catalogue)
    last, last_fish = (d.toordinal() if d is not None else None for d in (arrivals.last_day, arrivals.last_fish_day))
    ids, day = bounds.stands if bounds.stands is not None else (frozenset(), date.min)
    days = replace(free, last_day=last, last_fish_day=last_fish, today=bounds.today.toordinal() if bounds.today else 0, next_ids=ids, next_day=day.toordinal())
    return plan_stages(rest, catalogue, days, box, judged.handled_mg_n_per_day, care, reckon)


def _care(judged: Judged, unnamed: tuple[Wish, ...], gate: date, facts: Facts, rules: Rulebook, catalogue: Catalogue) -> FilterCare:
    """The filter as the plan knows it. Animals that came before the gate to animals came without a proof."""
    arrivals = judged.arrivals
    rows = [*arrivals.changes, *((arrivals.last_day or gate, w.animal_id, w.count) for w in unnamed)]
    already = tuple((day.toordinal(), a.nitrogen_mg_per_day * n) for day, name, n in rows if (a := catalogue.get(name)) is not None)
    proved = arrivals.first_day is None or arrivals.first_day >= gate
    proof = Proof(judged.handled_mg_n_per_day / facts.net_volume_l, rules.number("kit_step_unknown"), rules.number("redose_rise"), rules.days("idle_days"))
    return FilterCare(Water(facts.net_volume_l, *water_of("display", facts, rules)), proof if proved else None, already)


def _without_general(rest: tuple[Wish, ...], plan: StagePlan, general: tuple[str, ...], catalogue: Catalogue) -> tuple[Wish, ...]:
    """Each row that names no animal takes the next stage of its group off the list."""
    came: set[str] = set()
    for group in general:
        for stage in plan.stages:
            inside = [w.animal_id for w in stage.wishes if w.animal_id not in came and _group(w, catalogue) == group]
            if inside:
                came.update(inside)
                break
    return tuple(w for w in rest if w.animal_id not in came)


def _group(wish: Wish, catalogue: Catalogue) -> str:
    animal = catalogue.get(wish.animal_id)
    return animal.group if animal is not None else ""


def _by_sort(stage: Stage, plans: tuple[StagePlan | None, ...], due: dict[Wish, date], catalogue: Catalogue) -> list[StagedAnimals]:
    """The stage's fish, corals and crew apart. In another scenario they come when the last of them does."""
    parts = []
    for k, sort in enumerate(SORTS):
        wishes = [w for w, s in zip(stage.wishes, stage.sorts, strict=True) if s == k]
        if not wishes:
            continue
        days: list[date | None] = []
        entries: list[date | None] = []
        for plan in plans:
            found = [s for w in wishes for s in (plan.stages if plan else ()) if w in s.wishes]
            last = max(found, key=lambda s: s.day) if len(found) == len(wishes) else None
            days.append(date.fromordinal(last.day) if last is not None else None)
            entries.append(date.fromordinal(last.quarantine_from) if last is not None and sort == "fish" and last.quarantine_from is not None else None)
        animals = tuple(StagedAnimal(a.id, a.name, a.group, w.count, a.light) for w in wishes if (a := catalogue.get(w.animal_id)) is not None)
        because = tuple(b for b in stage.because if b != stage.feeding and (sort == "fish" or b != stage.risk))
        by_causes = min((due[w] for w in wishes if w in due), default=days[1])
        parts.append(StagedAnimals(sort, animals, (days[0], days[1], days[2]), (entries[0], entries[1], entries[2]), because, by_causes, stage.feeding))
    return parts


def _about_wishes(judged: Judged, likely: StagePlan | None, catalogue: Catalogue) -> tuple[list[Cause], list[Cause], list[Cause]]:
    """Which wishes are unclear, which are left out, and which have no stage."""
    unclear = [cause("wish_of_several", written=written, choice=catalogue.choice(could), names=catalogue.choice(could, ids=False)) if could else cause("wish_unknown", written=written)
               for written, could in judged.unclear]
    living = {c.animal_id for c in judged.arrivals.came} - {c.animal_id for c in judged.arrivals.lost}
    left = [cause("cannot_stay" if x.animal_id in living else "left_out", name=_name(x.animal_id, catalogue), why=x.why) for x in judged.verdict.left_out]
    return unclear, left, [cause("no_stage", name=_name(wish.animal_id, catalogue), why=why) for wish, why in (likely.not_placed if likely else ())]


def _notices(judged: Judged, likely: StagePlan | None, spike: tuple[date, date | None] | None, quiet: date | None, on: date, catalogue: Catalogue,
             absences: Sequence[Away], wishes: tuple[list[Cause], list[Cause], list[Cause]]) -> list[Cause]:
    on_list = {w.animal_id for w in judged.wanted}
    unclear, left_out, not_placed = wishes
    notices = list(unclear)
    if judged.named:
        notices += [cause("none_wished", sort=sort) for sort in ("fish", "corals") if sort not in judged.sorts]
    notices += left_out
    notices += [cause("lost", count=c.count, name=_name(c.animal_id, catalogue)) for c in judged.arrivals.lost if c.animal_id in on_list]
    for stage in likely.stages if likely else ():
        for away in absences:
            if stage.quarantine_from is not None and stage.quarantine_from <= away.to_day.toordinal() and away.from_day.toordinal() <= stage.day and away.nights:
                names = listed(_name(w.animal_id, catalogue) for w, s in zip(stage.wishes, stage.sorts, strict=True) if s == FISH)
                notices.append(cause("alone_in_quarantine", names=names, first=on_day(away.from_day, sure=True), last=on_day(away.to_day, sure=True)))
    notices += not_placed
    if spike is not None and quiet is not None and on < quiet:  # after that it asks for nothing any more
        clear = cause("clear_since", day=on_day(spike[1])) if spike[1] else cause("not_clear_yet")
        notices.append(cause("spike", day=on_day(spike[0], "on "), clear=clear, quiet=on_day(quiet)))
    return notices


def _name(animal_id: str, catalogue: Catalogue) -> str:
    animal = catalogue.get(animal_id)
    return animal.name if animal is not None else animal_id
