"""Several writers at one journal: phones at the same moment, commands between the pages, an editor in between. Nothing is lost, nothing doubled."""

from __future__ import annotations

import threading
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.door.folder import read_folder
from planner.files import journal_file
from tests.unit.serve.site import Phone, fields

ON = date(2026, 2, 13)


def together(*calls: object) -> None:
    threads = [threading.Thread(target=call) for call in calls]  # type: ignore[arg-type]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)


def test_one_entry_sent_by_eight_threads_at_once_is_written_once(phone: Phone) -> None:
    form = fields(phone.get(phone.base).text, f"{phone.base}/done")[0]
    others = [phone.another() for _ in range(8)]
    for other in others:
        other.client.cookies = phone.client.cookies
    together(*(lambda other=other: other.send(f"{other.base}/done", **form) for other in others))
    assert sum(",done," in line and line.startswith(str(ON)) for line in phone.journal()) == 1


def test_entries_of_eight_phones_at_once_are_all_written_whole(phone: Phone) -> None:
    before, problems = phone.journal(), read_folder(phone.folder, ON).problems
    phones = [phone.another().pair() for _ in range(8)]
    together(*(lambda n=n, one=one: one.send(f"{one.base}/test/save", key=f"key-of-phone-{n}", **{"value:temperature.display": f"{70 + n}", "unit:temperature.display": "°F"}) for n, one in enumerate(phones)))
    new = phone.journal()[len(before):]
    assert Counter(line.split(",")[3] for line in new if ",reading," in line) == Counter(str(70 + n) for n in range(8))
    assert read_folder(phone.folder, ON).problems == problems and all(line.count(",") == 6 for line in new)


def test_somebody_who_writes_between_reading_and_writing_makes_the_entry_anew(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other one ticks the same job just before our row is appended: then it is asked about, not written twice."""
    form = fields(phone.get(phone.base).text, f"{phone.base}/done")[0]
    append, struck = journal_file._add, []

    def other_first(path: Path, make_block: object, length: int | None) -> bytes:
        if not struck:
            struck.append(True)
            with path.open("a", encoding="utf-8") as file:
                file.write(f"{ON},done,{form['job']},,,display,\n")
        return append(path, make_block, length)  # type: ignore[arg-type]

    monkeypatch.setattr(journal_file, "_add", other_first)
    answer = phone.send(f"{phone.base}/done", **form)
    assert "is ticked already" in answer.text
    assert sum(f",done,{form['job']}," in line and line.startswith(str(ON)) for line in phone.journal()) == 1


def test_commands_and_page_take_turns(phone: Phone) -> None:
    jobs = [f["job"] for f in fields(phone.get(phone.base).text, f"{phone.base}/done") if not f["key"].endswith("a") and "shown" not in f]
    assert CliRunner().invoke(newtank, ["done", "--tank", str(phone.folder), jobs[0], "--on", str(ON)]).exit_code == 0
    assert jobs[0] not in [f["job"] for f in fields(phone.get(phone.base).text, f"{phone.base}/done")]
    form = fields(phone.get(phone.base).text, f"{phone.base}/done")[0]
    phone.send(f"{phone.base}/done", **form)
    undone = CliRunner().invoke(newtank, ["undo", "--tank", str(phone.folder), "--on", str(ON)])
    assert undone.exit_code == 0 and form["job"] in [f["job"] for f in fields(phone.get(phone.base).text, f"{phone.base}/done")]


def test_a_line_that_an_editor_broke_is_told_on_the_page_and_hides_nothing(phone: Phone) -> None:
    with (phone.folder / "journal.csv").open("a") as file:
        file.write("2026-02-13,reading,amonia,0..5,,,\n")
    page = phone.words(phone.base)
    assert "in the tank’s files cannot be read" in page
    assert "amonia" in phone.words(f"{phone.base}/files")
