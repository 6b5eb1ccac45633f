"""The plan as a readable text card of at most 80 columns."""

from __future__ import annotations

from optimizer import text
from optimizer.job.model import Job
from optimizer.plan.document import Plan, PlanSet, PlanStack

CAUTIONS = (
    "Cautions: a compressed stack stores energy: press and release it in a guided fixture,",
    "wear eye protection, keep dust of linings and ground steel out of your lungs, never run",
    "a clutch uncovered. The limits of the clutch and engine maker and the race rules go",
    "before anything said here.",
)


def card(plan: Plan, job: Job) -> str:
    """Write the card: what to put where, what the gauge should say, what to mind."""
    lines = []
    for number, one in enumerate(plan.sets, 1):
        if len(plan.sets) > 1:
            lines += [f"SET {number}", ""]
        lines += _set(one, plan, job)
    lines += _left(plan)
    lines += [f"Note: {warning}" for warning in plan.warnings]
    lines += ["", *CAUTIONS]
    return "\n".join(lines) + "\n"


def _set(one: PlanSet, plan: Plan, job: Job) -> list[str]:
    u = plan.units
    lines = []
    for stack in one.stacks:
        lines += _stack(stack, u, job)
    proof = "no set has less" if one.proven else "not proven least"
    lines += [
        f"Predicted spread at the travel {text.load(one.spread_n, u, 2)} ({proof}), "
        f"worn {text.load(one.worn_spread_n, u, 2)}.",
    ]
    if one.variance_gap is not None:
        lines += [f"Doubt of the loads: within {one.variance_gap:.1%} of the least possible."]
    return [*lines, ""]


def _stack(stack: PlanStack, u: str, job: Job) -> list[str]:
    packets = " ".join(text.packet(p) for p in stack.packets)
    lines = [f"SHOE {stack.shoe}: {stack.pattern}, from the bottom, facing alternately"]
    lines += _wrapped(packets)
    if stack.shims_mm:
        lines += ["  shims: " + ", ".join(text.length(s, u) for s in stack.shims_mm)]
    lines += [
        f"  free height {text.length(stack.free_height_mm, u)}, at the travel "
        f"{text.load(stack.working_load_n, u)} +- {text.load(stack.working_load_sd_n, u)} "
        f"(target {text.load(stack.target_load_n, u)})",
        f"  at rest {text.load(stack.rest_load_n, u)}, worn {text.load(stack.worn_load_n, u)}, "
        f"rate {text.rate(stack.rate_n_per_mm, u)}, pressed to {stack.max_deflection_share:.2f} h",
        "",
    ]
    return lines


def _wrapped(packets: str, width: int = 76) -> list[str]:
    from textwrap import wrap

    return [f"  {line}" for line in wrap(packets, width, break_on_hyphens=False)]


def _left(plan: Plan) -> list[str]:
    if not plan.unused:
        return ["Every disc of the bag is used."]
    return ["Left in the bag:", *_wrapped(" ".join(plan.unused))]
