"""An open record whose file is looked at before each writing.

A stick is pulled, a log is deleted, another file lies in the record's place, another program
takes facts out: what is then written would count for nothing. So the file that is open must
be the one that stands there, with its log, and hold the newest fact that this program knows of.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from mixer.record import opening, schema
from mixer.record.envelope import RecordError
from mixer.record.reader import Reader
from mixer.record.trouble import said


class Watched(Reader):
    """The part of a :class:`mixer.record.journal.Journal` that knows which file it writes to."""

    def __init__(self, db: sqlite3.Connection, path: Path, busy_s: float) -> None:
        super().__init__(db, path, schema.SCHEMA)
        self._busy_s = busy_s
        self._file = opening.identity(path)
        self._failed = False  # the disk did not answer: open the file anew
        self._notes: opening.Notes | None = None  # since this program wrote
        self._newest = self.head()  # as far as this program knows
        self._others: int | None = None  # what others had written when it last looked

    def _look_at_newest(self) -> None:
        """Within a transaction, where others have written since: how the file is laid out, and
        whether the newest fact that this program knows of is still there; they may have added
        to it. Where nobody has, SQLite says so at once."""
        (others,) = self._db.execute("PRAGMA data_version").fetchone()
        if others == self._others:
            return
        schema.may_be_written(self._db, self.path)
        seq, hash_ = self._newest
        if seq and _hash_of(self._db, seq) != hash_:
            raise RecordError(
                f"The record {self.path} no longer holds all that was stored in it, and nothing "
                "new was stored: another program has taken facts out; keep a copy of the file."
            )
        self._newest, self._others = self.head(), others

    def _look_at_file(self) -> None:
        """A file that was taken away is written to without complaint by some systems: look
        whether the one that is open still stands at its place, and open it anew if it
        went and came back."""
        try:
            here = opening.identity(self.path)
        except OSError:
            raise RecordError(
                f"The record {self.path} is no longer there, and nothing new was stored: put its "
                "disk or stick back."
            ) from None
        notes = opening.notes_of(self.path)
        if here == self._file and not self._failed:
            if self._notes is not None and (notes != self._notes or None in notes):
                self._save_from_lost_log(notes)
            return
        same_log = self._notes is not None and notes[0] == self._notes[0]
        if here != self._file and same_log and opening.size_of_log(self.path):
            raise self._another()  # upon the log of the first one it would be a mixture
        self._open_anew(here)

    def _save_from_lost_log(self, notes: opening.Notes) -> None:
        """Somebody deleted SQLite's log, and with it what is not in the record yet: this program
        still has it open, and writes it into the record."""
        own_log = self._notes is not None and notes[0] == self._notes[0]
        if not own_log and opening.size_of_log(self.path):
            raise RecordError(
                f"What belongs to the record {self.path} was deleted and written anew, and nothing "
                "new was stored: keep a copy of all that is named like it."
            )
        with said(self.path):
            (busy, *_) = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy:
            raise RecordError(
                f"What belongs to the record {self.path} was deleted, and another program is "
                "reading it: nothing new was stored; end that program, and it is tried again."
            )
        self._open_anew(self._file)

    def _open_anew(self, here: tuple[int, int]) -> None:
        if not self.path.stat().st_size:
            raise RecordError(f"The record {self.path} is empty, and nothing new was stored.")
        db = opening.to_write(self.path, self._busy_s)
        seq, hash_ = self._newest
        if seq and _hash_of(db, seq) != hash_:
            db.close()
            raise self._another()
        self._db.close()
        self._db, self._file, self._failed, self._others = db, here, False, None
        self._notes = None

    def _another(self) -> RecordError:
        return RecordError(
            f"Another record stands at {self.path} now, and nothing was stored in it: put the "
            "first one back."
        )


def _hash_of(db: sqlite3.Connection, seq: int) -> object:
    """The hash of this fact as it stands there; None where there is none."""
    (found,) = db.execute("SELECT hash FROM facts WHERE seq = ?", (seq,)).fetchone() or (None,)
    return found
