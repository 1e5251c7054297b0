"""Other programs that the tests start: with this checkout's code, and with the tests' own."""

from __future__ import annotations

import os
from pathlib import Path

import mixer

ROOT = Path(mixer.__file__).parent.parent
ENV = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}
