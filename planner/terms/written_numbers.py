"""Numbers as people write them: a decimal point or comma, the fractions of a tape, and what a unit follows."""

from __future__ import annotations

import re
import unicodedata

from planner.terms.units import Refusal

NUMBER = r"[+\-−]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+\-]?[0-9]+)?"
NOT_NEGATIVE = NUMBER.replace(r"[+\-−]?(?:", r"\+?(?:", 1)
"""The same without a minus sign, for a schema."""
_AMOUNT = re.compile(rf"\s*({NUMBER})\s*(.*?)\s*", re.DOTALL)


def split_amount(text: str) -> tuple[str, str]:
    """`'0.25ppm'` gives `('0.25', 'ppm')`; without a leading number the first part is empty."""
    found = _AMOUNT.fullmatch(text.replace("\u00a0", " ").replace("\u202f", " "))
    return (found[1], found[2]) if found else ("", text.strip())


def letter_mended(text: str) -> str | None:
    """An amount with a letter o among its digits, such as `0,5o` or `1O g`, with the zero that was meant; None where none stands there. `1 oz` and
    `25o C` are no such slip."""
    found = re.match(r"\s*([+\-−]?[0-9oO.,]+)(?![zZ]|\s*[CcFf])", text)
    if found is None or not re.search("[0-9]", found[1]) or not re.search("[oO]", found[1]):
        return None
    meant = re.sub("[oO]", "0", found[1])
    return None if isinstance(parse_number(meant, comma_is_decimal=True), Refusal) else f"{meant.replace(',', '.')}{text[found.end() :]}".strip()


FRACTION = r"(?:[0-9]+\s+)?[0-9]{1,2}\s*/\s*(?:2|3|4|8|16|32|64)"
"""A fraction as a tape or a measuring jug has it, for a schema; whether it is a proper one is judged in `split_fraction`."""
_FRACTION = re.compile(r"\s*(?:([0-9]+)\s+)?([0-9]+)\s*/\s*([0-9]+)(?![0-9.,/])\s*(.*?)\s*", re.DOTALL)
_DENOMINATORS = ("2", "3", "4", "8", "16", "32", "64")


def split_fraction(text: str) -> tuple[float, str] | Refusal | None:
    """`'1 1/2 in'` gives `(1.5, 'in')`. None where the text has no fraction in front; refused where it may mean two numbers
    or is no fraction of a tape."""
    text = re.sub("[¼½¾⅓⅔⅛⅜⅝⅞]", lambda sign: " " + unicodedata.normalize("NFKC", sign[0]).replace("\u2044", "/"), text).strip()
    if not re.match(r"[0-9.,+\-−\s]*/\s*[0-9]", text):
        return None
    found = _FRACTION.fullmatch(text)
    fix = "write it as `1/4 in` or `1 1/2 in`, or with a decimal point, such as `1.5 in`"
    if found is None or found[3] not in _DENOMINATORS or int(found[2]) == 0:
        return Refusal("not-a-number", f"{text!r} begins with no simple fraction", fix)
    above, below = int(found[2]), int(found[3])
    if above >= below:
        return Refusal("ambiguous-number", f"{found[2]}/{found[3]} is more than a whole, and a space may be missing in it", fix)
    return int(found[1] or 0) + above / below, found[4]


def parse_number(text: str, *, comma_is_decimal: bool = False) -> float | Refusal:
    """A plain number. A comma is read as the decimal sign; `1,000`, which may also be a thousand, is asked about
    unless the whole file is known to write decimal commas."""
    text = text.strip().replace("−", "-")
    if not re.fullmatch(NUMBER, text):
        return Refusal(
            "not-a-number",
            f"{text!r} is not a number" if text else "the number is missing",
            "write digits with a decimal point, such as `0.25`",
        )
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}", text) and not comma_is_decimal:
        return Refusal(
            "ambiguous-number",
            f"{text!r} may be {text.replace(',', '')} or {text.replace(',', '.')}",
            f"write `{text.replace(',', '')}` or `{text.replace(',', '.')}`",
        )
    value = float(text.replace(",", "."))
    if abs(value) > 1e12:
        return Refusal(
            "impossible-value", f"{text} is far beyond any amount in an aquarium", "check the number"
        )
    return value


__all__ = ["FRACTION", "NOT_NEGATIVE", "NUMBER", "letter_mended", "parse_number", "split_amount", "split_fraction"]
