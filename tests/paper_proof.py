"""Proof-reading of the printed plan by program: what must not stand on paper, read off its own data and held against the plan.

`faults` names each fault in a line. What counts as one follows the page that a keeper works from with a pencil: every test has
its box, every name can be found, nothing asks for a screen, one system of units, three digits, no two orders that cannot both be
obeyed (common practice, no source).
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from planner.plan.shopping_list import ShoppingList
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.walk import asked_for
from planner.show.words.conditions import need_to_tick
from planner.terms.records import CLOSED, Answer, Plan
from tests.rulecases import rulebook

SCREEN = re.compile(r"not known yet|not known until|\bnewtank\b|tank\.yaml|journal|\bcommands?\b|\bclick|Tell us\b|Tick this\. It writes|--[a-z]|`|[{}]|(?-i:\bNone\b$)|[a-z]_[a-z]", re.IGNORECASE)
METRIC = re.compile(r"\d[ \u00a0]?(?:°C|kg|cm|mm|m|L|mL)\b(?!/)|\bkN\b|\blitres\b")
US = re.compile(r"\d[ \u00a0]?(?:°F|gal|lb|fl oz|oz|in|ft²|qt)\b(?!/)")
LONG_NUMBER = re.compile(r"(?<![\d.,/:-])(\d+\.\d+)(?![\d./:-])")
AMOUNT = re.compile(r"\{\w+\}")
QUOTED = re.compile(r"“([^”]+)”")
APART = (
    (re.compile(r"No more ammonia|Give no ammonia", re.IGNORECASE), re.compile(r"^(?:Give the first dose|Feed the (?:waiting )?filter|Prove the filter)")),
    (re.compile(r"^No animal(?!s except those of the next stage)", re.IGNORECASE), re.compile(r"^Bring in|^Add the first")),
    (re.compile(r"(?:^|\. )(?:Give no food|Feed nothing|Do not feed)"), re.compile(r"^Feed (?:the fish|the animals)|^Give (?:half|the usual) food")),
)
"""What is forbidden on the first side, and the title of a firm job of its week that would do it."""
WEEKS = 12
ALL = "All jobs above are ticked"
LONG_STEP, MOST_TIMES = 100, 2
"""Letters of a step that is not to stand on more cards than this."""
PROOF_DOSE = re.compile(r" of [\d.]+ mg/L as \w+(?= on two days)")
"""Left out on paper: the grams stand on the card."""
OTHER_QUOTES = re.compile(r"(?<!\w)'[A-Z][^']+'")


def texts(told: Any, skip: frozenset[str] = frozenset()) -> Iterator[str]:
    """Every text in the data; `skip`: keys whose texts are not the plan's own, or no words."""
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for key, value in told.items():
            if key not in skip:
                yield from texts(value, skip)
    elif isinstance(told, (list, tuple)):
        for value in told:
            yield from texts(value, skip)


def faults(data: dict[str, Any], plan: Plan, shopping: ShoppingList) -> list[str]:
    """Each fault in a line; `data` is what the paper is made from, `plan` as the keeper reads it on paper."""
    return [*unboxed(data, plan), *lost_names(data), *screen_words(data), *wrong_units(data, plan.units), *long_numbers(data), *contradictions(data), *unrepeated(data, plan), *late_trips(data, shopping),
            *jobless(data, plan), *top_up_before_look(data), *unnamed_edition(data), *two_spans(data), *said_again(data), *other_quotes(data)]


def unboxed(data: dict[str, Any], plan: Plan) -> Iterator[str]:
    """What a phase with a card still asks for has a box: a line of its own, a ticked job of the card, or a line on the wall."""
    wall = {line["text"] for line in data["wall"]["tests"]}
    cards = {s["title"]: s for s in data["cards"]["sections"]}
    for phase in plan.phases:
        section = cards.get(phase.title)
        if section is None or phase.opened is not None or phase.role == "without_end":
            continue
        lines = [line["text"] for line in section["needs"]]
        jobs = {card["title"] for card in section["cards"]} | {line for line in lines if not line.startswith(("Ticked above: ", ALL))}
        ticked = {title for line in lines if line.startswith("Ticked above: ") for title in QUOTED.findall(line)}
        ticked |= {title for line in lines if line.startswith(ALL) for title in jobs - set(QUOTED.findall(line))}
        for need in phase.needs:
            words = PROOF_DOSE.sub("", need_to_tick(need))
            here = {words, words[:1].upper() + words[1:]}
            on_wall = bool(here & wall) and any("on page 1" in line for line in lines)
            if need.met is not Answer.YES and not on_wall and not here & set(lines) and not (here & ticked and here & jobs):
                yield f"no box: {phase.title}: {words}"


def jobless(data: dict[str, Any], plan: Plan) -> Iterator[str]:
    """Every job that the gate of a quarantine or of the first snails counts on stands on its card, dated or not; and the days that fish spend in
    quarantine have their own."""
    rules = rulebook()
    titles = {card["title"].partition(": ")[0] for section in data["cards"]["sections"] for card in section["cards"]}
    shown = {section["title"] for section in data["cards"]["sections"]}
    closed = {t.key for t in plan.tasks if t.state in CLOSED}
    for phase in rules.phases:
        if phase.role in ("quarantine", "stocks_crew") and phase.title in shown:
            asked = {node.task for node in asked_for(phase.gate.opens_when) if isinstance(node, DoneNode)}
            asked |= {f"{phase.phase}/{t.id}" for t in phase.tasks if t.when is not None and t.when.animal is not None}
            for key in sorted(asked - closed):
                title = re.compile(".+".join(map(re.escape, AMOUNT.split(rules.tasks[key].title))))
                if rules.tasks[key].only_when is None and not any(map(title.fullmatch, titles)):
                    yield f"no job: {phase.title}: {rules.tasks[key].title}"


def top_up_before_look(data: dict[str, Any]) -> Iterator[str]:
    """The look at the floor comes before the water that is poured in: on the first side, and among the cards."""
    days = {job["title"]: job["day"] for job in data["wall"]["week"]}
    for where, titles in (("first side", [job["title"] for job in data["wall"]["week"]]), ("cards", [c["title"] for s in data["cards"]["sections"] for c in s["cards"] if s["opened"] or "," in c["day"] and "about" not in c["day"]])):
        look, pour = (next((n for n, title in enumerate(titles) if title.startswith(begins)), None) for begins in ("Check the tank and the thermometer", "Top up with"))
        if look is not None and pour is not None and pour < look and days.get(titles[look], "") == days.get(titles[pour], ""):
            yield f"top-up before look: {where}"


def lost_names(data: dict[str, Any]) -> Iterator[str]:
    """A name in quotation marks is the title of something that stands on this paper."""
    titles = {card["title"] for section in data["cards"]["sections"] for card in section["cards"]} | {s["title"] for s in data["cards"]["sections"]}
    titles |= {title for section in data["cards"]["sections"] for card in section["cards"] for title, _ in card["stands_for"]}
    titles |= {row["title"] for stretch in data["road"]["stretches"] for row in stretch["rows"]}
    done = " ".join(texts([s["done"] for s in data["cards"]["sections"]]))
    own = frozenset({"house_rules", "unclear", "name", "title", "footer"})
    for text in texts(data, own):
        for name in QUOTED.findall(text):
            if name not in titles and name not in done and not any(title.startswith(f"{name}: ") for title in titles):  # a stage is named without its animals
                yield f"stands nowhere else: “{name}” in: {text[:90]}"


def screen_words(data: dict[str, Any]) -> Iterator[str]:
    for text in texts({k: v for k, v in data.items() if k not in ("name", "title", "footer")}, frozenset({"unclear", "problems"})):
        found = SCREEN.search(text)
        if found:
            yield f"for a screen: {found[0]} in: {text[:90]}"


def wrong_units(data: dict[str, Any], units: str) -> Iterator[str]:
    other = METRIC if units == "us" else US
    for text in texts({k: v for k, v in data.items() if k not in ("name", "title", "footer", "sources", "house_rules")}):
        if other.search(text):
            yield f"other units: {text[:90]}"


def long_numbers(data: dict[str, Any]) -> Iterator[str]:
    """Specific gravity alone is read to four digits behind the point."""
    for text in texts({k: v for k, v in data.items() if k not in ("sources", "house_rules", "cycle")}, frozenset({"cost", "sum", "total"})):
        for found in LONG_NUMBER.finditer(text):
            if len(found[1].replace(".", "").lstrip("0")) > 3 and not re.match(r"1\.0\d", found[1]):
                yield f"too many digits: {found[1]} in: {text[:90]}"


def contradictions(data: dict[str, Any]) -> Iterator[str]:
    """Nothing that the first side forbids is a firm job of its week."""
    forbidden = [data["wall"]["not_yet"]["what"], *data["wall"]["not_yet"]["also"], data["wall"]["not_yet"]["until"], *data["notices"], *texts(data["wall"]["holds"])]
    for no, order in APART:
        for job in data["wall"]["week"]:
            if order.search(job["title"]) and not job["day"].startswith("about") and not job["hold"] and any(no.search(text) for text in forbidden):
                yield f"forbidden and ordered: {job['title']}"


def unrepeated(data: dict[str, Any], plan: Plan) -> Iterator[str]:
    """A job that the plan has more than once says how often, or for which animals it comes again; late ones stand each for
    itself."""
    times: dict[str, int] = {}
    for task in plan.tasks:
        if task.state not in CLOSED and not task.animals:
            times[task.title] = times.get(task.title, 0) + 1
    shown: dict[str, list[dict[str, Any]]] = {}
    for section in data["cards"]["sections"]:
        for card in section["cards"]:
            shown.setdefault(card["title"], []).append(card)
    for title, cards in shown.items():
        if times.get(title, 0) > len(cards) and not any(c["often"] or c["then"] for c in cards):
            yield f"comes {times[title]} times and does not say so: {title}"


def late_trips(data: dict[str, Any], shopping: ShoppingList) -> Iterator[str]:
    """Everything to get stands on one trip or among the animals, and nothing is bought after it is needed."""
    rows = [row["name"] for trip in data["shopping"]["trips"] for aisle in trip["aisles"] for row in aisle["rows"]] + [row["name"] for row in data["shopping"]["animals"]]
    if len(rows) != len(shopping.to_get):
        yield f"{len(shopping.to_get)} things to get and {len(rows)} on the trips"
    for line in shopping.lines:
        if line.needed is not None and (line.bought is None or line.bought > line.needed):
            yield f"bought {line.bought} and needed {line.needed}: {line.name}"


def unnamed_edition(data: dict[str, Any]) -> Iterator[str]:
    """The foot of every page takes its words from these (`test_handout` reads them back)."""
    if not re.search(r"\d{4}$", data["printed"]) or "edition" not in data["edition"]:
        yield f"no day or no edition: {json.dumps([data['printed'], data['edition']])}"


def two_spans(data: dict[str, Any]) -> Iterator[str]:
    """What waits has one likely day and one span, wherever it stands: on the road, on its card, on the cycle sheet; and what is
    read on the way to the proof does not come later than the proof."""
    road = {row["title"]: row["likely"] for stretch in data["road"]["stretches"] for row in stretch["rows"] if not row["done"] and row["likely"]}
    elsewhere = [(s["title"], s["when"].removeprefix("done ")) for s in data["cards"]["sections"]] + list(data["cycle"]["events"] if data["cycle"] is not None else ())
    for title, when in elsewhere:
        if title in road and when and not when.startswith(("read on", "finished")) and when.removeprefix("about ") != road[title]:
            yield f"two spans: {title}: {when}, and {road[title]} on the road"
    for stretch in data["road"]["stretches"]:
        days = [row["at"] for row in stretch["rows"]]
        if days != sorted(days):
            yield f"not in the order of their days: {stretch['title']}"


def said_again(data: dict[str, Any]) -> Iterator[str]:
    """A long step stands on few cards, or once for all."""
    seen = Counter(step for section in data["cards"]["sections"] for card in section["cards"] for step in card["steps"] if len(step) >= LONG_STEP)
    yield from (f"said {times} times: {step[:90]}" for step, times in seen.items() if times > MOST_TIMES)


def other_quotes(data: dict[str, Any]) -> Iterator[str]:
    """A name stands in the quotation marks by which it is looked up."""
    yield from (f"a name in other quotation marks: {text[:90]}" for text in texts(data, frozenset({"house_rules", "unclear", "name", "title", "footer"})) if OTHER_QUOTES.search(text))


__all__ = ["faults", "texts"]
