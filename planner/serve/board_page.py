"""The counter: the board of a folder of tanks, a new buyer, and the paper that has to be printed anew."""

from __future__ import annotations

import io
import json
import re
import unicodedata
import uuid
import zipfile
from hashlib import sha256
from zoneinfo import ZoneInfo

from starlette.responses import Response

from planner.door.folder import read_animals
from planner.door.new_tank import write_new_tank
from planner.files.read_file import JOURNAL_MOST_BYTES, read_plain_file
from planner.files.tank import read_tank
from planner.plan.make import plan_with_stock
from planner.rulebook.read import shipped
from planner.serve.animals_page import judged_wishes
from planner.serve.asking import Ask
from planner.serve.entry import key_of
from planner.serve.markup import html, writer_for
from planner.serve.shopping_page import shop_of
from planner.serve.tanks import Place, Seen
from planner.show.words.blank_tank_file import tank_text
from planner.show.words.words import listed

MOST_PAPERS = 40
ASIDE = ".taken-back"
"""Where a buyer lies who was taken back: no folder that begins with a dot is served."""
ASKED = (
    ("name", "name", 60), ("tank.volume", "volume", 20), ("tank.length", "length", 20), ("tank.width", "width", 20), ("tank.height", "height", 20), ("units", "units", 6), ("rock.kind", "rock", 6), ("rock.mass", "rock_mass", 20),
    ("water.source", "source", 12), ("room.floor", "floor", 10), ("room.temperature", "room", 20), ("test_kits.ammonia.basis", "ammonia_basis", 4), ("test_kits.nitrite.basis", "nitrite_basis", 4), ("timezone", "zone", 40),
)
"""What a new buyer is asked: key of the description, field, longest answer."""
NAMES = {"length": "Length", "width": "Width", "height": "Height", "volume": "What it holds", "mass": "How much rock", "temperature": "The coolest the room gets", "timezone": "Time zone", "name": "Name", "basis": "What the kit counts"}
"""What an answer is called on the form, by the last part of its key."""


def board(ask: Ask) -> Response:
    """Every tank, the one in danger first."""
    if ask.site.tanks.single:
        return ask.go(f"/tank/{ask.site.tanks.find()[0].slug}")
    lines, missing = ask.site.board.lines()
    stale = [place for place in ask.site.tanks.find() if (printed := ask.site.memory.printed(place.slug)) is not None and printed[0] != mark_of(place)]
    names = {one.slug: one.name for one in lines}
    return ask.show("board.html", lines=lines, missing=missing, stale=[(p.slug, names.get(p.slug, p.slug)) for p in stale])


# --- a new buyer


def new_buyer(ask: Ask) -> Response:
    return ask.show("buyer.html", zone=ask.site.zone, given={}, wrong=[])


def make_buyer(ask: Ask) -> Response:
    """A new tank folder below the served one. The same form sent twice makes one folder; corrected and sent again it makes another, and
    the page says that the first one stands."""
    site, key, same = ask.site, ask.one("key"), key_of(ask)
    sent, before = site.memory.sent(same), site.memory.sent(key)
    if sent is not None:
        return ask.go(f"/tank/{sent.tank}/made")
    answers = {path: ask.one(field)[:most] for path, field, most in ASKED if ask.one(field)}
    wrong = []
    if not answers.get("name"):
        wrong.append("Give the tank a name, such as the buyer’s.")
    if "tank.volume" not in answers and not {"tank.length", "tank.width", "tank.height"} <= answers.keys():
        wrong.append("Give its length, width and height, or what it holds, each with its unit.")
    wished, unclear = wishes_in(ask.one("wishes"))
    wrong += unclear
    if wished:
        answers["wish_list"] = wished
    zone = answers.get("timezone", "UTC")
    try:
        today = site.tanks.on or site.tanks.now().astimezone(ZoneInfo(zone)).date()
    except (ValueError, OSError, KeyError):
        today = site.tanks.now().date()
    answers |= {"id": str(uuid.uuid4()), "start": today.isoformat()}
    text = tank_text(answers)
    _, problems = read_tank(text.encode(), "tank.yaml")
    lines = text.splitlines()
    told = [(words, p) for p in problems if (words := next((words for key, words in NAMES.items() if lines[p.place.line - 1].strip().startswith(f"{key}:")), "" if wrong else "An answer"))]
    wrong += [f"{words}: {p.message}. {p.fix[:1].upper()}{p.fix[1:].rstrip('.')}." for words, p in told]
    if wrong:
        return ask.show("buyer.html", 422, zone=site.zone, given={name: v[-1] for name, v in ask.form.items()}, wrong=[html(w) for w in wrong])
    place = _write(ask, answers["name"], text)
    if ask.device is not None and len(key) >= 8:
        for one in (same, key):
            site.memory.remember(one, place.slug, "", ask.device.id)
    return ask.go(f"/tank/{place.slug}/made", **({"beside": before.tank} if before is not None else {}))


def made(ask: Ask) -> Response:
    """After a new buyer's plan is made: what of the wish list cannot live there, and what is done next at the counter."""
    seen = ask.look()
    with seen.lock:
        judged = judged_wishes(seen, writer_for(seen, ask.base)) if seen.tank.wish_list else {}
    beside = ask.site.tanks.place(ask.query.get("beside", ""))
    return ask.show("made.html", tank_name=seen.tank.name, judged=judged, is_new=is_new(ask), beside=beside.slug if beside is not None and beside is not ask.place else "")


def take_back_buyer(ask: Ask) -> Response:
    """Put a buyer aside whose size or name was mistyped, as long as nothing was written of the tank. The folder itself stays, out of sight."""
    place, site = ask.place, ask.site
    assert place is not None
    with place.lock:
        if not is_new(ask):
            return ask.say("It has begun", "Something is written of this tank already, so it stays. Its description can be changed.", 409, f"{ask.base}/description")
        aside = site.tanks.root / ASIDE
        aside.mkdir(exist_ok=True)
        place.path.rename(aside / f"{place.path.name}-{uuid.uuid4().hex[:8]}")
        site.memory.forget_tank(place.slug)
        site.tanks.find()
    ask.place = None
    return ask.say("Taken back", "This buyer is gone from the board, and the calendar addresses with it. Make it anew with the right answers.", back="/new")


def is_new(ask: Ask) -> bool:
    """A tank of a folder of tanks of which nothing is written yet."""
    journal = ask.look().folder.journal
    return not ask.site.tanks.single and not journal.rows and not journal.unreadable and not journal.taken_back


def wishes_in(text: str) -> tuple[str, list[str]]:
    """Animals by common name, separated by commas, each with its number: `2 ocellaris clownfish, royal gramma`; and what is unclear."""
    catalogue, found, unclear = read_animals((shipped("rules") / "livestock",)), [], []
    for one in (part.strip() for part in text[:400].replace("\n", ",").split(",")):
        count, name = (m[1], m[2]) if (m := re.fullmatch(r"([0-9]{1,2})\s*x?\s+(.+)", one)) else ("1", one)
        if not name:
            continue
        match = catalogue.find(name)
        if match.animal is None:
            near = [a.name for id in match.candidates[:4] if (a := catalogue.get(id)) is not None]
            unclear.append(f"“{name}” is no animal that we know." + (f" Did you mean {listed(near, 'or')}?" if near else ""))
        else:
            found.append(f"{{animal: {match.animal.id}, count: {int(count)}}}")
    return (f"[{', '.join(found)}]" if found else ""), unclear


def _write(ask: Ask, name: str, text: str) -> Place:
    """The folder bears the name as far as any system can hold it, with a number where there is one already."""
    root = ask.site.tanks.root
    plain = re.sub(r"[^A-Za-z0-9]+", "-", unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()).strip("-").lower()[:40] or "tank"
    for number in range(1, 1000):
        folder = root / (f"tank-{plain}" if plain in ("con", "prn", "aux", "nul") else plain) if number == 1 else root / f"{plain}-{number}"
        if folder.exists():
            continue
        try:
            write_new_tank(folder, text)
        except FileExistsError:
            continue
        return next(p for p in ask.site.tanks.find() if p.path == folder)
    raise FileExistsError(str(root / plain))


# --- paper


def paper(ask: Ask) -> Response:
    """The printed plan of one tank; what it was made from is remembered, so that a change is seen."""
    assert ask.place is not None
    data, _ = _printed(ask, ask.place, ask.look())
    return Response(data, media_type="application/pdf", headers={"content-disposition": f'inline; filename="{ask.place.slug}.pdf"'})


def papers(ask: Ask) -> Response:
    """The printed plans of several tanks, in one file; beside each that was printed before, page 1 and the sheets to exchange."""
    wanted = [p for slug in dict.fromkeys(ask.all("tank")) if (p := ask.site.tanks.place(slug)) is not None][:MOST_PAPERS]
    if not wanted:
        return ask.say("Which tanks?", "Choose the tanks whose paper you want.", 422, "/")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        for place in wanted:
            seen = ask.site.tanks.glance(place)
            if isinstance(seen, Seen):
                whole, changed = _printed(ask, place, seen)
                file.writestr(f"{place.slug}.pdf", whole)
                if changed:
                    file.writestr(f"{place.slug}-changed.pdf", changed)
    return Response(packed.getvalue(), media_type="application/zip", headers={"content-disposition": 'attachment; filename="papers.zip"'})


def _printed(ask: Ask, place: Place, seen: Seen) -> tuple[bytes, bytes]:
    """The plan on paper; and what of it to exchange, where it says something else than its last edition."""
    from planner.show.paper.edition import facts_in  # the page setter is loaded by whoever prints first
    from planner.show.paper.handout import handout_from_plan
    from planner.show.paper.parts import CHANGED

    mark, read, shop = mark_of(place), seen.folder, shop_of(ask.site)
    last = json.loads(told) if (told := ask.site.memory.last_edition(place.slug)) is not None else None
    logo = shop.logo.read_bytes() if shop is not None and shop.logo is not None else None
    with seen.lock:
        plan, stock = plan_with_stock(seen.tank, read.journal, read.rules, read.on, None, read.problems, read.catalogue, seen.kept)
        made = handout_from_plan(plan, seen.tank, read.journal, read.rules, stock, read.catalogue, shop=shop, logo=logo, last=last)
        changed = last is not None and made.edition.number != last["edition"]
        exchanged = handout_from_plan(plan, seen.tank, read.journal, read.rules, stock, read.catalogue, shop=shop, logo=logo, last=last, only=(CHANGED,)).pdf if changed else b""
    ask.site.memory.note_printed(place.slug, mark, json.dumps(facts_in(made.pdf)))
    return made.pdf, exchanged


def mark_of(place: Place) -> str:
    """What tells one state of a tank's files from another, by their bytes."""
    told = sha256()
    for name in ("tank.yaml", "journal.csv"):
        try:
            told.update(read_plain_file(place.path / name, JOURNAL_MOST_BYTES))
        except OSError:
            told.update(b"none")
        told.update(b"\0")
    return told.hexdigest()


__all__ = ["board", "is_new", "made", "make_buyer", "new_buyer", "paper", "papers", "take_back_buyer", "wishes_in"]
