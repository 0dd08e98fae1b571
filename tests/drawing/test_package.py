"""The data package: whole, true to its manifest, the same bytes again; withheld on a stop; never over other files."""

from __future__ import annotations

import hashlib
import json
import os
import shutil

import pytest

from barfem.cli.main import main
from barfem.model.data_paths import demo_bars
from barfem.show.package import PARTS

PATHS = {path.stem: path for path in demo_bars()}
GOOD = str(PATHS["pickup-front-solid"])


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """A package of a bar that nothing stops."""
    folder = tmp_path_factory.mktemp("package") / "out"
    assert main(["package", GOOD, "--out", str(folder)]) == 0
    return folder


def manifest(folder):
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def test_it_holds_every_part_and_the_manifest_knows_each(package):
    folder = package
    listed = {each["name"]: each for each in manifest(folder)["files"]}
    assert {path.name for path in folder.iterdir()} == set(listed) | {"manifest.json"}
    wanted = {part.name for part in PARTS if not part.results}
    assert wanted | {"pickup-front-solid.toml", "read-me-first.txt"} == set(listed)
    for name, each in listed.items():
        content = (folder / name).read_bytes()
        assert (each["size"], each["sha256"]) == (len(content), hashlib.sha256(content).hexdigest())
    assert manifest(folder)["input_sha256"] == listed["pickup-front-solid.toml"]["sha256"]
    assert all(
        name in (folder / "read-me-first.txt").read_text(encoding="utf-8") for name in listed if "read" not in name
    )


def test_its_bend_data_are_read_back_as_the_bar(package, tmp_path):
    folder = package
    new = tmp_path / "new.toml"
    assert main(["bends", str(folder / "bends.csv"), "--to", str(new), "--like", GOOD]) == 0


@pytest.mark.long
def test_no_stress_leaves_the_house_unless_asked_for_and_replace_leaves_nothing_old(package, tmp_path, unprinted):
    folder, other = package, tmp_path / "own"
    assert not (folder / "check-summary.pdf").exists()
    assert "MPa" not in (folder / "inspection.csv").read_text(encoding="utf-8")
    assert main(["package", GOOD, "--out", str(other), "--with-results", "--date", "2026-11-28"]) == 0
    assert manifest(other)["with_results"] is True and manifest(other)["date"] == "2026-11-28"
    from pypdf import PdfReader

    wording = " ".join(PdfReader(other / "check-summary.pdf").pages[0].extract_text().split())
    assert "Yield margin" in wording and "stiff" in wording
    # The same input gives the same bytes.
    unprinted.undo()
    assert main(["package", GOOD, "--out", str(other), "--replace"]) == 0
    assert {p.name: p.read_bytes() for p in other.iterdir()} == {p.name: p.read_bytes() for p in folder.iterdir()}


@pytest.mark.long
def test_a_stop_of_the_review_withholds_it_and_a_reason_overrules_that(tmp_path, capsys, unprinted):
    """36 HRC is too soft for the yield strength that the check uses."""
    soft, folder = tmp_path / "soft.toml", tmp_path / "out"
    soft.write_text(PATHS["pickup-front-solid"].read_text(encoding="utf-8").replace("43-48 HRC", "36-40 HRC"))
    assert main(["package", str(soft), "--out", str(folder)]) == 1
    out = capsys.readouterr().out
    assert "Withheld: 1 stop" in out and "hardness" in out and not folder.exists()
    assert main(["package", str(soft), "--out", str(folder), "--despite", "trial of the bends"]) == 0
    assert manifest(folder)["despite"] == "trial of the bends"
    assert [text.partition(":")[0] for text in manifest(folder)["stops"]] == ["hardness"]
    assert "trial of the bends" in (folder / "read-me-first.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "--out"),
        (["--out", "full"], "not empty"),
        (["--out", "full", "--replace"], "no file of a package"),
        (["--out", "file"], "is a file"),
        (["--out", "new", "--date", "yesterday"], "is no date"),
        (["--out", "new", "--despite", "  "], "reason is empty"),
    ],
)
def test_bad_orders_are_refused_and_nothing_is_touched(words, says, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("mine")
    (tmp_path / "file").write_text("mine")
    assert main(["package", GOOD, *words]) == 2
    assert says in capsys.readouterr().err
    assert not (tmp_path / "new").exists()
    assert (tmp_path / "full" / "letter.txt").read_text() == (tmp_path / "file").read_text() == "mine"


@pytest.mark.long
def test_a_part_that_fails_leaves_no_half_package(tmp_path, monkeypatch, unprinted):
    from barfem.model.errors import InputError

    def broken(bar):
        raise InputError("no room for it.")

    monkeypatch.setattr("barfem.show.package.step_text", broken)
    assert main(["package", GOOD, "--out", str(tmp_path / "out")]) == 2
    assert not (tmp_path / "out").exists()


@pytest.mark.long
def test_a_package_is_replaced_whole_or_not_at_all(package, tmp_path, monkeypatch, capsys, unprinted):
    """A disk that fills while the new package is written: the old one stands, file by file, and nothing beside it."""
    folder = tmp_path / "out"
    shutil.copytree(package, folder)
    (folder / "bends.csv").write_text("of the revision before")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    count = iter(range(100))

    def full(path, content):
        if next(count) == 5:
            raise OSError(28, "No space left on device")
        path.write_bytes(b"half")

    with monkeypatch.context() as patch:
        patch.setattr("barfem.show.output._fill", full)
        assert main(["package", GOOD, "--out", str(folder), "--replace"]) == 2
    assert "No space left" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    # Through a link the link stays one; what the manifest before knew and the new one does not is gone.
    (tmp_path / "link").symlink_to(folder, target_is_directory=True)
    assert main(["package", GOOD, "--out", str(tmp_path / "link"), "--replace"]) == 0
    assert (tmp_path / "link").is_symlink() and (folder / "bends.csv").read_bytes() != before["bends.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link", "out"]


@pytest.mark.long
def test_a_bar_file_whose_name_is_not_utf8_is_packed_under_one_that_is(tmp_path, unprinted):
    odd = tmp_path / os.fsdecode(b"odd\xff.toml")
    shutil.copyfile(GOOD, odd)
    assert main(["package", str(odd), "--out", str(tmp_path / "out")]) == 0
    listed = {each["name"] for each in manifest(tmp_path / "out")["files"]}
    assert "odd_.toml" in listed and (tmp_path / "out" / "odd_.toml").read_bytes() == odd.read_bytes()
