"""`barfem completion SHELL`: what makes the Tab key complete commands, options and files."""

from __future__ import annotations

import argparse

from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError
from barfem.model.lacking import install_line

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Prints the lines that make the Tab key complete barfem's commands and options
in your shell. They go into its start-up file.
"""

EPILOG = """\
examples
  eval "$(barfem completion bash)"      in ~/.bashrc
  eval "$(barfem completion zsh)"       in ~/.zshrc, after compinit
  barfem completion fish | source       in config.fish
  barfem completion powershell | Out-String | Invoke-Expression
                                        in a PowerShell profile
"""

SHELLS = ("bash", "zsh", "fish", "powershell")


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "completion", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("shell", choices=SHELLS, help="the shell that the lines are for")


def run(args: argparse.Namespace) -> int:
    """Print the shell's lines. Returns 0; raises InputError where argcomplete is not installed."""
    try:
        from argcomplete.shell_integration import shellcode
    except ImportError as error:
        raise InputError(
            "the package argcomplete is not installed.",
            where="completion",
            expected=f"{install_line('argcomplete')}.",
        ) from error
    print(shellcode(["barfem"], shell=args.shell))
    return 0
