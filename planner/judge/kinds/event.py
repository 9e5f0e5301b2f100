"""Something that happened, and is not over."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.kinds.done import DoneAsked, done_asked
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NO, YES, Scene, first_instant, in_damage, last_instant, not_over
from planner.rulebook.kinds.event import EventNode
from planner.terms.records import Trace
from planner.terms.traces import Asked


@dataclass(frozen=True, slots=True, kw_only=True)
class EventAsked(Asked):
    """An event, or the failed check of a task."""

    what: str
    failed: DoneAsked | None = None


def answer(node: EventNode, scene: Scene) -> Trace:
    rows = [r for name in node.called() for r in scene.facts.rows("event", name) if node.where is None or r.where == node.where]
    rows.sort(key=lambda r: (r.day, r.sort_key))
    what = EventAsked(what=node.what)
    if node.task:
        failed = done_asked(node.task, scene.rules)
        what = EventAsked(what=node.what, title=failed.title, failed=failed)
        rows = [r for r in rows if node.task in {word.partition("#")[0] for word in r.note.split()}]
    if node.since:
        begin = last_instant(node.since, scene)
        rows = [r for r in rows if begin is None or r.latest > begin[1]]
    if node.within:
        rows = [r for r in rows if scene.facts.now - r.earliest <= scene.rules.hours(node.within) * 3600]
    rows = list(not_over(rows, node.ended_by, node.looks, scene))
    if not rows:  # a line that cannot be read may have been any of them
        starts = [i for i in (last_instant(node.since, scene) if node.since else None, last_instant(node.ended_by, scene) if node.ended_by else None) if i is not None]
        limit = scene.rules.hours(node.within) if node.within else None
        found = next((hit for name in node.called() if (hit := in_damage("event", name, node.where, scene, max(starts, default=None), limit)) is not None), None)
        return Trace(what, NO) if found is None else Trace(what, found[0], (found[1],), gap=found[1])
    return Trace(what, YES, (rows[-1],), (rows[-1],))


def may_hold(node: EventNode, scene: Scene) -> Possible:
    return since(min(first_instant(scene.facts, "event", name) for name in node.called()))


def for_good(node: EventNode) -> bool:
    return not (node.since or node.ended_by or node.looks or node.within)


KIND = JudgedKind(answer, may_hold, for_good=for_good)
