"""The one way out for files: outputs are declared, looked at before any work, and written whole, all or none.

    outlet = Outlet(inputs=[path])
    json = outlet.file("--json", args.json, stdout=True)
    plots = outlet.folder("--plots", args.plots, may_hold=["haigh-diagram.png"])
    ...                                                   # the work
    outlet.put(json, text)                                # nothing for an output that was not asked for
    outlet.put(plots, pictures)                           # a folder's content by file name
    outlet.write(then=lambda: print(table))

`file`, `folder` and `kept` raise an `InputError` for a path that cannot be written, is an input, or is where another
output goes.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Literal

from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.whole_file import WholeFile
from barfem.show.whole_folder import WholeFolder, can_be_swapped

__all__ = ["Content", "Outlet", "Output", "write_whole"]

Content = str | bytes | Callable[[Path], object]
"""Text (written as UTF-8), bytes, or what writes to a path that it is given."""


@frozen
class Output:
    """One declared output: the option that named it, where it goes (None: standard output), and its kind.

    A "file" is replaced whole, a "folder" gets files, or is replaced `whole`; "kept" is a file that a run goes on with
    and writes itself.
    """

    option: str
    path: Path | None
    kind: Literal["file", "folder", "kept", "stdout"] = "file"
    whole: bool = False


class Outlet:
    """The declared outputs of one run, compared with each other and with the `inputs` that it reads."""

    def __init__(self, *, inputs: Iterable[str | Path] = ()) -> None:
        self.inputs = [Path(each) for each in inputs]
        self.outputs: list[Output] = []
        self._contents: list[tuple[Output, Path | None, Content]] = []

    @property
    def takes_stdout(self) -> bool:
        """Whether an output goes to standard output, which then holds nothing else."""
        return any(each.kind == "stdout" for each in self.outputs)

    def file(
        self,
        option: str,
        path: str | os.PathLike[str] | None,
        *,
        endings: Sequence[str] = (),
        what: str = "file",
        stdout: bool = False,
        replaces: bool = True,
        replaces_toml: bool = False,
    ) -> Output | None:
        """Declare a file; None where it is not asked for.

        Parameters
        ----------
        option
            The option that names it, for messages, such as "--json".
        path
            As the user gave it.
        endings
            Endings that its name may have, such as ".png"; any, if none.
        what
            What it is, for messages: "picture".
        stdout
            "-" stands for standard output.
        replaces
            A file that is there is replaced; otherwise refused.
        replaces_toml
            So is a TOML file, which otherwise barfem never replaces.

        Raises
        ------
        InputError
            The name cannot be right, the place cannot be written to, or something else is or goes there.
        """
        if path is None:
            return None
        if stdout and str(path) == "-":
            return self._declared(Output(option, None, "stdout"))
        target = _named(path, option)
        if endings and target.suffix.lower() not in endings:
            article = "an" if what[0] in "aeiou" else "a"
            raise InputError(
                f"{target} is no name of {article} {what}.",
                where=option,
                expected=f"a name that ends in {' or '.join(endings)}.",
            )
        with _answered(target, option):
            self._refuse_input(target, option)
            if target.is_dir():
                raise InputError(f"{target} is a folder.", where=option, expected="a file name in it.")
            if target.exists() and not replaces:
                raise InputError(
                    f"{target} exists.", where=option, expected="another file name, or --force to replace it."
                )
            if target.exists() and target.suffix.lower() == ".toml" and not replaces_toml:
                raise InputError(
                    f"{target} exists and is a TOML file, which barfem reads but never replaces.",
                    where=option,
                    expected="another file name, such as result.json.",
                )
            if not _is_stream(target):
                _refuse_folder(target.parent, option)
        return self._declared(Output(option, target))

    def kept(self, option: str, path: str | os.PathLike[str] | None) -> Output | None:
        """Declare a file that a run writes as it goes and takes up again; None where it is not asked for."""
        made = self.file(option, path)
        if made is not None:
            self.outputs[-1] = made = Output(made.option, made.path, "kept")
        return made

    def folder(
        self,
        option: str,
        path: str | os.PathLike[str] | None,
        *,
        may_hold: Iterable[str] = (),
        whole: bool = False,
    ) -> Output | None:
        """Declare a folder, which is made if it is missing; `may_hold` are names of files that may be written in it.

        Where it is `whole` nothing that stood in it before stays. One that cannot be renamed, such as the folder in
        which the command runs, gets its files one by one.

        Raises
        ------
        InputError
            It is a file, it cannot be made or written to, or a file in it would replace an input.
        """
        if path is None:
            return None
        target = _named(path, option, what="folder")
        with _answered(target, option):
            if target.exists() and not target.is_dir():
                raise InputError(f"{target} is a file.", where=option, expected="a folder.")
            _refuse_folder(target if target.is_dir() else target.absolute().parent, option)
            for name in may_hold:
                self._refuse_input(target / name, option)
                if (target / name).is_dir():
                    raise InputError(f"{target / name} is a folder.", where=option, expected="a file name in it.")
        return self._declared(Output(option, target, "folder", whole))

    def put(self, output: Output | None, content: Content | Mapping[str, Content]) -> None:
        """Say what goes to an output: a content, or of a folder contents by file name; nothing happens for None."""
        if output is None:
            return
        if isinstance(content, Mapping):
            folder = output.path or Path()
            self._contents += [(output, folder / name, each) for name, each in content.items()]
        else:
            self._contents.append((output, output.path, content))

    def write(self, then: Callable[[], object] | None = None) -> None:
        """Write everything, or nothing.

        All files are written beside their places first, then `then` prints what is to be printed, and only when that
        has gone out are they given their names. A disk that is full costs the files, not the answer: it is printed all
        the same, before the error.

        Raises
        ------
        InputError
            A disk or folder refuses, or standard output cannot be written; what stood anywhere before still does.
        """
        staged: list[WholeFile | WholeFolder] = []
        made: list[Path] = []
        failed: BarfemError | None = None
        try:
            try:
                self._stage(staged, made)
            except BarfemError as error:
                failed = error
            for _, _, content in (each for each in self._contents if each[0].kind == "stdout"):
                sys.stdout.write(content if isinstance(content, str) else "")
            if then is not None and not self.takes_stdout:
                then()
            sys.stdout.flush()
            if failed is not None:
                raise failed
            while staged:
                with _answered(staged[0].target, staged[0].option):
                    staged[0].place()
                staged.pop(0)
            made.clear()
        finally:
            for each in staged:
                each.discard()
            for folder in made:
                with contextlib.suppress(OSError):
                    folder.rmdir()

    def _stage(self, staged: list[WholeFile | WholeFolder], made: list[Path]) -> None:
        files = [(output, path, content) for output, path, content in self._contents if path is not None]
        there: dict[Path, str] = {}
        for output, path, _ in files:
            self._refuse_input(path, output.option)
            other = there.setdefault(_real(path), output.option)
            if other != output.option:
                raise _one_file(other, output.option, path)
        folders: dict[str, WholeFolder] = {}
        for output in self.outputs:
            if output.kind != "folder" or output.path is None:
                continue
            if output.whole and can_be_swapped(output.path):
                with _answered(output.path, output.option):
                    folders[output.option] = WholeFolder.beside(output.path, output.option)
                staged.append(folders[output.option])
            elif not output.path.is_dir():
                with _answered(output.path, output.option):
                    output.path.mkdir()
                made.append(output.path)
        streams = [each for each in files if _is_stream(each[1])]
        for output, path, content in [each for each in files if each not in streams] + streams:
            with _answered(path, output.option):
                if output.option in folders:
                    _fill(folders[output.option].temporary / path.name, content)
                elif _is_stream(path):
                    _fill(path, content)
                else:
                    staged.append(WholeFile.filled(path, partial(_fill, content=content), output.option))

    def _declared(self, output: Output) -> Output:
        for other in self.outputs:
            if output.kind == other.kind == "stdout":
                raise InputError(
                    f"{other.option} and {output.option} both go to standard output.",
                    where=output.option,
                    expected="a file for one of them.",
                )
            if output.path is None or other.path is None or (output.kind == other.kind == "folder"):
                continue
            if _real(output.path) == _real(other.path) and not _is_stream(output.path):
                raise _one_file(other.option, output.option, output.path)
        self.outputs.append(output)
        return output

    def _refuse_input(self, target: Path, option: str) -> None:
        if _is_stdout(target):
            raise InputError(
                f"{target} is where standard output goes.", where=option, expected="another file name for one of them."
            )
        for read in self.inputs:
            same = _real(target) == _real(read) or (target.exists() and read.exists() and target.samefile(read))
            if same and not _is_stream(target):
                raise InputError(f"{target} is an input of this run.", where=option, expected="another file name.")


def write_whole(path: str | os.PathLike[str], content: Content, *, option: str) -> Path:
    """Write one file, whole or not at all, and return its path.

    Raises
    ------
    InputError
        As `Outlet.file` and `Outlet.write`.
    """
    outlet = Outlet()
    output = outlet.file(option, path)
    outlet.put(output, content)
    outlet.write()
    return Path(path)


def _named(path: str | os.PathLike[str], option: str, *, what: str = "file") -> Path:
    if not str(path):
        raise InputError(f"the {what}'s name is empty.", where=option, expected=f"a {what} name.")
    return Path(path)


def _refuse_folder(folder: Path, option: str) -> None:
    if not folder.is_dir():
        raise InputError(f"the folder {folder} does not exist.", where=option, expected="an existing folder.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"the folder {folder} cannot be written to.", where=option, expected="a writable folder.")


def _one_file(one: str, other: str, path: Path) -> InputError:
    return InputError(
        f"{one} and {other} go to one place, {path}.", where=other, expected="each output its own file name."
    )


def _real(path: Path) -> Path:
    return Path(os.path.normcase(os.path.realpath(path)))


def _is_stream(path: Path) -> bool:
    """Whether a device or a pipe is there, neither file nor folder: it is written into, never replaced."""
    return path.exists() and not path.is_file() and not path.is_dir()


def _is_stdout(path: Path) -> bool:
    """Whether standard output is redirected into the file at a path, which would lose one of the two."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        return path.is_file() and os.path.samestat(path.stat(), os.fstat(sys.stdout.fileno()))
    return False


@contextlib.contextmanager
def _answered(path: Path, option: str) -> Iterator[None]:
    """The system's refusal as an answer: a name too long, a full disk, a folder that went away."""
    try:
        yield
    except OSError as error:
        raise InputError(
            f"{path} could not be written: {error.strerror or error}.",
            where=option,
            expected="a name and a place that can be written to.",
        ) from error


def _fill(path: Path, content: Content) -> None:
    """Write content into what is at a path."""
    if callable(content):
        content(path)
        return
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    with open(path, "wb") as file:
        file.write(data)
        file.flush()
        if not _is_stream(path):
            os.fsync(file.fileno())
