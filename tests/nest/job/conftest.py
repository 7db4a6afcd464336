"""A tiny sound job, written once, copied for every test that spoils it."""

import shutil
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))
import tiny_job


@pytest.fixture(scope="session")
def sound_job(tmp_path_factory):
    """Folder of a sound job; not to be changed."""
    folder = tmp_path_factory.mktemp("sound")
    tiny_job.write(folder)
    return folder


@pytest.fixture
def job_folder(sound_job, tmp_path):
    """A copy of the sound job, to be spoilt."""
    folder = tmp_path / "job"
    shutil.copytree(sound_job, folder)
    return folder
