"""Workbooks saved so that equal contents give equal bytes: without the time of day, which the format asks for twice."""

import re
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from nest.atomic import atomic_path

_TIMES = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(<)")
_NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The first time that a ZIP entry can have."""


def save_book(book, path) -> None:
    """Save an openpyxl workbook to `path`, atomically; what it says of its making is the first of January 1980."""
    made = BytesIO()
    book.save(made)
    with atomic_path(path) as part, ZipFile(made) as old, ZipFile(part, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = _TIMES.sub(rb"\g<1>1980-01-01T00:00:00Z\g<3>", data)
            entry = ZipInfo(name, _NO_TIME)
            entry.compress_type = ZIP_DEFLATED
            new.writestr(entry, data)
