"""Where draws go: to the cores of this machine, or to a Dask cluster of others."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from sys import version_info
from typing import Any

import numpy as np

from optimizer.errors import InputError, Problem, raise_if

#: how long a scheduler may take to answer, and its first worker to join
PATIENCE_SECONDS = 10.0


@contextmanager
def on_cluster(address: str | None) -> Iterator[None]:
    """Send the draws to a Dask cluster at `address`; without one they stay here.

    Raises
    ------
    InputError
        when the extra `cluster` is not installed, nobody answers at the address, no worker has
        joined, or one of them has other code than this.
    """
    if address is None:
        yield
        return
    try:
        from dask.distributed import Client
        from joblib import parallel_config
    except ImportError:
        raise InputError(
            "A cluster needs the extra packages of evenstack[cluster].",
            "--cluster",
            "Install them, or leave the option out.",
        ) from None
    try:
        client = Client(address, timeout=PATIENCE_SECONDS)
    except (OSError, ValueError) as error:
        raise InputError(
            f"No scheduler answers ({error}).", f"--cluster {address}", "Check it runs."
        ) from None
    with client, parallel_config(backend="dask"):
        raise_if(_unlike(client, address))
        yield


def _unlike(client: Any, address: str) -> Iterator[Problem]:
    """Say what keeps workers from giving the same bytes as here: they would fail or differ."""
    where = f"--cluster {address}"
    try:
        client.wait_for_workers(1, timeout=PATIENCE_SECONDS)
    except TimeoutError:
        remedy = "Start one: dask worker ADDRESS --nworkers -1 --nthreads 1."
        yield Problem("No worker has joined the scheduler.", where, remedy)
        return

    def code_there() -> str:  # sent as it is: that of the worker may be another
        try:
            from optimizer.orders.cluster import code
        except ImportError:
            return "none"
        return code()

    here = code()
    for worker, there in sorted(client.run(code_there).items()):
        if there != here:
            has = (
                "no evenstack that can be told"
                if there == "none"
                else "another evenstack, Python or numpy than this machine"
            )
            yield Problem(
                f"Worker {worker} has {has}.",
                where,
                "Install the same version of evenstack[cluster] there.",
            )


def code() -> str:
    """Return a digest of what the draws are made by: sources, table, Python and numpy."""
    found = sha256(f"{version_info[:2]} {np.__version__}".encode())
    root = Path(__file__).parents[1]
    for path in sorted(p for kind in ("*.py", "*.csv") for p in root.rglob(kind)):
        found.update(f"{path.relative_to(root)}".encode() + path.read_bytes())
    return found.hexdigest()
