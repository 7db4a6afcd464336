"""What people hold in their hands: a sheet a hide, a sheet a lay, and all of them in one file with an index.

`write_sheets` and, for one alone, `write_sheet` are the doors, `write_rack_labels` that for the rack.
"""

from nest.sheets.page import Page
from nest.sheets.racklabels import RackLabel, write_rack_labels
from nest.sheets.write import HideSheet, LaySheet, MoreSheet, write_sheet, write_sheets

__all__ = [
    "HideSheet", "LaySheet", "MoreSheet", "Page", "RackLabel", "write_rack_labels", "write_sheet", "write_sheets",
]
