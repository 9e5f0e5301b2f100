"""The description of the tank: what the plan knows of it, and what may be said or changed while standing beside it. What would begin the
plan anew, such as its size and its first day, stands in the file alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from starlette.responses import Response

from planner.door.folder import cannot_write, read_animals
from planner.files.read_file import read_plain_file
from planner.files.whole_file import put_whole_file
from planner.serve.asking import Ask
from planner.serve.board_page import is_new, wishes_in
from planner.serve.markup import html, writer_for
from planner.serve.tanks import Seen
from planner.show.words.filled_tank_file import described_anew, written_value
from planner.show.words.tank_keys import summary
from planner.terms.units import Refusal

YES_NO = {"yes": "yes", "no": "no"}
KEYS: Mapping[str, tuple[str, Mapping[str, str] | str]] = {
    "name": ("Name of the tank", ""),
    "rock.kind": ("Rock", {"dry": "dry", "cured": "cured", "live": "live"}), "rock.mass": ("Mass of the rock", "12 kg|26 lb"),
    "sand.kind": ("Sand", {"dry": "dry", "live": "live", "none": "none"}), "sand.mass": ("Mass of the sand", "10 kg|22 lb"),
    "water.source": ("Where the water comes from", {"ro": "RO unit", "distilled": "distilled, or RO water bought", "tap": "tap", "ready_mixed": "ready-mixed"}),
    "water.mixed_in": ("The salt is mixed in", {"bin": "a bin", "tank": "the empty tank, the first time"}), "tank.lid": ("A lid or a net", {"yes": "a lid", "net": "a net", "no": "neither"}),
    "room.temperature": ("The coolest the room gets", "20 °C|68 °F"), "room.floor": ("Floor", {"solid": "solid, on the ground", "suspended": "on beams", "unknown": "not known"}),
    "equipment.heater": ("Power of the heater, or of each", "100 W, or [100 W, 100 W]"), "equipment.bin": ("Size of the mixing bin", "60 L|16 gal"),
    "equipment.ro_rate": ("What the RO unit makes", "190 L/day|50 gal/day"), "equipment.skimmer": ("Skimmer", YES_NO),
    "equipment.quarantine_tank": ("Quarantine tank", YES_NO), "equipment.battery_air": ("An air pump that starts in a power cut", YES_NO), "equipment.floss": ("Filter floss", YES_NO),
    "test_kits.ammonia.basis": ("The ammonia kit counts", {"N": "as N", "NH3": "as NH3", "NH4": "as NH4"}), "test_kits.nitrite.basis": ("The nitrite kit counts", {"N": "as N", "NO2": "as NO2"}),
    "test_kits.nitrate.basis": ("The nitrate kit counts", {"N": "as N", "NO3": "as NO3"}), "keeper.reminder_time": ("When the calendar rings", "18:00"),
}
"""What may be said here, in words, with its choices or what an answer may look like (metric|us)."""
WISHES, MOST_TYPED = "wish_list", 60
TAKEN_BACK = Markup("An answer can be changed here. To take it back, edit tank.yaml.")


@dataclass(frozen=True, slots=True)
class Asked:
    """One key of the form. `now`: as it stands in the file."""

    path: str
    words: str
    now: str
    choices: Mapping[str, str]
    hint: str
    wrong: Markup


def described(ask: Ask) -> Response:
    return _page(ask, {})


def describe(ask: Ask) -> Response:
    """Set what was answered anew; each answer is judged by the reader of the file, and everything else in it stays."""
    seen, place = ask.look(), ask.place
    assert place is not None
    answers = {path: said for path in KEYS if (said := ask.one(path)[:MOST_TYPED]) and said != _now(seen, path)}
    wrong = {path: TAKEN_BACK for path in KEYS if path in ask.form and not ask.one(path) and _now(seen, path)}
    if WISHES in ask.form and (typed := ask.one(WISHES)) != wishes_of(seen):
        listed, unclear = wishes_in(typed)
        answers |= {WISHES: listed or "[]"}
        wrong |= {WISHES: html(" ".join(unclear))} if unclear else {}
    write_text = writer_for(seen, ask.base)
    with place.lock:
        file = place.path / "tank.yaml"
        try:
            data = read_plain_file(file)
            for path, value in answers.items():
                made = described_anew(data, {path: value}, "tank.yaml")
                if isinstance(made, Refusal):
                    wrong[path] = write_text.sentences(made.message, made.fix)
                else:
                    data = made
            if wrong:
                return _page(ask, wrong)
            put_whole_file(file, data)
        except OSError as error:
            problem = cannot_write(file, error)
            return ask.show("refused.html", 507, said=[write_text.sentences(problem.message, problem.fix)], asks_amount=False, fields=[], to=ask.path)
    return ask.go(f"{ask.base}/description", kept="1")


def _page(ask: Ask, wrong: Mapping[str, Markup]) -> Response:
    seen = ask.look()
    us = seen.tank.units == "us"
    asked = [Asked(path, words, ask.one(path) or _now(seen, path), {} if isinstance(kind, str) else kind, kind.split("|")[-1 if us else 0] if isinstance(kind, str) else "", wrong.get(path, Markup()))
             for path, (words, kind) in KEYS.items()]
    return ask.show("description.html", 422 if wrong else 200, active="more", tank_name=seen.plan.name, summary=summary(seen.tank, seen.tank.units), asked=asked, wishes=ask.one(WISHES) or wishes_of(seen),
                    wrong_wishes=wrong.get(WISHES, Markup()), wrong=bool(wrong), kept=ask.query.get("kept") == "1", is_new=is_new(ask))


def _now(seen: Seen, path: str) -> str:
    """As it is written in the file; nothing where it is not."""
    raw: Any = written_value(read_plain_file(seen.folder.path / "tank.yaml").decode("utf-8-sig", "replace"), path)
    return f"[{', '.join(map(str, raw))}]" if isinstance(raw, list) else str(raw) if raw is not None else ""


def wishes_of(seen: Seen) -> str:
    """The wish list as somebody types it."""
    catalogue = read_animals(seen.folder.livestock)
    return ", ".join((f"{w.count} " if w.count > 1 else "") + (found.name if (found := catalogue.find(w.animal).animal) is not None else w.animal) for w in seen.tank.wish_list)


__all__ = ["describe", "described"]
