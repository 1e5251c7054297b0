"""A ply schedule as a table in CSV, one line an entry, as a spreadsheet writes it.

Columns as the keys of a ply in a layup, and ``step`` for the name of the step: lines of one
name that follow on each other are one, and an empty cell has the name above it, as cells that
were merged are written. Slurry, joints and peel ply have no place in a table
of plies: ``cupside layup import`` makes a layup of it, into which they are written by hand.
This file must never read a line for another, nor overwrite a file.
"""

from __future__ import annotations

import csv
import io
import os
import re
import warnings
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.files.folders import is_path
from mixer.app.files.layup_file import LARGEST, USUAL_METHOD, StepReader, load_layup
from mixer.app.files.outline import DIMENSIONS, LONGEST_POINTS
from mixer.app.files.toml_table import LONGEST_TEXT, ProfileError, Table, not_utf8
from mixer.app.sentence import NotDone
from mixer.plan.layup import Layup, Plies, Ply
from mixer.units import shown

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("step", "fabric", "orientation", "shape", *DIMENSIONS, "count")
UNNAMED = "plies"
TABLE = "accepted: a line of column names, then one a ply, cells parted by ',' or ';'"
CLOSED = "each quotation mark closed on its line"

Row = tuple[int, dict[str, str]]
"""The line in the file, and what is in its cells that are not empty; its step always."""


def load_table(path: Path) -> Layup:
    """The plies in this table, as a layup. Raises :class:`ProfileError`."""
    reader = StepReader()
    steps = []
    for name, rows in groupby(read_rows(path), key=lambda row: row[1]["step"]):
        plies: list[Ply] = []
        for line, cells in rows:
            content = {key: _cell(key, cell) for key, cell in cells.items() if key != "step"}
            plies += reader.ply(Table(str(path), f"line {line}, ", content))
        steps.append(Plies(name, tuple(plies)))
    return Layup(path.stem, tuple(steps), USUAL_METHOD)


def import_table(path: Path, to: Path) -> Layup:
    """Writes the table as a layup into a new file, from which a cloth of its own is found as
    from the table. Raises :class:`ProfileError`, and
    :class:`NotDone` where there is a file already."""
    load_table(path)
    text = _as_toml(path, read_rows(path), to.parent)
    if to.suffix != ".toml":
        raise NotDone(f"to: {shown(str(to))} was read; give the path of a new .toml file")
    try:
        with to.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise NotDone(f"{to}: is there already, and nothing is written over it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise NotDone(
            f"{to}: cannot be written ({reason}); give a new .toml file in a folder that is there"
        ) from None
    try:
        return load_layup(str(to.absolute()))
    except ProfileError:
        to.unlink()  # nobody could read it
        raise


def read_rows(path: Path) -> list[Row]:
    """Its lines, each with its number. Raises :class:`ProfileError`."""
    columns, frame = _frame(path)
    rows: list[Row] = []
    step = UNNAMED
    for line, cells in enumerate(frame.itertuples(index=False, name=None), 2):
        said = {k: str(v).strip() for k, v in zip(columns, cells, strict=True)}
        for column, cell in said.items():
            longest = LONGEST_POINTS if column == "points" else LONGEST_TEXT
            if not cell.isprintable() or len(cell) > longest:
                raise ProfileError(
                    f"{path}: line {line}, {column}: {shown(cell)} was read; accepted: printable "
                    f"text, up to {longest} long"
                )
        if kept := {key: cell for key, cell in said.items() if cell}:
            step = kept.get("step", step)
            rows.append((line, {**kept, "step": step}))
    if not rows:
        raise ProfileError(f"{path}: has no ply; accepted: a line of column names, then one a ply")
    return rows


def _frame(path: Path) -> tuple[list[str], pd.DataFrame]:
    import pandas as pd

    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
        if len(data) > LARGEST:
            raise ProfileError(f"{path}: is larger than {LARGEST} bytes, so it is not read")
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ProfileError(
            f"{path}: {not_utf8(data, error)}; accepted: a table saved as CSV in UTF-8"
        ) from None
    except OSError as error:
        raise ProfileError(f"{path}: cannot be read ({error.strerror})") from None
    first = text.partition("\n")[0]
    if text.strip() and not first.strip(" \t\r,;"):
        raise ProfileError(f"{path}: line 1: is blank; accepted: the names of the columns in it")
    separator = ";" if ";" in first and "," not in first else ","
    columns = _columns(path, text, separator)
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # else what is not understood is cut off in silence
        try:
            frame = pd.read_csv(
                io.StringIO(text),
                sep=separator,
                dtype=str,
                keep_default_na=False,
                index_col=False,
                skip_blank_lines=False,
            )
        except pd.errors.EmptyDataError:
            raise ProfileError(f"{path}: is empty; accepted: a line of column names") from None
        except (ValueError, Warning) as error:  # ParserError is a ValueError
            said = " ".join(str(error).split())
            raise ProfileError(f"{path}: is no table that can be read: {said}; {TABLE}") from None
    return columns, frame.fillna("")


def _columns(path: Path, text: str, separator: str) -> list[str]:
    """Those that the first line names, and all lines looked at: of more cells than columns the
    last would be lost; in a cell of several lines the count of lines."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    columns, lines = list[str](), 0
    try:
        for cells in reader:
            lines += 1
            columns = columns or [cell.strip().lower() for cell in cells]
            if reader.line_num > lines or any(set(cell) & set("\r\n") for cell in cells):
                raise ProfileError(
                    f"{path}: line {lines}: a cell goes on in the next line; accepted: each entry "
                    f"on a line of its own, {CLOSED}"
                )
            if len(cells) > len(columns):
                raise ProfileError(
                    f"{path}: line {lines}: has {len(cells)} cells, and line 1 names "
                    f"{len(columns)}; accepted: up to {len(columns)}, one with {separator!r} in it "
                    'within "quotation marks"'
                )
    except csv.Error as error:
        raise ProfileError(f"{path}: line {lines + 1}: is no table: {error}; {TABLE}") from None
    if _is_open(text, separator):
        raise ProfileError(
            f"{path}: line {lines}: ends within a quotation mark; accepted: {CLOSED}"
        )
    for number, column in enumerate(columns, 1):
        if column not in COLUMNS or columns.count(column) > 1:
            again = " twice" if columns.count(column) > 1 else ""
            read = f"{shown(column)} was read{again}" if column else f"column {number} has no name"
            raise ProfileError(f"{path}: line 1: {read}; accepted, each once: {', '.join(COLUMNS)}")
    return columns


def _is_open(text: str, separator: str) -> bool:
    """Whether the last line ends within a quotation mark, which no reader tells by itself."""
    last = re.split(r"[\r\n]", text.rstrip("\r\n"))[-1]
    try:
        list(csv.reader([last], delimiter=separator, strict=True))
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _cell(key: str, cell: str) -> str | int:
    return int(cell) if key == "count" and cell.isascii() and cell.isdigit() else cell


def _as_toml(table: Path, rows: list[Row], folder: Path) -> str:
    said = [
        f"source = {_quoted(f'from the table {table.name}: hold each ply against the plans')}",
        f'method = "{USUAL_METHOD}"',
    ]
    for step, entries in groupby(rows, key=lambda row: row[1]["step"]):
        said += ["", "[[step]]", f"name = {_quoted(step)}", 'kind = "plies"']
        for _, cells in entries:
            cells["fabric"] = _from(folder, table.parent, cells["fabric"])
            said += ["", "[[step.ply]]"]
            for key in COLUMNS[1:]:
                if key in cells:
                    cell = _cell(key, cells[key])
                    said.append(f"{key} = {cell if isinstance(cell, int) else _quoted(cell)}")
    return "\n".join(said) + "\n"


def _from(folder: Path, before: Path, fabric: str) -> str:
    """The name of a fabric, or its path as seen from this folder: a table and its layup may
    lie apart."""
    if not is_path(fabric) or Path(fabric).is_absolute():
        return fabric
    there = Path(os.path.realpath(before), fabric)
    try:
        seen = Path(os.path.relpath(there, os.path.realpath(folder))).as_posix()
    except ValueError:  # on another drive
        return str(there)
    return seen if is_path(seen) else f"./{seen}"


def _quoted(text: str) -> str:
    """As a TOML string; what is not printable was refused before."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
