"""What to be careful of wherever a plan meets knives, presses, heat or adhesives."""

CAUTIONS = (
    "This is a layout, not a licence to start: the machine's manual, local codes and licensed practice prevail.",
    "Knife and press: hands clear before every stroke; guards and two-hand control in use, never bypassed.",
    "Crimping press: hot plates burn; let them cool or wear heat-proof gloves; keep the daylight clear.",
    "Adhesives and softening sprays: ventilate, keep from heat and flame, follow the supplier's safety data sheet.",
    "Check material, side up, registration points and a dry run without knife before the first cut.",
)
"""Usual cautions, one sentence each; plain ASCII, so that every drawing and printer can carry them."""

STANDARDS = (
    "EN 12203:2003+A1:2009 (shoe and leather presses)",
    "EN 12044:2005 (cutting and punching machines for footwear and leather)",
    "ISO 12100 (risk assessment)",
    "ISO 13851 (two-hand control)",
    "ISO 13732-1 (hot surfaces)",
)
"""Titles to look up; the last three from memory."""

NOT_VERIFIED_WARNING = "NOT VERIFIED: this plan has not passed its checks. Do not cut."
"""Stands first in the legend of every drawing of a plan that has not passed its checks."""
