"""When the animals of a list move in: consecutive stages, as few days as can be, each with its reasons.

The problem in words. Animals go in by stages. A stage is a day on which something may happen at all (a shopping day,
no absence), at least `stage_gap` days after the one before. Every wish moves in whole: a pair or a shoal is never
split, and a burrowing shrimp goes in with its goby. No wish comes before its release: the gate to animals plus the
wait of its group, or the tank age that it asks for, whichever is later. Crew comes before the first fish, which does not
wait longer than `crew_wait` for it. Gentle fish
are never after bold ones and strictly before fierce ones, and of two rivals the gentler (then the smaller) is first;
but nobody waits more than `order_wait` days beyond its own release for a gentler fish that must come late. Until a fish
is in, one that grows longer than `first_small` comes after the lightest of those that do not, under the same limit.
A stage holds fish, crew or one group of corals alone, and at most so many wishes; the first fish come one wish alone; the fish of a stage
add at most a set share of the nitrogen that the filter has shown to handle, unless a single wish alone is more. With
one quarantine tank the fish of a stage spend their weeks in it together before, and the next batch enters after they
have left, because an addition would start the clock again; fish that are in it already move before all others. The whole list stays within what the filter handles: the
last wishes that would exceed it are returned as not placed.

After a stage free ammonia stays within a limit in the slow case (`ammonia`): a stage adds no more than the slow filter
has room for on that day. Its bacteria are those that passed the proof, fading day by day from the
first day on which a stage may fall, and those that the animals in before have fed in one gap. A single wish that gives
more goes in alone, on a smaller ration for so long as the filter needs to settle, and the next stage comes that much
later; if even the least ration is too much, it is returned as not placed.

Wanted: no constraint broken; then the last animal as early as possible; then the earlier wishes as early as possible,
in the order of the list. `search` solves it, exactly for up to ten units and beyond as far as its budget goes.

Days are ordinals (`date.toordinal`); nothing here looks at a calendar or a clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.stock.animals import Animal
from planner.stock.catalogue import Catalogue
from planner.stock.neighbours import MOVING, clashes_between, welcomes
from planner.stock.room_and_load import StockFigures
from planner.stock.stages.filter import MG_PER_UNIT, FilterCare, filter_for_search, reckon_stages
from planner.stock.stages.records import QuarantineTank, Stage, StageDays, StagePlan
from planner.stock.stages.search import CORAL, CREW, FISH, Filter, Limits, NextDay, Quarantine, Unit, overloaded, solve_stages
from planner.stock.stages.why import Before, Group, feeding_of, why_load, why_not_earlier, why_then, why_together
from planner.stock.verdict import Wish
from planner.terms.causes import Cause, about, cause, in_turn

RANK = {"mild": 0, "bold": 1, "fierce": 2}
GROUPS_THAT_WAIT = frozenset({"soft_coral", "large_polyp", "small_polyp", "anemone", "clam", "dragonet"})
GROUPS_APART = ("soft_coral", "large_polyp", "small_polyp", "anemone", "clam")
"""Of what counts as corals each group has stages of its own."""
FLOORS = {FISH: cause("fish_phase"), CORAL: cause("coral_gate"), CREW: cause("crew_phase")}
"""Why none of a sort comes earlier, where the rules alone say so."""


def plan_stages(
    keep: Sequence[Wish],
    catalogue: Catalogue,
    days: StageDays,
    quarantine: QuarantineTank | None = None,
    handled_mg_n_per_day: float | None = None,
    care: FilterCare | None = None,
    reckon: bool = True,
) -> StagePlan:
    """Stages for wishes that can live together (`StockVerdict.keep`), by the problem above. `handled_mg_n_per_day`
    None = not shown yet: then its share limits no stage; `care` None: free ammonia limits none. Without `reckon` the
    ammonia of the stages found is not worked out. Ids unknown to the catalogue raise KeyError."""
    figures = catalogue.figures
    groups, not_placed = _groups(keep, catalogue, days, handled_mg_n_per_day, care.load_in if care is not None else 0.0)
    limits = _limits(figures, handled_mg_n_per_day, days.last_fish_day is not None, days.least_gap)
    box = None
    if quarantine is not None:
        stay, pause = int(figures.value("quarantine_days")), int(figures.value("quarantine_pause"))
        ready = quarantine.ready_day if days.last_fish_day is None else max(quarantine.ready_day, days.last_fish_day + pause)
        box = Quarantine(ready, stay, pause)
    while groups:
        inside_box = frozenset(i for i, g in enumerate(groups) if g.sort == FISH and box is not None and any(w.animal_id in days.waiting for w in g.wishes))
        limits = replace(limits, first_fish=max(limits.first_fish, len(inside_box)), most=(max(limits.most[FISH], len(inside_box)), *limits.most[1:]))
        stands = frozenset(i for i, g in enumerate(groups) if any(w.animal_id in days.next_ids for w in g.wishes))
        units = _units(groups, figures, days.last_fish_day is not None, max(days.today, 0 if days.last_day is None else days.last_day + limits.gap), inside_box)
        units = _standing(units, stands, days.next_day) if stands and not inside_box else units
        takes = filter_for_search(care, units, limits.gap, figures) if care is not None else None
        solution = solve_stages(units, limits, box, days.next_day_allowed, filter=takes)
        if solution is not None:
            stages = _explained(groups, units, solution.days, limits, box, days, takes, care.load_in if care is not None else 0.0, figures.value("fallow_days"))
            if care is None or not reckon:
                return StagePlan(stages, solution.proved, tuple(not_placed))
            loads = reckon_stages([(s.day, s.nitrogen_added_mg_per_day) for s in stages], care, figures)
            if len(loads) == len(stages):
                told = tuple(
                    replace(s, rise=x.rise, ration=x.ration, why_load=why_load(s.nitrogen_mg_per_day, x, figures), feeding=feeding_of(x.ration, figures)) for s, x in zip(stages, loads, strict=True)
                )
                return StagePlan(told, solution.proved, tuple(not_placed))
            inside = [g for g, day in zip(groups, solution.days, strict=True) if day == stages[len(loads)].day]
            groups = _without(max(inside, key=lambda g: g.nitrogen), groups, not_placed, "too_much_for_filter")
            continue
        if takes is not None and solve_stages(units, limits, box, days.next_day_allowed, 0) is not None:
            groups = _without(max(groups, key=lambda g: g.nitrogen), groups, not_placed, "too_much_for_filter")
        else:
            groups = _without(max(groups, key=lambda g: g.release), groups, not_placed, "no_day_left")
    return StagePlan((), True, tuple(not_placed))


def _without(out: Group, groups: Sequence[Group], not_placed: list[tuple[Wish, Cause]], why: str) -> list[Group]:
    not_placed += [(w, cause(why, name=out.name)) for w in out.wishes]
    return [g for g in groups if g is not out]


def release_day(animal: Animal, days: StageDays, figures: StockFigures) -> tuple[int, Cause]:
    """First day for this animal, and the reason: the gate, its group's wait after the gate, or the age of the tank."""
    by_age = days.first_salt_day + animal.age_days
    key = animal.kind if animal.kind == "dragonet" else animal.group
    wait = int(figures.value(f"wait_{key}")) if key in GROUPS_THAT_WAIT else 0
    by_group = days.gate_day + wait
    if by_age > by_group:
        return by_age, cause("asks_for_age", name=animal.name, days=animal.age_days)
    return by_group, cause("group_waits", group=cause(f"group_{key}"), days=wait) if wait else cause("animals_gate")


def _groups(keep: Sequence[Wish], catalogue: Catalogue, days: StageDays, handled: float | None, load_in: float = 0.0) -> tuple[list[Group], list[tuple[Wish, Cause]]]:
    pairs: list[tuple[Wish, Animal]] = []
    not_placed: list[tuple[Wish, Cause]] = []
    spent = load_in
    for wish in keep:
        animal = catalogue.get(wish.animal_id)
        if animal is None:
            raise KeyError(wish.animal_id)
        nitrogen = animal.nitrogen_mg_per_day * wish.count
        if handled is not None and spent + nitrogen > handled + 1e-9:
            not_placed.append((wish, cause("beyond_filter", given=about(spent + nitrogen, "mg"), handled=about(handled, "mg"))))
            continue
        spent += nitrogen
        pairs.append((wish, animal))
    groups: list[Group] = []
    used: set[int] = set()
    for i, (wish, animal) in enumerate(pairs):
        if i in used:
            continue
        members = [(wish, animal)]
        if animal.group in MOVING:
            for j in range(i + 1, len(pairs)):
                other = pairs[j][1]
                burrow = animal.group in MOVING and other.group in MOVING and animal.group != other.group
                if j not in used and len(members) == 1 and burrow and (welcomes(animal, other) or welcomes(other, animal)):
                    members.append(pairs[j])
                    used.add(j)
        release, why = max((release_day(a, days, catalogue.figures) for _, a in members), key=lambda x: x[0])
        group = Group(tuple(w for w, _ in members), tuple(a for _, a in members), release, why)
        if days.floors[group.sort] > release:
            group = replace(group, release=days.floors[group.sort], why_release=days.floors_why[group.sort] or FLOORS[group.sort])
        of_group = max((day for name, day in days.group_floors if any(a.group == name for _, a in members)), default=0)
        if of_group > group.release:
            group = replace(group, release=of_group, why_release=cause("tests_of_many" if len(members) > 1 else "tests_of_one", name=group.name))
        groups.append(group)
    return groups, not_placed


def _limits(figures: StockFigures, handled: float | None, fish_in: bool, least_gap: int = 0) -> Limits:
    at = figures.value
    load = 10**12 if handled is None else int(at("stage_share") * handled / MG_PER_UNIT)
    most = (int(at("stage_fish")), int(at("stage_corals")), int(at("stage_crew")))
    return Limits(max(int(at("stage_gap")), least_gap), most, most[FISH] if fish_in else int(at("first_fish")), load)


def _units(groups: Sequence[Group], figures: StockFigures, fish_in: bool, floor: int, inside_box: frozenset[int] = frozenset()) -> list[Unit]:
    order_wait = figures.value("order_wait")
    fish = [i for i, g in enumerate(groups) if g.sort == FISH]
    crew = [i for i, g in enumerate(groups) if g.sort == CREW]
    first_crew = min(crew, key=lambda i: (groups[i].release, i), default=None)
    after = [0] * len(groups)
    not_before = [0] * len(groups)
    for i in fish:
        mine = groups[i]
        if first_crew is not None and groups[first_crew].release <= mine.release + figures.value("crew_wait"):
            after[i] |= 1 << first_crew
        for j in fish:
            other = groups[j]
            if other.release > mine.release + order_wait:
                continue
            if RANK[other.lead.manner] < RANK[mine.lead.manner]:
                if mine.lead.manner == "fierce":
                    after[i] |= 1 << j
                else:
                    not_before[i] |= 1 << j
            elif i != j and _gentler(other.lead, mine.lead, figures):
                after[i] |= 1 << j
    for i in fish if not fish_in else ():
        if groups[i].lead.adult_cm > figures.value("first_small"):
            small = [j for j in fish if groups[j].lead.adult_cm <= figures.value("first_small") and groups[j].release <= groups[i].release + order_wait
                     and RANK[groups[j].lead.manner] <= RANK[groups[i].lead.manner] and not _follows(j, i, after)]
            if small:
                after[i] |= 1 << min(small, key=lambda j: (groups[j].nitrogen, j))
    all_fish, first = sum(1 << i for i in fish), sum(1 << i for i in inside_box)
    for i in fish if inside_box else ():  # who is in quarantine already moves first, whatever the order of the rest
        after[i] = after[i] & ~all_fish if i in inside_box else after[i] | first
        not_before[i] = 0 if i in inside_box else not_before[i] & ~first
    return [
        Unit(
            max(g.release, floor),
            g.sort,
            round(g.nitrogen / MG_PER_UNIT) if g.sort == FISH else 0,
            after[i],
            not_before[i],
            round(g.nitrogen / MG_PER_UNIT),
            GROUPS_APART.index(g.lead.group) + 1 if g.sort == CORAL and g.lead.group in GROUPS_APART else 0,
        )
        for i, g in enumerate(groups)
    ]


def _standing(units: Sequence[Unit], stands: frozenset[int], day: int) -> list[Unit]:
    """The stage whose way is clear keeps its animals and its day: the rest of its sort follows, whatever order the list has."""
    mine = sum(1 << i for i in stands)
    sorts = {units[i].sort for i in stands}
    return [replace(u, release=max(u.release, day), after=0, not_before=0) if i in stands
            else replace(u, after=u.after | mine, not_before=u.not_before & ~mine) if u.sort in sorts else u for i, u in enumerate(units)]


def _follows(one: int, other: int, after: Sequence[int]) -> bool:
    """Must `one` come after `other`, directly or by way of others?"""
    return any(j == other or _follows(j, other, after) for j in range(len(after)) if after[one] >> j & 1)


def _gentler(first: Animal, second: Animal, figures: StockFigures) -> bool:
    """Of two rivals of one manner the smaller goes first; of equals the one whose id comes first."""
    if first.manner != second.manner or (first.adult_cm, first.id) >= (second.adult_cm, second.id):
        return False
    if first.house != second.house and first.form != second.form:
        return False
    return any(c.kind == "rivals" for c in clashes_between(first, second, 0.0, None, figures))


def _explained(
    groups: Sequence[Group],
    units: Sequence[Unit],
    unit_days: Sequence[int],
    limits: Limits,
    box: Quarantine | None,
    days: StageDays,
    takes: Filter | None,
    load_in: float,
    fallow_d: float,
) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    total = load_in
    heavy = overloaded(units, unit_days, takes) if takes is not None else frozenset()
    last, last_fish = days.last_day, days.last_fish_day
    for number, day in enumerate(sorted(set(unit_days)), start=1):
        inside = [i for i, d in enumerate(unit_days) if d == day]
        entry: int | None = None
        has_fish = any(units[i].sort == FISH for i in inside)
        if box is not None and has_fish:
            entry = days.next_day_allowed(box.ready if last_fish is None else max(box.ready, last_fish + box.pause))
        rest = takes.rest if takes is not None and last in heavy else 0
        reason = why_then(inside, groups, day, last, entry, limits, box, Before(rest, last_fish is not None, days.today))
        if entry is not None and box is not None and not any(w.animal_id in days.waiting for i in inside for w in groups[i].wishes):
            entry = _last_entry(entry, day - box.stay, days.next_day_allowed)
        held = [] if last is None else why_not_earlier(inside, groups, units, unit_days, last, limits, takes, box is not None)
        added = sum(groups[i].nitrogen for i in inside)
        total += added
        wishes = tuple(w for i in inside for w in groups[i].wishes)
        sorts = tuple(groups[i].sort for i in inside for _ in groups[i].wishes)
        risk = cause("no_quarantine", weeks=round(fallow_d / 7)) if has_fish and box is None and last_fish is None else None
        together = why_together(inside, groups, units, added)
        stages.append(Stage(number, day, wishes, entry, added, total, in_turn([*reason, *held]), together, risk, sorts))
        last = day
        last_fish = day if has_fish else last_fish
    return tuple(stages)


def _last_entry(first: int, last: int, next_day: NextDay) -> int:
    """The fish go into quarantine as late as their move allows: no animal waits in a bare box for longer than it must."""
    return next((d for d in range(last, first, -1) if next_day(d) == d), first)
