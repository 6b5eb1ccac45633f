"""Where the command starts: from the first moment on Ctrl-C ends it without a traceback."""

from __future__ import annotations

import os
import signal
from types import FrameType

#: seconds until the wish to end is said again
AGAIN_S = 0.2
#: said when Ctrl-C ends a command that has nothing to show yet
STOPPED = "Stopped; nothing was written."


def stop(_signal: int, _frame: FrameType | None) -> None:
    """End at once: whatever was being loaded or computed, no traceback."""
    os.write(2, f"{STOPPED}\n".encode())
    os._exit(130)


def end(_signal: int, _frame: FrameType | None) -> None:
    """Take the wish of a system to end for Ctrl-C, so that whatever is open is put away.

    Where Ctrl-C is not heard for a moment, as while workers are started, it is said again.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, end)
        signal.setitimer(signal.ITIMER_REAL, AGAIN_S)
        return
    signal.raise_signal(signal.SIGINT)


def main() -> None:
    """Load the commands and run them."""
    signal.signal(signal.SIGINT, stop)
    signal.signal(signal.SIGTERM, end)
    from optimizer.cli.main import main as run

    run()


if __name__ == "__main__":
    main()
