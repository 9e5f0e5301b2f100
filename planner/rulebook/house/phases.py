"""A phase of a shop's own: what it may hold, and why it is refused.

It may delay what a shop lets wait for it, and it may ask for more. It brings in no animals, passes nothing of ours, and no
step of ours is forgotten because its gate has opened. Where it cannot be read, a shut gate stands in its place before what
waits for it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.rulebook.house.allowed import house_condition, house_hold
from planner.rulebook.house.draft import condition_uses, text_uses
from planner.rulebook.kinds.node import TIME
from planner.rulebook.names import Use, phase_texts
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import GateRule, PhaseRule, Rulebook
from planner.terms.units import Refusal

NAME = r"[a-z][a-z0-9-]*"


def new_phase(rule: PhaseRule, book: Rulebook) -> Refusal | None:
    """The first reason why this phase, whose tasks are judged apart, may not stand."""
    if not re.fullmatch(NAME, rule.phase):
        return Refusal("not-a-name", f"a phase cannot be called {rule.phase!r}", "use small letters, digits and hyphens, beginning with a letter", at=("phase",))
    if rule.phase in {a.alert for a in book.alerts}:
        return Refusal("house-name-taken", f"`{rule.phase}` is an alert of ours, at {book.places.get(rule.phase, 'rules')}", "give the phase another name", at=("phase",))
    if rule.role is not None:
        return Refusal("house-fixed", "`role` is for shipped phases alone: by it our rules know who proves the filter and who lets animals in", "take `role` out", at=("role",))
    if not rule.after and not rule.beside:
        return Refusal("house-phase", f"the phase {rule.phase} hangs on no other phase", "write `after:` with the gates that it waits for, or `beside:` with phases that have to have begun", at=("phase",))
    return next((r for r in _refusals(rule, book) if r is not None), None)


def _refusals(rule: PhaseRule, book: Rulebook) -> Iterator[Refusal | None]:
    for where, condition in _conditions(rule):
        yield house_condition(condition, where)
    for n, hold in enumerate(rule.gate.holds):
        yield _below(house_hold(hold, book), "gate", "holds", n)


def _below(refusal: Refusal | None, *at: str | int) -> Refusal | None:
    return None if refusal is None else Refusal(refusal.code, refusal.message, refusal.fix, at=(*at, *refusal.at))


def _conditions(rule: PhaseRule) -> Iterator[tuple[tuple[str | int, ...], Condition]]:
    gate = rule.gate
    named: list[tuple[tuple[str | int, ...], Condition | None]] = [
        (("only_when",), rule.only_when), (("gate", "opens_when"), gate.opens_when), (("gate", "lapses_when"), gate.lapses_when),
        *((("gate", "stuck", n, "when"), s.when) for n, s in enumerate(gate.stuck)),
        *((("gate", "expect_first", n, "only_when"), e.only_when) for n, e in enumerate(gate.expect_first))]
    yield from ((where, condition) for where, condition in named if condition is not None)


def phase_uses(rule: PhaseRule) -> tuple[Use, ...]:
    """Everything that the phase names beside its tasks."""
    id, gate = rule.phase, rule.gate
    found = [*(Use("phase", before, id) for before in (*rule.after, *rule.beside)), *text_uses(id, *phase_texts(rule))]
    for _, condition in _conditions(rule):
        found += condition_uses(id, condition)
    for hold in gate.holds:
        found += [*condition_uses(id, hold.when), *(Use("task", key, id) for key in hold.instead)]
    for expect in (gate.expect, *gate.expect_first):
        found += [Use("figure", name, id) for name in (expect.quick, expect.likely, expect.slow) if name]
        found += [Use("task", expect.after, id)] if expect.after else []
    if rule.beside_wait:
        found += [Use("number", rule.beside_wait, id), Use("number", rule.beside_wait, id, measure=TIME)]
    return tuple(found)


def shut_phase(id: str, waiting: PhaseRule) -> PhaseRule:
    """What stands before a phase of ours in place of one of the shop's that cannot be read: nobody knows what it asks for,
    and no row of a journal passes its gate."""
    never = Condition.model_construct(any=(), say=f"the shop has mended its rules for “{id}”")
    gate = GateRule.model_construct(title=f"The shop's rules for “{id}” can be read", opens_when=never)
    return PhaseRule.model_construct(phase=id, title=f"{id.capitalize()}, a step of the shop", short=id[:14], order=waiting.order, after=waiting.after, gate=gate,
                                     intro="This step cannot be read in the shop's rules. Ask the shop to mend them. What comes after it waits until then.")


__all__ = ["new_phase", "phase_uses", "shut_phase"]
