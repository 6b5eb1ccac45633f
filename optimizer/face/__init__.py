"""What another program may use: one function a question, each with a result to look at.

>>> from optimizer import face as es
>>> found = es.match("examples/kart_mm/job.toml")
>>> found.plan.sets[0].spread_n < 0.5
True

See `examples/tutorial.py` for the whole way, from a table of measured discs to a picture.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimizer.face.benching import BenchResult, bench
    from optimizer.face.comparing import CompareResult, compare
    from optimizer.face.curves import LoadCurve, load_curve
    from optimizer.face.inspection import InspectResult, inspect
    from optimizer.face.matching import MatchResult, build_sheet, match
    from optimizer.face.ordering import DeliveryResult, OrderResult, delivered, plan_order
    from optimizer.face.planning import WaysResult, ways
    from optimizer.face.result import Result
    from optimizer.face.sources import open_job, read_bag, read_job
    from optimizer.face.speeds import EngagementResult, RetargetResult, engagement, retarget

__all__ = [
    "BenchResult",
    "CompareResult",
    "DeliveryResult",
    "EngagementResult",
    "InspectResult",
    "LoadCurve",
    "MatchResult",
    "OrderResult",
    "Result",
    "RetargetResult",
    "WaysResult",
    "bench",
    "build_sheet",
    "compare",
    "delivered",
    "engagement",
    "inspect",
    "load_curve",
    "match",
    "open_job",
    "plan_order",
    "read_bag",
    "read_job",
    "retarget",
    "ways",
]

#: files of the face; a command takes its own and waits for no other
FILES = (
    "benching",
    "comparing",
    "curves",
    "inspection",
    "matching",
    "ordering",
    "planning",
    "result",
    "sources",
    "speeds",
)


def __getattr__(name: str) -> Any:
    """Load the face when the first of its names is asked for."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    for file in FILES:
        own = vars(import_module(f"{__name__}.{file}"))
        globals().update({known: own[known] for known in __all__ if known in own})
    return globals()[name]


def __dir__() -> list[str]:
    """Name what is there also before it is loaded."""
    return __all__
