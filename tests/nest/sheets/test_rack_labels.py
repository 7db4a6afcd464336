"""Labels for the rack: they can be scanned, and hold what the rack must know. Invented."""

import shutil
import subprocess

import cv2
import pytest
from shapely.geometry import box

from nest.sheets import RackLabel, write_rack_labels


def label(number):
    """The label of a remnant of 600 × 300 mm."""
    shape = box(0, 0, 600, 300)
    return RackLabel(f"H17-r{number}", "Black side", "T-217", 2, shape.area, 1.4, "H17", "2026-11-02", shape)


poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="poppler is not installed (apt-get install poppler-utils)"
)


@poppler
def test_labels_hold_what_the_rack_must_know(tmp_path):
    """Nine labels take two sheets; each has its name, leather, lot, class, area and size in words."""
    write_rack_labels([label(n) for n in range(1, 10)], tmp_path / "labels.pdf")
    text = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "labels.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    assert text.count("\f") == 2
    for words in ("H17-r9", "Black side, lot T-217", "class 2, 1.4 mm", "remnant of H17", "18.0 dm²", "60 × 30 cm"):
        assert words in text


@poppler
def test_the_code_reads_back_as_the_name(tmp_path):
    """OpenCV's reader, which is not ours, finds the name of the hide in the printed code."""
    write_rack_labels([label(1)], tmp_path / "labels.pdf")
    subprocess.run(["pdftoppm", "-r", "150", "-png", "-gray", "labels.pdf", "page"], cwd=tmp_path, check=True)
    (path,) = tmp_path.glob("page*.png")
    assert cv2.QRCodeDetector().detectAndDecode(cv2.imread(str(path)))[0] == "H17-r1"
