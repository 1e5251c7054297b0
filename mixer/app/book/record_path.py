"""Which file the record is.

Asked before the window opens, so that a slip is a sentence and no window: this file must
never load anything that the window need not wait for.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from mixer.app.sentence import NotDone, sentence


def record_path(option: str | None) -> Path:
    """The record: the option, else ``CUPSIDE_RECORD``, else in the platform's data folder.

    The platform's folder is made when a batch begins. One that was named must be there:
    :class:`NotDone`, lest a slip of the pen begins a second record elsewhere.

    >>> record_path("no-such-folder/boat.cupside")
    Traceback (most recent call last):
    mixer.app.sentence.NotDone: There is no folder no-such-folder for the record \
boat.cupside: make it, or give another.
    """
    if chosen := option or os.environ.get("CUPSIDE_RECORD"):
        path = Path(chosen)
        if not _is_folder(path.parent):
            raise NotDone(
                f"There is no folder {path.parent} for the record {path.name}: "
                "make it, or give another."
            )
        return path
    from platformdirs import user_data_dir

    return Path(user_data_dir("cupside", appauthor=False)) / "build-record.cupside"


def _is_folder(path: Path) -> bool:
    try:
        return stat.S_ISDIR(os.stat(path).st_mode)
    except PermissionError:  # whoever opens the record is told
        return True
    except OSError:
        return False


def must_be_there(record: Path) -> None:
    """:class:`NotDone` where there is no record, or where nobody lets us see whether."""
    try:
        os.stat(record)
    except (FileNotFoundError, NotADirectoryError):
        raise NotDone(f"There is no record at {record}.") from None
    except OSError as error:
        raise NotDone(f"The record {record} cannot be read: {sentence(error)}") from None
