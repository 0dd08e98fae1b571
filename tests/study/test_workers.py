"""The same answers from one process, several, and a real Dask cluster; a worker that is killed loses nothing."""

from __future__ import annotations

import json
import os
import shlex
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main
from barfem.model.bar import Section
from barfem.model.errors import BarfemError, InputError
from barfem.study import workers
from barfem.study.size import size_by_varying, size_from_stock
from barfem.study.stock import Stock
from barfem.study.sweep import sweep
from barfem.study.sweep_keys import parse_key
from barfem.study.tolerance import tolerance
from barfem.study.workers import run_chunks
from tests.study.bars import SOLID
from tests.study.tolerance_data import small_bar
from tests.study.worker_tasks import DiesOnce, Refuses, Squares, Threads

SQUARES = {number: number**2 for number in range(12)}
BAR = small_bar(diameter=0.1, mount_stiffness="15 %")
SAMPLES = 33  # full chunks and a last one of one bar


@pytest.fixture(scope="module")
def serial() -> dict[str, Any]:
    """The study by this process alone."""
    found = tolerance(BAR, samples=SAMPLES, exact=True)
    assert found.bars == SAMPLES
    return found.to_json_dict()


def test_one_process_and_several_give_the_same() -> None:
    assert dict(run_chunks(Squares(), range(12))) == SQUARES
    assert dict(run_chunks(Squares(), range(12), workers=2)) == SQUARES
    assert dict(run_chunks(Squares(), [], workers=2)) == {}


def test_workers_have_one_thread_each_and_this_process_keeps_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "7")
    assert set(dict(run_chunks(Threads(), range(4), workers=2)).values()) == {"1"}
    assert os.environ["OPENBLAS_NUM_THREADS"] == "7"


def test_a_killed_worker_loses_nothing(tmp_path: Path) -> None:
    work = DiesOnce(mark=str(tmp_path / "died"))
    assert dict(run_chunks(work, range(12), workers=2)) == SQUARES
    assert (tmp_path / "died").exists()


def test_workers_that_keep_dying_are_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "RESTARTS", 1)
    with pytest.raises(BarfemError, match="died 2 times"):
        dict(run_chunks(DiesOnce(mark=str(tmp_path / "died"), always=True), range(6), workers=2))


def test_a_script_that_every_worker_would_run_too_is_told_what_it_lacks(tmp_path: Path) -> None:
    script = tmp_path / "study.py"
    script.write_text(
        "from barfem.study.workers import run_chunks\n"
        "from tests.study.worker_tasks import Squares\n"
        "print(dict(run_chunks(Squares(), range(4), workers=2)))\n",
        encoding="utf-8",
    )
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    told = subprocess.run([sys.executable, script], env=environment, capture_output=True, text=True, check=False)
    assert told.returncode == 1
    assert "each worker runs this script" in told.stderr
    assert 'needs if __name__ == "__main__":' in told.stderr.splitlines()[-1]


def test_what_the_work_raises_comes_through() -> None:
    with pytest.raises(InputError, match=r"chunk \d cannot be") as caught:
        dict(run_chunks(Refuses(), range(4), workers=2))
    assert caught.value.where == "here" and caught.value.expected == "another."


@pytest.mark.long
def test_a_study_on_two_processes_is_the_serial_one_to_the_bit(serial: dict[str, Any], tmp_path: Path) -> None:
    file = tmp_path / "r.jsonl"
    assert tolerance(BAR, samples=SAMPLES, exact=True, workers=2, save=file).to_json_dict() == serial
    assert tolerance(BAR, samples=SAMPLES, exact=True, save=file).to_json_dict() == serial


def test_dask_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"not installed") as caught:
        dict(run_chunks(Squares(), range(3), cluster="tcp://127.0.0.1:1"))
    assert f"pip --python {shlex.quote(sys.executable)} install distributed;" in str(caught.value)


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as local:
        yield local


def test_a_scheduler_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr(workers, "WAIT_S", 0.5)
    for address in ("tcp://127.0.0.1:1", "nowhere", "tcp://127.0.0.1:no", "tcp://no.such.host.invalid:8786"):
        with pytest.raises(InputError, match="no Dask scheduler"):
            dict(run_chunks(Squares(), range(3), cluster=address))


@pytest.mark.long
def test_a_cluster_gives_what_one_process_gives(cluster: Any) -> None:
    keys = [parse_key("section.diameter=22:25:10"), parse_key("mounts.*.length=30,40")]
    there = sweep(BAR, keys, cluster=cluster.scheduler_address)
    assert dict(there.columns) == dict(sweep(BAR, keys).columns)


@pytest.mark.long
def test_a_worker_of_a_cluster_killed_in_the_middle_loses_nothing(cluster: Any, serial: dict[str, Any]) -> None:
    killed: list[int] = []
    seen = threading.Event()

    def kill() -> None:
        seen.wait(30.0)
        process = next(iter(cluster.workers.values())).process
        killed.append(process.pid)
        os.kill(process.pid, signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()

    def progress(done: int, total: int) -> None:
        if done < total:
            seen.set()
            time.sleep(0.02)

    found = tolerance(BAR, samples=SAMPLES, exact=True, cluster=cluster.scheduler_address, progress=progress)
    killer.join()
    assert killed
    assert found.to_json_dict() == serial
    # And other work by whoever is there now.
    assert dict(run_chunks(Squares(), range(12), cluster=cluster.scheduler_address)) == SQUARES


@pytest.mark.long
def test_a_cluster_of_another_barfem_is_refused(cluster: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "__version__", "9.9")
    with pytest.raises(InputError, match=r"has barfem .*; here is 9\.9"):
        dict(run_chunks(Squares(), range(3), cluster=cluster.scheduler_address))


@pytest.mark.parametrize(("chunks", "cores", "count"), [(0, 2, 1), (5, 2, 1), (6, 2, 2), (400, 4, 4), (400, 64, 8)])
def test_as_many_workers_as_there_is_work_for(
    monkeypatch: pytest.MonkeyPatch, chunks: int, cores: int, count: int
) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(cores)), raising=False)
    assert workers.workers_that_pay(chunks) == count


def test_where_nobody_says_how_many_it_is_as_many_as_pay(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "7")
    monkeypatch.setattr(workers, "workers_that_pay", {4: 2}.__getitem__)
    found = dict(run_chunks(Threads(), range(4), workers=None))
    assert set(found.values()) == {"1"}  # not of this process, whose environment is its own


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc for a process's children")
def test_workers_end_when_their_study_is_killed(tmp_path: Path) -> None:
    mark = tmp_path / "started"
    program = (
        "from barfem.study.workers import run_chunks\n"
        "from tests.study.worker_tasks import Waits\n"
        f"if __name__ == '__main__': dict(run_chunks(Waits({str(mark)!r}), range(8), workers=2))\n"
    )
    script = tmp_path / "script.py"
    script.write_text(program)
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    process = subprocess.Popen([sys.executable, str(script)], env=environment)
    try:
        _until(mark.exists)
        children = _descendants(process.pid)
        assert len(children) >= 3
    finally:
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
    _until(lambda: not any(map(_lives, children)))


def _until(holds: Callable[[], bool]) -> None:
    for _ in range(600):
        if holds():
            return
        time.sleep(0.05)
    raise AssertionError("it did not come about")


def _state(pid: int) -> tuple[str, int]:
    """State and parent of a process; its name, in brackets, may hold spaces."""
    state, parent = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[:2]
    return state, int(parent)


def _lives(pid: int) -> bool:
    try:
        return _state(pid)[0] not in "ZX"
    except OSError:
        return False


def _children(parent: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal() and _lives(int(entry.name)) and _state(int(entry.name))[1] == parent:
            found.append(int(entry.name))
    return found


def _descendants(parent: int) -> list[int]:
    return [each for child in _children(parent) for each in (child, *_descendants(child))]


SIZES = Stock(
    "few", "few.toml", tuple(Section("round", 18.0 + 0.25 * i) for i in range(20)), {"round": "invented for this test"}
)


@pytest.mark.long
def test_a_size_is_the_same_whoever_looked_for_it(cluster: Any) -> None:
    """One process, two, and a Dask cluster; from a list and by a search."""
    texts: list[tuple[int, int]] = []
    alone = size_from_stock(BAR, SIZES, rate_N_per_mm=35.0, progress=lambda done, of: texts.append((done, of)))
    assert texts == [(8, 12), (12, 12)]  # eight are by proportion far off the rate, and not solved
    assert [option.name for option in alone.options] == [f"round {18.0 + 0.25 * i:g}" for i in range(20)]
    assert alone.answer is not None
    for where in ({"workers": 2}, {"cluster": cluster.scheduler_address}):
        found = size_from_stock(BAR, SIZES, rate_N_per_mm=35.0, **where)
        assert found.to_json_dict() == alone.to_json_dict()
        assert found.answer is not None and found.answer.bar == alone.answer.bar
    searched = size_by_varying(BAR, "arm", rate_N_per_mm=30.0)
    assert searched.answer is not None
    there = size_by_varying(BAR, "arm", rate_N_per_mm=30.0, cluster=cluster.scheduler_address)
    assert there.to_json_dict() == searched.to_json_dict()


@pytest.mark.parametrize("where", ["--workers", pytest.param("--cluster", marks=pytest.mark.long)])
def test_the_command_size_takes_workers_and_clusters(
    where: str, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    common = ["size", str(SOLID), "--rate", "45", "--hole", "stiff", "--json", "-"]
    several = "2" if where == "--workers" else request.getfixturevalue("cluster").scheduler_address
    found = []
    for more in ([], [where, several]):
        assert main([*common, *more]) == 0
        found.append(json.loads(capsys.readouterr().out))
    assert found[0] == found[1] and found[0]["answer"]["name"] == "round 23"


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--workers", "0"], "workers"),
        (["--workers", "two"], "two"),
        (["--cluster", "tcp://127.0.0.1:1"], "scheduler"),
        (["--cluster", "tcp://127.0.0.1:1", "--free"], "scheduler"),
    ],
)
def test_the_command_size_refuses(capsys: pytest.CaptureFixture[str], options: list[str], word: str) -> None:
    assert main(["size", str(SOLID), "--rate", "45", *options]) == 2
    out, err = capsys.readouterr()
    assert out == "" and word in err
