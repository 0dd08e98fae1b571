"""`barfem report`: what it writes, what it refuses, and that it refuses before it writes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.show.report.paper import find_browser, usual_places

ROOT = Path(__file__).parents[2]
PASSING, FAILING = (str(ROOT / "geometries" / f"{name}.toml") for name in ("pickup-front-solid", "pickup-rear-unequal"))


def test_status_follows_the_verdict(tmp_path, capsys, unpictured):
    assert main(["report", PASSING, "--out", str(tmp_path / "a.html")]) == 0
    assert "passes at all 3" in capsys.readouterr().out
    assert main(["report", FAILING, "--out", str(tmp_path / "b.html")]) == 1
    assert "fails at 1 of 3" in capsys.readouterr().out


def test_figures_alone(tmp_path, unpictured):
    """Into a folder that has one already, which is replaced: the same files as beside a page."""
    folder = tmp_path / "figures"
    folder.mkdir()
    (folder / "haigh-diagram.png").write_bytes(b"old")
    assert main(["report", PASSING, "--figures", str(folder)]) == 0
    names = {path.name for path in folder.iterdir()}
    assert len(names) == 20 and "stress-along-the-bar.svg" in names
    assert (folder / "haigh-diagram.png").read_bytes() != b"old"
    beside = tmp_path / "beside"
    assert main(["report", PASSING, "--out", str(tmp_path / "x.html"), "--figures", str(beside)]) == 0
    assert names == {path.name for path in beside.iterdir()}


@pytest.mark.long
def test_mixed_and_one_case(tmp_path, unpictured):
    target = tmp_path / "mixed.html"
    bar = str(ROOT / "geometries" / "pickup-rear-tube.toml")
    assert main(["report", bar, "--mixed", "--case", "one-wheel", "--out", str(target)]) in (0, 1)
    text = target.read_text(encoding="utf-8")
    assert "Not judged in this run: roll" in text and "hole 1/4" in text


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "--out FILE.html"),
        (["--out", "{folder}/none/x.html"], "does not exist"),
        (["--out", "{folder}"], "is no name of a page"),
        (["--out", "{folder}/x.pdf"], "--pdf"),
        (["--out", "{bar}"], "is no name of a page"),
        (["--figures", "{bar}"], "is a file"),
        (["--figures", "{folder}/none/figures"], "does not exist"),
        (["--out", "{folder}/page.txt"], "page.txt is no name of a page. Right would be: a name that ends in .html"),
        (["--pdf", "{folder}/page.html"], "page.html is no name of a PDF"),
    ],
)
def test_refuses_before_it_writes(tmp_path, capsys, arguments, message):
    bar = tmp_path / "bar.toml"
    bar.write_text(Path(PASSING).read_text())
    before = bar.read_bytes()
    filled = [argument.format(folder=tmp_path, bar=bar) for argument in arguments]
    assert main(["report", str(bar), *filled]) == 2
    assert message in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == [bar] and bar.read_bytes() == before


def test_a_wrong_bar_writes_nothing(tmp_path, capsys):
    bar = tmp_path / "bar.toml"
    bar.write_text(Path(PASSING).read_text().replace("diameter = 22.0", "diametre = 22.0"))
    folder = tmp_path / "figures"
    assert main(["report", str(bar), "--out", str(tmp_path / "x.html"), "--figures", str(folder)]) == 2
    assert "diametre" in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == [bar]


def test_no_browser_no_pdf_and_a_way_out(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("BARFEM_BROWSER", raising=False)
    assert main(["report", PASSING, "--out", str(tmp_path / "x.html"), "--pdf", str(tmp_path / "x.pdf")]) == 2
    error = capsys.readouterr().err
    assert "no browser was found" in error and "print it to PDF" in error
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("system", "remedy"), [("linux", "apt install"), ("win32", "Chromium browser"), ("darwin", "brew install")]
)
def test_the_remedy_is_that_of_the_system(system, remedy, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("BARFEM_BROWSER", raising=False)
    with pytest.raises(InputError, match=remedy):
        find_browser(system=system)


def test_the_usual_folders_of_windows_are_looked_in():
    """Windows writes the variable's name in its own case, and installs into any of three folders."""
    places = [str(place) for place in usual_places("win32", {"PROGRAMFILES(X86)": r"C:\Program Files (x86)"})]
    assert r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe" in places
    assert list(usual_places("win32", {})) == [] == list(usual_places("linux", {"HOME": "/home/me"}))


def test_a_browser_in_applications_is_found_where_none_is_on_the_path(tmp_path, monkeypatch):
    program = tmp_path / "Applications" / "Chromium.app" / "Contents" / "MacOS" / "Chromium"
    program.parent.mkdir(parents=True)
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path / "none"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("BARFEM_BROWSER", raising=False)
    assert find_browser(system="darwin") == str(program)


def test_a_browser_that_fails_is_named(tmp_path, capsys, monkeypatch, unpictured):
    liar = tmp_path / "browser"
    liar.write_text("#!/bin/sh\necho 'cannot draw' >&2\nexit 3\n")
    liar.chmod(0o755)
    monkeypatch.setenv("BARFEM_BROWSER", str(liar))
    assert main(["report", PASSING, "--pdf", str(tmp_path / "x.pdf")]) == 2
    error = capsys.readouterr().err
    assert "cannot draw" in error and "status 3" in error
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.long
def test_same_bytes_wherever_and_whenever(tmp_path):
    """As a process in another folder, time zone and locale, with other hashes, under a user's matplotlib settings.

    Its figures are the files' own: `tests/figures` has one of them as a file again.
    """
    here = tmp_path / "here.html"
    assert main(["report", PASSING, "--out", str(here)]) == 0
    (tmp_path / "matplotlibrc").write_text("font.size: 20\naxes.facecolor: red\n")
    surroundings = {"TZ": "Asia/Tokyo", "LC_ALL": "C", "PYTHONHASHSEED": "2", "MPLBACKEND": "svg"}
    subprocess.run(
        [sys.executable, "-m", "barfem", "report", PASSING, "--out", "page.html"],
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **surroundings},
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    assert (tmp_path / "page.html").read_bytes() == here.read_bytes()
