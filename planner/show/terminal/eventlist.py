"""What can happen to a tank and its keeper, each with the word that writes it down."""

from __future__ import annotations

from planner.rulebook.kinds.event import EventNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import leaves
from planner.rulebook.what_jobs_do import RANKS
from planner.show.words.words import Line, Page, command

OWN_WORDS = {
    "algae_bloom": "Algae spread within days", "algae_seen": "First algae, film or brown dust on the glass", "bought": "Something was bought (bought salt 20kg, bought ammonia_kit 50 tests)", "fed": "The bacteria were fed with food", "ill": "An animal looks ill in another way",
    "medicated": "Medicine was given", "overdose": "Too much of a salt was dosed", "power_cut": "The power is out", "smell": "A smell of rotten eggs", "tank_closed": "The tank is given up",
}
"""Events that no alarm has for its title, or to which several alarms listen."""
FACTS = (("dosed ammonia 4.1g", "a dose"), ("changed_water 10%", "a water change"), ("poured fresh 2L", "a top-up"), ("added ANIMAL 2", "animals that came"), ("lost ANIMAL", "an animal that died"),
         ("failed TASK", "a check that failed"))


def events_told(rules: Rulebook) -> tuple[tuple[str, str], ...]:
    """(event, what it is in a few words), what endangers people first."""
    found: dict[str, tuple[int, str]] = {event: (len(RANKS), title) for event, title in OWN_WORDS.items()}
    for alert in rules.alerts:
        for leaf, turned in leaves(alert.when):
            if isinstance(leaf, EventNode) and not turned and leaf.what != "failed":
                # The first alert that asks for it says what it is; those after it say what it leads to.
                rank, title = found.get(leaf.what, (len(RANKS), alert.title))
                found[leaf.what] = (min(rank, RANKS.index(alert.place)), OWN_WORDS.get(leaf.what, title))
    return tuple((event, title) for event, (_, title) in sorted(found.items(), key=lambda item: (item[1][0], item[0])))


def event_lines(rules: Rulebook, width: int, folder: str = "") -> tuple[Line, ...]:
    page = Page(width)
    page.heading("What happened?")
    page.say(f"Write it down with its word, such as `{command('note', folder, 'leak')}`. Near words are found.")
    page.gap()
    for event, title in events_told(rules):
        page.labelled(event, title, 2, 20)
    page.heading("Anything else you did")
    for written, title in FACTS:
        page.labelled(written, title, 2, 24)
    return tuple(page.lines)


__all__ = ["event_lines", "events_told"]
