"""The first pages: which clutch, what to do next, and how a phone comes in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import EvenstackError, InputError, NoRowsError
from optimizer.face.sources import read_job
from optimizer.io.bag.reader import read_bag
from optimizer.io.files import kept_as, write_all_new
from optimizer.io.readings_log import has_rows, readings_file
from optimizer.model.bag import Bag
from optimizer.model.job import Job
from optimizer.page.asked import Answer, Go, Page, PageRequest, Svg, frame, route
from optimizer.page.doors import qr_svg
from optimizer.page.folder import THIS, ClutchFolder, known_file, plans


@dataclass(frozen=True)
class ClutchStatus:
    """What the files of a clutch say, as far as they can be read."""

    clutch: ClutchFolder
    job: Job | None
    bag: Bag | None
    problems: tuple[str, ...]
    plans: dict[str, Path]

    @property
    def newest(self) -> str | None:
        """The plan that was made last."""
        return next(reversed(self.plans), None)

    @property
    def read(self) -> bool:
        """Whether the newest plan has readings."""
        newest = self.newest
        return newest is not None and has_rows(readings_file(self.plans[newest], 1))


def status_of(clutch: ClutchFolder) -> ClutchStatus:
    """Read job and bag of a clutch; what is wrong with them is said, not raised."""
    job, bag, problems = None, None, []
    try:
        job = read_job(clutch.job)
        bag = read_bag(job.bag_file, job)
    except NoRowsError:
        pass
    except EvenstackError as error:
        problems = error.lines()
    return ClutchStatus(clutch, job, bag, tuple(problems), plans(clutch))


def front(asked: PageRequest) -> Answer:
    """List the clutches of the folder; go to the only one of a folder that is one."""
    clutches = asked.house.folder.clutches()
    if THIS in clutches:
        return Go(clutches[THIS].url)
    context = {**frame(asked.house), "clutches": list(clutches.values())}
    return Page("front", {**context, "root": asked.house.folder.root.name})


def overview(asked: PageRequest) -> Answer:
    """Say of one clutch what is done and what comes next."""
    return Page("overview", {**frame(asked.house, asked.clutch), "status": status_of(asked.clutch)})


def phone(asked: PageRequest) -> Answer:
    """Show the code to scan with a phone."""
    if asked.house.doors.lan is None:
        raise InputError("No phone can come in: start again with `evenstack open --phone`.")
    return Page("phone", {**frame(asked.house), "address": asked.house.doors.phone})


def phone_code(asked: PageRequest) -> Answer:
    """Draw the code to scan with a phone."""
    address = asked.house.doors.phone
    if address is None:
        raise InputError("No phone can come in.")
    return Svg(qr_svg(address))


def set_aside(asked: PageRequest) -> Answer:
    """Put what the gauge taught under another name, where discs or travels have changed since."""
    kept = known_file(asked.clutch.job)
    if kept.exists():
        write_all_new({kept_as(kept): kept.read_bytes()})
        kept.unlink()
    return Go(asked.clutch.url)


ROUTES = [
    route("/c/{clutch}/aside", set_aside, writes=True),
    route("/", front),
    route("/c/{clutch}", overview),
    route("/phone", phone),
    route("/phone.svg", phone_code),
]
