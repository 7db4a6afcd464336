"""How much a file may hold, each limit with its reason. Beyond it a file is refused in one sentence.

The demo's drawings have some hundred vertices, its order some dozen lines. The limits leave room for a hundred times
that and more, and what keeps them is read within seconds and within some hundred MB.
"""

LARGEST_FILE_BYTES = 50_000_000
"""Any file of a job: half a million vertices in DXF, of some 80 bytes each, and some room."""

LARGEST_JOB_FILE_BYTES = 2_000_000
"""The job file itself is written by hand; two million characters are a small library."""

DEEPEST_TABLE = 20
"""Tables and lists of a job file within each other; what it knows lies four deep."""

LARGEST_PLAN_BYTES = 100_000_000
"""A saved plan: twenty hides take 0.8 MB, so this is room for two thousand; read, it takes ten times its size."""

MOST_PLAN_VALUES = 8_000_000
"""Values of a saved plan, of some 100 bytes each when read."""

MOST_DRAWING_VALUES = 4_000_000
"""Values of a drawing in GeoJSON: half a million vertices and a third one for their lists, with room."""

MOST_FEATURES = 20_000
"""Features of a drawing in GeoJSON: hides have some hundred flaws."""

MOST_PROBLEMS = 100
"""Sentences about what is wrong with the input; what goes beyond is counted."""

MOST_WARNINGS = 1_000
"""Sentences about what was mended while reading."""

MOST_ENTITIES = 100_000
"""Entities of a drawing, those of its blocks counted each time they are inserted: blocks within blocks multiply."""

MOST_STORED_ENTITIES = 300_000
"""Entities stored in a DXF file, used or not; counted in the text, for loading them takes time and memory."""

MOST_VERTICES = 500_000
"""Vertices of a drawing on the layers that are read."""

MOST_OUTLINE_VERTICES = 50_000
"""Vertices of one outline: a step of 0.15 mm all around a large hide. More make every later step slow."""

MOST_TEMPLATE_VERTICES = 2_000
"""Vertices of a template after thinning: every one is held against every edge of the mirror image."""

DEEPEST_BLOCK = 16
"""Blocks inserted within each other; deeper ones insert themselves."""

LARGEST_COORDINATE = 1e6
"""Coordinates and radii, in the drawing's unit and in mm: a kilometre is no hide."""

LARGEST_NUMBER = 1e15
"""Any number of a plan: no length, area or weight comes near, and squares of it are still finite."""

LARGEST_AMOUNT = 10**9
"""Prices, wages, rates and times of a job: what they come to for all pairs is still exact to the minor unit."""

MOST_DIGITS = 15
"""Digits of an amount before its decimals, as `LARGEST_NUMBER`."""

MOST_DECIMALS = 100
"""Decimals of an amount in a plan: no price has more than a few, an exact quotient some thirty."""

MOST_ROWS = 20_000
"""Rows of a table: a year's orders of a factory have fewer lines."""

LARGEST_TABLE_BYTES = 10_000_000
"""A table: 20,000 rows of 500 letters."""

MOST_TAGS = 4_000_000
"""Tags of a workbook's sheet or its texts: 20,000 rows of sixty cells."""

MOST_OTHER_TAGS = 200_000
"""Tags of any other part of a workbook, such as its styles and names; Excel's own limit is 64,000 formats."""

MOST_COLUMNS = 200
"""Columns of a table that are looked at; no table read here has more than a dozen."""

MOST_UNPACKED_BYTES = 60_000_000
"""What a workbook may unpack to: XLSX is a ZIP archive, and 20,000 rows of XML take no more."""

MOST_UNPACKED_RATIO = 200
"""How many times its packed size a part of a workbook may have: deflate reaches 1,032, honest tables far less."""

RATIO_COUNTS_FROM_BYTES = 1_000_000
"""A part of a workbook that unpacks to less is harmless whatever its ratio."""

LARGEST_PHOTOGRAPH_BYTES = 80_000_000
"""A photograph or scan: 60 megapixels as a fine JPEG take half of that."""

MOST_PIXELS = 64_000_000
"""Pixels of a photograph or scan, by its header: 64 million take 600 MB, decoded and as linear light."""

MOST_SCANS = 60
"""Scans of a progressive JPEG; the usual have ten, a bomb has thousands."""

LARGEST_BACKDROP_PIXELS = 1_000_000
"""A straightened photograph under a layout: one megapixel of grey prints sharp enough on A4."""

MOST_PHOTOGRAPHS = 500
"""Photographs given to one command: more hides than any lot has."""

MOST_SCENARIOS = 500
"""Scenarios of one table: by estimate some tenth of a second each, and more than anybody reads."""

LARGEST_EXPORT_BYTES = 4_000_000_000
"""One file of a ledger's export: a thousand plans and more. It is read row by row, a plan at a time."""
