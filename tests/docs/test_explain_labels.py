"""`barfem explain` knows the words that sentences and rows print beside headings; no word of a key breaks it."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from importlib.resources import files

import pytest

from barfem.cli.main import main
from barfem.model import nearest
from barfem.model.errors import InputError
from barfem.model.load_case import CASES
from barfem.show.explain import _plain, explain, explanations, json_paths


@pytest.mark.long
def test_every_run_of_words_within_a_key_is_answered_or_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearest, "get_close_matches", lambda *_, **__: [])  # takes long, no matter here
    asked = set()
    for path in json_paths():
        words = _plain(path).split()
        asked |= {" ".join(words[i:j]) for i in range(len(words)) for j in range(i + 1, len(words) + 1)}
    for each in sorted(asked):
        with suppress(InputError):
            assert explain(each).title
    assert main(["explain", "next"]) == 2


@pytest.mark.parametrize(
    ("word", "title"),
    [
        *((name, "Load case") for name in CASES),
        ("Stress", "Peak stress"),
        ("Stress and life", "Peak stress"),
        ("Amplitude", "Stress amplitude"),
        ("ka", "Surface factor ka"),
        ("kb", "Size factor kb"),
        ("kc", "Load factor kc"),
        ("Scatter", "Scatter of life"),
        ("critical plane", "Other criteria"),
        ("run-out", "Runout"),
        ("Size", "Sizing"),
        ("Median", "Spread over bars"),
        ("Break", "Miss"),
        ("Weakest place", "What governs"),
        ("ANSWER", "Verdict"),
        ("Warning", "Assumptions, warnings, cautions"),
        ("What it comes from", "Spread over bars"),
        ("Left joint higher", "Spread over bars"),
        ("None fails before", "Test plan"),
        ("strength at 200 000 cycles", "A fitted stress-life line"),
        ("STOP", "Findings of the review"),
        ("hole_to_end", "Rule of the review: hole edge to cut end, in hole diameters"),
        ("accept with note", "What to do with a bar that came back"),
        ("Under-steer", "Words of the car tables"),
        *((word, word) for word in ("Fretting", "Springback", "Datum", "Collar", "Ovality", "Pickup", "Motion ratio")),
        ("transition", "The end of a bar"),
        ("tangent", "Tangent point"),
        ("Haigh", "Haigh"),
        ("equivalent amplitude", "Equivalent amplitude"),
        ("Left out", "Left out by size"),
    ],
)
def test_words_of_sentences_say_what_stands_there(word: str, title: str) -> None:
    assert explain(word).title == title


def test_every_band_of_tolerance_is_known() -> None:
    defaults = tomllib.loads(files("barfem.study").joinpath("tolerances.toml").read_text(encoding="utf-8"))["defaults"]
    titles = {each["title"] for name, each in defaults.items() if name != "rate_band"}
    assert len(titles) > 10
    for title in sorted(titles):
        assert "Tolerance band" in {explain(title).title, *explain(title).also}, title


def test_a_name_for_a_word_in_a_sentence_is_said_once() -> None:
    names = [name.lower() for kind in ("check", "words") for entry in explanations(kind) for name in entry.names]
    assert len(names) == len(set(names)) and len(names) > 10
