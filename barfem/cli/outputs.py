"""What a command can write, as data: each output is one entry, with its option, its help and how it is made.

OUTPUTS = (JSON, csv_of("holes:holes_tables", "the holes"))
add_outputs(parser, OUTPUTS)
...
out = Outputs(args, OUTPUTS, inputs=[path])        # refused here, before any work
...
out.write(found, then=lambda: print_comparison(found))
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any, Literal

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.show.by_name import function
from barfem.show.output import Content, Outlet, Output
from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.model.bar import Bar

__all__ = [
    "JSON",
    "SAVE",
    "Declared",
    "Outputs",
    "add_dialect",
    "add_outputs",
    "bar_file_of",
    "csv_of",
    "json_text",
    "picture_of",
    "pictures_of",
    "refuse_alone",
]


Made = Content | Mapping[str, Content] | None
Options = argparse.Namespace


@frozen
class Declared:
    """One output that a command offers.

    Attributes
    ----------
    option, metavar, help
        As on the command line.
    make
        What goes there, from what the command found and its options; None: nothing is written after all. It is
        called only where the output is asked for. A "kept" file has none: the run writes it.
    kind
        "file", "folder" (`make` gives contents by file name), or "kept".
    endings, what
        Endings that its name may have, and what it is ("picture"), for the message.
    stdout
        "-" stands for standard output.
    may_hold
        File names that may be written into a folder.
    whole
        A folder in which nothing stays that stood in it before.
    bar_file
        It is a bar file, and replaces one that is there, but only with --force.
    message
        Line to print when it is written, with its path for {}.
    more
        Adds options that go with it.
    styles
        Names of options that say how it is written, None where not given: refused where nothing is asked for that
        they are of.
    """

    option: str
    help: str
    make: Callable[[Any, Options], Made] = lambda found, args: None
    metavar: str = "FILE"
    kind: Literal["file", "folder", "kept"] = "file"
    endings: tuple[str, ...] = ()
    what: str = "file"
    stdout: bool = False
    may_hold: Callable[[Options], Iterable[str]] = lambda args: ()
    whole: bool = False
    bar_file: bool = False
    message: str = ""  # {0} the path, {1} the same to be typed
    more: Callable[[argparse.ArgumentParser], object] = lambda parser: None
    styles: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Its name among the parsed options."""
        return self.option.lstrip("-").replace("-", "_")


def add_outputs(parser: argparse.ArgumentParser, declared: Sequence[Declared]) -> None:
    """Add the options of all outputs to a command."""
    for each in declared:
        parser.add_argument(each.option, metavar=each.metavar, help=each.help)
        each.more(parser)


def refuse_alone(args: Options, names: Iterable[str], owner: str, *, asked: bool) -> None:
    """Refuse options that go with `owner` where that is not asked for.

    Raises
    ------
    InputError
        Such as --samples without --tolerance.
    """
    given = [f"--{name.replace('_', '-')}" for name in names if getattr(args, name) not in (None, False)]
    if given and not asked:
        raise InputError(
            f"{given[0]} belongs to {owner}, which is not asked for.", where=given[0], expected=f"{owner} beside it."
        )


class Outputs:
    """The outputs that were asked for on one command line; `asked` is the path of each by its option's name."""

    def __init__(self, args: Options, declared: Sequence[Declared], *, inputs: Iterable[str | Path] = ()) -> None:
        """Look at all of them before any work is done.

        Raises
        ------
        InputError
            One cannot be written, is an input, or is where another goes; or how it is written is said of none.
        """
        for style in dict.fromkeys(name for each in declared for name in each.styles):
            owners = [each for each in declared if style in each.styles]
            asked = any(getattr(args, each.name) is not None for each in owners)
            refuse_alone(args, [style], " or ".join(each.option for each in owners), asked=asked)
        self._args, self._declared = args, declared
        self._outlet = Outlet(inputs=inputs)
        self._outputs: dict[str, Output] = {}
        for each in declared:
            made = self._declare(each, getattr(args, each.name))
            if made is not None:
                self._outputs[each.name] = made

    def _declare(self, each: Declared, path: str | None) -> Output | None:
        if each.kind == "kept":
            return self._outlet.kept(each.option, path)
        if each.kind == "folder":
            return self._outlet.folder(each.option, path, may_hold=each.may_hold(self._args), whole=each.whole)
        return self._outlet.file(
            each.option,
            path,
            endings=each.endings,
            what=each.what,
            stdout=each.stdout,
            replaces=not each.bar_file or self._args.force,
            replaces_toml=each.bar_file,
        )

    def path(self, name: str) -> Path | None:
        """Where an output goes; None where it was not asked for, or goes to standard output."""
        return self._outputs[name].path if name in self._outputs else None

    def write(self, found: Any, then: Callable[[], object]) -> None:
        """Make and write all outputs, whole, or none of them; `then` prints, unless one is standard output's.

        Raises
        ------
        InputError
            A disk or folder refuses. What is printed has been printed all the same.
        """
        messages = []
        for each in self._declared:
            if each.name not in self._outputs or each.kind == "kept":
                continue
            made = each.make(found, self._args)
            if made is None:
                messages.append(f"Not written: {self.path(each.name)}, for want of an answer.")
                continue
            self._outlet.put(self._outputs[each.name], made)
            path = self.path(each.name)
            messages += [each.message.format(path, quote(str(path)))] if each.message else []
        self._outlet.write(then)
        if messages and not self._outlet.takes_stdout:
            print("\n".join(messages))


def json_text(data: Mapping[str, Any]) -> str:
    """Data and records as barfem writes them: finite numbers or null, the format's number and the version first."""
    from barfem.model.plain import plain

    whole = {"format": 1, "barfem": __version__, **plain(data)}
    return json.dumps(whole, indent=2, allow_nan=False, ensure_ascii=False) + "\n"


JSON = Declared(
    "--json",
    "write everything as JSON; - is standard output alone",
    lambda found, args: json_text(found.to_json_dict()),
    stdout=True,
)
SAVE = Declared("--save", "keep results as they are done; the same command goes on from it", kind="kept")


def add_dialect(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--csv-dialect",
        choices=("comma", "semicolon"),
        help="of CSV: commas, or semicolons with decimal commas (default comma)",
    )


def csv_of(home: str, what: str) -> Declared:
    """`--csv` and `--csv-dialect` of a command whose table or tables the function at `home` (see `show.by_name`) makes;
    `what` is in them, for the help."""

    def make(found: Any, args: Options) -> str:
        from barfem.show.csv_file import tables_csv

        made = function(home)(found)
        return tables_csv(made if isinstance(made, Sequence) else [made], args.csv_dialect or "comma")

    return Declared(
        "--csv",
        f"write {what} as CSV; - is standard output alone",
        make,
        stdout=True,
        more=add_dialect,
        styles=("csv_dialect",),
    )


def bar_file_of(bar: Callable[[Any], tuple[Bar | None, str]], what: str) -> Declared:
    """`--write` and `--force` of a command that finds a bar, with the lines that head its file; None: no answer."""

    def make(found: Any, args: Options) -> str | None:
        from barfem.study.written import bar_file_text

        made, head = bar(found)
        if made is None:
            return None
        original = Path(args.bar)
        return bar_file_text(made, original, head=head.format(original.name), folder=Path(args.write).parent)

    def force(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--force", action="store_true", help="let --write replace a file that is there")

    return Declared(
        "--write",
        f"write {what}",
        make,
        metavar="NEW.toml",
        endings=(".toml",),
        what="bar file",
        bar_file=True,
        message="Written: {0}. Next: barfem check {1}",
        more=force,
    )


def picture_of(home: str, what: str) -> Declared:
    """`--plot` of a command whose one picture the function at `home` makes; `what` is in it, for the help."""

    def make(found: Any, args: Options) -> Content:
        from barfem.show.figures.render import png, svg

        drawn = function(home)(found)
        return svg(drawn) if args.plot.lower().endswith(".svg") else png(drawn)

    return Declared("--plot", f"picture of {what} (.png or .svg)", make, endings=(".png", ".svg"), what="picture")


def pictures_of(home: str) -> Declared:
    """`--plots` and `--plots-format` of a command whose pictures of life the function at `home` makes."""

    def make(found: Any, args: Options) -> dict[str, Content]:
        from barfem.show.figures.plots import rendered

        return dict(rendered(function(home)(found), args.plots_format or "png"))

    def may_hold(args: Options) -> list[str]:
        from barfem.show.figures.plots import SLUGS

        return [f"{slug}.{args.plots_format or 'png'}" for slug in SLUGS]

    def kind(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--plots-format", choices=("png", "svg"), help="of --plots (default png)")

    return Declared(
        "--plots",
        "write pictures of life into this folder (made if missing)",
        make,
        metavar="DIR",
        kind="folder",
        may_hold=may_hold,
        message="wrote pictures into {}",
        more=kind,
        styles=("plots_format",),
    )
