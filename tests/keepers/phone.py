"""A keeper who has nothing but the page on the phone: what is on it can be done, and everything is written by its forms."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from html import unescape
from pathlib import Path

from planner.door.entry_words import split_reading
from planner.terms.records import URGENT, Plan, State
from planner.terms.units import Refusal
from tests.keepers.door import Door, Written
from tests.unit.serve.site import Phone, fields, phone_for, words_of


@dataclass
class PhoneDoor(Door):
    """The door to the planner by HTTP alone. What a plan holds and the page does not show is not there for this keeper."""

    phone: Phone = field(init=False)
    sent: int = 0

    def __post_init__(self) -> None:
        self.phone = phone_for(self.folder, self.on).pair()

    def open(self, on: date) -> Plan:
        self.on = on
        self.phone.site.tanks.on = on
        page = self.phone.get(self.phone.base)
        assert page.status_code == 200
        shown = {unescape(id) for id in re.findall(r'name="job" value="([^"]+)"', page.text)} | {unescape(id) for id in re.findall(r'class="tick test" href="[^"#]*#([^"]+)"', page.text)}
        plan = self.phone.site.tanks.look(self.phone.site.tanks.find()[0]).plan  # type: ignore[union-attr]
        self.plan = replace(plan, tasks=tuple(t if t.id in shown or t.state not in URGENT else replace(t, state=State.PLANNED) for t in plan.tasks))
        return self.plan

    # --- writing

    def log(self, readings: dict[str, str], where: str, at: str | None, note: str = "") -> Written:  # noqa: ARG002  # the page writes its own time and note
        form = {"key": self._key()}
        for name, value in readings.items():
            said = split_reading(f"{name}={value}")
            if isinstance(said, Refusal):
                return Written(refused=said.message)
            _, number, unit = said
            rest = f"{name}.{where}"
            form |= {f"value:{rest}": number.lstrip("<>"), f"unit:{rest}": unit or self._unit(rest), f"off:{rest}": {">": "over", "<": "under"}.get(number[:1], "")}
        checked = self.phone.send(f"{self.phone.base}/test/check", **form)
        saves = fields(checked.text, f"{self.phone.base}/test/save")
        return self._written(f"{self.phone.base}/test/save", saves[0]) if saves else Written(refused=words_of(checked.text))

    def done(self, task: str, at: str | None, amount: str | None = None) -> Written:  # noqa: ARG002
        return self._written(f"{self.phone.base}/done", {"job": task, "key": self._key(), **({"amount": amount} if amount else {})})

    def skip(self, task: str) -> Written:
        return self._written(f"{self.phone.base}/skip", {"job": task, "key": self._key()})

    def postpone(self, task: str, to: date) -> Written:
        return self._written(f"{self.phone.base}/postpone", {"job": task, "key": self._key(), "to": to.isoformat()})

    def note(self, kind: str, what: str, value: str = "", unit: str = "", at: str | None = None, where: str | None = None) -> Written:  # noqa: ARG002
        self.phone.site.tanks.on = self.on
        if kind == "failed":
            return self._written(f"{self.phone.base}/failed", {"job": what, "key": self._key()})
        if kind == "event":
            return self._written(f"{self.phone.base}/happened", {"what": what, "where": where or "display", "key": self._key()})
        return self._written(f"{self.phone.base}/fact", {"kind": kind, "what": what, "value": f"{value} {unit}".strip(), "where": where or "display", "key": self._key()})

    def _key(self) -> str:
        self.sent += 1
        return f"key-number-{self.sent:06}"

    def _unit(self, rest: str) -> str:
        """The unit that the form offers first."""
        page = self.phone.get(f"{self.phone.base}/test").text
        name = re.escape(f"unit:{rest}")
        options = re.search(rf'name="{name}"><option value="([^"]*)"|name="{name}" value="([^"]*)"', page)
        return unescape(options[1] or options[2] or "") if options else ""

    def _written(self, path: str, form: dict[str, str]) -> Written:
        """Send a form, say yes where the page asks, and read what came into the journal."""
        before = Path(self.folder, "journal.csv").read_text(encoding="utf-8").splitlines()
        answer = self.phone.send(path, follow=False, **form)
        if answer.status_code == 200 and (sure := fields(answer.text, path)):
            answer = self.phone.send(path, follow=False, **sure[0])
        if answer.status_code != 303:
            return Written(refused=words_of(answer.text))
        after = Path(self.folder, "journal.csv").read_text(encoding="utf-8").splitlines()
        assert after[: len(before)] == before, "rows are only added"
        new = [line.split(",") for line in after[len(before) :]]
        return Written(tuple((r[1], r[2], r[3], r[4], r[5] or "display") for r in new))


__all__ = ["PhoneDoor"]
