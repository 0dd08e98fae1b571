"""The bar that a page works on: its file's text and tables, and every bar that changes of its keys make of it."""

from __future__ import annotations

import contextlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from barfem.model.bar import Bar
from barfem.model.errors import BarfemError, InputError
from barfem.model.frozen import frozen
from barfem.model.material_table import find_table, known_tables, own_table
from barfem.model.read import bar_from_dict
from barfem.model.toml_file import parse_toml, read_bytes
from barfem.show.output import Outlet
from barfem.study.change import change, tables_of
from barfem.study.written import changed_text

__all__ = ["MOST_CHANGES", "Asked", "Session", "open_file", "start_afresh"]

MOST_CHANGES = 400
LONGEST_NAME = 120
_STARTER = "starter.toml"
_FORBIDDEN = set('/\\:*?"<>|')
_DEVICES = {"con", "prn", "aux", "nul", *(f"{kind}{i}" for kind in ("com", "lpt") for i in range(10))}
"""Names that some systems take for devices, whatever their ending."""


@frozen
class Asked:
    """One request: what changes, and in which load case."""

    changes: Mapping[str, Any]
    case: str | None = None

    @property
    def key(self) -> str:
        return json.dumps([self.changes, self.case])


@frozen
class Session:
    """One bar file, or the text that a new one starts from, and the folder in which the page may write."""

    text: str
    bar: Bar
    folder: Path
    path: Path | None = None
    written: dict[Path, tuple[Mapping[str, Any], str, str]] = field(default_factory=dict)
    """Bar files that the page has written, the newest last: the changes, the text that they were made in, its own."""
    steel: str = ""
    """The user's own material table that the bar file names, as it was read; "" where it names one of barfem's."""

    @property
    def file(self) -> str | None:
        """The bar file's name as the user gave it; None for a bar from nothing."""
        return None if self.path is None else str(self.path)

    @property
    def on_disk(self) -> str:
        """What has become of the bar file since the page read it: "" where it is as it was."""
        with contextlib.suppress(OSError):
            same = self.path is None or _holds(self.path, self.text)
            if self.path is None or (same and _steel(self.bar, self.folder) == self.steel):
                return ""
            if not self.path.exists():
                return "no longer there"
            what = f"changed on disk {'in the steel that it names, ' if same else ''}since this page read it"
            try:
                open_file(self.path)
            except InputError as error:
                return f"{what}, and no bar as it stands: {str(error).rstrip('.')}"
            return what
        return ""

    def reread(self) -> Session:
        """The session of the bar file as it is on disk now, where that is another bar; else this one."""
        with contextlib.suppress(BarfemError, OSError):
            if self.path is not None and not _holds(self.path, self.text):
                again = open_file(self.path)
                return replace(again, written=self.written)
        return self.with_steel()

    def with_steel(self) -> Session:
        """The session with the user's own steel as it is on disk now; this one where that is as it was, or no steel.

        What is changed of the bar is read with it, and so is what is written: the bar as it stands must be, too.
        """
        steel = _steel(self.bar, self.folder)
        if steel != self.steel:
            with contextlib.suppress(BarfemError):
                source = str(self.path or self.folder / _STARTER)
                return replace(self, bar=bar_from_dict(tomllib.loads(self.text), source=source), steel=steel)
        return self

    def saved(self) -> dict[Path, Mapping[str, Any] | None]:
        """The bar files that are as the page wrote them, the newest last, with the changes to this bar in them."""
        found = {}
        for path, (changes, base, text) in list(self.written.items()):
            with contextlib.suppress(OSError):
                if _holds(path, text):
                    found[path] = changes if base == self.text else None
        return found

    def shown(self, name: str) -> str:
        """A name in the session's folder as it is typed where the page was started."""
        return name if self.path is None else str(self.path.with_name(name))

    @cached_property
    def grades(self) -> tuple[str, ...]:
        """Steels that the page may name: those that ship with barfem, and the file's own."""
        own = str(tables_of(self.bar)["material"].get("grade", ""))
        return tuple(dict.fromkeys([own, *known_tables()]))

    @cached_property
    def conditions(self) -> dict[str, tuple[str, ...]]:
        """The conditions of each of these steels, the one to begin with first; read once, not at every move."""
        found = {}
        for grade in self.grades:
            with contextlib.suppress(InputError):
                found[grade] = tuple(find_table(grade, bar_dir=self.folder)[0].conditions)
        return found

    def changed(self, changes: Mapping[str, Any]) -> Bar:
        """The bar with keys of its file changed.

        Raises
        ------
        InputError
            No such key, no such bar, or a steel that neither barfem nor the bar file names.
        """
        if len(changes) > MOST_CHANGES:
            raise InputError(f"{len(changes)} changes at once.", where="changes", expected=f"at most {MOST_CHANGES}.")
        for key, value in changes.items():
            self._refuse_other_files(key, value)
        return change(self.bar, changes) if changes else self.bar

    def _refuse_other_files(self, key: str, value: Any) -> None:
        """The page reads the bar file and what that names: a change must not make it read another."""
        parts = key.split(".")
        if parts[0] != "material":
            return
        grade = value.get("grade") if isinstance(value, Mapping) else value if parts[1:] == ["grade"] else None
        if isinstance(grade, str) and grade not in self.grades:
            known = {name.lower() for each in known_tables() for name in find_table(each)[0].names}
            beside = self.folder / f"{grade}.toml"
            if grade.lower() not in known or beside.exists():
                raise InputError(
                    f'"{grade[:80]}" is no steel that the page may read.',
                    where="[material] grade",
                    expected="one of " + ", ".join(self.grades) + "; name a table of your own in the bar file.",
                )

    def text_of(self, changes: Mapping[str, Any]) -> str:
        """The bar file's text with the changes in place and its comments kept.

        Raises
        ------
        InputError
            The changes make no bar.
        """
        if not changes:
            return self.text
        named = self.path.name if self.path is not None else "the starter of barfem new"
        keys = ", ".join(changes)
        head = f"From {named}, changed on the live page: {keys if len(keys) < 90 else f'{len(changes)} keys'}."
        return changed_text(self.changed(changes), self.text, head=head, named=named)

    def write(self, changes: Mapping[str, Any], name: str, *, replace: bool = False) -> Path:
        """Write the bar file `name` in the session's folder, whole or not at all; returns its path.

        Raises
        ------
        InputError
            Not a plain name that ends in .toml, the bar file itself, or a file that is there (unless `replace`).
        """
        target = self.folder / _plain_name(name)
        outlet = Outlet(inputs=[] if self.path is None else [self.path])
        replaces = replace and not target.is_symlink()
        output = outlet.file(
            "name", target, endings=(".toml",), what="bar file", replaces=replaces, replaces_toml=replaces
        )
        text = self.text_of(changes)
        outlet.put(output, text)
        outlet.write()
        self.written.pop(target, None)
        self.written[target] = (dict(changes), self.text, text)
        return target

    def taken(self, name: str) -> bool:
        """Whether another file of that name is there, which could be replaced if the user says so."""
        target = self.folder / _plain_name(name)
        same = self.path is not None and self.path.exists() and target.exists() and target.samefile(self.path)
        return target.is_file() and not target.is_symlink() and not same


def _holds(path: Path, text: str) -> bool:
    return path.is_file() and path.read_bytes().decode("utf-8-sig", "replace") == text


def _steel(bar: Bar, folder: Path) -> str:
    with contextlib.suppress(BarfemError, OSError):
        table = own_table(str(tables_of(bar)["material"].get("grade", "")), folder)
        return "" if table is None or not table.is_file() else table.read_bytes().decode("utf-8", "replace")
    return ""


def _plain_name(name: str) -> str:
    """A file name and nothing else: no way into another folder.

    Raises
    ------
    InputError
        It is not.
    """
    expected = f"a plain file name that ends in .toml, such as thinner.toml, without {' '.join(sorted(_FORBIDDEN))}."
    text = name.strip()
    if not text:
        raise InputError("the name is empty.", where="name", expected=expected)
    wrong = len(text) > LONGEST_NAME or text.startswith((".", "-", "~")) or ".." in text
    wrong = wrong or any(letter in _FORBIDDEN or not letter.isprintable() for letter in text)
    if wrong or text.split(".")[0].lower() in _DEVICES:
        raise InputError(f"{text[:80]!r} is no plain file name.", where="name", expected=expected)
    if not text.lower().endswith(".toml"):
        raise InputError(f"{text} is no name of a bar file.", where="name", expected=expected)
    return text


def open_file(path: Path) -> Session:
    """The session of a bar file; what it writes goes beside it.

    Raises
    ------
    InputError
        No bar file, or no bar.
    """
    raw = read_bytes(path)
    bar = bar_from_dict(parse_toml(raw, file=str(path)), source=str(path))
    folder = path.absolute().parent
    return Session(raw.decode("utf-8-sig"), bar, folder, path, steel=_steel(bar, folder))


def start_afresh(text: str, folder: Path) -> Session:
    """A bar from nothing: `text` is that of a starter bar file, not written yet."""
    bar = bar_from_dict(tomllib.loads(text), source=str(folder / _STARTER))
    return Session(text, bar, folder, steel=_steel(bar, folder))
