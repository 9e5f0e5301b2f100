"""Animals: may I buy this one today, who of the wish list can live here, and in which order they come."""

from __future__ import annotations

from datetime import date
from urllib.parse import quote

from markupsafe import Markup
from starlette.responses import Response

from planner.door.folder import read_animals
from planner.plan.make import plan_with_stock
from planner.plan.may_buy import MayBuy, may_buy
from planner.serve.asking import Ask
from planner.serve.markup import Writer, html, link, writer_for
from planner.serve.tanks import Seen
from planner.show.terminal.today import about_words
from planner.show.words.conditions import need_words
from planner.show.words.wish_list import VERDICTS, animal_name, counted, kindred_words, left_out_words, quarrels, reason_words, stages_provisional, wish_words
from planner.show.words.words import day_words, listed
from planner.stock.suitability import Reason

ANSWERS = {"yes": "Yes", "not_yet": "Not yet", "no": "No", "unclear": "Which animal is that?"}
MOST_TYPED = 60


def animals(ask: Ask) -> Response:
    """The page; with an animal in the address also the answer for it."""
    seen = ask.look()
    typed = ask.query.get("animal", "").strip()[:MOST_TYPED]
    write_text = writer_for(seen, ask.base)
    with seen.lock:
        catalogue = read_animals(seen.folder.livestock)
        read = seen.folder
        answered = _answer(may_buy(typed, seen.tank, read.journal, read.rules, read.on, catalogue, read.problems, seen.kept), seen, write_text) if typed else None
        judged = judged_wishes(seen, write_text) if seen.tank.wish_list else None
    names = sorted({a.name for a in catalogue.animals})
    return ask.show("animals.html", active="animals", tank_name=seen.tank.name, typed=typed, answered=answered, judged=judged, names=names, wishes=[animal_name(a.id, catalogue) for w in seen.tank.wish_list if (a := catalogue.find(w.animal).animal) is not None])


def _answer(found: MayBuy, seen: Seen, write_text: Writer) -> tuple[str, str, list[Markup]]:
    """The answer in a word, the animal, and its reasons as sentences."""
    said: list[Markup] = []
    if found.answer == "unclear":
        said.append(html(f"It may be {listed([link(f'{write_text.base}/animals?animal={quote(name)}', name) for name in found.could[:4]], 'or')}." if found.could else "We do not know this animal. Check the spelling, or ask the shop for its scientific name."))
        return ANSWERS["unclear"], found.name, said
    # While the tank is not open for animals at all, why a stage is on its day is of no use yet.
    for reason in found.reasons if not found.needs else ():
        said.append(html(reason_words(reason, seen.tank.units)) if isinstance(reason, Reason) else write_text.html(reason))
    if found.answer == "not_yet":
        said += [html(f"Still missing: {write_text(need_words(n, ids=False))}.") for n in found.needs]
        said.insert(0, html(f"It may come {about_words(found.window, seen.folder.on)}." if found.window.likely is not None else "No day can be told yet."))
    if found.answer == "yes":
        said.insert(0, html("Into the quarantine tank, and nothing else with it." if found.into == "quarantine" else "Its stage is today. Bring in nothing that is not of this stage."))
        said.append(html("Check your local law, and never release an animal."))
    return ANSWERS[found.answer], found.name, said


def judged_wishes(seen: Seen, write_text: Writer) -> dict[str, object]:
    """Who of the wish list can live here, who cannot and why, and the order in which they come."""
    read = seen.folder
    catalogue = read_animals(read.livestock)
    plan, stock = plan_with_stock(seen.tank, read.journal, read.rules, read.on, None, read.problems, catalogue, seen.kept)
    assert stock is not None
    units, refused = seen.tank.units, {a.animal_id for a in stock.verdict.animals if a.verdict == "refused"}
    instead = {x.animal_id: kindred_words(x, catalogue) for x in stock.verdict.left_out}
    return {
        "animals": [(counted(a.count, a.name), VERDICTS[a.verdict], [write_text.html(reason_words(r, units)) for r in a.reasons]) for a in stock.verdict.animals],
        "refused": [(counted(a.count, a.name), [*(write_text.html(reason_words(r, units)) for r in a.reasons if r.weight == "refuses"), *filter(None, (write_text.html(instead.get(a.animal_id, "")),))]) for a in stock.verdict.animals if a.verdict == "refused"],
        "quarrels": [write_text.html(c.why) for c in quarrels(stock)],
        "left_out": [write_text.html(left_out_words(x, catalogue, units)) for x in stock.verdict.left_out if x.animal_id not in refused],  # why it is refused, and what would help, is said already
        "provisional": stages_provisional(plan),
        "stages": [(s.number, listed(wish_words(w, catalogue) for w in s.wishes), day_words(date.fromordinal(s.day)), day_words(date.fromordinal(s.quarantine_from)) if s.quarantine_from is not None else "",
                    [write_text.html(b) for b in s.because]) for s in (stock.stages.stages if stock.stages else ())],
    }


__all__ = ["animals", "judged_wishes"]
