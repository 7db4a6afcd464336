"""Data within a page: JSON that no text of a file can break out of."""

import base64
import hashlib
import json


def safe_json(data) -> str:
    """`data` as JSON to stand within a <script type="application/json"> element.

    Every < is written as an escape, so that neither an end tag nor a comment can begin in it (HTML Living Standard,
    section 4.12.1.3, restrictions for contents of script elements); the text reads back the same.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # Lone surrogates, which a drawing's text may hold, cannot be written as UTF-8.
    text = text.encode("utf-8", "replace").decode("utf-8")
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def script_digest(script: str) -> str:
    """Source expression by which a content security policy allows this script alone (CSP Level 3, hash-source)."""
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
