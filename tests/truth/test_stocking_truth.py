"""Stocking against the world outside: pairings that keepers know, published masses, and other people's algorithms.

Pairings: common practice, no source (each row says so), but for hosts, partners and prey that FishBase records (read). Masses: rounded values of FishBase 06/2018, read. Largest
sets: networkx (maximum independent set as the largest clique of the complement) and plain enumeration. Stages: the
stated problem written a second time for OR-Tools CP-SAT. Nitrogen: the nitrogen content of protein from the atomic
masses of amino acid residues, by molmass.
"""

from __future__ import annotations

import csv
import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import networkx as nx
import pytest

from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.largest_set import Sum, largest_keepable
from planner.stock.neighbours import clashes_between
from planner.stock.room_and_load import mass_from_length_g, nitrogen_from_mass_mg_per_day
from planner.stock.stages.search import Filter, Limits, Quarantine, Unit, solve_stages
from tests.each import over

DATA = Path(__file__).parent / "data"
RULES = Path(__file__).parents[2] / "rules" / "livestock"


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@over("row", _rows("stocking_pairings.csv"), ids=lambda r: f"{r['first']}+{r['second']}")
def test_a_pairing_that_keepers_know_is_judged_as_they_judge_it(row: dict[str, str], catalogue: Catalogue) -> None:
    a, b = catalogue.get(row["first"]), catalogue.get(row["second"])
    assert a is not None and b is not None
    found = clashes_between(a, b, float(row["volume_l"]), float(row["length_cm"]), catalogue.figures)
    judged = "no" if any(c.hard for c in found) else "care" if found else "yes"
    assert judged == row["together"], [c.why for c in found]
    turned = clashes_between(b, a, float(row["volume_l"]), float(row["length_cm"]), catalogue.figures)
    assert {c.hard for c in turned} == {c.hard for c in found}


def test_there_are_at_least_sixty_pairings_and_each_names_its_source() -> None:
    rows = _rows("stocking_pairings.csv")
    assert len(rows) >= 60 and {r["together"] for r in rows} == {"yes", "care", "no"}
    assert all(r["source"] for r in rows)
    assert sum(r["source"].startswith("FishBase") for r in rows) >= 8


@over("row", _rows("stocking_masses.csv"), ids=lambda r: r["animal"])
def test_mass_from_the_body_shape_is_within_a_third_of_the_published_mass(row: dict[str, str], catalogue: Catalogue) -> None:
    animal = catalogue.get(row["animal"])
    assert animal is not None
    mass_g = mass_from_length_g(float(row["length_cm"]), catalogue.figures.value(f"mass_{animal.body}"))
    assert mass_g == pytest.approx(float(row["published_mass_g"]), rel=1 / 3)


def test_feed_nitrogen_stays_below_the_nitrogen_that_atomic_masses_put_into_protein(catalogue: Catalogue) -> None:
    """0.092 g of ammonia nitrogen per g of protein is part of the nitrogen in the protein eaten. The content itself
    is bounded from atomic masses: residues of leucine (poor) and glycine (rich), water lost in the bond."""
    from molmass import Formula

    def share(formula: str) -> float:
        residue_mass = Formula(formula).mass - Formula("H2O").mass
        return float(Formula("N").mass / residue_mass)

    poor, rich = share("C6H13NO2"), share("C2H5NO2")
    assert poor < 0.16 < rich  # the usual 16 % lies between
    assert 0.4 * 0.16 < catalogue.figures.value("nitrogen_per_protein") < poor


def test_nitrogen_scales_with_mass_by_the_published_exponent(catalogue: Catalogue) -> None:
    """Exponent 0.77: all-fish mean after Barneche & Allen 2018, read in the metabolic table of fishflux."""
    one, eight = (nitrogen_from_mass_mg_per_day(m, catalogue.figures) for m in (10.0, 80.0))
    assert eight / one == pytest.approx(8**0.77, rel=1e-9)
    assert one == pytest.approx(0.02 * 10 * 0.45 * 0.092 * 1000, rel=1e-9)  # 8.28 mg/day for a 10 g fish


def _first_largest_by_enumeration(excludes: Sequence[int], sums: Sequence[Sum]) -> tuple[int, ...]:
    n = len(excludes)
    for size in range(n, -1, -1):
        for chosen in itertools.combinations(range(n), size):
            apart = all(not excludes[i] >> j & 1 for i, j in itertools.combinations(chosen, 2))
            if apart and all(sum(s.weights[i] for i in chosen) <= s.limit for s in sums):
                return chosen
    raise AssertionError("the empty set is always there")


def _conflicts(rng: random.Random, n: int, density: float) -> list[int]:
    excludes = [0] * n
    for i, j in itertools.combinations(range(n), 2):
        if rng.random() < density:
            excludes[i] |= 1 << j
            excludes[j] |= 1 << i
    return excludes


def test_the_kept_set_is_the_first_of_the_largest_in_three_hundred_random_lists_with_sums() -> None:
    rng = random.Random(20270301)
    for _ in range(300):
        n = rng.randint(0, 10)
        excludes = _conflicts(rng, n, rng.random() * 0.7)
        sums = [Sum(tuple(float(rng.randint(0, 6)) for _ in range(n)), float(rng.randint(0, 20))) for _ in range(rng.randint(0, 3))]
        kept = largest_keepable(excludes, sums)
        assert kept.proved and kept.indices == _first_largest_by_enumeration(excludes, sums)


def test_the_kept_set_is_as_large_as_the_one_that_networkx_finds_on_lists_of_forty() -> None:
    rng = random.Random(7)
    for _ in range(12):
        excludes = _conflicts(rng, 40, rng.choice((0.1, 0.2, 0.35)))
        graph = nx.Graph()
        graph.add_nodes_from(range(40))
        graph.add_edges_from((i, j) for i in range(40) for j in range(i) if excludes[i] >> j & 1)
        clique, _ = nx.max_weight_clique(nx.complement(graph), weight=None)
        kept = largest_keepable(excludes)
        assert kept.proved and len(kept.indices) == len(clique)
        assert not any(graph.has_edge(i, j) for i, j in itertools.combinations(kept.indices, 2))


@dataclass(frozen=True)
class _Takes:
    """A filter in tables: what is left of it by day, what each unit of load adds, and the room for more by strength."""

    left: tuple[int, ...]
    fed: int
    room: tuple[int, ...]
    already: int
    rest: int
    least: float

    def by_table(self, before: int, day: int) -> int:
        return self.room[min(self.left[day] + self.fed * before, len(self.room) - 1)]


def _random_filter(rng: random.Random) -> _Takes:
    start, decay = rng.randint(0, 60), rng.choice((0.0, 0.01, 0.03, 0.1))
    left = tuple(math.floor(start * math.exp(-decay * max(0, d - 100))) for d in range(1200))
    slope = rng.choice((0.1, 0.3, 0.5))
    room = tuple(math.floor(rng.choice((-1, 1, 4)) + slope * s) for s in range(400))
    return _Takes(left, rng.choice((0, 1, 3)), tuple(itertools.accumulate(room, max)), rng.choice((0, 0, 3)), rng.choice((0, 14)), rng.choice((0.0, 0.25, 0.5)))


def _random_list(rng: random.Random) -> tuple[list[Unit], Limits, Quarantine | None, frozenset[int]]:
    n = rng.randint(1, 10)
    manners = [rng.randint(0, 2) for _ in range(n)]
    sorts = [rng.choice((0, 0, 1, 2)) for _ in range(n)]
    units = []
    for i in range(n):
        gentler = [j for j in range(n) if sorts[i] == sorts[j] == 0 and manners[j] < manners[i]]
        mask = sum(1 << j for j in gentler)
        crew = sum(1 << j for j in range(i) if sorts[j] == 2 and sorts[i] == 0 and rng.random() < 0.2)
        strict = (mask if manners[i] == 2 else 0) | crew
        release = 100 + rng.choice((0, 0, 0, 5, 28, 56, 120))
        load = rng.randint(0, 9) if sorts[i] == 0 else 0
        gives = max(load, rng.randint(0, 2)) if sorts[i] != 1 else rng.choice((0, 0, 1))
        units.append(Unit(release, sorts[i], load, strict, mask if manners[i] == 1 else 0, gives, rng.randint(0, 1) if sorts[i] == 1 else 0))
    limits = Limits(14, (2, 3, 4), 1, rng.choice((5, 10, 30)))
    box = rng.choice((None, Quarantine(70 + rng.randint(0, 40), 42, 3)))
    away = rng.randint(100, 300)
    weekdays = rng.choice((frozenset(range(7)), frozenset({5}), frozenset({5, 6})))
    allowed = frozenset(d for d in range(60, 1000) if d % 7 in weekdays and not away <= d < away + 16)
    return units, limits, box, allowed


def _next_in(allowed: frozenset[int], day: int) -> int | None:
    return next((d for d in range(day, day + 40) if d in allowed), None)


def _by_cp_sat(
    units: Sequence[Unit], limits: Limits, box: Quarantine | None, takes: _Takes | None, allowed: frozenset[int], horizon: int
) -> tuple[int, ...] | None:
    """The stated problem as constraints over stage slots, solved objective by objective: last day, then each unit."""
    from ortools.sat.python import cp_model

    n = len(units)
    model = cp_model.CpModel()
    domain = cp_model.Domain.FromValues(sorted(d for d in allowed if d <= horizon))
    slot_day = [model.new_int_var_from_domain(domain, f"slot{k}") for k in range(n)]
    used = [model.new_bool_var(f"used{k}") for k in range(n)]
    into = [[model.new_bool_var(f"in{i}_{k}") for k in range(n)] for i in range(n)]
    slot = [model.new_int_var(0, n - 1, f"of{i}") for i in range(n)]
    unit_day = [model.new_int_var(0, horizon, f"day{i}") for i in range(n)]
    last = model.new_int_var(0, horizon, "last")
    fishy = [model.new_bool_var(f"fish{k}") for k in range(n)]
    for i in range(n):
        model.add_exactly_one(into[i])
        model.add(slot[i] == sum(k * into[i][k] for k in range(n)))
        model.add(last >= unit_day[i])
        model.add(unit_day[i] >= units[i].release)
        for k in range(n):
            model.add(unit_day[i] == slot_day[k]).only_enforce_if(into[i][k])
        for j in range(n):
            if units[i].after >> j & 1:
                model.add(slot[j] < slot[i])
            if units[i].not_before >> j & 1:
                model.add(slot[j] <= slot[i])
    for k in range(n):
        members = [into[i][k] for i in range(n)]
        model.add_max_equality(used[k], members)
        fish = [into[i][k] for i in range(n) if units[i].sort == 0]
        model.add_max_equality(fishy[k], fish) if fish else model.add(fishy[k] == 0)
        for sort in range(3):
            model.add(sum(into[i][k] for i in range(n) if units[i].sort == sort) <= limits.most[sort])
        for i, j in itertools.combinations(range(n), 2):
            if (units[i].sort, units[i].group) != (units[j].sort, units[j].group):
                model.add_at_most_one(into[i][k], into[j][k])
        loaded = [i for i in range(n) if units[i].load]
        within = model.new_bool_var(f"light{k}")
        model.add(sum(units[i].load * into[i][k] for i in loaded) <= limits.load).only_enforce_if(within)
        model.add(sum(into[i][k] for i in loaded) <= 1).only_enforce_if(~within)
        earlier_fish = model.new_bool_var(f"before{k}")
        model.add_max_equality(earlier_fish, fishy[:k]) if k else model.add(earlier_fish == 0)
        model.add(sum(fish) <= limits.first_fish).only_enforce_if(~earlier_fish)
        if k:
            model.add_implication(used[k], used[k - 1])
            model.add(slot_day[k] >= slot_day[k - 1] + limits.gap).only_enforce_if(used[k])
        if takes is not None:
            before = takes.already + sum(units[i].gives * into[i][j] for i in range(n) for j in range(k))
            added = sum(units[i].gives * into[i][k] for i in range(n))
            left = model.new_int_var(0, max(takes.left), f"left{k}")
            model.add_element(slot_day[k], takes.left[: horizon + 1], left)
            strength = model.new_int_var(0, len(takes.room) - 1, f"strength{k}")
            model.add(strength == left + takes.fed * before)
            room = model.new_int_var(min(takes.room), max(takes.room), f"room{k}")
            model.add_element(strength, takes.room, room)
            fits, nothing = model.new_bool_var(f"fits{k}"), model.new_bool_var(f"nothing{k}")
            model.add(added <= room).only_enforce_if(fits)
            model.add(added == 0).only_enforce_if(nothing)
            model.add(sum(into[i][k] for i in range(n) if units[i].gives) <= 1).only_enforce_if(~fits, ~nothing)
            small = sum(math.ceil(units[i].gives * takes.least - 1e-9) * into[i][k] for i in range(n))
            model.add(small <= room).only_enforce_if(~fits, ~nothing)
            if k + 1 < n:
                model.add(slot_day[k + 1] >= slot_day[k] + limits.gap + takes.rest).only_enforce_if(~fits, ~nothing, used[k + 1])
        if box is not None:
            entry = model.new_int_var_from_domain(domain, f"entry{k}")
            model.add(entry >= box.ready)
            model.add(slot_day[k] >= entry + box.stay).only_enforce_if(fishy[k])
            for j in range(k):
                model.add(entry >= slot_day[j] + box.pause).only_enforce_if(fishy[j], fishy[k])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    for goal in (last, *unit_day):
        model.minimize(goal)
        if solver.solve(model) != cp_model.OPTIMAL:
            return None
        model.add(goal == solver.value(goal))
    return tuple(solver.value(d) for d in unit_day)


def _agrees_with_cp_sat(rng: random.Random) -> None:
    units, limits, box, allowed = _random_list(rng)
    takes = _random_filter(rng) if rng.random() < 0.6 else None
    filter = Filter(takes.by_table, takes.already, takes.rest, takes.least) if takes is not None else None
    ours = solve_stages(units, limits, box, lambda d: _next_in(allowed, d), filter=filter)
    if ours is None:
        assert _by_cp_sat(units, limits, box, takes, allowed, 900) is None, (units, limits, box, takes)
        return
    assert ours.proved and ours.last_day_at_best == max(ours.days)
    theirs = _by_cp_sat(units, limits, box, takes, allowed, max(ours.days) + 7)
    assert theirs == ours.days, (units, limits, box, takes)


@pytest.mark.slow
def test_stages_are_the_optimum_that_cp_sat_finds_on_three_hundred_random_lists() -> None:
    rng = random.Random(99)
    for _ in range(300):
        _agrees_with_cp_sat(rng)


def test_stages_are_the_optimum_that_cp_sat_finds_on_a_few_random_lists() -> None:
    rng = random.Random(1)
    for _ in range(12):
        _agrees_with_cp_sat(rng)
