"""What orders do to a tank, in a few words, and which of them never stand on one day.

A task names its acts (`TaskRule.acts`); `rules/together.yaml` has the lines (`Apart`) by which a day's orders are settled.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

from planner.files.checked import Field, check
from planner.rulebook.nodes import Written
from planner.rulebook.texts import RuleText

Act = Literal[
    "adds_ammonia", "proves_filter", "adds_animals", "changes_water", "moves_alkalinity", "keeps_alkalinity", "moves_calcium", "moves_magnesium", "moves_salinity",
    "feeds", "feeds_less", "feeds_half", "stops_feeding", "medicates", "cleans_filter", "tops_up", "switches_on", "lengthens_light", "airs_and_searches", "airs_and_searches_too"]
Rank = Literal["people", "oxygen", "temperature", "poison", "ammonia", "salinity", "ph", "alkalinity", "disease", "nutrients", "rest"]
RANKS: tuple[Rank, ...] = get_args(Rank)
"""Remedies in the order in which they are done: what kills sooner goes first."""
NEVER_CAPPED = frozenset(RANKS[: RANKS.index("ammonia") + 1])
"""From people to ammonia and nitrite: these never wait because the day is full."""
How = Literal["postpone", "leave_out", "merge"]

SETS_FOOD = frozenset({"stops_feeding", "feeds_half", "feeds_less"})
"""What is said of every meal as long as its alarm stands, ticked or not."""

WRITTEN_ACTS: dict[tuple[str, str], Act] = {
    ("dosed", "ammonia"): "adds_ammonia", ("dosed", "bicarbonate"): "moves_alkalinity", ("dosed", "carbonate"): "moves_alkalinity", ("dosed", "alkalinity"): "moves_alkalinity",
    ("dosed", "calcium"): "moves_calcium", ("dosed", "magnesium"): "moves_magnesium", ("changed_water", "*"): "changes_water", ("added", "*"): "adds_animals", ("moved", "*"): "adds_animals",
    ("event", "medicated"): "medicates",
}
"""What a fact of the journal did to its water. `*`: whatever it names."""


class Spoils(Written):
    """For so long after this task the named readings say nothing: `hours` names a number of time."""

    of: tuple[str, ...] = Field(min_length=1)
    hours: str


class Apart(Written):
    """One line of what never stands together in one water.

    `first` goes first: orders with these acts, or `first_ranks`: remedies of these ranks, or `while_animals`: an animal that
    is in, or may be in, or `while_alerts`: one of these alerts, as long as it stands (its own jobs never give way to it; with `while_shown` in the water that shows it, and only until its first good reading), or `after_absence`: the return
    of the keeper from a long absence, with `until_read` only until that reading was taken again, and with `before` also so long before the keeper leaves. `yields`: acts that give way to it; with
    `hands_out` every job does that is neither for people nor a purchase, and a job of looking keeps what is left of it without
    its acts; with `own_water` only in the tanks that the alert was noted of: the quarantine tank, or all but it. They do so on the same day; with `before` and `after` (numbers of
    time) also so long before and after it, and with `lasting` from then on. `large` names the share of the water, in per
    cent, from which a change counts here. An act on both sides is one that stands once a day: the first order of the day
    stands, or with `merge` the largest. Remedies of `unless_ranks` do not give way by this line. With `once` an order that is late already
    waits for no other order. `how`: put off to the next day
    allowed, or left out. `say`: the reason; `instead`: what is done in place of the step that falls away."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    first: tuple[Act, ...] = ()
    first_ranks: tuple[Rank, ...] = ()
    while_animals: bool = False
    while_alerts: tuple[str, ...] = ()
    while_shown: bool = False
    after_absence: bool = False
    until_read: str | None = None
    yields: tuple[Act, ...] = ()
    hands_out: bool = False
    own_water: bool = False
    large: str | None = None
    before: str | None = None
    after: str | None = None
    lasting: bool = False
    unless_ranks: tuple[Rank, ...] = ()
    once: bool = False
    how: How
    say: RuleText
    instead: RuleText = ""

    @check
    def _one_side(self) -> None:
        if sum(map(bool, (self.first, self.first_ranks, self.while_animals, self.while_alerts, self.after_absence))) != 1:
            raise ValueError("a line says what goes first in one way: `first`, `first_ranks`, `while_animals`, `while_alerts` or `after_absence`")
        if bool(self.yields) == self.hands_out:
            raise ValueError("a line says what gives way in one way: `yields` or `hands_out`")
        if self.hands_out and (not self.while_alerts or self.how != "postpone"):
            raise ValueError("hands stay out while an alert stands, and what they would do is postponed")
        if self.while_shown and (not self.while_alerts or self.hands_out):
            raise ValueError("`while_shown` says until when the acts of a line give way to its alerts")
        if self.own_water and not self.hands_out:
            raise ValueError("`own_water` says which water hands stay out of")
        if self.lasting and self.how != "leave_out":
            raise ValueError("what lasts is left out: no day would come on which it is allowed")
        if self.how == "merge" and self.first != self.yields:
            raise ValueError("only orders of one act can be merged")


def written_act(kind: str, what: str) -> Act | None:
    """The act that a row or a task's `writes` stands for; None if it does nothing that collides."""
    return WRITTEN_ACTS.get((kind, what.lower())) or WRITTEN_ACTS.get((kind, "*"))


def acts_of(rule: Any) -> frozenset[Act]:
    """The acts of a task: those it names, and the one that its fact stands for, so that none is forgotten. A dose that holds alkalinity
    where it is lifts none."""
    implied = written_act(rule.writes.kind, rule.writes.what) if rule.writes is not None and "keeps_alkalinity" not in rule.acts else None
    return frozenset(rule.acts) | ({implied} if implied is not None else frozenset())


def only_forbids(rule: Any) -> bool:
    """An order to leave something out: no hand, no test and no dose belongs to it, so there is nothing to tick. Half a meal is given."""
    return rule is not None and tuple(rule.acts) == ("stops_feeding",) and not (rule.reads or rule.writes or rule.cautions)


__all__ = ["NEVER_CAPPED", "RANKS", "SETS_FOOD", "Act", "Apart", "How", "Rank", "Spoils", "acts_of", "only_forbids", "written_act"]
