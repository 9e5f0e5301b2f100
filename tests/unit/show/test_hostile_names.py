"""Names and notes that mean harm, through every output: they come back as they were, or with what steers a machine taken
out, and are obeyed by nothing. The corpus is ours; the readers that judge are not."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import vobject
from click.testing import CliRunner
from ical.calendar_stream import IcsCalendarStream
from pypdf import PdfReader

from planner import write_row
from planner.cli import newtank
from planner.cli.common import json_text, load_tank
from planner.cli.screen import show
from planner.door.entry_words import split_fact
from planner.door.folder import Loaded
from planner.files.calendar_log import Exported, ExportLog, line_from_row, row_from_line
from planner.files.journal import read_journal
from planner.files.journal_form import Form, NewRow, print_row
from planner.files.journal_write import append_rows, undo_rows
from planner.files.tank import read_tank
from planner.show.calendar.calendar import calendar_from_plan
from planner.show.json.plan_document import plan_document
from planner.show.terminal.checklist import plan_lines
from planner.show.words.blank_tank_file import tank_text
from planner.terms.records import Plan, Row
from planner.terms.units import Refusal
from tests.each import over
from tests.rulecases import rulebook

pytestmark = pytest.mark.slow  # a plain run stays under three minutes; `.ci/run` runs these after it

NAMES: dict[str, str] = json.loads((Path(__file__).parents[1] / "hostile_names.json").read_text(encoding="ascii"))
ON = "2026-03-10"
TANK = """id: 7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10
name: {name}
start: 2026-03-02
timezone: Europe/London
tank: {{length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}}
rock: {{kind: dry, mass: 15 kg}}
water: {{source: ro}}
equipment: {{light: {name}}}
"""
HEADER = "when,kind,what,value,unit,where,note\n"
FORMULA = ("=", "+", "-", "@", "\t", "\r")
BLANK = frozenset(name for key, name in NAMES.items() if key.startswith("only ") and key != "only a quote")
"""Names that show nothing: they count as not given."""
SHOWN = {key: name for key, name in NAMES.items() if name not in BLANK}
each_name = over("name", NAMES.values(), ids=NAMES)
named = over("name", SHOWN.values(), ids=SHOWN)


def quoted(text: str) -> str:
    """Double-quoted YAML (1.2.2, 5.7 escaped characters) in which every sign but plain ones is an escape."""
    return '"' + "".join(c if c.isalnum() and c.isascii() or c == " " else f"\\U{ord(c):08x}" for c in text) + '"'


def sense(text: str) -> str:
    """What of a text must come through: all that can be seen (by the Unicode data of the standard library)."""
    return "".join(c for c in text if c.isprintable() and not c.isspace())


def seen_of(text: str) -> str:
    """The same without the sign that stands in for what is not shown."""
    return sense(text).replace("\ufffd", "")


def obeyed(text: str) -> list[str]:
    """What a terminal would obey, or what turns the order of signs around; line ends apart."""
    return [c for c in text if c != "\n" and (ord(c) < 32 or 0x7F <= ord(c) <= 0x9F or "\u202a" <= c <= "\u202e" or "\u2066" <= c <= "\u2069")]


def run(folder: Path, *words: str, on: str = ON) -> tuple[str, str]:
    """What is printed and what is complained of; whatever the names are, it is no bug and no wrong use."""
    done = CliRunner(env={"COLUMNS": "80"}).invoke(newtank, [words[0], *(["--tank", str(folder)] if words[0] not in ("handouts", "compare") else []), *words[1:], "--on", on])
    assert done.exit_code in (0, 1), (done.output, done.exception)
    assert done.exception is None or isinstance(done.exception, SystemExit)
    return done.stdout, done.stderr


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    """A tank of a harmless name."""
    folder = tmp_path_factory.mktemp("plain")
    (folder / "tank.yaml").write_text(TANK.format(name="reef"))
    return load_tank(folder, ON)


@pytest.fixture(scope="module")
def plan(plain: Loaded) -> Plan:
    return plain.plan()


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tank that wishes for all of them, and whose keeper wrote all of them into the notes of a journal, as raw as a file
    can hold them."""
    folder = tmp_path_factory.mktemp("crowded")
    wishes = "".join(f"- animal: {quoted(name)}\n" for name in NAMES.values())
    (folder / "tank.yaml").write_text(TANK.format(name=quoted("".join(NAMES.values()))) + f"wish_list:\n{wishes}")
    out = io.StringIO()
    for name in NAMES.values():
        raw = re.sub(r"[\r\n]", " ", name)
        csv.writer(out, lineterminator="\n").writerow(["2026-03-03", "reading", "ammonia", "2", "mg/L as N", "display", raw])
        csv.writer(out, lineterminator="\n").writerow(["2026-03-03", "added", raw, "1", "", "display", raw])
    (folder / "journal.csv").write_text(HEADER + out.getvalue(), encoding="utf-8")
    return folder


# --- the terminal


SHOWING = (("plan",), ("today",), ("why", "gate/animals"), ("why", "leak-test/watch"), ("stock",), ("readings",), ("readings", "--all"), ("forecast",), ("plan", "--since", "2026-03-01"))


@pytest.mark.parametrize("words", SHOWING, ids=" ".join)
@pytest.mark.parametrize("form", [[], ["--json"]], ids=["text", "json"])
def test_nothing_in_any_name_or_note_steers_the_terminal(crowded: Path, words: tuple[str, ...], form: list[str]) -> None:
    shown, complained = run(crowded, *words, *form)
    assert len(shown) > 400 and obeyed(shown) == [] and obeyed(complained) == []


@each_name
def test_a_name_is_shown_with_all_that_can_be_seen_of_it(plain: Loaded, plan: Plan, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    show(plan_lines(replace(plan, name=name, tasks=plan.tasks[:3]), plain.rules, 80))
    shown = capsys.readouterr().out
    assert obeyed(shown) == [] and seen_of(name)[:60] in seen_of(shown)


def test_every_wish_is_shown_with_all_that_can_be_seen_of_it(crowded: Path) -> None:
    shown = seen_of(run(crowded, "stock")[0])
    assert [name for name in NAMES.values() if seen_of(name)[:60] not in shown] == []


def test_tanks_of_such_names_are_compared(crowded: Path, tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_text((crowded / "tank.yaml").read_text().replace("kind: dry", "kind: live"))
    for form in ([], ["--json"]):
        shown, complained = run(crowded, "compare", str(crowded), str(tmp_path), *form)
        assert len(shown) > 400 and obeyed(shown) == [] and obeyed(complained) == []


def test_on_a_coloured_terminal_the_only_escape_codes_are_our_own_and_markup_is_text(crowded: Path) -> None:
    for command in ("today", "stock"):
        ours, theirs = pty.openpty()
        environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS")} | {"TERM": "xterm-256color", "PYTHONPATH": str(Path(__file__).parents[3])}
        running = subprocess.Popen([sys.executable, "-m", "planner", command, "--tank", str(crowded), "--on", ON], stdout=theirs, stderr=theirs, env=environment)
        os.close(theirs)
        seen = b""
        while True:
            try:
                got = os.read(ours, 65536)
            except OSError:
                break
            if not got:
                break
            seen += got
        os.close(ours)
        assert running.wait() in (0, 1)
        text = re.sub(r"\x1b\[[0-9;]*m", "", seen.decode().replace("\r\n", "\n"))
        assert obeyed(text) == []
        assert "[bold red]" in text and ":fish:" in text and "<b>bold</b>" in text


# --- machine forms


@each_name
def test_a_name_in_json_is_the_name_in_the_file(plan: Plan, name: str) -> None:
    tank, problems = read_tank(TANK.format(name=quoted(name)), "tank.yaml")
    assert tank is not None and [p.code for p in problems] == (["empty-value"] * 2 if name in BLANK else [])
    text = json_text(plan_document(replace(plan, name=tank.name, tasks=plan.tasks[:3])))
    assert json.loads(text)["tank"]["name"] == ("my tank" if name in BLANK else name.strip()) and obeyed(text) == []


def test_the_wishes_in_json_are_those_in_the_file(crowded: Path) -> None:
    found = run(crowded, "stock", "--json")[0]
    assert [name for name in NAMES.values() if name not in BLANK and json.dumps(name.strip()) not in json.dumps(json.loads(found))] == []


@named
def test_two_readers_of_calendars_find_the_name_and_no_entry_more(plan: Plan, name: str) -> None:
    plan = replace(plan, name=name, tasks=tuple(replace(t, title=f"{name} {t.title}", steps=(name,)) for t in plan.tasks[:3]))
    data, revision = calendar_from_plan(plan, rulebook(), ExportLog(), now=datetime(2026, 3, 10, tzinfo=UTC))
    first = vobject.readOne(data.decode())
    second = IcsCalendarStream.calendar_from_ics(data.decode())
    assert len(first.vevent_list) == len(second.events) == len(revision.entries)
    called = first.contents["x-wr-calname"][0].value
    whole = sense(called).removesuffix("\u2026")
    assert obeyed(called) == [] and sense(plan.name).startswith(whole) and len(whole) >= min(len(sense(plan.name)), 70)
    titles = [sorted(str(e.summary.value) for e in first.vevent_list), sorted(str(e.summary) for e in second.events)]
    assert titles[0] == titles[1] and obeyed("".join(titles[0])) == []
    texts = [sorted(str(e.description.value) for e in first.vevent_list), sorted(str(e.description) for e in second.events)]
    assert texts[0] == texts[1] and obeyed("".join(texts[0]).replace("\n", "")) == []
    assert any(sense(name)[:70] in sense(text) for text in texts[0])
    assert not any("attendee" in e.contents for e in first.vevent_list)


# --- paper: each name by itself stands in tests/truth/test_handout_truth.py


def test_all_of_them_on_one_wish_list_and_one_letterhead_make_a_whole_file(crowded: Path, tmp_path: Path) -> None:
    words = " ".join(" ".join(name.split()) for name in NAMES.values())
    (tmp_path / "shop.yaml").write_text(f"name: {quoted(words[:120])}\naddress: [{quoted(words[120:240])}]\nphone: {quoted(words[240:300])}\nnote: {quoted(words)}\n")
    done = CliRunner().invoke(newtank, ["handout", "--tank", str(crowded), "--on", ON, "--shop", str(tmp_path / "shop.yaml"), "-o", str(tmp_path / "x.pdf")])
    assert done.exit_code in (0, 1) and obeyed(done.output) == [], done.output
    text = sense("".join(page.extract_text() for page in PdfReader(tmp_path / "x.pdf").pages))
    plainly = [name for name in NAMES.values() if name.isascii() and name.isprintable() and len(name) < 60]
    assert len(plainly) > 25 and [name for name in plainly if sense(name) not in text] == []


# --- texts of house rules


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """House rules that add a task for each name, which is its title, its step, what to watch for and its reason."""
    folder = tmp_path_factory.mktemp("house")
    (folder / "setup").mkdir()
    tasks = "".join(
        f"  - id: ours-{n}\n    title: {quoted(name)}\n    anchor: {{task: site/place}}\n    steps: [{quoted(name)}]\n    watch: [{quoted(name)}]\n    because: [{quoted(name)}]\n"
        for n, name in enumerate(NAMES.values()) if name not in BLANK)
    (folder / "setup" / "site.yaml").write_text(f"phase: site\ntasks:\n{tasks}")
    return folder


HOUSE_SHOWING = (("plan",), ("plan", "--phase", "site"), ("today",), ("why", "site/ours-0"), ("rules", "--phase", "site"))


@pytest.mark.parametrize("words", HOUSE_SHOWING, ids=" ".join)
def test_no_text_of_a_house_rule_steers_the_terminal(plain: Loaded, house: Path, words: tuple[str, ...]) -> None:
    tank = [] if words[0] == "rules" else ["--tank", str(plain.path), "--on", ON]
    for form in ([], ["--json"]):
        done = CliRunner().invoke(newtank, [words[0], *tank, *words[1:], "--rules", str(house), *form])
        assert done.exit_code in (0, 1) and isinstance(done.exception, (SystemExit, type(None))), done.output
        assert len(done.stdout) > 100 and obeyed(done.stdout) == [] and obeyed(done.stderr) == []


def test_titles_of_house_rules_reach_calendar_and_paper_as_words(plain: Loaded, house: Path, tmp_path: Path) -> None:
    for command, file in (("calendar", "x.ics"), ("handout", "x.pdf")):
        done = CliRunner().invoke(newtank, [command, "--tank", str(plain.path), "--on", ON, "--rules", str(house), "-o", str(tmp_path / file)])
        assert done.exit_code in (0, 1) and obeyed(done.output) == [], done.output
    read = vobject.readOne((tmp_path / "x.ics").read_bytes().decode())
    titles = [str(e.summary.value) for e in read.vevent_list]
    assert obeyed("".join(titles)) == [] and not any("attendee" in e.contents for e in read.vevent_list)
    text = sense("".join(page.extract_text() for page in PdfReader(tmp_path / "x.pdf").pages))
    # A command or a brace in the text of a rule is refused, so such a task stands nowhere.
    plainly = [name for name in NAMES.values() if name.isascii() and name.isprintable() and len(name) < 60 and not set("{}`") & set(name) and "--" not in name and name.strip()]
    assert len(plainly) > 20
    assert sum(any(sense(name).startswith(sense(title)) for title in titles) for name in plainly) >= 3
    assert [name for name in plainly if sense(name) not in text] == []


# --- spreadsheets


@pytest.fixture(scope="module")
def remarked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, list[str]]]:
    """A tank to whose journal an event was written with each name as its remark, and the cells that stand there."""
    folder = tmp_path_factory.mktemp("remarked")
    (folder / "tank.yaml").write_text(TANK.format(name="reef"))
    wrong = [name for name in NAMES.values() if not isinstance(write_row(folder, "event", "power_cut", note=name, on=date.fromisoformat(ON)), Row)]
    assert wrong == []
    _, *rows = csv.reader((folder / "journal.csv").read_text(encoding="utf-8").splitlines(), strict=True)
    return folder, dict(zip(NAMES.values(), rows, strict=True))


@each_name
def test_a_remark_is_one_cell_of_one_row_and_no_formula(remarked: tuple[Path, dict[str, list[str]]], name: str) -> None:
    row = remarked[1][name]
    assert len(row) == 7 and not row[6].startswith(FORMULA) and not set(obeyed(row[6])) - set("\u202e\u2066\u2067\u2069")
    assert sense(row[6].rpartition("[")[0]).lstrip("'") == sense(name.replace('"', "'")).lstrip("'")


def test_the_command_writes_a_remark_of_all_of_them_and_tells_it_without_obeying(remarked: tuple[Path, dict[str, list[str]]]) -> None:
    folder, written = remarked
    said, complained = run(folder, "note", "event", "power_cut", f"--note={' '.join(NAMES.values())}")
    assert obeyed(said) == [] and obeyed(complained) == []
    row = list(csv.reader((folder / "journal.csv").read_text(encoding="utf-8").splitlines(), strict=True))[-1]
    assert len(row) == 7 and sense(row[6].rpartition("[")[0]) == sense(" ".join(NAMES.values()).replace('"', "'"))
    shown, _ = run(folder, "plan", "--since", "2026-03-01")
    assert f"{len(written) + 1} journal entries" in shown and obeyed(shown) == []


@each_name
def test_a_remark_that_a_spreadsheet_wrote_is_taken_back_whole(tmp_path: Path, name: str) -> None:
    path, out = tmp_path / "journal.csv", io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(["2026-03-03", "event", "power_cut", "", "", "display", re.sub(r"[\r\n]", " ", name)])
    path.write_text(HEADER + out.getvalue(), encoding="utf-8")
    (row,) = read_journal(path.read_bytes(), "journal.csv", None, UTC)[0].rows
    assert sense(row.note) == sense(name)
    append_rows(path, undo_rows(read_journal(path.read_bytes(), "journal.csv", None, UTC)[0]))
    journal, problems = read_journal(path.read_bytes(), "journal.csv", None, UTC)
    assert (journal.rows, problems) == ((), ())


@each_name
def test_an_animal_of_any_name_is_one_cell_and_no_formula(name: str) -> None:
    made = split_fact(["added", name, "2"], [])
    assert not isinstance(made, Refusal)
    line = print_row(NewRow("2026-03-03", *made, "display", ""), Form())
    (row,) = csv.reader([line], strict=True)
    assert len(row) == 7 and not any(cell.startswith(FORMULA) for cell in row)
    assert sense(row[2]).lstrip("'") == sense(name.replace('"', "'")).lstrip("'")


@each_name
def test_a_title_in_the_export_log_is_no_formula_and_is_read_back_as_it_was(name: str) -> None:
    title = " ".join(re.sub(r"[\x00-\x1f\x85\u2028\u2029]", " ", name).split())
    moment = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
    for text in (title, f"'{title}", f"''{title}"):
        row = Exported("62ea5d52-8f3e-5282-8e77-3d349c9826b7", 3, moment, moment, "fish/add", "firm", "2026-03-10", 0, date(2026, 3, 8), None, "0123456789ab", text, "e2da28b697ee969a")
        line = line_from_row(row)
        assert not any(cell.startswith(FORMULA) for cell in next(csv.reader([line], strict=True)))
        assert row_from_line(line.rstrip("\n")) == row


# --- a new tank


@each_name
def test_the_form_of_a_new_tank_holds_any_name(name: str) -> None:
    size = {"tank.length": "80 cm", "tank.width": "40 cm", "tank.height": "40 cm"}
    tank, problems = read_tank(tank_text({"name": name, **size}).encode(), "tank.yaml")
    assert tank is not None and tank.tank.length_cm == 80
    assert [p.code for p in problems] == (["empty-value"] if name in BLANK else [])
    assert sense(tank.name) == sense(name) or name in BLANK
