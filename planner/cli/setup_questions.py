"""What `newtank start` asks, what of it is missing in a description that is there already, and how it was understood."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

import click

from planner.cli.common import wrapped
from planner.cli.entry import Refused, has_terminal, take
from planner.door.entry_words import count_of
from planner.files.tank import known_paths, read_tank, tank_value
from planner.files.whole_file import put_whole_file
from planner.rulebook.read import shipped
from planner.show.words.blank_tank_file import tank_text
from planner.show.words.filled_tank_file import described_anew, written_value
from planner.show.words.tank_keys import summary
from planner.show.words.words import visible
from planner.stock.animals import Animal
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.terms.amounts import format_amount
from planner.terms.units import Refusal
from planner.terms.written_amounts import parse_amount

SIZE = ("tank.length", "tank.width", "tank.height", "tank.volume")
NEAREST = 5
MOST = 50
# path, question, default, why it is asked
QUESTIONS = (
    ("name", "A name for the tank", "", "It stands at the head of the plan and in the calendar."),
    ("timezone", "Time zone (Enter if you do not know)", "", "Region and city, such as Europe/London or America/Chicago. Days and reminders go by it; without it they go by UTC, which may be half a day off."),
    ("tank.length", "Length along the front, or the volume", "", "With a tape, outside, with the unit: 80 cm, 32 in; or 160 L, 40 gal if you have no measures."),
    ("tank.width", "Width, front to back", "", "Outside, with the unit."),
    ("tank.height", "Height, floor to rim", "", "Outside, with the unit."),
    ("rock.kind", "Rock: live, cured or dry", "dry", "Dry rock is clean and slow. Live rock brings bacteria, and is cured first: it lies in salt water until what died on it has rotted away. Cured rock has that behind it."),
    ("rock.mass", "How much rock (Enter if you do not know yet)", "", "It takes the place of water, so it changes every dose. Usual is about 10 kg of dry rock or 15 kg of live rock in 100 L (22 lb or 33 lb in 26 gal)."),
    ("water.source", "Water: ro, distilled, tap or ready_mixed", "ro", "ro is nearly pure water from your own reverse osmosis unit; RO water that you buy counts as distilled. Tap water carries chlorine and nutrients, so it takes more steps."),
    ("room.temperature", "The coolest the room usually gets (Enter if you do not know)", "", "The heaters are sized by it."),
    ("room.floor", "Floor: solid (on the ground), suspended (beams) or unknown", "unknown", "A full tank is heavy; the plan says what to ask before any water."),
    ("tank.lid", "What will cover the top: yes (a lid), net or no (Enter if you do not know yet)", "", "Fish that jump need a lid or a net. Only a lid holds warmth and keeps water from evaporating."),
    ("equipment.light", "Light: its power, its PAR if you know it, or a few words (Enter if you have none yet)", "", "It decides which corals can live here: 60 W, or 120 PAR, which is the light that corals use, read with a meter."),
    ("equipment.bin", "Size of the bin for mixing salt water (Enter if you have none yet)", "", "With its unit: 60 L, 16 gal. The water is mixed in as many batches as it takes."),
    ("test_kits.ammonia.basis", "What your ammonia kit counts: N or ion (Enter if you do not know yet)", "", "Its leaflet says NH3-N or TAN (type N), or NH3/NH4 (type ion). Ion shows a number 1.29 times as large."),
    ("test_kits.ammonia.step", "The smallest step of its colour card", "", "Such as 0.25, in the kit's own unit. A finer kit lets you go on sooner."),
    ("test_kits.nitrite.basis", "What your nitrite kit counts: N or ion (Enter if you do not know yet)", "", "Its leaflet says NO2-N (type N) or NO2 (type ion). Ion shows a number 3.3 times as large."),
    ("test_kits.nitrite.step", "The smallest step of its colour card", "", "Such as 0.25, in the kit's own unit."),
    ("test_kits.nitrate.basis", "What your nitrate kit counts: N or ion (Enter if you do not know yet)", "", "Its leaflet says NO3-N (type N) or NO3 (type ion). Ion shows a number 4.4 times as large."),
)  # fmt: skip


def first_problem(answers: dict[str, str]) -> str:
    """All that is wrong with the answers, in one text; empty if nothing is."""
    text = tank_text(answers)
    _, problems = read_tank(text, "tank.yaml")
    told, lines = [], text.splitlines()
    for problem in problems:
        key = problem.source_line.strip().partition(":")[0]
        if problem.source_line.startswith(" "):  # rock and sand both have a mass
            key = f"{next(line for line in reversed(lines[:problem.place.line]) if line[:1].isalpha()).partition(':')[0]}.{key}"
        told.append(f"`{key}`: {problem.message}. {problem.fix[:1].upper()}{problem.fix[1:]}" if key else f"{problem.message}. {problem.fix}")
    return ". ".join(told)


def ask(answers: dict[str, str], found: Mapping[str, str], folder: Path, told: Collection[str] = ()) -> None:
    """The questions that no option has answered. Enter takes what stands in brackets, or leaves it for later. `found`: answers
    that the computer can tell; `told`: keys that a description has already."""
    click.echo(wrapped("A few questions. Enter takes what stands in brackets; what you leave out can be written into tank.yaml later."))
    for path, question, default, why in QUESTIONS:
        if path in told or path in answers or (path.endswith(".step") and path.replace(".step", ".basis") not in answers) or (path in ("tank.width", "tank.height", "tank.length") and "tank.volume" in answers):
            continue
        click.echo()
        default = found.get(path, default)
        while True:
            answer: str = click.prompt(f"{wrapped(question)}\n{wrapped(why, 2)}\n ", default=default, show_default=bool(default)).strip()
            if not answer:
                if path in SIZE:
                    click.echo(wrapped("Without its size nothing can be worked out. " + (
                        "Type what it holds, such as 160 L, or stop with Ctrl-C; nothing is written yet." if path == "tank.length" else
                        "If you cannot measure it, stop with Ctrl-C (nothing is written yet) and say what it holds:")))
                    if path != "tank.length":
                        click.echo(f"  newtank start {quoted(folder)} --volume '160 L'")
                    continue
                break
            at = "tank.volume" if path == "tank.length" and not isinstance(parse_amount(answer, "volume"), Refusal) else path
            probe = {at: answer} if at.startswith("tank.vol") else {"tank.length": "80 cm", "tank.width": "40 cm", "tank.height": "40 cm", at: answer}
            if at.endswith(".step"):
                probe |= {at.replace(".step", ".basis"): answers[at.replace(".step", ".basis")]}
            wrong = first_problem(probe)
            if not wrong:
                answers[at] = answer
                break
            click.echo(wrapped(wrong))
    if "wish_list" not in answers and "wish_list" not in told and (wishes := ask_wishes()):
        answers["wish_list"] = wishes


def ask_wishes() -> str:
    """Animals by their common names, each with its number; what is not found offers the nearest."""
    catalogue = load_catalogue([shipped("rules") / "livestock"])
    wished: list[str] = []
    click.echo("\n" + wrapped("Animals that you would like, by common name, one kind at a time, such as 2 ocellaris clownfish. Enter ends the list; it can wait, and it may change."))
    while name := str(click.prompt("An animal", default="", show_default=False)).strip():
        first, _, called = name.partition(" ")
        many = count_of(first) if called.strip() else ""
        name = called.strip() if many else name
        found = catalogue.find(name)
        animal = found.animal if found.how in ("id", "name") else None
        near = list(dict.fromkeys([*([found.animal.id] if found.animal is not None else []), *found.candidates]))[:NEAREST]
        if animal is None and not near:
            click.echo(wrapped(f"Nothing here is called '{visible(name)}'. Try another name of it, or leave it out for now."))
            continue
        if animal is None:
            for n, id in enumerate(near, 1):
                click.echo(f"  {n}  {catalogue.choice([id])}")
            if many.isdigit() and int(many) > 1 and len(near) > 1:
                click.echo(wrapped("Choose one kind. If you want one each of two kinds, answer 1 to how many, and name the other kind after it."))
            chosen = _choose(catalogue, near)
            if chosen is None:
                click.echo("None of these is on the list.")
                continue
            animal, said = chosen
            many = said or many
        assert animal is not None
        count = int(click.prompt(f"How many {animal.name}", type=click.IntRange(1, MOST), default=min(int(many), MOST) if many.isdigit() and int(many) > 0 else 1))
        wished.append(f"{{animal: {animal.id}, count: {count}}}")
    return f"[{', '.join(wished)}]" if wished else ""


def _choose(catalogue: Catalogue, near: Sequence[str]) -> tuple[Animal, str] | None:
    """One of these animals, by its number, its name or a part of it, with how many if that was said; None for an Enter."""
    while answer := str(click.prompt("Which one, by its number or name (Enter: none of these)", default="", show_default=False)).strip():
        first, _, called = answer.partition(" ")
        many, called = (number, called.strip()) if called.strip() and (number := count_of(first)) else ("", answer)
        meant = [near[int(called) - 1]] if called.isdecimal() and 1 <= int(called) <= len(near) else catalogue.among(called, near)
        if len(meant) == 1 and (animal := catalogue.get(meant[0])) is not None:
            return animal, many
        which = f"could be {catalogue.choice(meant, MOST, ids=False)}" if meant else "is none of these"
        click.echo(wrapped(f"'{visible(answer)}' {which}. Type a number from 1 to {len(near)}, or the name."))
    return None


def fill_description(folder: Path, given: Mapping[str, str]) -> None:
    """What an existing description leaves open: asked for, or taken from options. Nothing else in the file changes."""
    path = folder / "tank.yaml"
    data = path.read_bytes()
    old = data.decode("utf-8-sig", "replace")
    before, _ = read_tank(data, str(path))
    told = [p for p in known_paths() if tank_value(before, p) is not None and written_value(old, p) is not None] if before is not None else []
    twice = next((p for p in given if p in told), None)
    if twice is not None:
        raise Refused(f"{twice} stands in {path} already. Change it there")
    answers: dict[str, str] = dict(given)
    if has_terminal():
        ask(answers, {}, folder, {*told, *SIZE, "name", "timezone"} if before is None or before.timezone else {*told, *SIZE, "name"})
    if not answers:
        click.echo("Nothing was added.")
        return
    made = take(described_anew(data, answers, str(path)))
    put_whole_file(path, made)
    click.echo(f"Added to {path}: {', '.join(answers)}.")
    tell_understood(made.decode("utf-8-sig"))


def tell_understood(text: str) -> None:
    """The description in words: a slip is seen here."""
    tank, _ = read_tank(text, "tank.yaml")
    if tank is None:
        return
    units, equipment = tank.units, tank.equipment
    light = equipment.light
    told = [f"{visible(tank.name)}: {summary(tank, units)}",
            f"lid: {'not said' if tank.tank.lid is None else 'a net' if tank.tank.lid == 'net' else 'yes' if tank.tank.lid else 'no'}; floor: {tank.room.floor or 'not said'}; light: {'not said' if light is None else 'described'}; "
            f"bin: {format_amount(equipment.bin_l, 'L', units) if equipment.bin_l else 'not said'}",
            "kits: " + (", ".join(f"{name} counts {kit.basis}" + (f" in steps of {kit.step:g}" if kit.step else "") for name, kit in tank.test_kits.items() if kit.basis) or "none described"),
            "wishes: " + (", ".join(f"{w.count} x {_common_name(w.animal)}" for w in tank.wish_list) or "none yet")]
    if "\ncycle:" not in text:
        told.insert(1, "not asked, so taken as most do it: how the filter is fed and where its bacteria come from; `cycle:` in tank.yaml changes it")
    click.echo("Understood:")
    for line in told:
        click.echo(wrapped(visible(line), 2, 2))


def _common_name(written: str) -> str:
    found = load_catalogue([shipped("rules") / "livestock"]).find(written).animal
    return found.name if found is not None else written


def quoted(folder: Path) -> str:
    return f'"{folder}"' if " " in str(folder) else str(folder)


__all__ = ["QUESTIONS", "ask", "fill_description", "first_problem", "quoted", "tell_understood"]
