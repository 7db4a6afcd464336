"""Lets the tests of photographs import their renderer by name; without the extra they are passed over."""

import sys
from pathlib import Path

import pytest

pytest.importorskip("cv2", reason='the extra "photo" is not installed')
sys.path.append(str(Path(__file__).parent))
