"""The shop's file: letterhead, prices and house rules of whoever hands the plan over.

What cannot be used is reported and left out, and the rest still makes a shop, as long as it has a name. Files that it
names (logo, house rules) are looked for beside the shop file.
"""

from __future__ import annotations

import os
import re
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Annotated, Any, Literal
from urllib.parse import urlsplit

from planner.files import tank_fields as f
from planner.files.checked import ReadBy
from planner.files.read_file import FileRefused, is_folder, read_plain_file
from planner.files.yaml_checked import line_of, read_yaml, salvage
from planner.plan.goods import GOODS
from planner.terms.problems import Place, Problem, nearest, sort_problems
from planner.terms.units import DIMENSIONS, Refusal, fold_unit
from planner.terms.written_amounts import one_of
from planner.terms.written_numbers import NOT_NEGATIVE, parse_number

LOGO_MOST_BYTES = 10_000_000
"""A logo larger than this would be printed by nobody; it is refused before it is read."""

SOLD_BY = {"mass": ("kg", "g", "lb", "oz"), "volume": ("L", "mL", "gal", "imp gal")}
"""What is sold by mass or volume, and the units that a price may name for it."""
_PER = re.compile(r"(\S+)\s+(?:(each)|per\s+(\S.*))", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Price:
    """`amount` of money for one `unit` (`each`, or a unit of mass or volume), as written. `measure` is how that sells:
    `each`, `mass` or `volume`; `size` is one unit in grams or litres (1 for `each`)."""

    amount: Decimal
    unit: str
    measure: str
    size: float

    def cost(self, quantity: float) -> Decimal:
        """The cost of `quantity` (grams, litres or pieces), rounded to hundredths, halves up."""
        exact = self.amount * Decimal(repr(quantity)) / Decimal(repr(self.size))
        return exact.quantize(Decimal("0.01"), ROUND_HALF_UP)


@f.written(**(f.written_of(f.read_text) or {}))
def _read_line(given: Any) -> str:
    """One line of text; what was folded over several lines is joined."""
    return " ".join(f.read_text(given).split())


@f.written(type=["string", "array"], items=f.written_of(f.read_text))
def _read_lines(given: Any) -> tuple[str, ...]:
    """Lines of an address: a list of texts, or one text with line breaks."""
    if isinstance(given, str):
        given = [line for line in f.read_text(given).splitlines() if line.strip()]
    if not isinstance(given, list):
        raise Refusal("not-a-list", "`address` is a list of lines", "write one line of the address after each `- `")
    return f.several(_read_line)(given)


@f.written(**(f.written_of(f.read_text) or {}))
def _read_note(given: Any) -> str:
    """Text of one or several paragraphs."""
    return "\n\n".join(" ".join(part.split()) for part in re.split(r"\n\s*\n", f.read_text(given)))


@f.written(type="string", pattern=r"^\s*([A-Za-z]{3}|[^A-Za-z0-9\s])\s*$", examples=["EUR", "€"])
def _read_currency(given: Any) -> str:
    text = f.read_text(given)
    if re.fullmatch(r"[A-Za-z]{3}", text):
        return text.upper()
    if len(text) == 1 and unicodedata.category(text) == "Sc":
        return text
    raise Refusal("not-a-currency", f"{text!r} is no currency", "write its three letters, such as `EUR`, or its sign, such as `€`")


@f.written(type="string", pattern="^([aA]4|[lL][eE][tT][tT][eE][rR])$", examples=["a4", "letter"])
def _read_paper(given: Any) -> Any:
    return given.lower() if isinstance(given, str) and given.lower() in ("a4", "letter") else given


@f.written(type="string", pattern=r"^\s*([hH][tT][tT][pP][sS]|[wW][eE][bB][cC][aA][lL])://", examples=["https://shop.example/calendars/{id}.ics"])
def _read_address(given: Any) -> str:
    """An address that a phone can subscribe to. `{id}` in it stands for the tank's id."""
    text = f.read_text(given)
    fix = "write it as `https://shop.example/calendars/{id}.ics`, where `{id}` stands for the tank's id, or take the line out"
    bare = text.replace("{id}", "id")
    try:
        parts = urlsplit(bare)
        good = parts.scheme in ("https", "webcal") and bool(parts.hostname) and parts.username is None and parts.port != 0
    except ValueError:
        good = False
    if not good or len(text) > 500 or re.search(r"[\s{}<>\"\\^`|]", bare):
        raise Refusal("not-an-address", f"{text!r} is no calendar address that begins with https:// or webcal://", fix)
    return text


@f.written(type="string", pattern=rf"^\s*{NOT_NEGATIVE}\s+([eE][aA][cC][hH]|[pP][eE][rR]\s+\S)", examples=["3.20 per kg", "24.90 each"])
def _read_price(given: Any) -> Price:
    text = f.read_text(given)
    found = _PER.fullmatch(text)
    if not found:
        number = parse_number(text)
        if isinstance(number, float):
            raise Refusal("unit-missing", f"{text} does not say what it buys", f"write `{text} each`, or `{text} per kg`")
        raise Refusal("not-a-price", f"{text!r} is not a price", "write an amount and what it buys, such as `3.20 per kg` or `24.90 each`")
    number = parse_number(found[1])
    if isinstance(number, Refusal):
        raise Refusal(number.code, number.message, "write the amount alone, the currency stands once under `currency`: `3.20 per kg` or `24.90 each`"
                      if number.code == "not-a-number" else number.fix)
    if not 0 <= number <= 1_000_000:
        raise Refusal("impossible-value", f"a price of {found[1]} cannot be right", "write what the shop asks, or take the line out")
    amount = Decimal(found[1].replace(",", "."))
    if found[2]:
        return Price(amount, "each", "each", 1.0)
    folded = fold_unit(found[3])
    for measure in SOLD_BY:
        unit = DIMENSIONS[measure].units.get(folded)
        if unit is not None:
            return Price(amount, unit.name, measure, unit.factor)
    known = [name for names in SOLD_BY.values() for name in names]
    near = nearest(found[3], known)
    raise Refusal("unit-unknown", f"nothing is sold by {found[3]!r} here", f"write `{found[1]} per {near}`" if near else f"write `per` and {one_of(known)}, or `{found[1]} each`")


Line = Annotated[str, ReadBy(_read_line)]


class Shop(f.Part):
    """The whole file. `logo` and `rules` are paths that were there when the file was read; `paper` None means that the
    buyer's units choose."""

    name: Line
    address: Annotated[tuple[str, ...], ReadBy(_read_lines)] = ()
    phone: Line | None = None
    logo: Path | None = None
    note: Annotated[str, ReadBy(_read_note)] | None = None
    currency: Annotated[str, ReadBy(_read_currency)] | None = None
    prices: dict[str, Annotated[Price, ReadBy(_read_price)]] = {}
    rules: Path | None = None
    calendar_address: Annotated[str, ReadBy(_read_address)] | None = None
    paper: Annotated[Literal["a4", "letter"], ReadBy(_read_paper)] | None = None

    def calendar_for(self, tank_id: str | None) -> str | None:
        """The address of one tank's calendar; None if there is none, or if it needs the id that the tank lacks."""
        if self.calendar_address is None or ("{id}" in self.calendar_address and tank_id is None):
            return None
        return self.calendar_address.replace("{id}", tank_id or "")

    def money(self, amount: Decimal) -> str:
        """`12.50 EUR`, `€12.50`, or the bare amount where the file names no currency."""
        shown = bare_money(amount)
        if self.currency is None:
            return shown
        return f"{self.currency}{shown}" if len(self.currency) == 1 else f"{shown} {self.currency}"


def bare_money(amount: Decimal) -> str:
    """`1 234.50`, for a place that names the currency itself."""
    return f"{amount:,.2f}".replace(",", " ")


def read_shop(data: bytes, name: str, folder: Path, animals: Iterable[str] | None = None) -> tuple[Shop | None, tuple[Problem, ...]]:
    """A shop file into a shop and its problems. `name` is how the file is called in messages; `folder` is where it lies.
    `animals` are the ids that may be priced beside the goods; left out, those of the shipped catalogue and of the shop's
    own rules. None if the file has no name that can be printed."""
    tree, places, problems = read_yaml(data, name)
    if problems and tree is None:
        return None, problems
    if not isinstance(tree, dict):
        fix = "begin with `name:` and the shop's name"
        place = places.around(()) if tree is not None else Place(name)
        return None, sort_problems([*problems, Problem(place, "not-a-block", "a shop file is a block of keys", fix)])
    lines = data.decode("utf-8-sig", errors="replace").splitlines()
    given: dict[str, Any] = {key: value for key, value in tree.items() if value is not None}
    if isinstance(given.get("prices"), dict):
        given["prices"] = {item: price for item, price in given["prices"].items() if price is not None}
    found: list[Problem] = list(problems)

    def tell(path: tuple[str, ...], refusal: Refusal, on_key: bool = False) -> None:
        place = places.of_key(path) if on_key else places.around(path)
        found.append(Problem(place, refusal.code, refusal.message, refusal.fix, line_of(lines, place.line)))

    for key, look in (("logo", _logo), ("rules", _rules)):
        if key in given:
            try:
                given[key] = str(look(folder, f.read_text(given[key])))
            except Refusal as refusal:
                tell((key,), refusal)
                del given[key]
    shop, more = salvage(Shop, given, places, lines)
    found += more
    if shop is None:
        return None, sort_problems(found)
    prices = dict(shop.prices)
    known = _names(shop, animals)
    for item, price in shop.prices.items():
        wrong = _misplaced(item, price, known)
        if wrong is not None:
            tell(("prices", item), wrong, on_key=wrong.code == "unknown-item")
            del prices[item]
    return shop.model_copy(update={"prices": prices}), sort_problems(found)


def _names(shop: Shop, animals: Iterable[str] | None) -> frozenset[str]:
    if all(item in GOODS for item in shop.prices):
        return frozenset(GOODS)
    if animals is None:
        # Only a price list with animals on it pays for reading the catalogue.
        from planner.rulebook.read import shipped
        from planner.stock.catalogue import load_catalogue

        own = [shop.rules / "livestock"] if shop.rules is not None else []
        animals = (a.id for a in load_catalogue([shipped("rules") / "livestock", *own]).animals)
    return frozenset(GOODS) | frozenset(animals)


def _misplaced(item: str, price: Price, known: frozenset[str]) -> Refusal | None:
    """Why this price cannot stand for this item."""
    if item not in known:
        near = nearest(item, known)
        return Refusal("unknown-item", f"nothing on the shopping list is called `{item}`", f"write `{near}`" if near else
                       "use an id of the shopping list, such as `salt`, or of an animal, such as `amphiprion-ocellaris`")
    wanted = GOODS[item].measure if item in GOODS else "each"
    if price.measure == wanted:
        return None
    example = f"{price.amount} each" if wanted == "each" else f"{price.amount} per {SOLD_BY[wanted][0]}"
    return Refusal("unit-unknown", f"`{item}` is sold {'by the piece' if wanted == 'each' else f'by {wanted}'}, not {'by the piece' if price.measure == 'each' else f'per {price.unit}'}",
                   f"write its price as `{example}`")


def _rules(folder: Path, written: str) -> Path:
    path = folder / written
    if not is_folder(path):
        raise Refusal("folder-missing", f"there is no folder {written!r} here", "name the folder of your house rules, as seen from the shop file, or take the line out")
    return path


def _logo(folder: Path, written: str) -> Path:
    """The path of a picture that a printer of pages can take, judged by its name and by how it begins and ends."""
    path = folder / written
    if "\0" not in written and not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):  # what is printed for every buyer is the shop's own
        raise Refusal("outside-folder", f"{written!r} leads out of the shop's folder", "put the logo beside the shop file, and name it as it lies there")
    check = _PICTURES.get(path.suffix.lower())
    if check is None:
        raise Refusal("not-a-picture", f"{written!r} is no picture that can be printed", "save the logo as PNG, JPEG or SVG, and name that file")
    try:
        data = read_plain_file(path, LOGO_MOST_BYTES)
    except FileRefused as error:
        if error.code != "file-too-large":
            raise Refusal(error.code, f"{written!r}: {error.message}", "put the logo beside the shop file, or take the line out") from None
        raise Refusal("not-a-picture", f"{written!r} is larger than 10 MB", "save the logo again as PNG, JPEG or SVG") from None
    except (OSError, ValueError):
        raise Refusal("file-missing", f"there is no file {written!r} that can be read", "put the logo beside the shop file, or take the line out") from None
    if not check(data):
        raise Refusal("not-a-picture", f"{written!r} is damaged, or no {path.suffix[1:].upper()} at all", "save the logo again as PNG, JPEG or SVG")
    return path


def _is_png(data: bytes) -> bool:
    """Signature and last chunk as in the PNG specification (W3C), sections 5.2 and 11.2.5."""
    return data.startswith(b"\x89PNG\r\n\x1a\n") and data[-8:-4] == b"IEND"


def _is_jpeg(data: bytes) -> bool:
    """Start and end of image as in ITU-T T.81, annex B."""
    return data.startswith(b"\xff\xd8\xff") and data.rstrip(b"\0\r\n").endswith(b"\xff\xd9")


def _is_svg(data: bytes) -> bool:
    if b"<!ENTITY" in data:
        return False
    try:
        return ET.fromstring(data).tag.rpartition("}")[2] == "svg"
    except ET.ParseError:
        return False


_PICTURES: dict[str, Callable[[bytes], bool]] = {".png": _is_png, ".jpg": _is_jpeg, ".jpeg": _is_jpeg, ".svg": _is_svg}

__all__ = ["SOLD_BY", "Price", "Shop", "bare_money", "read_shop"]
