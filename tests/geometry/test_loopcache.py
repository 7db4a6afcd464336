"""Compiled loops are kept between runs, and made anew when a loop that they call has changed."""

import os
import re
import subprocess
import sys
from pathlib import Path
from shutil import copy

import numba
import pytest

from geometry import loopcache
from geometry.compiled import compiled

ROOT = Path(loopcache.__file__).parent.parent

INNER = "from geometry.compiled import uncounted\n\n\n@uncounted\ndef inner(x):\n    return {} * x\n"
OUTER = """from geometry.compiled import uncounted
from geometry.inner import inner


@uncounted
def outer(x):
    return inner(x) + 1.0


if __name__ == "__main__":
    print(outer(10.0), sum(outer.stats.cache_hits.values()))
"""


def said(folder: Path) -> list[str]:
    """What the outer loop returns in a process of its own, and whether it was kept from before."""
    done = subprocess.run(
        [sys.executable, "-m", "geometry.outer"], cwd=folder, capture_output=True, text=True, check=True,
        env={name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"} | {"PYTHONPATH": ""},
    )
    return done.stdout.split()


def test_a_changed_loop_changes_those_that_call_it(tmp_path):
    """Though their own files are as they were; what did not change is not compiled again."""
    (tmp_path / "geometry").mkdir()
    for name in ("__init__.py", "compiled.py", "loopcache.py"):
        copy(ROOT / "geometry" / name, tmp_path / "geometry")
    (tmp_path / "geometry" / "inner.py").write_text(INNER.format(2.0))
    (tmp_path / "geometry" / "outer.py").write_text(OUTER)
    assert said(tmp_path) == ["21.0", "0"]
    assert said(tmp_path) == ["21.0", "1"]
    (tmp_path / "geometry" / "inner.py").write_text(INNER.format(3.0))
    assert said(tmp_path) == ["31.0", "0"]


def test_every_file_with_loops_is_looked_at():
    """No other file has a loop."""
    loops = [path for path in (*ROOT.glob("geometry/**/*.py"), *ROOT.glob("nest/**/*.py"))
             if re.search(r"^from geometry\.compiled import|^from numba|^import numba", path.read_text(), re.M)]
    assert len(loops) > 10
    assert all(any(path.relative_to(ROOT).match(some) for some in loopcache.SOURCES) for path in loops)


def test_loops_long_unused_are_swept(tmp_path, monkeypatch):
    """Those of a state that was used lately stay."""
    package = tmp_path / "geometry"
    package.mkdir()
    monkeypatch.setattr(loopcache, "__file__", str(package / "loopcache.py"))
    monkeypatch.setattr(loopcache, "_ROOT", tmp_path)
    old, recent = package / "__pycache__" / "loops-old", package / "__pycache__" / "loops-recent"
    for folder in (old, recent):
        folder.mkdir(parents=True)
    os.utime(old, (0.0, 0.0))
    mine = loopcache.loop_folder()
    assert mine.is_dir() and recent.is_dir() and not old.exists()
    assert loopcache.loop_folder() == mine


def twice(x):
    """A loop, as far as keeping goes."""
    return 2.0 * x


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """The folder that loops are kept in now."""
    monkeypatch.setitem(vars(numba.config), "CACHE_DIR", str(tmp_path))
    return tmp_path


def hits(loop) -> int:
    """How often it was found kept."""
    return sum(loop.stats.cache_hits.values())


@pytest.mark.parametrize("which", ["nbi", "nbc"])
@pytest.mark.parametrize("left", [0.0, 0.5])
def test_what_is_kept_and_damaged_is_made_anew(which, left, kept):
    """A power cut may leave empty files and halves; the run after goes well, and the next finds it kept again."""
    assert compiled(twice)(21.0) == 42.0
    (path,) = kept.rglob(f"*.{which}")
    path.write_bytes(path.read_bytes()[: int(left * path.stat().st_size)])
    after, last = compiled(twice), compiled(twice)
    assert (after(21.0), hits(after)) == (42.0, 0)
    assert (last(21.0), hits(last)) == (42.0, 1)


def test_two_loops_that_share_a_file_are_told_apart(kept):
    """Processes that compile at once may number alike: the loop for whole numbers is no loop for others."""
    first = compiled(twice)
    assert first(21) == first(21.0) == 42.0
    one, other = sorted(kept.rglob("*.nbc"))
    other.write_bytes(one.read_bytes())
    again = compiled(twice)
    assert again(10.5) == 21.0 and again(21) == 42.0


def test_a_disk_that_takes_nothing_costs_only_time(kept, monkeypatch):
    """No folder can be written, or none any more: the loop is compiled and runs."""
    held = compiled(twice)

    def refuse(*args, **more):
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patched:
        patched.setattr("numba.core.caching.IndexDataCacheFile._open_for_write", refuse)
        assert held(21.0) == 42.0
    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    assert compiled(twice)(21.0) == 42.0
    assert not list(kept.rglob("*.nb*"))
