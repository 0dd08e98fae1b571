"""Every command's help: fits 80 columns, begins with what it does, holds an example that parses; completion; speed."""

from __future__ import annotations

import importlib
import os
import re
import shlex
import subprocess
import sys
from argparse import ArgumentParser
from pathlib import Path

import pytest

from barfem.cli.main import COMMANDS, main

ROOT = Path(__file__).parents[2]


def help_of(name: str, capsys) -> str:
    assert main([name, "--help"]) == 0
    return capsys.readouterr().out


def examples(text: str) -> list[list[str]]:
    """Command lines that the help shows, as words. Lines that end in a backslash are joined; a remark may follow."""
    joined = re.sub(r"\\\n +", "", text)
    return [shlex.split(re.split(r" {3,}", line)[0]) for line in re.findall(r"^  (barfem .*)$", joined, re.MULTILINE)]


@pytest.mark.parametrize("name", COMMANDS)
def test_help_fits_and_holds_an_example_that_parses(name, capsys):
    text = help_of(name, capsys)
    assert max(map(len, text.splitlines())) <= 80
    found = [words for words in examples(text) if words[1] == name]
    if name == "completion":  # its examples are lines of a shell's start-up file
        assert 'eval "$(barfem completion bash)"' in text
        return
    assert found, f"barfem {name} --help shows no example"
    module = importlib.import_module(COMMANDS[name][0])
    for words in found:
        parser = ArgumentParser(prog="barfem", exit_on_error=False)
        module.add_parser(parser.add_subparsers(dest="command"))
        assert parser.parse_args(words[1:]).command == name


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_says_what_the_commands_own_help_says(name, capsys):
    module, line = COMMANDS[name]
    parser = ArgumentParser()
    subparsers = parser.add_subparsers()
    importlib.import_module(module).add_parser(subparsers)
    assert [action.help for action in subparsers._choices_actions] == [line]


def test_main_help_says_where_to_begin(capsys):
    assert main(["--help"]) == 0
    out = capsys.readouterr().out
    assert "barfem new" in out and "barfem check" in out and all(name in out for name in COMMANDS)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_completion_prints_the_shells_lines(shell, capsys):
    pytest.importorskip("argcomplete", reason="argcomplete is not installed")
    assert main(["completion", shell]) == 0
    assert "barfem" in capsys.readouterr().out


def test_tab_completes_commands_options_and_values(tmp_path):
    pytest.importorskip("argcomplete", reason="argcomplete is not installed")

    def tab(line: str) -> list[str]:
        out = tmp_path / "out"
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "_ARGCOMPLETE": "1",
            "_ARGCOMPLETE_SHELL": "bash",
            "_ARGCOMPLETE_STDOUT_FILENAME": str(out),
            "_ARGCOMPLETE_IFS": "\013",
            "COMP_LINE": line,
            "COMP_POINT": str(len(line)),
            "COMP_TYPE": "9",
        }
        code = "import sys; from barfem.cli.main import main; sys.exit(main())"
        subprocess.run([sys.executable, "-c", code], env=environment, check=True, capture_output=True)
        return [word.strip() for word in out.read_text(encoding="utf-8").split("\013")]

    assert "check" in tab("barfem ch") and "compare" in tab("barfem co")
    assert "--mean-stress" in tab("barfem check x.toml --me")
    assert tab("barfem check x.toml --case r") == ["roll"]


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_that_can_answer_no_says_with_which_status_it_ends(name, capsys):
    code = Path(importlib.import_module(COMMANDS[name][0]).__file__ or "").read_text(encoding="utf-8")
    if "return status(" in code:
        assert re.search(r"^exit status\n  0  .*^  1  ", help_of(name, capsys), re.MULTILINE | re.DOTALL)
