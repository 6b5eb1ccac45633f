"""The Python face: what a program sees, its examples run, no command line needed."""

from __future__ import annotations

import doctest
import importlib
import json
import runpy
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from optimizer import face as es
from optimizer.control import Limits
from optimizer.errors import InputError
from tests.shell import evenstack

ROOT = Path(__file__).parents[2]
KART = ROOT / "examples" / "kart_mm" / "job.toml"
FACE = ROOT / "optimizer" / "face"
MODULES = ("optimizer.face", *(f"optimizer.face.{p.stem}" for p in sorted(FACE.glob("[a-z]*.py"))))


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_the_docstrings_hold(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_every_name_of_the_face_is_there_and_has_an_example_or_says_what_it_raises():
    functions = [name for name in es.__all__ if name.islower()]
    assert len(functions) == 14
    for name in functions:
        words = getattr(es, name).__doc__
        assert "Raises" in words or "Examples" in words, name


def test_importing_the_package_loads_nothing_heavy():
    code = "import sys, optimizer; print(int('numpy' in sys.modules or 'pandas' in sys.modules))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "0"


def test_the_tutorial_runs(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    runpy.run_path(str(ROOT / "examples" / "tutorial.py"), run_name="__main__")
    assert "plan.json" in capsys.readouterr().out
    (curves,) = tmp_path.glob("*/curves.svg")
    assert curves.stat().st_size > 1000


def test_a_match_is_that_of_the_command(capsys, tmp_path):
    found = es.match(KART, seed=3)
    assert evenstack(capsys, "match", KART, "--seed", 3, "--out", tmp_path / "out").code == 0
    found.save(tmp_path / "face")
    said = (tmp_path / "out" / "plan.json").read_text()
    assert (tmp_path / "face" / "plan.json").read_text() == said
    frame = found.to_frame()
    assert (
        len(frame)
        == frame.disc.nunique()
        == sum(len(p) for s in json.loads(said)["sets"][0]["stacks"] for p in s["packets"])
    )
    assert "<pre>" in found._repr_html_()
    with pytest.raises(InputError, match="already there"):
        found.save(tmp_path / "face")


def test_a_bag_may_be_a_table_in_memory_and_its_rows_are_named_like_lines():
    job = es.read_job(KART)
    frame = pd.read_csv(KART.with_name("bag.csv"))
    assert es.read_bag(frame, job).discs[5].cone_height_mm == frame.cone_height_mm[5]
    frame.loc[3, "thickness_mm"] = -0.9
    with pytest.raises(InputError, match="DataFrame line 5, disc A04"):
        es.read_bag(frame, job)
    with pytest.raises(InputError, match="with rows, got none"):
        es.read_bag(frame[:0], job)
    with pytest.raises(InputError, match="a DataFrame or a bag, got dict"):
        es.read_bag({"disc": ["A01"]}, job)


def test_every_question_takes_a_bag_as_a_table():
    """A table was answered by what it lacks inside: no attribute "discs"."""
    frame = pd.read_csv(KART.with_name("bag.csv"))
    assert len(es.inspect(KART, frame[:20]).to_frame()) == 20
    (disc,) = frame.disc[:1]
    whole, bag = (es.load_curve(KART, disc, bag=bag) for bag in (None, frame))
    assert whole.to_frame().equals(bag.to_frame())


def test_bench_engagement_and_retarget_go_on_from_a_plan(tmp_path):
    shutil.copytree(KART.parent, tmp_path / "kart")
    job = tmp_path / "kart" / "job.toml"
    found = es.match(job)
    found.save(tmp_path / "first")
    plan = tmp_path / "first" / "plan.json"
    lines = ["round,shoe,kind,load_n"]
    for stack in found.plan.sets[0].stacks:
        lines += [f"1,{stack.shoe},settled,{stack.working_load_n + 4 * stack.shoe:.1f}"]
    plan.with_name("readings.csv").write_text("\n".join(lines) + "\n")
    learned = es.bench(job, plan)
    assert learned.to_frame().read.all()
    assert "Learned from 3 settled readings" in learned.why()
    assert "Last readings of all shoes: " in learned.summary()
    assert {p.name for p in learned.save(tmp_path / "next")} >= {"plan.json", "readings.csv"}
    with pytest.raises(InputError, match="got both"):
        es.engagement(job, loads_n=(880, 890, 900), readings=plan.with_name("readings.csv"))
    how = es.engagement(job)  # what stands, as the bench tells it
    assert "readings of the bench" in how.engagement.source
    ways = es.retarget(job, later_rpm=150.0, limits=Limits(2.0))
    assert ways.found.target_rpm == pytest.approx(how.engagement.hookup.mean_rpm + 150)
    assert len(ways.to_frame()) == len(ways.found.ways)


def test_an_order_has_its_curve_as_a_table(tmp_path):
    job = ROOT / "examples" / "spring_order" / "job.toml"
    catalog = tmp_path / "small.csv"
    lines = (ROOT / "catalogs" / "invented_supplier.csv").read_text().splitlines()
    catalog.write_text("\n".join(x for x in lines if x.startswith(("size,", "V18-100,"))) + "\n")
    found = es.plan_order(job, 1, catalog, draws=20, workers=1)
    frame = found.to_frame()
    assert {"discs", "cost", "share", "low", "high"} <= set(frame.columns)
    assert (frame.low <= frame.share).all()
    kept = {p.name for p in found.save(tmp_path / "order")}
    assert kept == {"order.json", "order.txt", "order.html"}
    came = es.delivered(
        job, job.with_name("bag.csv"), None, tmp_path / "order" / "order.json", catalog, 20
    )
    assert came.received.wanted_sets == 1
    assert came.received.planned.file == "order.json"
    assert set(came.to_frame()) >= {"size", "discs", "thickness_off_mm"}


def test_a_bag_is_shown_as_by_the_command(capsys):
    assert es.inspect(KART).summary() == evenstack(capsys, "inspect", KART).out


def test_a_speed_seen_with_loads_is_kept_and_those_loads_counted(tmp_path):
    shutil.copytree(KART.parent, tmp_path / "kart")
    job = tmp_path / "kart" / "job.toml"
    with pytest.raises(InputError, match="the loads with which"):
        es.engagement(job, rpm_seen=3300)
    seen = es.engagement(job, loads_n=(880, 890, 900), rpm_seen=3300)
    assert list(seen.to_frame().load_n) == [880, 890, 900]
    assert seen.engagement.hookup.mean_rpm == pytest.approx(3300, abs=1)
    assert any("seen on the engine" in note for note in es.engagement(job).warnings)


def test_a_job_changed_in_a_program_is_the_one_that_counts():
    job = es.read_job(KART)
    lower = replace(job, target=replace(job.target, load_n=800.0))
    assert es.open_job(lower).task.target_n.tolist() == [800.0] * 3
