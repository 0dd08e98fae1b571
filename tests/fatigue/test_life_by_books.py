"""`barfem life` against the books' formulas, written here once more in plain floats, on random questions.

Nothing of barfem is used but the command. Formulas: Shigley Eq. 6-8, 6-14 to 6-16, 6-45 to 6-48; Dowling Eq. 9.7, 9.17
to 9.21; the safety factor on the line of constant ratio in closed form where the rule is linear (Goodman, Soderberg,
Morrow) or homogeneous (Smith-Watson-Topper, Walker), and from the quadratic for Gerber (Shigley Table 6-7).
"""

from __future__ import annotations

import json
import math
import random
from typing import Any

import pytest

from barfem.cli.main import main
from tests.often import often

METHODS = ("goodman", "gerber", "soderberg", "morrow", "swt", "walker")


def reversed_amplitude(q: dict[str, Any]) -> float | None:
    """The equivalent amplitude; None where the mean leaves none."""
    a, m, method = q["a"], q["m"], q["method"]
    up = max(m, 0.0)
    if method == "goodman":
        left = 1.0 - up / q["su"]
    elif method == "gerber":
        left = 1.0 - (up / q["su"]) ** 2
    elif method == "soderberg":
        left = 1.0 - up / q["sy"]
    elif method == "morrow":
        left = 1.0 - m / q["sf"]
    elif method == "swt":
        return math.sqrt(max(a + m, 0.0) * a)
    else:
        gamma = q["gamma"] if q["gamma"] is not None else 0.883 - 2.0e-4 * q["su"]
        return max(a + m, 0.0) ** (1.0 - gamma) * a**gamma
    return a / left if left > 0.0 else None


def safety_factor(q: dict[str, Any]) -> float | None:
    a, m, se, method = q["a"], q["m"], q["se"], q["method"]
    if se is None:
        return None
    up = max(m, 0.0)
    if method in ("swt", "walker"):
        ar = reversed_amplitude(q)
        return se / ar if ar else None
    if method == "gerber" and up > 0.0:
        if a == 0.0:
            return q["su"] / up
        x = 2.0 * up * se / (q["su"] * a)
        return 0.5 * (q["su"] / up) ** 2 * (a / se) * (-1.0 + math.sqrt(1.0 + x * x))
    mean_share = {
        "goodman": up / q["su"],
        "gerber": 0.0,
        "soderberg": up / (q["sy"] or 1.0),
        "morrow": m / q["sf"],
    }
    both = a / se + mean_share[method]
    return 1.0 / both if both > 0.0 else None


def life(q: dict[str, Any], ar: float) -> float:
    if q["kind"] == "curve":
        return 0.5 * (ar / q["sf"]) ** (1.0 / q["b"])
    start = q["f"] * q["su"]
    a, b = start**2 / q["se"], -math.log10(start / q["se"]) / 3.0
    return (ar / a) ** (1.0 / b)


def expected(q: dict[str, Any]) -> dict[str, float | None]:
    ar, n = reversed_amplitude(q), safety_factor(q)
    none = (
        ar is None
        or ar == 0.0
        or (q["sy"] is not None and q["a"] + abs(q["m"]) > q["sy"])
        or (q["su"] is not None and (q["m"] >= q["su"] or ar >= q["su"]))
        or (q["kind"] == "curve" and ar >= q["sf"])
        or (q["se"] is not None and ar <= q["se"])
    )
    return {"equivalent_amplitude_MPa": ar, "safety_factor": n, "life_cycles": None if none else life(q, ar or 0.0)}


def question(r: random.Random, number: int) -> dict[str, Any]:
    q: dict[str, Any] = {"method": METHODS[number % 6], "kind": "curve" if number % 12 >= 6 else "bare", "gamma": None}
    q["su"] = r.uniform(400.0, 2200.0)
    q["sy"] = q["su"] * r.uniform(0.6, 1.0)
    q["f"] = r.uniform(0.76, 0.9)
    q["se"] = r.uniform(0.1, 0.5) * q["su"]
    q["sf"] = q["su"] * r.uniform(1.2, 1.9)
    q["b"] = r.uniform(-0.12, -0.05)
    if q["method"] == "walker" and r.random() < 0.5:
        q["gamma"] = r.uniform(0.3, 1.0)
    if q["kind"] == "curve":
        q["se"] = q["se"] if r.random() < 0.5 else None
        q["sy"] = q["sy"] if r.random() < 0.5 or q["method"] == "soderberg" else None
    q["a"] = 0.0 if r.random() < 0.03 else q["su"] * r.uniform(0.02, 0.75)
    q["m"] = r.choice([0.0, q["su"] * r.uniform(-0.3, 0.6), q["su"] * r.uniform(-0.1, 0.3), q["su"] * 1.01])
    return q


def options(q: dict[str, Any]) -> list[str]:
    out = [f"--amplitude={q['a']!r}", f"--mean={q['m']!r}", "--method", q["method"], f"--tensile={q['su']!r}"]
    if q["sy"] is not None:
        out.append(f"--yield={q['sy']!r}")
    if q["se"] is not None:
        out.append(f"--endurance={q['se']!r}")
    if q["kind"] == "bare":
        out.append(f"--fraction={q['f']!r}")
    if q["kind"] == "curve" or q["method"] == "morrow":
        out.append(f"--fatigue-strength-coefficient={q['sf']!r}")
    if q["kind"] == "curve":
        out.append(f"--fatigue-strength-exponent={q['b']!r}")
    if q["gamma"] is not None:
        out.append(f"--walker-gamma={q['gamma']!r}")
    return out


@pytest.mark.parametrize("seed", often(range(3), 1))
def test_a_hundred_random_questions(capsys: pytest.CaptureFixture[str], seed: int) -> None:
    r = random.Random(seed)
    lives = 0
    for number in range(120):
        q = question(r, number)
        assert main(["life", *options(q), "--json", "-"]) == 0, options(q)
        found = json.loads(capsys.readouterr().out)
        for key, value in expected(q).items():
            if value is None or found[key] is None:
                assert found[key] is None and value is None, (key, found[key], value, found["reason"], options(q))
            else:
                assert found[key] == pytest.approx(value, rel=1e-8), (key, options(q))
        lives += found["life_cycles"] is not None
        if found["life_cycles"] is None:
            assert found["reason"] and (found["runout"] or "no life" in found["reason"])
    assert lives > 15  # the questions are not all beside the point
