"""What the stocking rules cost: loading, judging and staging; growth; and what a fixed order costs in days.

Run: `python -m tests.bench.stocking_cost`. Times are best and median of repeated runs in one process, in ms; a bench, never a test.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from planner.catalogue import Catalogue, load_catalogue
from planner.stages import QuarantineTank, StageDays, plan_stages
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
        start = time.perf_counter()
        work()
        spent.append((time.perf_counter() - start) * 1000)
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
    """Days that the list's own order costs against the free problem: stages filled strictly in the order of the wishes."""
    rng = random.Random(11)
    keepable = [a for a in catalogue.animals if a.skill in ("easy", "attentive")]
    for name, box in (("no quarantine", None), ("quarantine", QuarantineTank(GATE - 42))):
        later_last, later_each = [], []
        for _ in range(25):
            wishes = [Wish(a.id, max(1, a.least)) for a in rng.sample(keepable, 10)]
            keep = judge_wishes(REEF, wishes, catalogue, 600.0).keep
            days = StageDays(GATE, GATE - 45, saturdays)
            free = plan_stages(keep, catalogue, days, box, 600.0)
            free_days = {w.animal_id: s.day for s in free.stages for w in s.wishes}
            fixed: dict[str, int] = {}
            earliest = GATE
            for wish in keep:  # one after the other: each no earlier than the one before it on the list
                shifted = StageDays(max(GATE, earliest), min(GATE - 45, GATE), saturdays)
                alone = plan_stages([wish], catalogue, shifted, None, 600.0).stages[0].day
                stay = earliest + 14 + (45 if box and _is_fish(catalogue, wish) else 0) if fixed else earliest
                fixed[wish.animal_id] = saturdays(max(alone, stay)) or alone
                earliest = fixed[wish.animal_id]
            later_last.append(max(fixed.values()) - max(free_days.values()))
            later_each.append(statistics.mean(fixed[i] - d for i, d in free_days.items()))
        print(
            f"  {name:13}: last animal {statistics.mean(later_last):.0f} days later (most {max(later_last)}), "
            f"the average animal {statistics.mean(later_each):.0f} days later"
        )


def _is_fish(catalogue: Catalogue, wish: Wish) -> bool:
    animal = catalogue.get(wish.animal_id)
    return animal is not None and animal.group == "fish"


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
    print("what the list's own order costs, 25 random lists of 10:")
    fixed_order_cost(catalogue)


if __name__ == "__main__":
    main()
