"""What people hold in their hands: a sheet a hide, a sheet a lay, and all of them in one file with an index.

`write_sheets` is the door.
"""

from nest.sheets.write import HideSheet, LaySheet, write_sheets

__all__ = ["HideSheet", "LaySheet", "write_sheets"]
