"""Who works in inches reads inches, pounds and ksi, and nothing else, on every path."""

import json
import re
import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.report.html_checks import read_html
from tests.shell import evenstack

EXAMPLE = Path(__file__).parents[2] / "examples" / "bench_in"
CATALOG = EXAMPLE.parents[1] / "catalogs" / "invented_supplier.csv"
#: the option of the lining's mass has its unit in its name
METRIC = re.compile(
    r"(?<![A-Za-z])(?:mm|MPa|um|µm|N/mm|N m)(?![A-Za-z])|\d\s*N(?![A-Za-z])|\bin N\b"
)
ALLOWED = ("--lining-g-per-mm", "--units")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("inches")
    shutil.copytree(EXAMPLE, folder, dirs_exist_ok=True)
    job = folder / "job.toml"
    clutch = "shoe_mass_g = 210\ncg_radius_in = 2.05\ndrum_radius_in = 2.5\nfriction = 0.3\n"
    job.write_text(job.read_text().replace("[datum]", clutch + "[datum]", 1))
    (folder / "r.csv").write_text(
        "round,shoe,kind,load_lbf\n1,1,settled,195\n1,2,settled,191\n1,3,settled,196\n"
    )
    low = job.read_text().replace("load_lbf = 200", "load_lbf = 20")
    (folder / "low.toml").write_text(low)
    return folder


def metric(words):
    lines = (line for line in words.splitlines() if METRIC.search(line))
    return [line.strip() for line in lines if not any(word in line for word in ALLOWED)]


def test_no_command_says_anything_metric(folder, capsys):
    job = folder / "job.toml"
    said = {}

    def run(name, *words, code=0):
        told = evenstack(capsys, *words)
        assert told.code == code, told.err
        said[name] = told.out + told.err

    run("inspect", "inspect", job)
    run("match", "match", job, "--out", folder / "m", "--xlsx", folder / "w.xlsx")
    plan = folder / "m" / "plan.json"
    stack = json.loads(plan.read_text())["sets"][0]["stacks"][0]
    names = " ".join("+".join(packet) for packet in stack["packets"])
    run("load", "load", job, "--stack", names, "--plot", folder / "load.svg")
    run(
        "bench", "bench", job, "--plan", plan, "--readings", folder / "r.csv", "--out", folder / "b"
    )
    run("engage", "engage", job, "--plot", folder / "torque.svg")
    run("retarget", "retarget", job, "--later", 100, "--time-limit", 1)
    run("refusal", "match", folder / "low.toml", "--fresh", code=2)
    few = ("--catalog", CATALOG, "--draws", 20, "--workers", 1)
    run("order", "order", job, "--sets", 1, *few, "--out", folder / "o")
    pages = [*folder.glob("*/sheet.html"), folder / "o" / "order.html"]
    for page in pages:
        root, _ = read_html(page.read_text(encoding="utf-8"))
        said[page.parent.name] = "\n".join(
            element.text for body in root.all("body") for element in everything(body)
        )
    for picture in folder.glob("*.svg"):
        said[picture.name] = "\n".join(re.findall(r">([^<]+)<", picture.read_text()))
    book = openpyxl.load_workbook(folder / "w.xlsx")
    said["w.xlsx"] = "\n".join(
        str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row
    )
    assert len(pages) == 3
    assert {name: metric(words) for name, words in said.items() if metric(words)} == {}


def everything(element):
    if element.tag in ("style", "script"):
        return []
    return [element, *(e for child in element.children for e in everything(child))]
