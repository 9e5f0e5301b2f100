"""Why an order gave way to another one of its day, and the lines that keep orders apart, in words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from planner.plan.texts import UNIT_WORDS, shown_amount, typed, untold
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import Apart
from planner.show.words.causes import all_words
from planner.show.words.words import day_words, listed, plain_name
from planner.terms.records import CLOSED, Task, Yielded
from planner.terms.texts import Command, Either, Text, joined

HOW = {"postpone": "moves to a later day", "leave_out": "is left out", "merge": "is done by the other"}


def apart_words(line: Apart, book: Rulebook) -> str:
    """What goes first, what gives way and when, and the reason with its figures."""
    def amount(name: str) -> str:
        number = book.numbers[name]
        return shown_amount(number.value, UNIT_WORDS.get(number.unit, number.unit), "metric")

    size = f" (a change of {amount(line.large)} or more)" if line.large else ""
    alarms = {a.alert: a.title for a in book.alerts}
    first = (f"the alarm “{'” or “'.join(alarms[a] for a in line.while_alerts)}” stands, a job" if line.while_alerts else "you are back from a long absence, a job" if line.after_absence else "an animal is in, or may be, a job" if line.while_animals else f"there is a remedy for {' or '.join(line.first_ranks)}, a job" if line.first_ranks
             else f"a job {' or '.join(map(plain_name, line.first))}{size}, another one")
    when = ["on its day"] + [f"{amount(n)} {word}" for n, word in ((line.before, "before"), (line.after, "after")) if n] + (["from then on"] if line.lasting else [])
    reason = untold(line.say, lambda name: amount(name) if name in book.numbers else plain_name(name))
    spared = f" A remedy for {' or '.join(line.unless_ranks)} does not give way." if line.unless_ranks else ""
    spared += " What is late already does not wait for another job." if line.once else ""
    return f"If {first} that {'puts a hand into the water' if line.hands_out else ' or '.join(map(plain_name, line.yields))} {HOW[line.how]}: {', '.join(when)}.{spared} {reason}"


def because_of(task: Task, units: str) -> tuple[str, ...]:
    """Why the task is there and on this day: the reasons of its rule, and what its day made of it."""
    return (*yielded_of(task), *all_words(task.because, units))


def yielded_of(task: Task, by_hand: bool = False) -> tuple[str, ...]:
    """What the day made of a task, one sentence or two for each reason; nothing once it is done. `by_hand`: on paper."""
    return tuple(dict.fromkeys(yielded_words(y, by_hand=by_hand) for y in task.yielded)) if task.state not in CLOSED else ()


FEEDS = frozenset({"feeds", "feeds_less", "feeds_half"})
NOT_TODAY: dict[str, str] = {
    **dict.fromkeys(sorted(FEEDS), "Do not feed today."), "stops_feeding": "Feed as usual.", "adds_ammonia": "Add no ammonia today.", "proves_filter": "Do not prove the filter today.",
    "adds_animals": "Bring in no animal today.", "changes_water": "Change no water for this job today.", "medicates": "Give no medicine today.", "cleans_filter": "Do not clean the filter today.",
    **dict.fromkeys(("moves_alkalinity", "keeps_alkalinity"), "Leave the alkalinity as it is today."), "moves_calcium": "Leave the calcium as it is today.", "moves_magnesium": "Leave the magnesium as it is today.",
    "moves_salinity": "Leave the salinity as it is today.", "tops_up": "Leave out the usual top-up.", "switches_on": "Leave switched off what is off.",
    "lengthens_light": "Leave the light as it is.", **dict.fromkeys(("airs_and_searches", "airs_and_searches_too"), "Air the water and look for a dead animal once, not twice."),
}
"""What the rest of a job does without, by the act of the step that falls away."""


def away_today_words(why: Yielded) -> str:
    """The same beside "Not today": what an order was left out for stands there alone, the order that goes first is told by `why`."""
    return why.because if why.way == "left_out" and why.because else yielded_words(why)


def yielded_words(why: Yielded, numbers: Mapping[str, int] = MappingProxyType({}), *, by_hand: bool = False) -> str:
    """One reason. Titles of other orders stand in quotes, with their number where they stand on the list of the day."""
    job = f" (job {numbers[why.to]})" if why.to in numbers else ""
    first = joined(" “", why.title, f"”{job} goes first.") if why.title else ""
    until = day_words(why.until) if why.until else "another day"
    match why.way:
        case "put_off":
            return joined(f"Moved to {until}.", first, " ", why.because)
        case "left_out":
            return joined("Left out.", first, " ", why.because)
        case "step_left_out":
            # Whoever must not feed needs the reason alone; and the job that sets the meal may stand below this one.
            whose = first if not FEEDS.issuperset(why.what) else f" Job {numbers[why.to]} sets today's meal." if why.instead and job else joined(" “", why.title, "” sets today's meal.") if why.instead and why.title else ""
            return joined(why.instead or " ".join(NOT_TODAY[act] for act in why.what), whose, " ", why.because)
        case "taken_in":
            who = joined("“", why.title, "” does the water change for this one too.") if why.title else "You already changed water today."
            return joined(who, " ", why.because, f" Next on {until}, if a test still asks for it." if why.until else "")
        case "day_full":
            return f"Moved to {until}, if the test still asks for it then. More urgent remedies fill today, and three are enough for one day."
        case "rests":
            return f"Moved to {until}. The filter stands still, so give no ammonia until then."
        case "again":
            return "This is the second water change today, and the last. The test after the first one still shows too much. If the test after this one does too, find the animals a running tank. The plan goes on from that test tomorrow."
        case "in_part":
            return "You changed less than this job needs. This is the rest of it, for today."
        case "test_first":
            return joined("Do this before “", why.title, f"”. For {why.hours:g} h after it a test of {listed(map(plain_name, why.what))} means nothing.")
        case "in_vain":
            return f"This was done {why.hours:g} times, and {listed('pH' if n == 'ph' else n for n in why.what)} has not moved by a step of the kit."
        case "settles":
            return f"Moved to {until}. The water was changed today, and a test tonight would show the change more than the tank."
        case "tested_with":
            return joined("“", why.title, "” tests this too. Log it once, and both are ticked.")
        case "asked":
            by_hand_words = "If they did, write the day on the log sheet. If not, write the new day there."
            ways = (Either(("If they did, write it down: ", Command("done", why.to, "", ""), ". If not, give the new day: ", Command("postpone", why.to, "--to DATE", ""), "."),
                           (by_hand_words,)),)
            asked = by_hand_words if by_hand else Text(typed(ways, str), ways)
            return joined("Did they come? ", asked, " Give no ammonia until you have answered.")


def yielded_document(why: Yielded) -> dict[str, Any]:
    """One reason as an object."""
    return {"way": why.way, "rule": f"together/{why.rule}" if why.rule else "", "to": why.to, "until": why.until.isoformat() if why.until else None, "text": yielded_words(why)}


__all__ = ["apart_words", "away_today_words", "because_of", "yielded_document", "yielded_of", "yielded_words"]
