"""The core without the extra "photo"."""

import subprocess
import sys

CODE = """
import sys
sys.modules["cv2"] = None
from nest.cli import main
import nest, nest.output
for command in ("marks -o m.pdf", "hide h.jpg -o h.dxf", "table t.jpg -o t.json",
                "template c.png -o c.dxf --dpi 300", "check h.dxf --over h.jpg -o o.png"):
    assert main(["digitise", *command.split()]) == 2, command
assert main(["digitise", "--help"]) == 0
"""


def test_digitising_without_its_extra_is_one_sentence(tmp_path):
    """Without opencv everything else imports, and each command of the room says what to install, writing nothing."""
    done = subprocess.run([sys.executable, "-c", CODE], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stderr.count('pip install "vampyield[photo]"') == 5 and not list(tmp_path.iterdir())
