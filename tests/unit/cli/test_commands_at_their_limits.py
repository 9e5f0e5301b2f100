"""What commands share, what `start` asks and what `note` asks about, on both sides of each limit. Contract of this project; no outside figures but where a test names one."""

from __future__ import annotations

import json
import os
from datetime import date
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from planner.cli import common, kept_place, newtank
from planner.cli.mix_options import Sink, amount
from planner.cli.setup_questions import ask, ask_wishes, first_problem, quoted, tell_understood
from planner.terms.problems import Place, Problem
from tests.engine_desk import tank_with
from tests.unit.cli.test_write_commands import folder, run, text  # noqa: F401  # the fixture is used by its name


@pytest.mark.parametrize(("columns", "width"), [(59, 60), (60, 60), (80, 80), (120, 120), (121, 120), (0, 80)])
def test_a_page_is_as_wide_as_the_window_from_sixty_to_a_hundred_and_twenty(columns: int, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((columns, 40)))
    monkeypatch.setattr("sys.stdout.fileno", lambda: 1, raising=False)
    assert common.console_width() == width


@pytest.mark.parametrize(("lines", "charts", "rows"), [(24, 2, 9), (30, 2, 13), (29, 2, 9), (60, 2, 25), (120, 2, 25), (24, 1, 17), (0, 2, 9), (38, 2, 17)])
def test_a_chart_is_as_tall_as_the_window_in_steps_of_four(lines: int, charts: int, rows: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((80, lines)))
    monkeypatch.setattr("sys.stdout.fileno", lambda: 1, raising=False)
    assert common.chart_rows(charts) == rows


def test_without_a_window_a_page_is_eighty_wide_or_as_the_shell_says(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(_: int) -> os.terminal_size:
        raise OSError

    monkeypatch.setattr(os, "get_terminal_size", none)
    monkeypatch.setattr("sys.stdout.fileno", lambda: 1, raising=False)
    for said, width in (("100", 100), ("wide", 80), ("", 80)):
        monkeypatch.setenv("COLUMNS", said)
        assert common.console_width() == width
    assert (common.chart_rows(), common.chart_rows(1)) == (13, 25)


@pytest.mark.parametrize(("text_of_day", "fits"), [("1990-01-01", True), ("1989-12-31", False), ("2199-12-31", True), ("2200-01-01", False), ("2026-02-30", False), ("tomorrow", False)])
def test_a_day_of_an_option_is_one_of_the_years_of_a_journal(text_of_day: str, fits: bool) -> None:
    if fits:
        assert common.read_on(text_of_day) == date.fromisoformat(text_of_day)
    else:
        with pytest.raises(click.UsageError):
            common.read_on(text_of_day)


def test_problems_are_counted_and_end_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    one, two = (Problem(Place(name), "c", "m", "f") for name in ("a", "b"))
    for problems, counted in (((), ""), ((one,), "1 problem.\n"), ((one, two), "2 problems.\n")):
        common.print_problems(problems)
        said = capsys.readouterr().err
        assert said.endswith(counted) and bool(said) is bool(problems)
    common.finish(())
    with pytest.raises(SystemExit) as ended:
        common.finish((one,))
    assert ended.value.code == 1


def test_signs_that_steer_are_escaped_in_an_object_and_read_back() -> None:
    said = common.json_text({"b": "\u202e\x9f", "a": "é"})
    assert json.loads(said) == {"b": "\u202e\x9f", "a": "é"} and "\u202e" not in said and "é" in said and said.index('"b"') < said.index('"a"')


def test_the_first_argument_is_the_folder_where_it_holds_a_tank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "reef").mkdir()
    (tmp_path / "reef" / "tank.yaml").write_text("tank: {volume: 100 L}\n")
    monkeypatch.chdir(tmp_path)
    assert common.take_folder(("reef", "x"), None) == (Path("reef"), ("x",)) and common.take_folder(("reef", "x"), Path("reef")) == (Path("reef"), ("reef", "x"))
    for args, part in ((("nothing",), "no tank.yaml in nothing"), (("ph=8",), "Name a tank folder"), (("3",), "Name a tank folder"), ((), "Name a tank folder")):
        with pytest.raises(click.UsageError, match=part):
            common.take_folder(args, None)
    monkeypatch.chdir(tmp_path / "reef")
    assert common.take_folder(("ph=8",), None) == (Path(), ("ph=8",)) and common.take_folder((), None) == (Path(), ())
    assert common.typed_folder(Path()) == "" and common.typed_folder(Path("a b")) == "'a b'" and quoted(Path("a b")) == '"a b"' and quoted(Path("ab")) == "ab"
    common.no_more(())
    with pytest.raises(click.UsageError, match="'x'"):
        common.no_more(("x",))
    common.must_have_folder(tmp_path / "reef" / "out.pdf")
    with pytest.raises(click.UsageError, match="no folder"):
        common.must_have_folder(tmp_path / "none" / "out.pdf")


# XDG Base Directory Specification 0.8: a path that is not absolute is passed over.
@pytest.mark.parametrize(("system", "named", "ends"), [("linux", "/x", "/x"), ("linux", "x", "/home/k/.cache"), ("linux", "", "/home/k/.cache"), ("darwin", "", "/home/k/Library/Caches"), ("darwin", "/x", "/x"), ("win32", "", "/local"), ("win32", "/x", "/x")])
def test_results_are_kept_where_the_system_wants_them(system: str, named: str, ends: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (("XDG_CACHE_HOME", named), ("XDG_STATE_HOME", named), ("LOCALAPPDATA", "/local")):
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("sys.platform", system)
    monkeypatch.setattr(Path, "home", classmethod(lambda _: Path("/home/k")))
    state = {"/home/k/.cache": "/home/k/.local/state", "/home/k/Library/Caches": "/home/k/Library/Application Support"}.get(ends, ends)
    assert (str(kept_place.cache_folder()), str(kept_place.state_folder())) == (ends, state)
    monkeypatch.setenv("LOCALAPPDATA", "local")
    assert kept_place.cache_folder() is None or system != "win32" or named


def test_what_a_sum_needs_is_typed_else_the_tanks_else_the_usual() -> None:
    bare, tank = Sink(None, None, "metric", None), Sink(tank_with(water={"salinity": "34 ppt", "temperature": "26 C", "salt_per_litre": "40 g/L"}), None, "metric", "2026-03-02")
    assert (bare.salinity(None), bare.temperature_c(None), bare.salt_per_litre_g(None), bare.salinity("33 ppt"), bare.volume_l(("60", "L"))) == (35, 25, 38, 33, 60)
    assert (tank.salinity(None), tank.temperature_c(None), tank.salt_per_litre_g(None), tank.temperature_c("20 C"), tank.salt_per_litre_g("37 g/L")) == (34, 26, 40, 20, 37)
    assert tank.nitrogen("1 mg/L", "ammonia") == 1 and amount("1 gal", "volume") == pytest.approx(3.785412)
    for wrong in (lambda: bare.volume_l(()), lambda: bare.nitrogen("1 mg/L", "ammonia"), lambda: amount("much", "volume")):
        with pytest.raises(click.UsageError):
            wrong()


# --- what is asked at the start


def asked(answers: list[str], known: dict[str, str] | None = None, told: tuple[str, ...] = (), found: dict[str, str] | None = None) -> tuple[dict[str, str], str]:
    """What `ask` makes of these answers, and all that it said; Enter once they are used up."""
    given = dict(known or {})

    @click.command()
    def command() -> None:
        ask(given, found or {}, Path("reef"), told)

    done = CliRunner().invoke(command, input="".join(a + "\n" for a in (*answers, *[""] * 40)))
    return given, done.output


SIDES = {"tank.length": "80 cm", "tank.width": "40 cm", "tank.height": "40 cm"}


def test_enter_takes_what_stands_in_brackets_and_leaves_the_rest() -> None:
    given, said = asked(["", "", "80 cm", "40 cm", "40 cm"])
    assert given == SIDES | {"rock.kind": "dry", "water.source": "ro", "room.floor": "unknown"} and "An animal" in said


def test_a_volume_spares_the_sides() -> None:
    given, said = asked(["", "", "160 L"])
    assert given["tank.volume"] == "160 L" and not set(SIDES) & set(given) and "front to back" not in said


def test_the_step_of_a_kit_is_asked_for_where_its_basis_is_known() -> None:
    assert "smallest step" not in asked([], SIDES)[1]
    given, said = asked([], SIDES | {"test_kits.ammonia.basis": "N"})
    assert said.count("smallest step") == 1 and "test_kits.ammonia.step" not in given


def test_what_is_told_or_answered_is_not_asked_again_and_what_the_computer_knows_is_offered() -> None:
    given, said = asked([], SIDES | {"name": "Reef"}, ("rock.kind", "wish_list"), {"timezone": "Europe/Berlin"})
    assert "A name" not in said and "rock.kind" not in given and "An animal" not in said and given["timezone"] == "Europe/Berlin"


def test_a_wrong_answer_is_asked_again_and_a_size_cannot_be_left_out() -> None:
    given, said = asked(["", "", "", "eighty", "80 cm", "", "40 cm", "40 cm"])
    assert given["tank.length"] == "80 cm" and "Without its size" in said and said.count("--volume") == 1 and "`tank.length`" in said
    assert first_problem(SIDES) == "" and first_problem({"tank.length": "80"}) != ""


def wished(*answers: str) -> tuple[str, str]:
    made: list[str] = []

    @click.command()
    def command() -> None:
        made.append(ask_wishes())

    return (CliRunner().invoke(command, input="".join(a + "\n" for a in answers)).output, made[0])


@pytest.mark.parametrize(
    ("answers", "wishes"),
    [(("",), ""), (("2 ocellaris clownfish", "", ""), "[{animal: amphiprion-ocellaris, count: 2}]"), (("ocellaris clownfish", "3", ""), "[{animal: amphiprion-ocellaris, count: 3}]"), (("0 ocellaris clownfish", "", ""), "[{animal: amphiprion-ocellaris, count: 1}]"), (("51 ocellaris clownfish", "", ""), "[{animal: amphiprion-ocellaris, count: 50}]"), (("ocellaris clownfish", "51", "50", ""), "[{animal: amphiprion-ocellaris, count: 50}]"), (("ocellaris clownfish", "0", "1", ""), "[{animal: amphiprion-ocellaris, count: 1}]"),
     (("xylophone", ""), ""), (("clownfish", "", ""), ""), (("clownfish", "0", "", ""), ""), (("clownfish", "6", "", ""), ""), (("yelow tang", "1", "", ""), "[{animal: zebrasoma-flavescens, count: 1}]"),
     (("two ocellaris clownfish", "", ""), "[{animal: amphiprion-ocellaris, count: 2}]"), (("two clownfish", "1", "", ""), "[{animal: amphiprion-ocellaris, count: 2}]"), (("clownfish", "two ocellaris", "", ""), "[{animal: amphiprion-ocellaris, count: 2}]"),
     (("2 soft corals", "1", "1", "soft corals", "4", "1", ""), "[{animal: sarcophyton-glaucum, count: 1}, {animal: xenia-umbellata, count: 1}]")],
)
def test_wishes_are_told_by_name_and_number(answers: tuple[str, ...], wishes: str) -> None:
    assert wished(*answers)[1] == wishes


def test_several_of_a_group_are_told_how_to_be_one_each_of_two_kinds() -> None:
    said = "name the other kind after it"
    assert said in " ".join(wished("2 soft corals", "", "")[0].split())
    assert said not in wished("soft corals", "", "")[0] and said not in wished("2 ocellaris clownfish", "", "")[0]


def test_the_first_and_the_last_of_five_offers_can_be_chosen() -> None:
    first, fifth = (wished("clownfish", n, "", "")[1] for n in ("1", "5"))
    assert first and fifth and first != fifth


@pytest.mark.parametrize(("answer", "count"), [("ocellaris clownfish", "2"), ("ocellaris clownfish (amphiprion-ocellaris)", "2"), ("Ocellaris", "2"), ("3 ocellaris", "3")])
def test_what_is_offered_can_be_chosen_by_its_name_as_printed_or_a_part_of_it(answer: str, count: str) -> None:
    assert wished("2 clownfish", answer, "", "")[1] == f"[{{animal: amphiprion-ocellaris, count: {count}}}]"


@pytest.mark.parametrize(("answer", "told"), [("9", "'9' is none of these"), ("trout", "'trout' is none of these"), ("clown", "'clown' could be")])
def test_an_answer_that_names_none_of_the_offers_or_several_is_told_and_asked_again(answer: str, told: str) -> None:
    said, wishes = wished("2 clownfish", answer, "1", "", "")
    assert told in said and said.count("Which one") == 2 and wishes.count("animal:") == 1


def test_who_takes_none_of_the_offers_is_told_that_none_is_on_the_list() -> None:
    said, wishes = wished("2 clownfish", "", "")
    assert "None of these is on the list." in said and wishes == ""


@pytest.mark.parametrize(("more", "parts"), [("", ("lid: not said; floor: not said; light: not said; bin: not said", "kits: none described", "wishes: none yet")), ("room: {floor: solid}\nequipment: {light: 60 W, bin: 60 L}\ntest_kits: {ammonia: {basis: N, step: 0.25}, ph: {step: 0.1}}\nwish_list: [{animal: amphiprion-ocellaris, count: 2}, {animal: my fish}]\n", ("floor: solid; light: described; bin: 60 L", "kits: ammonia counts N in steps of 0.25", "wishes: 2 x ocellaris clownfish, 1 x my fish"))])
def test_a_description_is_told_back_in_words(more: str, parts: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    tell_understood("tank: {volume: 100 L}\n" + more)
    said = capsys.readouterr().out
    assert all(part in said for part in parts)
    for lid, word in (("yes", "lid: yes"), ("no", "lid: no")):
        tell_understood(f"tank: {{volume: 100 L, lid: {lid}}}\n")
        assert word in capsys.readouterr().out


# --- note and undo


@pytest.mark.parametrize(
    ("args", "code", "row", "said"),
    [(("leak",), 0, ",event,leak,", ""), (("dosed", "calcium"), 1, "", "How much calcium"), (("dosed", "calcium", "--yes"), 0, ",dosed,calcium,,", ""), (("dosed", "amonia", "2g"), 1, "", "Did you mean ammonia"), (("dosed", "copper", "--where", "quarantine"), 0, ",dosed,copper,", ""), (("dosed", "ammonia", "5mL"), 0, ",dosed,ammonia,5,mL", "How strong a bottle"),
     (("added", "clownfish", "2"), 1, "", "may be"), (("event", "failed", "site/level"), 0, "site/level", ""), (("event", "lek"), 1, "", "Did you mean leak"), (("bought", "gold", "1g"), 1, "", "gold"), (("the", "fish", "died"), 1, "", "Did an animal die")],
)
def test_a_note_is_written_or_asked_about(args: tuple[str, ...], code: int, row: str, said: str, folder: Path) -> None:  # noqa: F811
    done = run(folder, "note", *args)
    assert (done.exit_code == 0) is (code == 0), done.output
    assert row in text(folder) if code == 0 else text(folder) == "" or text(folder).count("\n") <= 1
    assert said in " ".join(done.output.split())
    assert "How strong" not in done.output or "mL" in args[-1] and args[1] == "ammonia"


def test_one_line_or_the_last_entry_is_taken_back_and_nothing_where_there_is_none(folder: Path) -> None:  # noqa: F811
    assert run(folder, "undo").exit_code != 0
    run(folder, "note", "leak")
    assert run(folder, "undo", "--line", "3").exit_code != 0 and run(folder, "undo", "--line", "2").exit_code == 0 and ",undo,event:leak," in text(folder)
    assert run(folder, "undo").exit_code != 0 and CliRunner().invoke(newtank, ["undo", str(folder), "more"]).exit_code != 0
