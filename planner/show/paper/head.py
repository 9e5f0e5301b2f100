"""The letterhead of the printed plan: the shop's name, address and logo, and the calendar's address as a QR code."""

from __future__ import annotations

import base64
import io
from typing import Any

import segno

from planner.plan.shop_file import Shop
from planner.show.calendar.text import shorten
from planner.show.paper.text import fit_for_paper
from planner.terms.records import Plan

PICTURES = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg"}
"""How each kind of picture begins; anything else is taken for SVG."""
LOGO_MM = (44, 18)
NAME_OCTETS, LINE_OCTETS, NOTE_OCTETS = 100, 60, 600
MOST_LINES = 5


def head_data(plan: Plan, shop: Shop | None, logo: bytes | None) -> tuple[dict[str, Any] | None, dict[str, bytes]]:
    """What stands at the top, and the pictures that it asks for. None without a shop."""
    if shop is None:
        return None, {}
    address, pictures = shop.calendar_for(plan.tank_id), {}
    head: dict[str, Any] = fit_for_paper({
        "name": shorten(shop.name, NAME_OCTETS), "lines": [shorten(line, LINE_OCTETS) for line in (*shop.address, shop.phone or "") if line][:MOST_LINES],
        "note": shorten(shop.note, NOTE_OCTETS).split("\n\n") if shop.note else [], "link": address or "", "logo": bool(logo)})
    if address:
        pictures["code.svg"] = qr_svg(address)
    if logo:
        pictures["logo.svg"] = logo_svg(logo)
    return head, pictures


def logo_svg(logo: bytes) -> bytes:
    """The logo in a frame of `LOGO_MM`, as large as fits and at its right edge. The page takes pictures as text alone, so
    that the picture stands in it as a data address."""
    kind = next((kind for begin, kind in PICTURES.items() if logo.startswith(begin)), "svg+xml")
    wide, high = LOGO_MM
    held = base64.b64encode(logo).decode()
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}"><image width="{wide}" height="{high}" '
            f'preserveAspectRatio="xMaxYMid meet" href="data:image/{kind};base64,{held}"/></svg>').encode()


def qr_svg(address: str) -> bytes:
    """The address as a QR code, with the quiet zone that its standard asks for."""
    out = io.BytesIO()
    segno.make_qr(address, error="m").save(out, kind="svg", border=4, xmldecl=False, svgns=True)
    return out.getvalue()


__all__ = ["head_data", "qr_svg"]
