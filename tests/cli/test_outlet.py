"""One way out for files: declared, compared with each other and with inputs, written whole, all or none."""

from __future__ import annotations

import os
import sys

import pytest

from barfem.model.errors import InputError
from barfem.show.csv_file import columns_csv, tables_csv
from barfem.show.output import Outlet
from barfem.show.tables import Cell, Column, Table, column, judged, table, words


def test_two_outputs_never_go_to_one_place(tmp_path):
    (tmp_path / "link.json").symlink_to(tmp_path / "a.json")
    for other in (tmp_path / "a.json", tmp_path / "b" / ".." / "a.json", tmp_path / "link.json"):
        (tmp_path / "b").mkdir(exist_ok=True)
        outlet = Outlet()
        outlet.file("--json", tmp_path / "a.json")
        with pytest.raises(InputError, match="--json and --vtu go to one place"):
            outlet.file("--vtu", other)
    outlet = Outlet()
    outlet.file("--json", "-", stdout=True)
    with pytest.raises(InputError, match="--json and --csv both go to standard output"):
        outlet.file("--csv", "-", stdout=True)


def test_an_output_is_never_an_input(tmp_path):
    history = tmp_path / "history.csv"
    history.write_text("0,1,2\n")
    os.link(history, tmp_path / "same.csv")
    for name in ("history.csv", "same.csv"):
        with pytest.raises(InputError, match="is an input of this run"):
            Outlet(inputs=[history]).file("--csv", tmp_path / name)
    with pytest.raises(InputError, match="is an input of this run"):
        Outlet(inputs=[tmp_path / "a.png"]).folder("--plots", tmp_path, may_hold=["a.png"])


@pytest.mark.parametrize("refuse", ["a folder that goes away", "a writer that fails"])
def test_either_all_is_written_or_nothing(tmp_path, refuse, capsys):
    there = tmp_path / "there.json"
    there.write_text("before")
    (tmp_path / "gone").mkdir()
    outlet = Outlet()
    outlet.put(outlet.file("--json", there), "after")
    last = outlet.file("--vtu", tmp_path / "gone" / "b.vtu")
    outlet.put(outlet.folder("--plots", tmp_path / "new"), {"a.png": b"1"})
    if refuse == "a writer that fails":

        def write(path):
            path.write_text("half")
            raise OSError(28, "No space left on device")

        outlet.put(last, write)
    else:
        (tmp_path / "gone").rmdir()
        outlet.put(last, "vtu")
    with pytest.raises(InputError, match=r"--vtu: .*could not be written: No s"):
        outlet.write(then=lambda: print("the answer"))
    assert capsys.readouterr().out == "the answer\n"  # a full disk costs the file, not the answer
    assert there.read_text() == "before"
    assert [path.name for path in tmp_path.rglob("*")] in (
        ["there.json"],
        ["there.json", "gone"],
        ["gone", "there.json"],
    )


def test_nothing_is_written_where_the_answer_cannot_be_printed(tmp_path):
    outlet = Outlet()
    outlet.put(outlet.file("--json", tmp_path / "a.json"), "{}")

    def full():
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError):
        outlet.write(then=full)
    assert not list(tmp_path.iterdir())


def test_long_and_odd_names_are_answered(tmp_path):
    with pytest.raises(InputError, match="File name too long"):
        Outlet().file("--json", tmp_path / ("x" * 300))
    odd = tmp_path / os.fsdecode(b"\xff\xfe.json")
    long = tmp_path / ("x" * 250)
    outlet = Outlet()
    outlet.put(outlet.file("--json", odd), "{}\udcff")
    outlet.put(outlet.file("--csv", long), "a")
    outlet.write()
    assert odd.read_text() == "{}?" and long.read_text() == "a"


def test_standard_output_that_goes_to_the_file_is_refused(tmp_path, monkeypatch):
    with open(tmp_path / "a.json", "w") as file:
        monkeypatch.setattr(sys, "stdout", file)
        with pytest.raises(InputError, match="is where standard output goes"):
            Outlet().file("--json", tmp_path / "a.json")


def holes() -> Table:
    rows = [("1", 20.0, 0.3), ("=1+1", 45.5, 0.1), ("-2", None, None)]
    return table(
        "holes",
        "Holes",
        rows,
        [
            words("Hole", lambda row: row[0]),
            column("From\ntip", "mm", lambda row: row[1]),
            column("Yield\nmargin", "", lambda row: judged(row[2], 0.25)),
            column("Energy", "J", lambda row: None, optional=True),
        ],
    )


def test_a_table_keeps_values_beside_its_text():
    made = holes()
    assert [each.line for each in made.columns] == ["Hole", "From tip mm", "Yield margin"]
    assert made.rows[1] == (Cell("=1+1", "=1+1"), Cell("45.5", 45.5), Cell("0.10", 0.1, "bad"))
    assert made.rows[2][1] == Cell("-")
    with pytest.raises(ValueError, match="must have 1 cells"):
        Table("bad", "", (Column("a"),), ((),))


def test_spreadsheets_take_text_for_text_and_numbers_for_numbers():
    """OWASP, CSV Injection: a field that begins with = + - @, a tab or a carriage return may be run as a formula."""
    assert tables_csv([holes()]).splitlines() == [
        "hole,from_tip_mm,yield_margin",
        "1,20.0,0.3",
        "'=1+1,45.5,0.1",
        "'-2,,",
    ]
    text = ["=a", "+a", "-a", "@a", "\ta", "\ra", " =a", "a=b", '=a"b,c']
    written = columns_csv({"text": text, "number": [-1.5] * 9}).split("\n", 1)[1]
    assert written.count("'") == 8 and written.count(",-1.5\n") == 9 and "\na=b,-1.5" in written
    assert '"\'=a""b,c",-1.5' in written


def test_semicolons_go_with_decimal_commas():
    assert tables_csv([holes()], "semicolon").splitlines()[1:3] == ["1;20,0;0,3", "'=1+1;45,5;0,1"]
    assert columns_csv({"a": ["1,5;2"], "b": [1e-7]}, "semicolon") == 'a;b\n"1,5;2";1e-07\n'
