"""What `today` loads: nothing that it does not show. Each of these costs it a tenth of a second or a good part of one."""

import subprocess
import sys
from pathlib import Path

import pytest

TANK = "start: 2026-01-05\ntimezone: Europe/London\ntank: {length: 90 cm, width: 45 cm, height: 45 cm}\nrock: {kind: dry, mass: 12 kg}\n"
RUN = "import sys; from planner.cli import newtank; newtank(['today', '--on', '2026-01-05', sys.argv[1]], standalone_mode=False); print(*sorted(sys.modules), file=sys.stderr)"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    folder = tmp_path_factory.mktemp("tank")
    (folder / "tank.yaml").write_text(TANK, encoding="utf-8")
    done = subprocess.run([sys.executable, "-c", RUN, str(folder)], cwd=Path(__file__).parents[2], capture_output=True, text=True, check=True)
    assert "leak" in done.stdout.lower(), "the page was made"
    return set(done.stderr.split())


@pytest.mark.parametrize("room", ["catalogue", "stocking", "stages", "stagesearch", "stockplan"])
def test_without_a_wish_list_no_room_of_it_is_loaded(room: str, loaded: set[str]) -> None:
    assert "planner.plan" in loaded
    assert f"planner.{room}" not in loaded


@pytest.mark.parametrize("library", ["rich", "icalendar", "filelock", "scipy", "jsonschema"])
def test_a_piped_page_needs_no_library_of_screens_calendars_locks_or_checks(library: str, loaded: set[str]) -> None:
    assert "click" in loaded
    assert library not in loaded
