"""The dated orders of one tank while they are settled: what each does to its water, when, and how it gives way."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property

from planner.judge.daily_doses import daily_ticks
from planner.judge.figures import FIGURES, quantity
from planner.judge.scene import Scene
from planner.plan.dues import Due
from planner.plan.task_days import TaskDays
from planner.rulebook.what_jobs_do import RANKS, Act, Rank, acts_of, written_act
from planner.terms.records import Window, Yielded

BY_ACT: dict[Act, Rank] = {"moves_salinity": "salinity", "moves_alkalinity": "alkalinity", "keeps_alkalinity": "alkalinity", "moves_calcium": "alkalinity", "moves_magnesium": "alkalinity", "medicates": "disease"}
"""Where neither the task nor its alert names a rank."""
ROW_KINDS = ("dosed", "changed_water", "added", "moved", "event")
"""The rows that tell what was done to a water, beside the ticks."""


@dataclass
class Order:
    """One occurrence on its way through the day. `place` is its place in the rules; `acts` what is left of its acts."""

    due: Due
    rank: Rank
    place: int
    acts: set[Act]
    dropped: bool = False
    yielded: list[Yielded] = field(default_factory=list)

    @property
    def day(self) -> date | None:
        return self.due.window.likely

    @property
    def open(self) -> bool:
        return self.due.closed is None and not self.due.left_out and not self.dropped

    @property
    def goes(self) -> tuple[int, int, int]:
        """What goes first among equals: the graver remedy, then the place in the rules."""
        return (RANKS.index(self.rank) if self.due.rule.role == "remedy" else len(RANKS), self.place, self.due.occurrence)


@dataclass(frozen=True, slots=True)
class First:
    """What goes first, in one water: an order, a row of the journal, or a state that lasts from `day` on."""

    day: date
    act: Act | None = None
    order: Order | None = None
    firm: bool = True
    share: float = 1.0


class Orders:
    """All orders, and the three ways in which one gives way: to another day, without a step, or altogether."""

    def __init__(self, dues: tuple[Due, ...], scene: Scene, up: frozenset[str] = frozenset(), shown: frozenset[tuple[str, str]] = frozenset()) -> None:
        """`up`: the alerts that stand. `shown`: those of them whose reading is not good yet, each with its water."""
        self.scene, self.facts, self.rules, self.on = scene, scene.facts, scene.rules, scene.facts.on
        self.up, self.shown = up, shown
        self.days = TaskDays(self.rules, self.facts)
        ranks = {a.alert: a.place for a in self.rules.alerts}
        self.all = [Order(due, ranks.get(due.phase) or _rank(due), n, set(acts_of(due.rule))) for n, due in enumerate(dues)]
        self.alerts = frozenset(ranks)
        self.for_people = frozenset(alert for alert, rank in ranks.items() if rank == "people")
        self._shares: dict[str, float] = {}
        self.done_before: dict[tuple[str, Act, str], tuple[First, ...]] = {}
        """What the journal shows to go first by a line of the rules, an act and a water: it stays while orders move."""

    @cached_property
    def written(self) -> frozenset[tuple[Act | None, str]]:
        """What the journal shows to have happened in which water, at any time."""
        return frozenset((written_act(r.kind, r.what), r.where) for kind in ROW_KINDS for r in self.facts.rows(kind))

    @cached_property
    def daily_doses(self) -> frozenset[tuple[float, str]]:
        return daily_ticks(self.facts, self.rules)

    @property
    def tomorrow(self) -> date:
        return self.on + timedelta(days=1)

    def open_with(self, act: Act) -> list[Order]:
        return [o for o in self.all if act in o.acts and o.open and o.day is not None]

    def today(self, act: Act) -> list[Order]:
        """Orders with this act that stand today, the gravest first."""
        return sorted((o for o in self.open_with(act) if self.is_today(o)), key=lambda o: o.goes)

    def is_today(self, order: Order) -> bool:
        return order.open and not order.due.tentative and order.day is not None and order.day <= self.on

    def share(self, order: Order) -> float:
        """The share of its own water that an order changes, 0 to 1; 0 where it names no amount."""
        key = order.due.key
        if key not in self._shares:
            self._shares[key] = self._share(order)
        return self._shares[key]

    def enough(self, order: Order) -> float:
        """The share of a change that counts as this one on its day: its own, unless its rule says that less is enough."""
        name = order.due.rule.enough
        return self._share_of((name,), order.due.rule.where) if name is not None else self.share(order)

    def _share(self, order: Order) -> float:
        writes = order.due.rule.writes
        return self._share_of(((writes.amount,) if writes is not None and writes.amount else ()) + order.due.rule.amounts, order.due.rule.where)

    def _share_of(self, names: tuple[str, ...], where: str) -> float:
        size = (self.facts.tank.equipment.quarantine_l if where == "quarantine" else None) or self.facts.net_volume_l
        for name in names:
            made = quantity(name, self.facts, self.rules) if name in FIGURES else None
            if made is not None and made.unit == "L" and size:
                return made.value / size
        return 0.0

    # --- ways to give way

    def without(self, order: Order, act: Act, why: Yielded) -> None:
        """The steps of one act fall away; a task that is nothing else is left out."""
        steps = frozenset(order.due.rule.act_steps.get(act, ()))
        without = order.due.without | steps
        if not steps or len(without) == len(order.due.rule.steps):
            self.leave_out(order, why)
            return
        order.acts.discard(act)
        order.due = replace(order.due, without=without)
        order.yielded.append(replace(why, way="step_left_out", what=(act,)) if why.way == "left_out" else why)

    def leave_out(self, order: Order, why: Yielded) -> None:
        """It stays in the plan with its reason; later occurrences of it go."""
        order.yielded.append(why)
        order.due = replace(order.due, left_out=True)

    def put_off(self, order: Order, to: date, why: Yielded) -> None:
        """To the first day at or after `to` that suits it; what hangs on it, and what follows it by its interval, moves
        along."""
        day = self.days.allowed(to, order.due.rule)
        if day is None or order.day is None or day <= order.day:
            return
        moved = (day - order.day).days
        order.yielded.append(replace(why, until=day))
        for other in [order, *self._followers(order)]:
            other.due = _later(other.due, moved)
        order.due = replace(order.due, due=order.day)

    def _followers(self, order: Order) -> list[Order]:
        rule, key = order.due.rule, order.due.key
        found = []
        for other in self.all:
            if other is order or not other.open or other.due.rule.on_entry:
                continue
            anchor = other.due.rule.anchor
            same_stage = rule.per_stage is not None and other.due.rule.per_stage == rule.per_stage and other.due.occurrence >= order.due.occurrence
            before = other.due.rule.role == "test" and other.due.rule.not_before == key
            hangs = rule.per_stage is None and (before or (anchor is not None and anchor.task == key))
            again = rule.per_stage is None and other.due.key == key and other.due.occurrence > order.due.occurrence
            if same_stage or hangs or again:
                found.append(other)
        return found

    def dues(self) -> tuple[Due, ...]:
        return tuple(replace(o.due, yielded=tuple(o.yielded)) for o in self.all if not o.dropped)


def _rank(due: Due) -> Rank:
    if due.rule.rank is not None:
        return due.rule.rank
    return next((BY_ACT[a] for a in due.rule.acts if a in BY_ACT), "rest")


def _later(due: Due, days: int) -> Due:
    step = timedelta(days=days)
    w = due.window
    return replace(due, due=due.due + step if due.due else None, window=Window(*(d + step if d else None for d in (w.earliest, w.likely, w.latest))))


__all__ = ["ROW_KINDS", "First", "Order", "Orders"]
