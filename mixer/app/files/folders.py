"""Where profiles are kept, and which one a name means.

A user's own profile wins over a shipped one of the same name; a path wins over both.
Names are listed when the window opens: this file must never open a profile, nor load
pint.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

import mixer
from mixer.app.files.toml_table import ProfileError
from mixer.units import shown

Kind = Literal["resins", "scales", "cups", "fabrics", "surfaces", "fillers", "methods", "layups"]

#: Each holds a folder of every :data:`Kind`; ``None``: :func:`profile_folders`.
Folders = tuple[Path, ...] | None


def config_folder() -> Path:
    """The user's own settings: ``CUPSIDE_CONFIG``, else where the platform keeps them."""
    if own := os.environ.get("CUPSIDE_CONFIG"):
        return Path(own)
    import platformdirs

    return Path(platformdirs.user_config_dir("cupside", appauthor=False))


def profile_folders() -> tuple[Path, ...]:
    """Where profiles are looked for, the first that has the name winning."""
    package = Path(mixer.__file__).resolve().parent
    shipped = package / "profiles"  # inside an installed package; a checkout has it beside
    return (config_folder(), shipped if shipped.is_dir() else package.parent / "profiles")


def names(kind: Kind, folders: Folders = None) -> list[str]:
    """The names of all profiles of a kind, sorted."""
    where = profile_folders() if folders is None else folders
    return sorted({path.stem for folder in where for path in _profiles(folder / kind)})


def is_path(name_or_path: str) -> bool:
    """Whether a file is meant, and no name.

    >>> is_path("bid-300"), is_path("mine.toml"), is_path("cloth/mine")
    (False, True, True)
    """
    separators = {"/", os.sep, os.altsep or os.sep}
    return name_or_path.endswith(".toml") or bool(separators & set(name_or_path))


def find(kind: Kind, name_or_path: str, folders: Folders = None) -> Path:
    """The file of this profile. Raises :class:`ProfileError` for a name not there."""
    if is_path(name_or_path):
        return Path(name_or_path)
    for folder in profile_folders() if folders is None else folders:
        # The name is compared with what is there, so that no text becomes a path.
        for path in _profiles(folder / kind):
            if path.stem == name_or_path:
                return path
    there = ", ".join(names(kind, folders)) or "none"
    raise ProfileError(
        f"{shown(name_or_path)} is no {kind[:-1]} that is known here; "
        f"give one of {there}, or the path of a .toml file"
    )


def _profiles(folder: Path) -> list[Path]:
    try:
        return [
            path
            for path in folder.iterdir()
            if path.suffix == ".toml" and not path.name.startswith(".") and path.is_file()
        ]
    except OSError:
        return []  # a user need not have one, and one that cannot be read has no names
