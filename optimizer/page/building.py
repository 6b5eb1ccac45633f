"""Building a plan shoe by shoe: the drawing that is the list, ticked as the hand goes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import text
from optimizer.errors import InputError
from optimizer.face.sources import read_bag, read_job
from optimizer.io.documents import read_plan
from optimizer.io.readings_log import has_rows, readings_file
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Job
from optimizer.model.plan import Plan, PlanSet, PlanStack, set_of
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route
from optimizer.page.folder import plan_file
from optimizer.page.marks import Marks, read_marks, write_marks
from optimizer.page.rows import PartRow, stack_rows


@dataclass(frozen=True)
class StackToBuild:
    """One stack to build: its rows from the bottom, which are ticked, and what to check."""

    stack: PlanStack
    place: str
    rows: list[PartRow]
    ticked: tuple[str, ...]
    height: str
    low: str
    high: str

    @property
    def count(self) -> int:
        """How many parts are placed."""
        return sum(row.part in self.ticked for row in self.rows)

    @property
    def next(self) -> str:
        """The lowest part that is not placed yet."""
        return next((row.part for row in self.rows if row.part not in self.ticked), "")


@dataclass(frozen=True)
class Opened:
    """A plan with the job and bag that it is of."""

    job: Job
    bag: Bag
    plan: Plan
    one: PlanSet
    marks: Marks
    path: Path

    @property
    def discs(self) -> dict[str, Disc]:
        """The discs of the bag by name."""
        return {disc.name: disc for disc in self.bag.discs}


def open_plan(asked: PageRequest) -> Opened:
    """Read the plan that an address names.

    Raises
    ------
    InputError
        with what is wrong in a file, or where the plan is of another bag.
    """
    clutch = asked.clutch
    path = plan_file(clutch, asked.path["plan"])
    job = read_job(clutch.job)
    bag = read_bag(job.bag_file, job)
    plan = read_plan(path)
    one = set_of(plan, asked.number("set"), path.parent.name)
    here = {disc.name for disc in bag.discs}
    lost = sorted({d for s in one.stacks for p in s.packets for d in p} - here)
    if lost:
        raise InputError(
            f"The bag has no disc {', '.join(lost[:5])}, which this plan needs: match again."
        )
    return Opened(job, bag, plan, one, read_marks(path), path)


def built(opened: Opened, stack: PlanStack, place: str) -> StackToBuild:
    """Lay out one stack to build.

    A disc that lies the wrong way round nests in its neighbour and takes a whole cone height off
    the stack, so half of the least one is what the free height may be off.
    """
    units, discs = opened.job.units, opened.discs
    shims = [text.length(shim, units) for shim in stack.shims_mm]
    rows = stack_rows(stack.packets, discs, shims)
    half = min(discs[d].cone_height_mm for p in stack.packets for d in p) / 2
    height = stack.free_height_mm
    low, high = (text.length(height + sign * half, units) for sign in (-1, 1))
    ticked = opened.marks.ticked(place)
    return StackToBuild(stack, place, rows, ticked, text.length(height, units), low, high)


def build_page(asked: PageRequest) -> Answer:
    """Show the stacks of one set, one shoe open at a time."""
    opened = open_plan(asked)
    number = asked.number("set")
    stacks = [built(opened, stack, f"{number}/{stack.shoe}") for stack in opened.one.stacks]
    shoe = asked.query.get("shoe", "")
    waiting = next((b.stack.shoe for b in stacks if b.next), stacks[0].stack.shoe)
    chosen = int(shoe) if shoe in {str(b.stack.shoe) for b in stacks} else waiting
    context = {
        **frame(asked.house, asked.clutch),
        "step": "build",
        "name": asked.path["plan"],
        "number": number,
        "plan": opened.plan,
        "one": opened.one,
        "stacks": stacks,
        "shown": next(b for b in stacks if b.stack.shoe == chosen),
        "units": opened.job.units,
        "moved_on": has_rows(readings_file(opened.path, number)),
        "done": all(not b.next for b in stacks),
    }
    return Page("build", context)


def ticked(asked: PageRequest, marks: Marks, place: str) -> tuple[str, bool]:
    """Return what was tapped, and whether it is to be ticked; without a script it is turned."""
    part = asked.text("part") or asked.text("tick")
    said = asked.text("on")
    return part, said == "1" if said else part not in marks.ticked(place)


def tick(asked: PageRequest) -> Answer:
    """Tick one part of a stack, or take its tick away."""
    opened = open_plan(asked)
    number, shoe = asked.number("set"), asked.number("shoe")
    stack = next((s for s in opened.one.stacks if s.shoe == shoe), None)
    if stack is None:
        raise InputError("There is no such shoe in this plan.")
    place = f"{number}/{shoe}"
    parts = [row.part for row in built(opened, stack, place).rows]
    if asked.text("clear"):
        marks = opened.marks
        for part in parts:
            marks = marks.tick(place, part, False)
    else:
        part, on = ticked(asked, opened.marks, place)
        if part not in parts:
            raise InputError("There is no such disc in this stack.")
        marks = opened.marks.tick(place, part, on)
        _timed(asked, place, parts, marks)
    write_marks(opened.path, marks)
    return Go(f"{asked.set_url}/build?shoe={shoe}")


def _timed(asked: PageRequest, place: str, parts: list[str], marks: Marks) -> None:
    """Keep how long a stack took, from its first tick, made with a part in place, to its last."""
    pace, what = asked.house.pace, f"build {asked.path['plan']}/{place}"
    placed = sum(part in marks.ticked(place) for part in parts)
    if placed == 1:
        pace.begins(asked.clutch, what)
    elif placed == len(parts):
        pace.ended(asked.clutch, what, "build", (placed - 1) / placed)


ROUTES = [
    route("/c/{clutch}/p/{plan}/{set}/build", build_page),
    route("/c/{clutch}/p/{plan}/{set}/tick", tick, writes=True),
]
