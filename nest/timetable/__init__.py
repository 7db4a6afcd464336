"""When each batch is bonded, softened, crimped, checked and trimmed, and by when its hides must be cut.

`timetable_of` makes a timetable, `planned_of` says it for tickets, `write_timetable` writes it.
"""

from nest.timetable.make import Timetable, planned_of, said, timetable_of
from nest.timetable.write import by_need, proof_words, write_timetable

__all__ = ["Timetable", "by_need", "planned_of", "proof_words", "said", "timetable_of", "write_timetable"]
