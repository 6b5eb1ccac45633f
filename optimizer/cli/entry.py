"""Where the command starts: from the first moment on Ctrl-C ends it without a traceback."""

from __future__ import annotations

import os
import signal
from types import FrameType


def _stop(_signal: int, _frame: FrameType | None) -> None:
    os.write(2, b"Stopped; nothing was written.\n")
    os._exit(130)


def main() -> None:
    """Load the commands and run them."""
    signal.signal(signal.SIGINT, _stop)
    from optimizer.cli.main import main as run

    run()
