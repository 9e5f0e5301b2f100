"""Remedies of one day, merged: one change of water as large as the largest need, and at most three remedies, the gravest
first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from planner.judge.facts import share_changed
from planner.plan.orders import Order, Orders
from planner.rulebook.what_jobs_do import NEVER_CAPPED, Apart
from planner.terms.records import Row, Window, Yielded

A_LITTLE = 1e-6
BY_THE_BUCKET = 0.02
"""A change within so much of the share that is asked for was that change (engine's own, no source)."""


def merge_changes(orders: Orders, line: Apart) -> None:
    """One change a day in each water. The largest stands, of equal ones the gravest; what it contains counts as done."""
    for where in sorted({o.due.rule.where for o in orders.open_with("changes_water")}):
        todays = [o for o in orders.today("changes_water") if o.due.rule.where == where]
        done = changes_of_today(orders, where)
        share_done = sum(share_changed(row, orders.facts) for row in done)
        kept: Order | None = None
        if todays:
            largest = max(todays, key=lambda o: (round(orders.share(o), 6), [-n for n in o.goes]))
            more = not done or largest.due.changed_l > 0 or (largest.rank in NEVER_CAPPED and (min(orders.enough(largest) - A_LITTLE, orders.share(largest) - BY_THE_BUCKET) > share_done or _again(orders, largest, done)))
            kept = largest if more else None
        for order in todays:
            if order is not kept:
                _taken_in(orders, order, kept, line)
        if kept is not None and kept.due.rule.role == "remedy":
            for order in orders.open_with("changes_water"):
                rule, day = order.due.rule, order.day
                if rule.where == where and rule.role == "care" and day is not None and orders.on < day < _next(orders, order) and orders.share(order) <= orders.share(kept) + A_LITTLE:
                    orders.put_off(order, _next(orders, order), _why(kept, line))


def _taken_in(orders: Orders, order: Order, kept: Order | None, line: Apart) -> None:
    """The change falls away from a task that asks for more; a task that is a change alone comes later."""
    why = _why(kept, line)
    steps = order.due.rule.act_steps.get("changes_water", ())
    if steps and len(order.due.without | set(steps)) < len(order.due.rule.steps):
        orders.without(order, "changes_water", why)
    else:
        # It comes whole on its other day.
        order.due, order.yielded = replace(order.due, without=frozenset()), [y for y in order.yielded if y.way != "step_left_out"]
        orders.put_off(order, _next(orders, order) if order.due.rule.role == "care" else orders.tomorrow, why)


def _why(kept: Order | None, line: Apart) -> Yielded:
    return Yielded("taken_in", line.id, kept.due.id if kept else "", kept.due.rule.title if kept else "", None, line.say)


def _next(orders: Orders, order: Order) -> date:
    """The next day of a chore that counts as done today."""
    return orders.days.step_on(orders.on, order.due.rule) or orders.tomorrow


def changes_of_today(orders: Orders, where: str) -> list[Row]:
    return [row for row in orders.facts.rows("changed_water") if row.day == orders.on and row.where == where]


def change_again(orders: Orders) -> None:
    """A change that comes a second time on one day, where its rule allows that and a test after the first one asks for it."""
    for order in orders.all:
        if "changes_water" in order.acts and (litres := _in_part(orders, order)):
            n = order.due.occurrence + (order.due.closed is not None)
            order.due = replace(order.due, occurrence=n, closed=None, due=orders.on, window=Window(orders.on, orders.on, orders.on), changed_l=litres)
            order.yielded.append(Yielded("in_part", hours=litres))
    for order in orders.open_with("changes_water"):
        if order.day == orders.tomorrow and _again(orders, order, changes_of_today(orders, order.due.rule.where)):
            order.due = replace(order.due, due=orders.on, window=Window(orders.on, orders.on, orders.on))
            order.yielded.append(Yielded("again"))


def _in_part(orders: Orders, order: Order) -> float:
    """Litres of a large change that was ticked today with less than is enough; 0 where nothing is missing, or a test after it tells what it left."""
    trace, where = order.due.trace, order.due.rule.where
    ticks = [row for row in orders.facts.rows("done", order.due.key) if row.day == orders.on]
    tested = order.due.rule.enough is None and trace is not None and ticks and any((row.earliest, row.line) > (ticks[0].latest, ticks[0].line) for row in trace.rows)
    if not order.due.rule.in_parts or tested or order.due.in_vain or not ticks or trace is None or trace.kept or _again(orders, order, changes_of_today(orders, where)):
        return 0.0
    share = sum(share_changed(row, orders.facts) for row in changes_of_today(orders, where) if row.latest >= ticks[0].earliest)
    return share * orders.facts.net_volume_l if 0 < share < min(orders.enough(order) - A_LITTLE, orders.share(order) - BY_THE_BUCKET) else 0.0


def _again(orders: Orders, order: Order, done: list[Row]) -> bool:
    """One change so far, be it in parts, and the alarm still up by a reading that long after it. A day without hours proves nothing."""
    rule, trace = order.due.rule, order.due.trace
    if rule.again is None or not done or trace is None or trace.kept or (len(done) > 1 and sum(share_changed(r, orders.facts) for r in done) > 2 * orders.enough(order) - A_LITTLE):
        return False
    wait = orders.rules.hours(rule.again) * 3600
    return any(row.kind == "reading" and row.at is not None and row.earliest >= max(r.latest for r in done) + wait for row in trace.rows)


def cap_remedies(orders: Orders) -> None:
    """At most so many remedies stand as today's. Those for people, air, heat, poison and ammonia all do."""
    todays = sorted((o for o in orders.all if o.due.rule.role == "remedy" and orders.is_today(o)), key=lambda o: o.goes)
    most = round(orders.rules.number("remedies_a_day"))
    standing = sum(o.rank in NEVER_CAPPED for o in todays)
    for order in (o for o in todays if o.rank not in NEVER_CAPPED):
        if standing >= most:
            orders.put_off(order, orders.on + timedelta(days=1), Yielded("day_full"))
        else:
            standing += 1


__all__ = ["cap_remedies", "change_again", "changes_of_today", "merge_changes"]
