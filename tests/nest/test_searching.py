"""The tables of a search are freed once its plan is made, before anything is judged or written."""

from contextlib import nullcontext
from pathlib import Path

import numpy as np
import pytest
import typer

from nest.cli import steps
from nest.cli.searching import NO_LIMITS, Searching
from nest.planning.run import Engine


def test_an_engine_frees_the_tables_that_its_solvers_share():
    """Regions and strips share one store of tables; it is empty afterwards."""
    engine = Engine.fresh()
    store = engine.solve_region.keywords["store"]
    assert engine.solve_strip.keywords["store"] is store
    ring = np.array(((0.0, 0.0), (90.0, 0.0), (60.0, 40.0)))
    store.no_fit([ring], [(0, 0, np.array([1000], np.int64))])
    assert store.held_bytes > 0
    engine.release()
    assert store.held_bytes == 0


def test_tables_are_freed_between_planning_and_writing(monkeypatch):
    """The limits reach whoever makes the plan; then the engine frees its tables, and the plan is written."""
    events = []
    engine = Engine(release=lambda: events.append("freed"))
    going = Searching(lambda: True, None, {"passes": 3, "engine": engine})

    def make(*, passes, engine):
        events.append(f"planned by {passes} passes")
        return "plan"

    def written(plan, *arguments):
        events.append(f"{plan} written")
        return {}, None

    monkeypatch.setattr(steps, "searching", lambda *arguments: nullcontext(going))
    monkeypatch.setattr(steps, "judged_and_written", written)
    monkeypatch.setattr(steps, "show_written", lambda *arguments: None)
    monkeypatch.setattr(steps, "shown_in_browser", lambda *arguments: None)
    with pytest.raises(typer.Exit):
        steps.planned_and_written(
            None, type("Job", (), {"warnings": ()}), Path("out"), NO_LIMITS, dxf=None, figures=False, make=make)
    assert events == ["planned by 3 passes", "freed", "plan written"]
