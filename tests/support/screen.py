"""A screen of the tests' own: an Xvfb that ends with them."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator

import pytest


def own_screen() -> Iterator[str]:
    """Start an Xvfb and give its display. Without Xvfb: skipped, but never in CI."""
    if shutil.which("Xvfb") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("Xvfb is missing: the tests of the window must run in CI")
        pytest.skip("NO SCREEN: Xvfb is not installed, the window was not tested")
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1280x800x24"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    with os.fdopen(read) as pipe:
        number = pipe.readline().strip()
    try:
        yield f":{number}"
    finally:
        server.terminate()
        server.wait()
