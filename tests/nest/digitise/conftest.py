"""Lets the tests of photographs import their renderer by name; without the extra they are passed over."""

import importlib.util
import sys
from pathlib import Path

import pytest
from whole_words import held_whole

from nest.cli import main
from nest.cli.screen import Screen

sys.path.append(str(Path(__file__).parent))

collect_ignore_glob = [] if all(map(importlib.util.find_spec, ("cv2", "scipy"))) else ["test_*.py"]


@pytest.fixture
def on_screen(monkeypatch):
    """Runs a command: its exit code, figures and lines, which are whole on a screen of 60, 80 and 120 columns."""

    def run(*words):
        figures, lines = {}, []
        with monkeypatch.context() as patch:
            patch.setattr(Screen, "result", lambda self, data, *told: (figures.update(data), lines.extend(told)))
            patch.setattr(Screen, "complain", lambda self, line: lines.append(line))
            code = main([*map(str, words)])
        assert lines
        held_whole(lines, monkeypatch)
        return code, figures, lines

    return run
