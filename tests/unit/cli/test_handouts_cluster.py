"""Handouts by the workers of a cluster: the same files, byte for byte, and the same words about what failed."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.cli.handouts_cluster import run_on_cluster
from tests.unit.cli.test_handouts import ON, TANK, add_tank, files_in

ROOT = Path(__file__).parents[3]
cluster_installed = pytest.mark.skipif(importlib.util.find_spec("distributed") is None, reason="needs the packages of newtank[cluster]")
CLUSTER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A cluster of two workers, which gives a record up once one worker died of it."""
    script = tmp_path_factory.mktemp("cluster") / "cluster.py"
    script.write_text(CLUSTER, encoding="utf-8")
    paths = os.pathsep.join([str(ROOT), *sys.path])
    environment = {**os.environ, "PYTHONPATH": paths, "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}
    with subprocess.Popen([sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment, cwd=script.parent) as running:
        assert running.stdout is not None and running.stdin is not None
        yield running.stdout.readline().strip()
        running.stdin.close()
        running.wait(60)


def handouts(shop: Path, out: Path, *words: str) -> Result:
    return CliRunner(env={"COLUMNS": "80"}).invoke(newtank, ["handouts", str(shop), "--out", str(out), *ON, *words])


def test_without_the_packages_a_sentence_says_which(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    add_tank(tmp_path / "shop" / "ash", 1)
    done = handouts(tmp_path / "shop", tmp_path / "out", "--scheduler", "tcp://127.0.0.1:1")
    assert done.exit_code == 2
    assert "pip install 'newtank[cluster]'" in done.output


def test_processes_and_a_cluster_are_not_asked_for_together(tmp_path: Path) -> None:
    add_tank(tmp_path / "shop" / "ash", 1)
    assert handouts(tmp_path / "shop", tmp_path / "out", "--scheduler", "tcp://127.0.0.1:1", "--jobs", "2").exit_code == 2


@cluster_installed
@pytest.mark.filterwarnings("ignore")
def test_no_scheduler_is_told_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.handouts_cluster.CONNECT_S", 1)
    add_tank(tmp_path / "shop" / "ash", 1)
    done = handouts(tmp_path / "shop", tmp_path / "out", "--scheduler", "tcp://127.0.0.1:1")
    assert done.exit_code == 2
    assert "no scheduler answers at tcp://127.0.0.1:1" in done.output


@cluster_installed
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_makes_the_same_files_and_says_the_same(address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for side in ("here", "there"):
        for n, name in enumerate(("ash", "birch", "cedar"), 1):
            add_tank(tmp_path / side / "shop" / name, n, f"{name} reef")
        add_tank(tmp_path / side / "shop" / "wrong", 9, text="id: {id}\nname: {name}\ntank: {{length: 3 miles}}\n")
        add_tank(tmp_path / side / "shop" / "warned", 8, text=TANK + "rack: {{}}\n")
    monkeypatch.chdir(tmp_path / "here")
    here = handouts(Path("shop"), Path("out"), "--jobs", "1")
    monkeypatch.chdir(tmp_path / "there")
    there = handouts(Path("shop"), Path("out"), "--scheduler", address)
    assert (there.output, there.exit_code) == (here.output, here.exit_code) == (here.output, 1)
    assert files_in(tmp_path / "there") == files_in(tmp_path / "here")
    assert len([name for name in files_in(tmp_path / "there" / "out") if name.endswith("handout.pdf")]) == 4


def ends_its_process(number: int) -> str:
    if number == 1:
        os._exit(1)
    return f"made {number}"


def same() -> str:
    return "same"


@cluster_installed
@pytest.mark.filterwarnings("ignore")
def test_workers_with_another_program_are_refused(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    import click

    monkeypatch.chdir(ROOT)
    with pytest.raises(click.UsageError, match="another newtank"):
        list(run_on_cluster(ends_its_process, [0], address, "other", same, str))


@cluster_installed
@pytest.mark.filterwarnings("ignore")
def test_a_record_that_kills_its_worker_costs_itself_alone(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = dict(run_on_cluster(ends_its_process, list(range(4)), address, "same", same, lambda n: f"lost {n}"))
    assert found == {0: "made 0", 1: "lost 1", 2: "made 2", 3: "made 3"}
