"""barfem new: what it writes can be checked at once, says what nobody gave, and never replaces a file."""

from __future__ import annotations

import io
import os
import re
import sys
import tomllib
from pathlib import Path

import pytest

from barfem.cli.main import main
from barfem.cli.new_answers import QUESTIONS
from barfem.model.read import read_bar
from barfem.vendor.part import centreline_points
from tests.cli.test_streams import disk_of

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.usefixtures("unadvised")


class Terminal(io.StringIO):
    """A stream that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


def new(tmp_path, *options: str) -> tuple[int, Path]:
    path = tmp_path / "bar.toml"
    return main(["new", str(path), "--yes", *options]), path


@pytest.mark.parametrize(
    "options",
    [
        (),
        ("--section", "22"),
        ("--section", "tube 26x4", "--bent", "after-hardening"),
        ("--section", "26 x 4", "--grade", "E355", "--condition", "+SR", "--flat", "no"),
        ("--width", "39.8 in", "--arm-length", "10.25 in", "--section", "0.945 in", "--holes", "0.75 in, 1.75 in"),
        ("--splay", "8", "--rise", "-25", "--travel", "48", "--motion-ratio", "0.62", "--name", 'the "blue" \\ one'),
        ("--width", "1400", "--arm-length", "400", "--section", "45", "--mounts", "450", "--cycles", "1e5"),
        ("--width", "700", "--arm-length", "180", "--section", "16", "--holes", "15,32", "--hole-diameter", "8.2"),
    ],
)
def test_what_it_writes_is_checked_without_an_error(tmp_path, options, capsys):
    status, path = new(tmp_path, *options)
    assert status == 0 and f"barfem check {path}" in capsys.readouterr().out
    assert main(["check", str(path)]) in (0, 1)


def test_what_nobody_answers_makes_a_bar_that_passes(tmp_path):
    _, path = new(tmp_path)
    assert main(["check", str(path)]) == 0


def test_the_answers_stand_in_the_file(tmp_path):
    _, path = new(
        tmp_path, "--name", "sketch", "--width", "1010", "--arm-length", "265", "--section", "tube 26x4",
        "--holes", "55,25,85", "--mounts", "310", "--mount-stiffness", "6000", "--link-length", "180",
        "--travel", "28", "--cycles", "50000", "--bend-radius", "70", "--surface", "ground",
    )  # fmt: skip
    bar = read_bar(path)
    points = bar.centreline.evaluate([0.0, bar.centreline.length_mm])[0]
    assert bar.name == "sketch" and points[1][1] - points[0][1] == pytest.approx(1010)
    assert -points[0][0] == pytest.approx(265)
    assert (bar.section.diameter_mm, bar.section.wall_mm) == (26, 4)
    assert [hole.from_tip_mm for hole in bar.left.holes] == [25, 55, 85]
    assert [mount.from_middle_mm for mount in bar.mounts] == pytest.approx([-310, 310])
    assert bar.mounts[0].radial_stiffness_N_per_mm == 6000 and bar.left_link.length_mm == 180
    assert bar.travel.up_mm == 28 and bar.duty.target_cycles == 50000 and bar.steel.surface == "ground"
    assert bar.centreline.bends[0].radius_mm == 70


@pytest.mark.parametrize(
    ("answer", "peened"), [("shot-peened", True), ("as-hardened-scaled", False), ("ground", False)]
)
def test_a_bar_asked_for_peened_is_peened(tmp_path, answer, peened):
    status, path = new(tmp_path, "--surface", answer)
    skin = read_bar(path).steel.skin
    assert status == 0 and skin.peened is peened
    assert tomllib.loads(path.read_text(encoding="utf-8"))["material"]["surface"] == answer


def test_units_stay_as_they_were_given(tmp_path):
    _, path = new(tmp_path, "--width", "39.8 in", "--mounts", "15 in")
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert data["arms"]["width"] == "39.8 in" and data["mounts"][0]["from_middle"] == "-15 in"
    assert read_bar(path).mounts[1].from_middle_mm == pytest.approx(381)


def test_what_nobody_gave_is_marked_and_what_was_given_is_not(tmp_path):
    _, path = new(tmp_path, "--width", "1010", "--section", "22")
    lines = {line.split(" = ")[0]: line for line in path.read_text(encoding="utf-8").splitlines() if " = " in line}
    assert "not from the drawing" in lines["bend_radius"] and "not from the drawing" in lines["radial_stiffness"]
    assert "not from the drawing" not in lines["width"] + lines["diameter"]
    everything = path.read_text(encoding="utf-8")
    assert everything.count("#") > 20 and max(map(len, everything.splitlines())) <= 120


def test_a_flat_has_the_steel_that_there_is(tmp_path):
    # A forged end keeps the area of the round; a pressed one is two walls thick and half the tube's middle line wide.
    _, path = new(tmp_path, "--section", "22")
    flat = read_bar(path).left.flat
    assert flat.thickness_mm * flat.width_mm == pytest.approx(3.14159 / 4 * 22**2, rel=0.005)
    path.unlink()
    _, path = new(tmp_path, "--section", "26x4")
    flat = read_bar(path).left.flat
    assert flat.thickness_mm == 8 and flat.width_mm == pytest.approx(3.14159 * 22 / 2 + 4, abs=0.06)


def test_a_disk_that_is_full_leaves_no_half_file(tmp_path, capsys):
    """Which the next run would refuse to replace, and `check` would take for a bar whose tables are missing."""
    with disk_of(1_000):
        assert new(tmp_path)[0] == 2
    assert list(tmp_path.iterdir()) == [] and "could not be written: File too large" in capsys.readouterr().err
    assert new(tmp_path)[0] == 0


def test_it_never_replaces_a_file(tmp_path, capsys):
    path = tmp_path / "bar.toml"
    path.write_text("mine", encoding="utf-8")
    assert new(tmp_path)[0] == 2
    assert path.read_text(encoding="utf-8") == "mine" and "exists" in capsys.readouterr().err
    (tmp_path / "link.toml").symlink_to(tmp_path / "nowhere.toml")
    assert main(["new", str(tmp_path / "link.toml"), "--yes"]) == 2


@pytest.mark.parametrize(
    ("options", "names"),
    [
        (("--holes", "20,25"), ("--holes", "run into each other")),
        (("--holes", "20,260"), ("--holes", "flat")),
        (("--holes", ","), ("--holes", "20, 45, 70")),
        (("--holes", "20,5; 45; 70"), ("--holes", "written with a point")),  # once four holes, one at 5 mm
        (("--section", "26x14"), ("--section", "below 13")),
        (("--section", "square 20"), ("--section", "tube 28x4.5")),
        (("--grade", "51CrV"), ("--grade", "51CrV4")),
        (("--grade", "4130"), ("--condition", "normalised tube")),
        (("--grade", "4130", "--condition", "QT 425"), ("--condition", "QT 425 C")),
        (("--surface", "shotpeened"), ("--surface", "shot-peened")),
        (("--bend-radius", "8"), ("--bend-radius", "10 mm")),
        (("--hole-diameter", "60"), ("--hole-diameter", "wide")),
        (("--mounts", "600"), ("--mounts", "half width")),
        (("--travel", "300"), ("--travel", "equilibrium")),
        (("--link-length", "0"), ("--link-length", "above 0")),
        (("--cycles", "many"), ("--cycles", "above 0")),
        (("--cycles", "200,000"), ("--cycles", "written with a point")),
        (("--cycles", "1e20"), ("--cycles", "far out of range")),  # once "1e20 is not a number above 0"
        (("--splay", "95"), ("--splay", "85")),
        (("--width", "39,8 in"), ("--width", "point")),
        (("--flat", "perhaps"), ("--flat", "yes or no")),
        (("--bent", "cold"), ("--bent", "after-hardening")),
        (("--name", " "), ("--name", "few words")),
    ],
)
def test_a_wrong_answer_names_its_option_and_writes_nothing(tmp_path, options, names, capsys):
    status, path = new(tmp_path, *options)
    err = capsys.readouterr().err
    assert status == 2 and not path.exists()
    assert all(name in err for name in names) and err.count("Right would be") == 1
    assert len(err.splitlines()) == 1


def test_standard_output(capsys):
    assert main(["new", "-", "--yes"]) == 0
    assert tomllib.loads(capsys.readouterr().out)["format"] == 1


def test_every_question_has_an_option_with_help(capsys):
    main(["new", "--help"])
    out = capsys.readouterr().out
    assert all(question.option in out for question in QUESTIONS)
    # "Default" is what --yes takes, and nothing else; the rest is an example.
    text = re.sub(r"-\s+", "-", " ".join(out.split()))
    for option, words in (("width", "(default 1000)"), ("splay", "(default 0)"), ("rise", "(default 0)"),
                         ("left-arm", "(such as 280)"), ("section", "(default 20)"), ("holes", "(default 20, 45, 70)"),
                         ("grade", "(default 51CrV4, of a tube 34MnB5)"), ("surface", "(default as-hardened-scaled)"),
                         ("bent", "(default before-hardening)"), ("cycles", "(default 200000)")):  # fmt: skip
        entry = text.partition(f"--{option} ... ")[2].partition(" --")[0]
        assert entry.endswith(words), (option, entry)


def test_a_starter_says_how_peening_is_written(tmp_path):
    """Advice says "shot peening": the file has the line, to be taken in."""
    _, path = new(tmp_path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('# peening = "shot"', 'peening = "shot"'), encoding="utf-8")
    assert read_bar(path).steel.peening is not None


@pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal needs a Unix")
@pytest.mark.long
def test_it_asks_on_a_terminal_and_again_where_the_answers_make_no_bar(tmp_path):
    import pty
    import select

    asked = [question for question in QUESTIONS if question.asked]
    first = {"name": "asked bar", "width": "990", "arm_length": "26o", "holes": "24, 54, 260"}
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(tmp_path)
        os.environ["PYTHONPATH"] = str(ROOT)
        os.execv(sys.executable, [sys.executable, "-m", "barfem", "new", "asked.toml"])
    seen, answered, corrected = "", 0, False
    try:
        while select.select([terminal], [], [], 20)[0]:
            try:
                data = os.read(terminal, 4096).decode()
            except OSError:
                break
            if not data:
                break
            seen += data
            if not seen.endswith("]: "):
                continue
            question = next(q for q in asked if seen.rpartition("\n")[2].startswith(q.prompt))
            again = "no bar yet" in seen
            reply = first.get(question.key, "") if not again else {"holes": "24, 54, 84"}.get(question.key, "")
            if question.key == "arm_length" and not again and corrected:
                reply = "260"
            corrected = corrected or question.key == "arm_length"
            answered += 1
            os.write(terminal, (reply + "\n").encode())
    finally:
        os.close(terminal)
        os.waitpid(pid, 0)
    bar = read_bar(tmp_path / "asked.toml")
    assert bar.name == "asked bar" and [hole.from_tip_mm for hole in bar.left.holes] == [24, 54, 84]
    assert answered == 2 * len(asked) + 1 and "26o" in seen
    text = (tmp_path / "asked.toml").read_text(encoding="utf-8")
    assert not re.search(r"^width = .*not from", text, re.MULTILINE)
    assert re.search(r"^bend_radius = .*not from", text, re.MULTILINE)


def test_a_second_round_makes_anew_what_nobody_answered(monkeypatch, capsys, tmp_path):
    """Enter keeps an answer, and no default of a bar that is none: not the old steel's condition, nor the radius of
    the old diameter, which nobody gave."""
    typed = [
        {"section": "16", "grade": "51CrV4", "condition": "QT DIN 17221", "travel": "900"},
        {"section": "40", "grade": "4130", "travel": "10"},
    ]
    keys = [question.key for question in QUESTIONS if question.asked]
    lines = iter([each.get(key, "") for each in typed for key in keys])
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(lines) + "\n"))
    monkeypatch.setattr("sys.stderr", Terminal())
    path = tmp_path / "bar.toml"
    assert main(["new", str(path)]) == 0
    text = path.read_text(encoding="utf-8")
    assert re.search(r"^bend_radius = 100.0 .*not from the drawing", text, re.MULTILINE)
    assert re.search(r'^condition = "normalised tube" .*not from the drawing', text, re.MULTILINE)
    assert re.search(r'^grade = "4130" *(#(?!.*not from).*)?$', text, re.MULTILINE)
    assert read_bar(path).section.diameter_mm == 40.0


@pytest.mark.parametrize(
    ("options", "arms", "bends"),
    [
        (("--width", "1010", "--crank", "0, -40, 250, 330"), (300.0, 300.0), 6),
        (("--left-arm", "270"), (300.0, 270.0), 2),
        (("--left-arm", "270", "--crank", "0, -40, 250, 330"), (300.0, 270.0), 6),
        (("--rows", "202/0/90/48; 904/0/90/48; 202"), (250.0, 250.0), 2),
        (("--rows", "202 mm/0/90/1.9 in; 90.4 cm/0/90/48; 240"), None, 2),
        (("--rows", "150/0/45/60; 60/0/45/60; 760/0/90/60; 200"), None, 3),
    ],
)
def test_cranked_unequal_and_bent_as_the_bender_reads_it(tmp_path, options, arms, bends):
    status, path = new(tmp_path, *options)
    assert status == 0 and main(["check", str(path)]) in (0, 1)
    bar = read_bar(path)
    assert len(bar.centreline.bends) == bends
    if arms is not None:
        right, left = bar.centreline.evaluate([0.0, bar.centreline.length_mm])[0]
        assert (-right[0], -left[0]) == pytest.approx(arms) and left[1] == pytest.approx(-right[1])
    if "--crank" in options:
        middle = bar.centreline.evaluate([bar.middle_mm])[0][0]
        assert middle[2] == pytest.approx(-40.0)
    if "--left-arm" in options or options[1].startswith(
        "202/0/90/48; 904/0/90/48; 240"
    ):  # midway between the cut ends, which half of the developed length is not
        places = bar.centreline.evaluate([mount.station_mm for mount in bar.mounts])[0]
        assert places[0, 1] == pytest.approx(-places[1, 1]) and abs(places[0, 1]) > 200.0


@pytest.mark.parametrize(
    ("options", "y"),
    [
        (("--rows", "250/0/90/48; 1300/0/90/48; 250"), 520.0),  # three quarters of the 698 to this bar's own corner
        (("--rows", "150/0/90/48; 400/0/90/48; 150"), 185.0),
        (("--rows", "250/0/90/48; 1300/0/90/48; 250", "--mounts", "550"), 550.0),
        (("--crank", "0,-40,250,330", "--mounts", "400"), 400.0),  # across the car, as without a crank
        (("--crank", "0,-40,300,430"), 445.0),  # between the ramp's bend, to 437.5, and the arm's, from 450
    ],
)
def test_mounts_lie_where_a_sketch_has_them(tmp_path, options, y):
    status, path = new(tmp_path, *options)
    assert status == 0
    bar = read_bar(path)
    places = bar.centreline.evaluate([mount.station_mm for mount in bar.mounts])[0]
    assert places[:, 1] == pytest.approx([-y, y])


def test_rows_in_space_are_laid_with_their_arms_level_across_the_car(tmp_path):
    """Corners (where the straights' axes meet) of the first and the last bend: both on y, as far left as right."""
    _, path = new(tmp_path, "--rows", "202/0/85/48; 120/35/25/60; 700/-170/30/60; 110/120/80/48; 190")
    corners = [p.xyz_mm for p in centreline_points(read_bar(path).centreline) if p.kind == "intersection"]
    assert corners[0] == pytest.approx((0.0, -corners[-1][1], 0.0), abs=2e-3)
    assert corners[-1] == pytest.approx((0.0, corners[-1][1], 0.0), abs=2e-3)
    assert "corners lie along y" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (("--rows", "400/0/0/48; 400"), "--rows: no row bends the bar"),
        (("--rows", "150/0/90/48; 400/0/90/48; 150", "--mounts", "300"), "--mounts: 300 lies beyond the corner"),
        (("--crank", "1,2,3"), "no crank"),
        (("--crank", "0,-40,330,250"), "inner below outer"),
        (("--rows", "202/0/90; 202"), "row 1"),
        (("--rows", "202/0/90/x; 202"), "row 1 of '202/0/90/x; 202': "),
        (("--rows", "202/0/90/48 deg; 202"), '"48 deg" is not a length'),
        (("--rows", "202/0/nan/48; 202"), "row 1"),
        (("--rows", " ; "), "has no rows"),
        (("--rows", "202/30/90/48; 904/0/90/48; 202"), "--rows: rotation 30 deg in the first row"),
        (("--rows", "202/0/90/48; 904/180/90/48; 202"), "--rows: the arms point opposite ways"),
        (("--rows", "202/0/90/48; 904/178/90/48; 202"), "Right would be: a rotation 180 deg from it"),
        (("--rows", "202/0/88/48; 904/178/88/48; 202"), "--rows: the arms point opposite ways"),
        (("--motion-ratio", "62"), "--motion-ratio: a motion ratio of 62 is none"),
        (("--rows", "202/0/90/48; 904/0/90/48; 202", "--left-arm", "200"), "--left-arm: --rows are the whole shape"),
        (("--rows", "202/0/90/48; 904/0/90/48; 202", "--width", "900"), "--width: --rows are the whole shape"),
        (("--rows", "202/0/90/48; 904/0/90/48; 202", "--crank", "0,-40,250,330"), "--crank: --rows are the whole"),
    ],
)
def test_a_shape_that_is_none_is_refused(tmp_path, options, word, capsys):
    status, path = new(tmp_path, *options)
    assert status == 2 and not path.exists() and word in capsys.readouterr().err


def test_the_remark_beside_bent_names_the_other_choice(tmp_path):
    _, path = new(tmp_path, "--section", "tube 26x4", "--bent", "after-hardening")
    (line,) = (line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("bent = "))
    assert line.partition("# ")[2] == "which leaves tension inside a bend; or before-hardening"


def test_defaults_are_called_so_and_stiffnesses_have_their_range_and_its_source(tmp_path):
    _, path = new(tmp_path)
    text = path.read_text(encoding="utf-8")
    lines = {line.split(" = ")[0]: line for line in text.splitlines() if " = " in line}
    assert lines["target_cycles"].endswith("; default") and lines["rise"].endswith("; default")
    assert "not from the drawing" in lines["length"] or "not from the drawing" in lines["width"]
    for what in ("stiffness of a bushing", "bracket_stiffness", "axial_stiffness"):
        assert what in text
    assert " ".join(text.replace("#", " ").split()).count("common practice, no source") == 3
    assert max(map(len, text.splitlines())) <= 120


def test_travel_goes_up_unless_the_file_says_otherwise(tmp_path):
    _, path = new(tmp_path)
    text = path.read_text(encoding="utf-8")
    wording = "Travel goes straight up, [travel] direction = [0, 0, 1] (default: none is given)."
    assert wording not in read_bar(path).assumptions
    path.write_text("".join(line for line in text.splitlines(True) if not line.startswith("direction = [0, 0, 1]")))
    bar = read_bar(path)
    assert bar.travel.direction == (0.0, 0.0, 1.0) and wording in bar.assumptions


def test_links_that_are_both_too_long_give_no_preload_and_it_is_said(tmp_path):
    _, path = new(tmp_path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[links] ", "[links]\nlength_error = 3.0\n# "))
    bar = read_bar(path)
    told = next(line for line in bar.assumptions if "Both links are 3 mm too long" in line)
    assert "equal arms in mounts that turn freely" in told and "no preload" in told
    path.write_text(text.replace("[links] ", "[links.left]\nlength_error = 3.0\n\n[links]\n# "))
    assert not any("Both links" in line for line in read_bar(path).assumptions)


@pytest.mark.parametrize("name", [b"odd\xff.toml", b"odd\n.toml", b"odd\x1b.toml"])
def test_a_name_that_no_text_may_hold_is_written_and_shown_as_far_as_it_can_be(name, tmp_path):
    path = tmp_path / os.fsdecode(name)
    assert main(["new", str(path), "--yes"]) == 0
    assert "odd?.toml" in path.read_text(encoding="utf-8") and read_bar(path).name == "my bar"
