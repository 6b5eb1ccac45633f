"""Draws on a cluster: the same bytes as on one machine, also where a worker dies."""

import logging
import os
import signal

import pytest

from optimizer.errors import InputError
from optimizer.orders import cluster as module
from optimizer.orders.cluster import on_cluster
from optimizer.orders.simulate import simulate
from tests.orders.cases import study
from tests.orders.test_simulate import SAME


def test_a_cluster_that_is_not_there_is_told(monkeypatch):
    pytest.importorskip("distributed", reason="needs the extra evenstack[cluster]")
    monkeypatch.setattr(module, "PATIENCE_SECONDS", 0.3)
    with pytest.raises(InputError, match="No scheduler answers"), on_cluster("tcp://127.0.0.1:9"):
        pass


def test_a_cluster_of_which_a_worker_is_killed_gives_the_same_bytes(monkeypatch):
    """A scheduler and two worker processes; one is killed when a part of the draws is done."""
    distributed = pytest.importorskip("distributed", reason="needs the extra evenstack[cluster]")
    of, told = study(1), []
    [[here]] = simulate([(of,)], 60, 3, workers=1)
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address=None,
        silence_logs=logging.CRITICAL,
    ) as local:
        first, second = (worker.pid for worker in local.workers.values())
        assert len({first, second, os.getpid()}) == 3

        def killing(stage, share):
            told.append((stage, share))
            if len(told) == 2:
                os.kill(first, signal.SIGKILL)

        with on_cluster(local.scheduler_address):
            [[there]] = simulate([(of,)], 60, 3, report=killing)
        monkeypatch.setattr(module, "code", lambda: "of another version")
        refused = pytest.raises(InputError, match="has another evenstack, Python or numpy")
        with refused, on_cluster(local.scheduler_address):
            pass
    assert [share for _, share in told] == pytest.approx([k / 6 for k in range(1, 7)])
    assert "60 deliveries, 0 s left" in told[-1][0]
    for name in SAME:
        assert getattr(here, name).tobytes() == getattr(there, name).tobytes()


def test_a_scheduler_without_workers_is_told(monkeypatch):
    distributed = pytest.importorskip("distributed", reason="needs the extra evenstack[cluster]")
    monkeypatch.setattr(module, "PATIENCE_SECONDS", 1.0)
    with (
        distributed.LocalCluster(
            n_workers=0, protocol="tcp", host="127.0.0.1", dashboard_address=None
        ) as local,
        pytest.raises(InputError, match="No worker has joined"),
        on_cluster(local.scheduler_address),
    ):
        pass
