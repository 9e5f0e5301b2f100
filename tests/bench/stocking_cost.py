"""What the stocking rules cost: loading, judging and staging; growth; and what a fixed order costs in days.

Run: `python -m tests.bench.stocking_cost`. Times are CPU time, best and median of repeated runs in one process, in ms (other work on the machine still shows); a bench, never a test.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from planner.catalogue import Catalogue, load_catalogue
from planner.stages import RANK, QuarantineTank, StageDays, _groups, _limits, _units, plan_stages
from planner.stagesearch import CREW, FISH, Quarantine, solve_stages
from planner.stocking import TankForStock, Wish, judge_wishes

RULES = Path(__file__).parents[2] / "rules" / "livestock"
GATE = 740_000
REEF = TankForStock(600, 200, 60, 60, "fine", 5, 60, True, 25.5, 200, "some")
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


def judge_and_stage(catalogue: Catalogue, wishes: list[Wish], quarantine: QuarantineTank | None) -> tuple[int, bool]:
    verdict = judge_wishes(REEF, wishes, catalogue, 600.0)
    plan = plan_stages(verdict.keep, catalogue, StageDays(GATE, GATE - 45, saturdays), quarantine, 600.0)
    return len(verdict.keep), plan.proved and verdict.keep_proved


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
                f"kept {kept:.0f}, proved {sum(p for _, p in results)} of {len(results)}"
            )


def fixed_order_cost(catalogue: Catalogue) -> None:
    """Days that a leaflet's fixed order costs against the free problem. Fixed: crew, then fish from gentle to fierce,
    then corals by release; whoever stands later never goes in before whoever stands earlier; all other rules alike."""
    rng = random.Random(11)
    keepable = [a for a in catalogue.animals if a.skill in ("easy", "attentive")]
    days = StageDays(GATE, GATE - 45, saturdays)
    for name, box in (("no quarantine", None), ("quarantine", Quarantine(GATE - 42, 42, 3))):
        last, each = [], []
        for _ in range(25):
            wishes = [Wish(a.id, max(1, a.least)) for a in rng.sample(keepable, 10)]
            keep = judge_wishes(REEF, wishes, catalogue, 600.0).keep
            groups, _rest = _groups(keep, catalogue, days, 600.0)
            units = _units(groups, catalogue.figures)
            limits = _limits(catalogue.figures, 600.0)
            order = sorted(
                range(len(units)),
                key=lambda i: ({CREW: 0, FISH: 1}.get(units[i].sort, 2), RANK[groups[i].lead.manner] * (units[i].sort == FISH), units[i].release, i),
            )
            before = {i: order[at - 1] for at, i in enumerate(order) if at}
            chained = [replace(u, not_before=u.not_before | (1 << before[i] if i in before else 0)) for i, u in enumerate(units)]
            free, fixed = (solve_stages(x, limits, box, saturdays) for x in (units, chained))
            if free is None or fixed is None:
                continue
            last.append(max(fixed.days) - max(free.days))
            each.append(statistics.mean(b - a for a, b in zip(free.days, fixed.days, strict=True)))
        print(
            f"  {name:13}: {len(last)} lists; last animal {statistics.mean(last):.0f} days later (most {max(last)}), "
            f"the average animal {statistics.mean(each):.0f} days later"
        )


def main() -> None:
    print("load the catalogue (best, median): {:.1f}, {:.1f} ms".format(*timed(lambda: load_catalogue([RULES]), 15)))
    catalogue = load_catalogue([RULES])
    wishes = wishes_from(FIRST_LIST)
    print(f"{len(wishes)} wishes of a real list, judged: %.1f, %.1f ms" % timed(lambda: judge_wishes(REEF, wishes, catalogue, 600.0), 9))
    for name, box in (("no quarantine", None), ("quarantine", QuarantineTank(GATE - 42))):
        best, median = timed(lambda box=box: judge_and_stage(catalogue, wishes, box), 9)  # type: ignore[misc]
        kept, proved = judge_and_stage(catalogue, wishes, box)
        print(f"  judged and staged, {name}: {best:.1f}, {median:.1f} ms; kept {kept}; proved optimal: {proved}")
    print("growth, random lists of keepable animals:")
    growth(catalogue)
    print("what a fixed order costs, 25 random lists of 10:")
    fixed_order_cost(catalogue)


if __name__ == "__main__":
    main()
