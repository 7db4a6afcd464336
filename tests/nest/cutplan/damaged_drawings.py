"""Every way in which a cutting drawing can be damaged, and every harmless one, by name.

A new way of damage goes into one of the modules named here.
"""

import damaged_outlines
import damaged_words
import harmless_changes
import strange_entities
from drawing_changes import DAMAGES, HARMLESS

__all__ = ["DAMAGES", "HARMLESS", "damaged_outlines", "damaged_words", "harmless_changes", "strange_entities"]
