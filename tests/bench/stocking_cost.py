"""What the stocking rules cost: loading, judging and staging; growth; and what a fixed order costs in days.

Run: `python -m tests.bench.stocking_cost`. Times are CPU time, best and median of repeated runs in one process, in ms
(other work on the machine still shows), each also as a share of its aim; a bench, never a test.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.stages.ammonia import Proof, Water, _proven, _table
from planner.stock.stages.filter import FilterCare, filter_for_search
from planner.stock.stages.order import RANK, _groups, _limits, _units, plan_stages
from planner.stock.stages.records import QuarantineTank, StageDays
from planner.stock.stages.search import CREW, FISH, Quarantine, Unit, overloaded, solve_stages
from planner.stock.verdict import TankForStock, Wish, judge_wishes

RULES = Path(__file__).parents[2] / "rules" / "livestock"
GATE = 740_000
REEF = TankForStock(600, 200, 60, "fine", 5, 60, True, 25.5, 200, "some")
CARE = FilterCare(Water(600.0, 8.2, 25.5, 35.0), Proof(1.0, 0.25, 1.0, 7.0))
AIM_STAGED_MS, AIM_CATALOGUE_MS = 100.0, 40.0
FIRST_LIST = (
    "amphiprion-ocellaris:2 gramma-loreto nemateleotris-magnifica cryptocentrus-cinctus alpheus-bellulus trochus-maculatus:6 "
    "lysmata-amboinensis:2 paguristes-cadenati:4 nassarius-distortus:4 pseudocheilinus-hexataenia zebrasoma-flavescens "
    "centropyge-bispinosa pterapogon-kauderni ecsenius-bicolor halichoeres-chrysus mespilia-globulus discosoma-spp zoanthus-spp "
    "sarcophyton-glaucum briareum-violaceum caulastraea-furcata duncanopsammia-axifuga fimbriaphyllia-ancora "
    "euphyllia-glabrescens montipora-digitata stylophora-pistillata entacmaea-quadricolor pterois-volitans amphiprion-frenatus "
    "synchiropus-splendidus"
)


def timed(work: Callable[[], object], times: int) -> tuple[float, float]:
    """Best and median in ms."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append((time.process_time() - start) * 1000)
    return min(spent), statistics.median(spent)


def saturdays(day: int) -> int | None:
    return day + (5 - day) % 7


def wishes_from(text: str) -> list[Wish]:
    return [Wish(w.split(":")[0], int((w.split(":") + ["1"])[1])) for w in text.split()]


def judge_and_stage(catalogue: Catalogue, wishes: list[Wish], quarantine: QuarantineTank | None, care: FilterCare | None = CARE) -> tuple[int, bool]:
    verdict = judge_wishes(REEF, wishes, catalogue, 600.0)
    plan = plan_stages(verdict.keep, catalogue, StageDays(GATE, GATE - 45, saturdays), quarantine, 600.0, care)
    assert sum(len(s.wishes) for s in plan.stages) + len(plan.not_placed) == len(verdict.keep)
    return sum(len(s.wishes) for s in plan.stages), plan.proved


def growth(catalogue: Catalogue) -> None:
    keepable = [a for a in catalogue.animals if a.skill in ("easy", "attentive")]
    for n in (5, 10, 20, 30, 45, 60):
        rng = random.Random(n)
        lists = [[Wish(a.id, max(1, a.least)) for a in rng.sample(keepable, n)] for _ in range(6)]
        for name, box in (("no quarantine", None), ("quarantine", QuarantineTank(GATE - 42))):
            results = [judge_and_stage(catalogue, w, box) for w in lists]
            spent = [timed(lambda w=w, box=box: judge_and_stage(catalogue, w, box), 1)[0] for w in lists]  # type: ignore[misc]
            kept = statistics.mean(k for k, _ in results)
            print(
                f"  {n:2} wishes, {name:13}: {min(spent):7.1f} least {statistics.median(spent):7.1f} median {max(spent):7.1f} most ms, "
                f"placed {kept:.0f}, proved {sum(p for _, p in results)} of {len(results)}"
            )


def fixed_order_cost(catalogue: Catalogue) -> None:
    """Days that a leaflet's fixed order costs against the free problem, all other rules alike. The order of sorts and
    tempers: crew, then fish from gentle to fierce, then corals by release. The order of the list: as the buyer wrote it.
    Whoever stands later never goes in before whoever stands earlier."""
    keepable = [a for a in catalogue.animals if a.skill in ("easy", "attentive")]
    days = StageDays(GATE, GATE - 45, saturdays)
    for name, box in (("no quarantine", None), ("quarantine", Quarantine(GATE - 42, 42, 3))):
        for order_name in ("by sort and temper", "as on the list"):
            rng = random.Random(11)
            last, each, none = [], [], 0
            for _ in range(25):
                wishes = [Wish(a.id, max(1, a.least)) for a in rng.sample(keepable, 10)]
                keep = judge_wishes(REEF, wishes, catalogue, 600.0).keep
                groups, _rest = _groups(keep, catalogue, days, 600.0)
                units, limits = _units(groups, catalogue.figures, False, 0), _limits(catalogue.figures, 600.0, False)
                order = list(range(len(units)))
                if order_name == "by sort and temper":
                    order.sort(key=lambda i: ({CREW: 0, FISH: 1}.get(units[i].sort, 2), RANK[groups[i].lead.manner] * (units[i].sort == FISH), units[i].release, i))
                before = {i: order[at - 1] for at, i in enumerate(order) if at}
                chained = [replace(u, not_before=u.not_before | (1 << before[i] if i in before else 0)) for i, u in enumerate(units)]
                takes = filter_for_search(CARE, units, limits.gap, catalogue.figures)
                free, fixed = (solve_stages(x, limits, box, saturdays, filter=takes) for x in (units, chained))
                if free is None or fixed is None:
                    none += 1
                    continue
                last.append(max(fixed.days) - max(free.days))
                each.append(statistics.mean(b - a for a, b in zip(free.days, fixed.days, strict=True)))
            shown = f"last animal {statistics.mean(last):.0f} days later (most {max(last)}), the average animal {statistics.mean(each):.0f} days later" if last else "no plan at all"
            print(f"  {name:13}, {order_name:18}: {len(last)} lists, {shown}; {none} lists cannot be staged in that order")


def filter_cost(catalogue: Catalogue) -> None:
    """What the filter adds to judging and staging: nothing looked at, in a tank where it never binds, and in a small one
    where it does; and its tables, made once for a temperature and pH."""
    def tables() -> None:
        _table.cache_clear()
        _proven.cache_clear()
        filter_for_search(CARE, [Unit(GATE, FISH, 0)], 14, catalogue.figures)

    print("  its table, made anew (best, median): {:.1f}, {:.1f} ms".format(*timed(tables, 9)))
    wishes = wishes_from(FIRST_LIST)
    small = replace(CARE, water=replace(CARE.water, net_l=60.0, ph=8.4))
    base = timed(lambda: judge_and_stage(catalogue, wishes, None, None), 9)[0]
    for name, care in (("600 L", CARE), ("the same list in 60 L at pH 8.4", small)):
        best, median = timed(lambda care=care: judge_and_stage(catalogue, wishes, None, care), 9)  # type: ignore[misc]
        plan = plan_stages(judge_wishes(REEF, wishes, catalogue, 600.0).keep, catalogue, StageDays(GATE, GATE - 45, saturdays), None, 600.0, care)
        reduced = sum(s.ration < 1 for s in plan.stages)
        print(f"  {name}: {best:.1f}, {median:.1f} ms, {best / base:.1f} times that without a filter; {len(plan.stages)} stages, {reduced} on a smaller ration")
    print(f"  random tanks in which the filter binds: {binding(catalogue)}")


def binding(catalogue: Catalogue) -> str:
    keepable = [a for a in catalogue.animals if a.skill in ("easy", "attentive")]
    rng, bound, days = random.Random(5), 0, StageDays(GATE, GATE - 45, saturdays)
    for _ in range(25):
        wishes = [Wish(a.id, max(1, a.least)) for a in rng.sample(keepable, 10)]
        keep = judge_wishes(REEF, wishes, catalogue, 600.0).keep
        groups, _rest = _groups(keep, catalogue, days, 600.0)
        units, limits = _units(groups, catalogue.figures, False, 0), _limits(catalogue.figures, 600.0, False)
        takes = filter_for_search(replace(CARE, water=replace(CARE.water, net_l=150.0)), units, limits.gap, catalogue.figures)
        free = solve_stages(units, limits, Quarantine(GATE - 42, 42, 3), saturdays)
        bound += free is not None and bool(overloaded(units, free.days, takes))
    return f"{bound} of 25 (lists for 600 L in 150 L, quarantine)"


def main() -> None:
    best, median = timed(lambda: load_catalogue([RULES]), 15)
    print(f"load the catalogue (best, median): {best:.1f}, {median:.1f} ms; {best / AIM_CATALOGUE_MS:.2f} of the aim")
    catalogue = load_catalogue([RULES])
    wishes = wishes_from(FIRST_LIST)
    print(f"{len(wishes)} wishes of a real list, judged: %.1f, %.1f ms" % timed(lambda: judge_wishes(REEF, wishes, catalogue, 600.0), 9))
    for name, box in (("no quarantine", None), ("quarantine", QuarantineTank(GATE - 42))):
        best, median = timed(lambda box=box: judge_and_stage(catalogue, wishes, box), 9)  # type: ignore[misc]
        kept, proved = judge_and_stage(catalogue, wishes, box)
        print(f"  judged and staged with the filter, {name}: {best:.1f}, {median:.1f} ms; {best / AIM_STAGED_MS:.2f} of the aim; placed {kept}; proved optimal: {proved}")
    print("what the filter adds:")
    filter_cost(catalogue)
    print("growth, random lists of keepable animals:")
    growth(catalogue)
    print("what a fixed order costs against the free problem, 25 random lists of 10:")
    fixed_order_cost(catalogue)


if __name__ == "__main__":
    main()
