"""Words of the trade, each with its line of explanation, shown once where it first appears."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from planner.show.words.words import Page


@dataclass(frozen=True, slots=True)
class Term:
    """`pattern` finds the term in a text; `name` is how the line begins."""

    name: str
    pattern: re.Pattern[str]
    says: str


def _term(name: str, pattern: str, says: str, flags: int = 0) -> Term:
    return Term(name, re.compile(pattern, flags), says)


TERMS: tuple[Term, ...] = (
    _term("RO", r"\bRO(?:/?DI)?\b|\breverse[- ]osmosis\b", "reverse osmosis: tap water pressed through a membrane that keeps back nearly all that is dissolved in it"),
    _term("RCD, GFCI", r"\bRCDs?\b|\bGFCIs?\b", "a switch in the wall or the board that cuts the power at once when current leaks, through you for instance"),
    _term("ppt", r"\bppt\b", "parts per thousand: about the grams of sea salt in a kilogram of water"),
    _term("SG", r"\bSG\b|\bspecific gravity\b", "specific gravity: how heavy the water is beside pure water; it holds only for the pair of temperatures named"),
    _term("mg/L as N", r"\bmg/L as N\b", "milligrams per litre counting the nitrogen alone; a kit that counts the whole ion shows a larger number for the same water"),
    _term("dKH", r"\bdKH\b", "degrees of alkalinity: how much acid the water can take up before its pH falls"),
    _term("pH", r"\bpH\b", "how acid or alkaline the water is; sea water stands at about 8"),
    _term("TDS", r"\bTDS\b", "total dissolved solids: a pocket meter's figure for how much is dissolved in fresh water"),
    _term("free ammonia", r"\bNH3\b|\bfree ammonia\b", "the part of the ammonia (NH3) that harms animals; warm and alkaline water has more of it"),
    _term("NH4Cl", r"\bNH4Cl\b|\bammonium chloride\b", "ammonium chloride, the pure salt used to feed the filter bacteria before any animal is in"),
    _term("PAR", r"\bPAR\b", "the light that corals can use, counted as light particles on a square metre each second"),
    _term("skimmer", r"\bskimmers?\b", "a pump that whips air through the water and lifts waste out as foam", re.IGNORECASE),
    _term("sump", r"\bsump\b", "a second tank below the first that holds the equipment", re.IGNORECASE),
    _term("drip loop", r"\bdrip[- ]loops?\b", "a cable hung so that it sags below its socket: drops fall off before they reach the plug", re.IGNORECASE),
    _term("refractometer", r"\brefractometers?\b", "an eyepiece that reads salinity from a drop of water; set it to zero or 35 ppt first", re.IGNORECASE),
    _term("hydrometer", r"\bhydrometers?\b", "a float or swing arm that reads specific gravity at the temperature printed on it", re.IGNORECASE),
    _term("live rock", r"\blive rock\b", "reef rock shipped with its life on it; what died on the way makes ammonia", re.IGNORECASE),
    _term("curing", r"\bcur(?:ing|ed)\b(?! in)", "keeping rock in moving salt water until what died on it has rotted and no ammonia is left", re.IGNORECASE),
    _term("cycle", r"\b(?:nitrogen )?cycle\b|\bcycling\b", "bacteria settle that turn ammonia into nitrite, and others that turn nitrite into nitrate; it takes weeks", re.IGNORECASE),
    _term("challenge", r"\bchallenge\b", "a measured dose of ammonia that the filter must clear within a day, to show that it can carry animals", re.IGNORECASE),
    _term("gate", r"\bgate\b", "a point that only test results or ticked tasks can pass, never a date", re.IGNORECASE),
    _term("provisional", r"\bprovisional\b", "this date depends on a test that has not been passed yet, and will move with it", re.IGNORECASE),
    _term("quarantine", r"\bquarantine\b", "a small tank apart, where a new fish is watched for disease before it joins the others", re.IGNORECASE),
    _term("top-up", r"\btop[- ]?up\b", "fresh water that replaces what evaporated; the salt stays behind, so never salt water", re.IGNORECASE),
    _term("siphon", r"\bsiphon\b", "a hose that lets water run down by itself; start it with a pump or by filling it, never by mouth", re.IGNORECASE),
    _term("acclimation", r"\bacclimat\w+\b", "letting an animal get used to the new water bit by bit", re.IGNORECASE),
)


@lru_cache(maxsize=4096)
def terms_in(text: str) -> tuple[str, ...]:
    """The names of the terms in a text. Two plans share most of their texts."""
    return tuple(term.name for term in TERMS if term.pattern.search(text))


@dataclass
class Glossary:
    """Remembers what was explained on this page."""

    told: set[str] = field(default_factory=set)
    waiting: list[Term] = field(default_factory=list)

    def hear(self, *texts: str) -> None:
        """Note the terms in these texts that have no line yet."""
        heard = {name for text in texts for name in terms_in(text)} - self.told
        for term in TERMS:
            if term.name in heard:
                self.told.add(term.name)
                self.waiting.append(term)

    def explain(self, page: Page, indent: int = 0) -> None:
        """Write a line for each term heard since the last time."""
        for term in self.waiting:
            page.labelled("in words", f"{term.name}: {term.says}.", indent, role="soft")
        self.waiting.clear()
