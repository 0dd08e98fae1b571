"""Every message for what users get wrong, as a whole: one line, where it stands, the value, what would be right."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.cli.parser import Parser

ROOT = Path(__file__).parents[2]
SOLID = (ROOT / "geometries" / "pickup-front-solid.toml").read_text()

# What is replaced by what in a bar file, and what its message must name.
FILES = [
    ('name = "front', "name = front", "TOML"),
    ("format = 1", "format = 2", "format"),
    ('"51CrV4"', '"51CrV"', '[material] grade: no material table is called "51CrV". Did you mean "51CrV4"?'),
    ('"51CrV4"', f'"{"a" * 300}"', "[material] grade: no material table is called"),  # longer than any file's name
    ('"QT EN 10089"', '"QT"', '[material] condition: 51CrV4 has no condition "QT"'),
    ('"shot-peened"', '"peened"', 'Did you mean "shot-peened"?'),
    ('"before-hardening"', '"cold"', "[material] bent: 'cold'"),
    ('"round"', '"square"', "[section] shape: 'square'"),
    ("diameter = 22.0", "diameter = -22.0", "[section] diameter: -22 mm"),
    ("diameter = 22.0", 'diameter = "22 MPa"', '[section] diameter: "22 MPa" is not a length'),
    ("diameter = 22.0", 'diameter = "22 mmm"', 'unit "mmm"'),
    ("diameter = 22.0", "diameter = 0.022", "0.022 mm is no anti-roll bar"),
    ("diameter = 22.0", "diameter = nan", "[section] diameter: nan"),
    ("diameter = 22.0", "diameter = true", "[section] diameter: true"),
    ("diameter = 22.0", "diameter = 22,0", "decimals with a point"),
    ("diameter = 22.0", "diametre = 22.0", '"diameter", the nearest known key'),
    ("diameter = 22.0", "diameter = 22.0\nwall = 3.0", "[section] wall"),
    ("[section]", "[sections]", '"section", the nearest known key'),
    ("[   0.0, -490.0, 0.0]", "[0.0, -490.0]", "point 2: 2 entries instead of 3"),
    ("bend_radius = 60.0", "bend_radius = 600.0", "bend_radius at most"),
    ("bend_radius = 60.0", "bend_radius = 5.0", "a centreline radius above 11 mm"),
    ("[-375.0, -545.0, 0.0]", "[-375.0, 645.0, 0.0]", "list the points the other way round"),
    ('"middle"', '"soft"', '[ends] holes 2, name: two holes are called "soft"'),
    ("from_tip = 84.0", "from_tip = 2000.0", "[ends] holes 3, from_tip: 2000 mm"),
    ("diameter = 12.2 },", "diameter = 40 },", "less than 36 mm"),
    ("length = 135.0", "length = 1350.0", "[ends] flat, length"),
    ("transition = 30.0", "transition = 300.0", "[ends] flat, transition"),
    ("normal = [0.145, 0.99, 0.0]", "normal = [1, -0.14, 0]", "across the bar"),
    ("y = 375.0", "y = 2000.0", "does not cross y = 2000 mm"),
    ("length = 210.0", "length = 0", "[links] length: 0 mm"),
    ("length = 210.0", "length = 1e-9", "[links] length: the right pickup is the joint centre"),
    ("pickup = 24.0", "wheel = 40.0\nmotion_ratio = 62.0", "[travel] motion_ratio: a motion ratio of 62 is none"),
    ("pickup = 24.0", "pickup = -24.0", "[travel] pickup: -24 mm"),
    ("target_cycles = 200000", "ratio = 1.0", "[duty] ratio"),
    ("target_cycles = 200000", "blocks = []", "[duty] blocks"),
    ("target_cycles = 200000", "[targets]\nsurvival = 90", "such as 0.9 for nine bars of ten"),
    ("target_cycles = 200000", "[targets]\nsurvival = 0.99999999", "survival 0.99999999 asks for more"),
]
COMMANDS = [
    ("chek bar.toml", "did you mean 'check'?"),
    ("bar.toml", "barfem check bar.toml"),
    ("check", "barfem check needs BAR.toml"),
    ("check none.toml", "none.toml does not exist"),
    ("check .", "is a folder"),
    ("check bar.toml --json", "--json: its value is missing"),
    ("check bar.toml --json bar.toml", "--json: bar.toml is an input of this run"),
    (
        "check bar.toml --case roll2",
        "--case: 'roll2' is none of its values. Right would be: roll, one-wheel or parallel.",
    ),
    ("check bar.toml --jason x", "Did you mean --json?"),
    ("check bar.toml extra", "no use for extra"),
    ("report bar.toml", "--out FILE.html"),
    ("compare bar.toml", "nothing to compare with"),
    ("compare bar.toml --section 20 --hole 9", "--hole: a hole at which bars are made equal"),
    ("compare bar.toml --section square", "--section: 'square' is no section"),
    ("compare bar.toml --section tube,28x40", "--section"),
    ("size bar.toml --rate -5", "--rate: -5 is out of its range. Right would be: a number above 0"),
    # A bar's rate, not the stiffness of a mount, is the example of one.
    (
        "size bar.toml --rate soft",
        '--rate: "soft" is not a number with a unit. Right would be: 30.0 (N/mm) or "170 lbf/in"',
    ),
    (
        "holes bar.toml --softest 30,5",
        '--softest: "30,5" is not a number with a unit (decimals are written with a point)',
    ),
    ("holes bar.toml --softest nan", 'Right would be: 30.0 (N/mm) or "170 lbf/in"'),
    ("plan --target 0.5", "--target: 0.5 is out of its range. Right would be: a number from 1 up"),
    (
        "plan --target 1e5 --confidence 1e-300",
        "--confidence: 1e-300 is out of its range. Right would be: a number from 0.5",
    ),
    (
        "plan --target 1e5 --deviation 1e-300",
        "--deviation: 1e-300 is out of its range. Right would be: a number from 0.01",
    ),
    ("plan --target 1e5 --bars 1e308", "cannot be tested. Right would be: 1 to 1 000 000"),
    ("size bar.toml --rate 60 --hole 9", "one of soft, middle, stiff"),
    ("holes bar.toml --count 0", "--count: 0"),
    # Nearer than a diameter from centre to centre two holes are one slot.
    ("holes bar.toml --spacing 0.1", "--spacing: 0.1 is out of its range. Right would be: a number from 1 up"),
    ("life --amplitude 300 --hardness 450HV --diameter 0.022", "--diameter: a diameter of 0.022 mm is no bar's"),
    ("tolerance bar.toml --samples 3", "--samples: 3 bars are too few"),
    ("tolerance bar.toml --samples x", "--samples: 'x' is no whole number"),
    ("tolerance bar.toml --plot x.pdf", "ends in .png or .svg"),
    # How a file is written, and no file is asked for.
    (
        "check bar.toml --csv-dialect semicolon",
        "--csv-dialect belongs to --csv, which is not asked for. Right would be",
    ),
    ("check bar.toml --csv-dialect comma --json x.json", "--csv-dialect belongs to --csv"),
    ("check bar.toml --plots-format png", "--plots-format belongs to --plots"),
    ("report bar.toml --out x.html --paper A4", "--paper belongs to --pdf"),
    ("sweep bar.toml section.diameter=20,22 --csv-dialect comma", "--csv-dialect belongs to --out or --csv"),
    ("sweep bar.toml", "barfem sweep needs KEY=VALUES"),
    ("sweep bar.toml section.diameter", "KEY=FIRST:LAST:COUNT"),
    ("sweep bar.toml section.diameter=20:22", "'20:22' is no range"),
    ("life --amplitude 300", "--tensile and --yield"),
    ("life --amplitude -3 --tensile 1350 --yield 1200", "--amplitude"),
    ("duty bar.toml --history no.csv", "no.csv"),
    ("plan bar.toml --bars 0", "--bars"),
    ("plan --target 200000 --deviation 50", "--deviation: 50 is out of its range"),
    ("plan --target 200000 --weibull 0.01", "--weibull: 0.01 is out of its range"),
    (
        "life --amplitude 300 --hardness 450HV --peening shot --peening-residual -5000",
        "--peening-residual: -5000",
    ),
    ("life --amplitude 300 --tensile 1350 --yield 1200 --survival 0.99999999", "--survival: survival 0.99999999"),
    ("explain nonsense", 'nothing is called "nonsense"'),
    ("materials 51Cr", 'Did you mean "51CrV4"?'),
    ("completion fish2", "bash, zsh, fish or powershell"),
    ("new bar.toml --yes", "bar.toml exists"),
    ("new n.toml --width 10 --yes", "--bend-radius: the arcs of bend 1"),
    ("fit .", ".: this is a folder"),
    ("life --amplitude 5 --grade 51CrV4 --condition x --tensile 9", "--tensile goes with another source of strength"),
    ("life --amplitude 5 --fatigue-strength-coefficient 9 --fatigue-strength-exponent -5e1", "an exponent of -50 is"),
    ("new n.toml --holes 20,x --yes", '--holes: "x" is not a number'),
]


def message(capsys, arguments: list[str]) -> str:
    assert main(arguments) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    return shown.err


def hold(text: str, named: str) -> None:
    assert text.startswith("barfem: error: ") and text.endswith("\n") and text.count("\n") == 1
    assert named in text
    assert "Right would be: " in text or "did you mean" in text
    assert text.rstrip().endswith((".", "?")), text
    assert not re.search(r"Traceback|pydantic|<class|\.\.$|  ", text.rstrip())


@pytest.mark.parametrize(("wrong", "by", "named"), FILES)
def test_of_bar_files(tmp_path, capsys, monkeypatch, wrong, by, named):
    monkeypatch.chdir(tmp_path)
    assert wrong in SOLID
    Path("bar.toml").write_text(SOLID.replace(wrong, by, 1))
    text = message(capsys, ["check", "bar.toml"])
    hold(text, named)
    assert text.startswith("barfem: error: bar.toml: ")


@pytest.mark.parametrize(("line", "named"), COMMANDS)
def test_of_command_lines(tmp_path, capsys, monkeypatch, line, named):
    monkeypatch.chdir(tmp_path)
    Path("bar.toml").write_text(SOLID)
    hold(message(capsys, line.split()), named)
    assert [path.name for path in tmp_path.iterdir()] == ["bar.toml"]


# The same mistake as argparse tells it in earlier releases of Python, in later ones, and from 3.15 on.
TOLD = [
    "argument --case: invalid choice: 'roll2' (choose from 'roll', 'one-wheel', 'parallel')",
    "argument --case: invalid choice: 'roll2' (choose from roll, one-wheel, parallel)",
    "argument --case: invalid choice: 'roll2', maybe you meant 'roll'? (choose from roll, one-wheel, parallel)",
]


@pytest.mark.parametrize("told", TOLD)
def test_a_value_that_is_none_of_those_listed_is_told_alike_by_every_python(capsys, told):
    with pytest.raises(SystemExit, match="2"):
        Parser(prog="barfem check").error(told)
    right = "--case: 'roll2' is none of its values. Right would be: roll, one-wheel or parallel."
    assert capsys.readouterr().err == f"barfem: error: {right}\n"


@pytest.mark.long
def test_a_letter_that_the_font_of_sheets_lacks_is_told_in_a_line(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("bar.toml").write_text(
        re.sub('^((?:name|title) = ")', "\\1\u68d2 ", SOLID, flags=re.MULTILINE), encoding="utf-8"
    )
    for line in ("drawing bar.toml --out d.pdf", "inspect bar.toml --sheet i.pdf", "drawing bar.toml --out d.svg"):
        assert main(line.split()) == 0 and Path(line.split()[-1]).stat().st_size > 1000
        told = capsys.readouterr().err
        assert (
            told.startswith("barfem: the font of sheets has no \u68d2: a box stands there.") and told.count("\n") == 1
        )


@pytest.mark.long
def test_a_command_line_that_is_printed_can_be_typed_where_a_name_has_a_space(tmp_path, monkeypatch, capsys):
    """new, then check as it says, then a size, and check as that says."""
    monkeypatch.chdir(tmp_path)
    assert main(["new", "my bar.toml", "--yes"]) == 0
    lines = [capsys.readouterr().out]
    assert main(["size", "my bar.toml", "--free", "--rate", "30", "--write", "thin one.toml"]) == 0
    lines.append(capsys.readouterr().out)
    for out, name in zip(lines, ("my bar.toml", "thin one.toml"), strict=True):
        typed = shlex.split(re.search(r"Next: barfem (.*)", out)[1])
        assert typed == ["check", name]
        assert main(typed) in (0, 1)
        full = re.search(r"barfem (check .*--full)$", capsys.readouterr().out, re.MULTILINE)[1]  # on one line
        assert shlex.split(full) == ["check", name, "--full"]
    assert main(["my bar.toml"]) == 2
    assert "barfem check 'my bar.toml'" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command", ["inspect bar.toml {}", "identify bar.toml {}", "bends {} --to to.toml --like bar.toml", "fit {}"]
)
@pytest.mark.parametrize(("name", "text", "named"), [
    ("one.csv", "a" * 200_000, "line 1: the line has 200 000 characters"),
    ("bar.toml", SOLID, "bar.toml"),
])  # fmt: skip
def test_of_tables_that_are_none(tmp_path, capsys, monkeypatch, command, name, text, named):
    """A file without line ends, which Python's reader of CSV refuses by an error of its own; a bar file as a table."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bar.toml").write_text(SOLID, encoding="utf-8")
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert main(command.format(name).split()) == 2
    message = capsys.readouterr().err
    assert named in message and "Right would be: a" in message and "decimal commas" not in message
    assert not (tmp_path / "to.toml").exists()
