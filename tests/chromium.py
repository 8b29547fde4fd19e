"""Which browser do the tests use? Debian's Chromium without a window, which works a third less than one that could show itself.

    with sync_playwright() as play:
        browser = start(play)
"""

from __future__ import annotations

import shutil
from typing import Any

PROGRAM = shutil.which("chromium-headless-shell") or shutil.which("chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def start(play: Any) -> Any:
    """The browser; whoever starts it closes it. A machine with much to do may take its time."""
    assert PROGRAM, "There is no Chromium here. Install it: apt-get install chromium-headless-shell"
    return play.chromium.launch(executable_path=PROGRAM, args=FLAGS, timeout=180_000)
