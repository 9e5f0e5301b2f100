"""A strict check of iCalendar bytes with nothing but the standard library. It shares no code with the
writer.

Rules are from RFC 5545 (sections in each message), RFC 7986 and RFC 4791; a few are this project's own,
marked `house`. Readers of calendars forgive nearly everything; a file that they all read can still be wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
NAME = re.compile(r"[A-Za-z0-9-]+")
TEXT_NAMES = {"SUMMARY", "DESCRIPTION", "NAME", "X-WR-CALNAME", "LOCATION", "COMMENT"}
ONCE = {"UID", "DTSTAMP", "DTSTART", "DTEND", "DURATION", "SUMMARY", "DESCRIPTION", "STATUS", "TRANSP", "SEQUENCE",
        "CREATED", "LAST-MODIFIED", "RRULE", "RECURRENCE-ID", "URL", "CLASS", "TRIGGER", "ACTION", "PRODID", "VERSION",
        "CALSCALE", "METHOD"}
STATUSES = {"VEVENT": {"TENTATIVE", "CONFIRMED", "CANCELLED"},
            "VTODO": {"NEEDS-ACTION", "COMPLETED", "IN-PROCESS", "CANCELLED"}}
DATE = re.compile(r"\d{8}")
DATE_TIME = re.compile(r"\d{8}T\d{6}Z?")
DURATION = re.compile(r"[+-]?P(?=.)(?:\d+W|(?:\d+D)?(?:T(?=\d)(?:\d+H)?(?:\d+M)?(?:\d+S)?)?)")


@dataclass(frozen=True, slots=True)
class Finding:
    code: str
    message: str
    line: int
    warning: bool = False


@dataclass(slots=True)
class Line:
    name: str
    parameters: dict[str, str]
    value: str
    number: int


@dataclass(slots=True)
class Part:
    kind: str
    number: int
    lines: list[Line] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        return [line for line in self.lines if line.name == name]

    def one(self, name: str) -> Line | None:
        return next(iter(self.all(name)), None)


class _Lint:
    def __init__(self) -> None:
        self.found: list[Finding] = []

    def say(self, code: str, message: str, line: int = 0, warning: bool = False) -> None:
        self.found.append(Finding(code, message, line, warning))


def lint(data: bytes) -> list[Finding]:
    """Everything wrong with one iCalendar stream, errors and warnings, in order of lines."""
    out = _Lint()
    calendar = _tree(_content_lines(data, out), out)
    if calendar is not None:
        _check_calendar(calendar, out)
    return sorted(out.found, key=lambda f: (f.line, f.code))


def errors(data: bytes) -> list[str]:
    return [f.code for f in lint(data) if not f.warning]


def _content_lines(data: bytes, out: _Lint) -> list[Line]:
    """3.1: CRLF, lines of at most 75 octets, folds between characters, UTF-8."""
    if data.startswith(b"\xef\xbb\xbf"):
        out.say("bom", "3.1.4: a byte-order mark before BEGIN:VCALENDAR", 1)
        data = data[3:]
    if re.search(rb"(?<!\r)\n|\r(?!\n)", data):
        out.say("line-ends", "3.1: lines end in CRLF")
    physical = re.split(rb"\r\n|\n|\r", data)
    if physical[-1]:
        out.say("cut", "3.1: the last line is not ended", len(physical))
    logical: list[tuple[int, bytes]] = []
    for number, raw in enumerate(physical, start=1):
        if len(raw) > 75:
            out.say("long-line", f"3.1: {len(raw)} octets, fold at 75", number, warning=True)
        if raw[:1] in (b" ", b"\t") and logical:
            if len(raw) > 1 and raw[1] & 0xC0 == 0x80:
                out.say("split-character", "3.1: folded inside a character", number, warning=True)
            logical[-1] = (logical[-1][0], logical[-1][1] + raw[1:])
        elif raw:
            logical.append((number, raw))
    lines: list[Line] = []
    for number, raw in logical:
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            out.say("utf-8", "3.1.4: not UTF-8", number)
            continue
        if CONTROL.search(text):
            out.say("control", "3.1: a control character", number)
        line = _line(text, number)
        if line is None:
            out.say("no-property", f"3.1: not a property: {text[:40]!r}", number)
        else:
            lines.append(line)
    return lines


def _line(text: str, number: int) -> Line | None:
    name = NAME.match(text)
    if name is None:
        return None
    rest, parameters = text[name.end():], {}
    while rest.startswith(";"):
        found = re.match(r';([A-Za-z0-9-]+)=("[^"]*"|[^";:,]*)((?:,(?:"[^"]*"|[^";:,]*))*)', rest)
        if found is None:
            return None
        parameters[found[1].upper()] = (found[2] + found[3]).replace('"', "")
        rest = rest[found.end():]
    return Line(name[0].upper(), parameters, rest[1:], number) if rest.startswith(":") else None


def _tree(lines: list[Line], out: _Lint) -> Part | None:
    stack: list[Part] = []
    root: Part | None = None
    for line in lines:
        if line.name == "BEGIN":
            part = Part(line.value.upper(), line.number)
            if stack:
                stack[-1].parts.append(part)
            elif root is None:
                root = part
            else:
                out.say("second-calendar", "3.4: one calendar per file (house)", line.number)
            stack.append(part)
        elif line.name == "END":
            if not stack or stack[-1].kind != line.value.upper():
                out.say("nesting", f"3.4: END:{line.value} closes nothing", line.number)
            else:
                stack.pop()
        elif stack:
            if stack[-1].parts and stack[-1].kind in ("VCALENDAR", "VEVENT"):
                out.say("late-property", "3.4: properties stand before components", line.number)
            stack[-1].lines.append(line)
        else:
            out.say("outside", "3.4: a property outside the calendar", line.number)
    for part in stack:
        out.say("not-ended", f"3.4: {part.kind} is not ended", part.number)
    if root is None or root.kind != "VCALENDAR":
        out.say("no-calendar", "3.4: no VCALENDAR")
        return None
    return root


def _check_calendar(calendar: Part, out: _Lint) -> None:
    for name in ("PRODID", "VERSION"):
        if not calendar.all(name):
            out.say(f"{name.lower()}-missing", f"3.6: {name} is required", calendar.number)
    if calendar.all("METHOD"):
        out.say("method", "4791 4.1: no METHOD in a stored calendar (house)", calendar.number)
    for name, kind in (("REFRESH-INTERVAL", "DURATION"), ("SOURCE", "URI")):
        for line in calendar.all(name):
            if line.parameters.get("VALUE") != kind:
                out.say("value-type", f"7986 5.7, 5.8: {name} needs VALUE={kind}", line.number)
    _check_common(calendar, out)
    zones = {line.value for part in calendar.parts if part.kind == "VTIMEZONE" for line in part.all("TZID")}
    seen: set[tuple[str, str]] = set()
    for part in calendar.parts:
        _check_zones(part, zones, out)
        if part.kind == "VTIMEZONE":
            _check_timezone(part, out)
        elif part.kind in STATUSES:
            _check_event(part, seen, out)


def _check_common(part: Part, out: _Lint) -> None:
    for name in sorted(ONCE):
        if len(part.all(name)) > 1:
            out.say("twice", f"3.6: {name} at most once in {part.kind}", part.all(name)[1].number)
    for line in part.lines:
        if line.name in TEXT_NAMES or (line.name.startswith("X-") and part.kind == "VEVENT"):
            _check_text(line, out)
        if line.name in ("DTSTAMP", "LAST-MODIFIED", "CREATED") and _moment(line.value, "utc") is None:
            out.say("not-utc", f"3.8.7: {line.name} is a UTC date-time", line.number)


def _check_text(line: Line, out: _Lint) -> None:
    """3.3.11: only backslash, semicolon, comma and line feed are escaped, and they always are."""
    rest = re.sub(r"\\[\\;,nN]", "", line.value)
    if "\\" in rest or ";" in rest or "," in rest:
        out.say("escape", f"3.3.11: {line.name} holds an unescaped character", line.number)


def _check_zones(part: Part, zones: set[str], out: _Lint) -> None:
    for line in part.lines:
        zone = line.parameters.get("TZID")
        if zone is not None and zone not in zones:
            out.say("no-timezone", f"3.2.19: no VTIMEZONE for {zone}", line.number)
        if zone is not None and (line.value.endswith("Z") or line.parameters.get("VALUE") == "DATE"):
            out.say("zone-misplaced", "3.2.19: TZID on a date or a UTC time", line.number)


def _check_timezone(part: Part, out: _Lint) -> None:
    if not part.all("TZID") or not part.parts:
        out.say("timezone", "3.6.5: TZID and one observance at least", part.number)
    for piece in part.parts:
        start = piece.one("DTSTART")
        if start is None or _moment(start.value, "local") is None:
            out.say("timezone", "3.6.5: DTSTART is a local time", piece.number)
        for name in ("TZOFFSETFROM", "TZOFFSETTO"):
            line = piece.one(name)
            if line is None or not re.fullmatch(r"[+-]\d{4}(\d\d)?", line.value):
                out.say("timezone", f"3.6.5: {name}", piece.number)


def _check_event(part: Part, seen: set[tuple[str, str]], out: _Lint) -> None:
    _check_common(part, out)
    uid, stamp, start = part.one("UID"), part.one("DTSTAMP"), part.one("DTSTART")
    if stamp is None:
        out.say("dtstamp-missing", "3.6.1: DTSTAMP is required", part.number)
    if uid is None:
        out.say("uid-missing", "3.6.1: UID is required", part.number)
    else:
        instance = part.one("RECURRENCE-ID")
        key = (uid.value, instance.value if instance else "")
        if key in seen:
            out.say("uid-twice", "3.8.4.7: the UID stands twice", uid.number)
        seen.add(key)
        if not re.fullmatch(r"[A-Za-z0-9-]{1,254}", uid.value):
            out.say("uid-form", "7986 5.3: letters, digits and hyphens only", uid.number)
    for line in part.all("STATUS"):
        if line.value not in STATUSES[part.kind]:
            out.say("status", f"3.8.1.11: STATUS:{line.value}", line.number)
    for line in part.all("SEQUENCE"):
        if not (line.value.isdigit() and int(line.value) < 2**31):
            out.say("sequence", "3.8.7.4: SEQUENCE counts from 0", line.number)
    if start is None:
        if part.kind == "VEVENT":
            out.say("dtstart-missing", "3.6.1: DTSTART is required without METHOD", part.number)
        return
    kind = _kind(start, out)
    _check_end(part, start, kind, out)
    for name in ("EXDATE", "RDATE", "RECURRENCE-ID"):
        for line in part.all(name):
            if _kind(line, out) != kind:
                out.say("type-differs", f"3.8.5.1: {name} has the type of DTSTART", line.number)
    for line in part.all("RRULE"):
        _check_rule(line, kind, out)
    for alarm in part.parts:
        _check_alarm(alarm, part, out)


def _kind(line: Line, out: _Lint) -> str:
    """date, utc, zoned or floating, as written; says so if the values are of no such kind."""
    kind = "date" if line.parameters.get("VALUE") == "DATE" else "zoned" if "TZID" in line.parameters else ""
    for value in line.value.split(","):
        this = kind or ("utc" if value.endswith("Z") else "floating")
        if _moment(value, "date" if this == "date" else "utc" if this == "utc" else "local") is None:
            out.say("value-type", f"3.3: {line.name}:{value} is not of its type", line.number)
    return kind or ("utc" if line.value.endswith("Z") else "floating")


def _moment(value: str, kind: str) -> date | datetime | None:
    if not (DATE if kind == "date" else DATE_TIME).fullmatch(value) or (kind == "utc") != value.endswith("Z"):
        return None
    try:
        if kind == "date":
            return datetime.strptime(value, "%Y%m%d").date()
        return datetime.strptime(value.rstrip("Z"), "%Y%m%dT%H%M%S")
    except ValueError:
        return None


def _check_end(part: Part, start: Line, kind: str, out: _Lint) -> None:
    end = part.one("DTEND")
    for line in part.all("DURATION"):
        if end is not None:
            out.say("end-twice", "3.6.1: DTEND or DURATION", line.number)
        if not DURATION.fullmatch(line.value) or line.value.startswith("-"):
            out.say("duration", "3.3.6: DURATION", line.number)
    if end is None:
        return
    if _kind(end, out) != kind:
        out.say("type-differs", "3.8.2.2: DTEND has the type of DTSTART", end.number)
        return
    form = "date" if kind == "date" else "utc" if kind == "utc" else "local"
    first, last = _moment(start.value, form), _moment(end.value, form)
    same_zone = start.parameters.get("TZID") == end.parameters.get("TZID")
    if first is not None and last is not None and same_zone and last <= first:
        out.say("end-before-start", "3.8.2.2: DTEND is later than DTSTART", end.number)


def _check_rule(line: Line, kind: str, out: _Lint) -> None:
    pieces = dict(piece.partition("=")[::2] for piece in line.value.split(";"))
    if "UNTIL" in pieces and "COUNT" in pieces:
        out.say("rule", "3.3.10: UNTIL or COUNT", line.number)
    if pieces.get("FREQ") not in {"SECONDLY", "MINUTELY", "HOURLY", "DAILY", "WEEKLY", "MONTHLY", "YEARLY"}:
        out.say("rule", "3.3.10: FREQ", line.number)
    if "UNTIL" in pieces:
        wanted = {"date": "date", "utc": "utc", "zoned": "utc", "floating": "local"}[kind]
        if _moment(pieces["UNTIL"], wanted) is None:
            out.say("until-type", "3.3.10: UNTIL has the type of DTSTART, UTC beside a zone", line.number)


def _check_alarm(alarm: Part, event: Part, out: _Lint) -> None:
    """3.6.6; and house: no alarm after the start, none on what is uncertain or cancelled."""
    action, trigger, status = alarm.one("ACTION"), alarm.one("TRIGGER"), event.one("STATUS")
    if action is None:
        out.say("action-missing", "3.6.6: ACTION is required", alarm.number)
    elif action.value == "DISPLAY" and not alarm.all("DESCRIPTION"):
        out.say("alarm-text", "3.6.6: DISPLAY needs a DESCRIPTION", alarm.number)
    if status is not None and status.value != "CONFIRMED":
        out.say("alarm-uncertain", "house: only a firm entry rings", alarm.number)
    if trigger is None:
        out.say("trigger-missing", "3.6.6: TRIGGER is required", alarm.number)
    elif trigger.parameters.get("VALUE") == "DATE-TIME":
        if _moment(trigger.value, "utc") is None:
            out.say("trigger", "3.8.6.3: an absolute TRIGGER is in UTC", trigger.number)
    elif not DURATION.fullmatch(trigger.value):
        out.say("trigger", "3.8.6.3: TRIGGER is a duration", trigger.number)
    elif not trigger.value.startswith("-") and _length(trigger.value) > timedelta(0):
        out.say("alarm-after-start", "house: phones turn such an alarm round or drop it", trigger.number)
    _check_common(alarm, out)


def _length(value: str) -> timedelta:
    units = {"W": "weeks", "D": "days", "H": "hours", "M": "minutes", "S": "seconds"}
    return sum((timedelta(**{units[u]: int(n)}) for n, u in re.findall(r"(\d+)([WDHMS])", value)), timedelta(0))
