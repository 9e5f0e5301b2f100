"""What `today` loads: nothing that it does not show. Each of these would cost it ten to a hundred milliseconds."""

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

TANK = "start: 2026-01-05\ntimezone: Europe/London\ntank: {length: 90 cm, width: 45 cm, height: 45 cm}\nrock: {kind: dry, mass: 12 kg}\n"
RUN = "import sys; from planner.cli import newtank; newtank(['today', '--on', '2026-01-05', sys.argv[1]], standalone_mode=False); print(*sorted(sys.modules), file=sys.stderr)"


def loaded_by_today(folder: Path, tank: str, more: Mapping[str, str] = {}) -> set[str]:  # noqa: B006  (nobody writes into it)
    """What a process of its own has loaded once it has shown the page: nothing else tells what it costs to start."""
    (folder / "tank.yaml").write_text(tank, encoding="utf-8")
    environment = os.environ | {"XDG_CACHE_HOME": str(folder / "cache")} | more
    done = subprocess.run([sys.executable, "-c", RUN, str(folder)], cwd=Path(__file__).parents[2], env=environment, capture_output=True, text=True, check=True)
    assert "my tank" in done.stdout.lower(), "the page was made"
    return set(done.stderr.split())


@pytest.fixture(scope="module")
def two_pages(tmp_path_factory: pytest.TempPathFactory) -> tuple[set[str], set[str]]:
    """The first page of a day and the second."""
    folder = tmp_path_factory.mktemp("new")
    return loaded_by_today(folder, TANK), loaded_by_today(folder, TANK)


@pytest.fixture(scope="module")
def new_tank(two_pages: tuple[set[str], set[str]]) -> set[str]:
    return two_pages[0]


@pytest.fixture(scope="module")
def again(two_pages: tuple[set[str], set[str]]) -> set[str]:
    return two_pages[1]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The second page of a day where the rules and the tank are kept, as with an installed copy."""
    folder = tmp_path_factory.mktemp("kept")
    compiled = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    loaded_by_today(folder, TANK, compiled)
    return loaded_by_today(folder, TANK, compiled)


@pytest.fixture(scope="module")
def passed(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    return loaded_by_today(tmp_path_factory.mktemp("passed"), TANK + "already: {cycle: 2026-01-05}\n")


@pytest.mark.parametrize("room", ["stock.catalogue", "stock.verdict", "stock.stages.order", "stock.stages.search", "plan.stages"])
def test_without_a_wish_list_no_room_of_it_is_loaded(room: str, new_tank: set[str]) -> None:
    assert "planner.plan.make" in new_tank
    assert f"planner.{room}" not in new_tank


@pytest.mark.parametrize("room", ["rulebook.house.overlay", "rulebook.house.read", "rulebook.check", "plan.shop"])
def test_without_house_rules_no_room_of_theirs_is_loaded(room: str, new_tank: set[str]) -> None:
    assert "planner.rulebook.shapes" in new_tank
    assert f"planner.{room}" not in new_tank


@pytest.mark.parametrize("room", ["science.cycle.forecast", "science.cycle.weigh", "science.cycle.run", "science.cycle.step"])
def test_the_model_of_the_cycle_is_loaded_only_while_something_is_forecast(room: str, new_tank: set[str], passed: set[str]) -> None:
    assert f"planner.{room}" in new_tank
    assert f"planner.{room}" not in passed


@pytest.mark.parametrize("library", ["rich", "icalendar", "filelock", "scipy", "jsonschema"])
def test_a_piped_page_needs_no_library_of_screens_calendars_locks_or_checks(library: str, new_tank: set[str]) -> None:
    assert "click" in new_tank
    assert library not in new_tank


@pytest.mark.parametrize("library", ["starlette", "uvicorn", "jinja2", "anyio", "sqlite3", "segno", "planner.serve"])
def test_a_page_in_the_terminal_loads_nothing_of_the_page_on_the_network(library: str, new_tank: set[str]) -> None:
    assert library not in new_tank


@pytest.mark.parametrize("library", ["starlette", "uvicorn", "jinja2"])
def test_only_the_room_of_the_page_imports_what_it_stands_on(library: str) -> None:
    """It is an extra: whoever does not install it misses one command."""
    files = [p for p in (Path(__file__).parents[2] / "planner").rglob("*.py") if p.parent.name != "serve"]
    assert len(files) > 250
    assert [p.name for p in files if re.search(rf"^\s*(?:from|import) {library}\b", p.read_text(encoding="utf-8"), re.MULTILINE)] == []


def test_only_its_command_imports_the_room_of_the_page() -> None:
    root = Path(__file__).parents[2] / "planner"
    assert [p.relative_to(root).as_posix() for p in root.rglob("*.py") if p.parent.name != "serve" and re.search(r"^\s*(?:from|import) planner\.serve\b", p.read_text(encoding="utf-8"), re.MULTILINE)] == ["cli/serve.py"]


@pytest.mark.parametrize("module", ["forecast", "weigh", "run", "step"])
def test_a_second_page_of_the_day_loads_no_model(module: str, again: set[str]) -> None:
    assert "planner.science.cycle.records" in again
    assert f"planner.science.cycle.{module}" not in again


@pytest.mark.parametrize("library", ["numpy", "gsw"])
def test_a_page_without_a_forecast_loads_no_library_of_numbers(library: str, passed: set[str]) -> None:
    assert library not in passed


def test_a_page_from_kept_rules_and_a_kept_tank_loads_no_checker(kept: set[str], passed: set[str]) -> None:
    assert "pydantic" in passed and "pydantic" not in kept
