"""``python -m mixer`` is ``cupside``."""

import sys

from mixer.cli import main

sys.exit(main())
