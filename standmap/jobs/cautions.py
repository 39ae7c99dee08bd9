"""The cautions of each step, in plain words. Local rules and licensed practice come first.

Figures: sap keeps about six days refrigerated and no longer than a day warm (Bilek, Pytko & Sosnowski 2016,
doi 10.15584/pjsd.2016.20.1); stricter sources say under three days. A wood in wind: Beaufort 6, 11 m/s, moves large
branches (US National Weather Service table). The rest is common practice, no source.
"""

from __future__ import annotations

LOCAL_RULES = "local rules and licensed practice come before anything said here"

SOURS = "sap keeps a day or a few in the cold; once days are warm it sours in the vessel: collect each day or stop"

CHOOSING = (
    "tap only with the owner's permission, and only a tree that you have identified for sure",
    "keep off roadsides and sprayed or polluted ground; birch sap can trouble people allergic to birch pollen",
    LOCAL_RULES,
)

TAPPING = (
    "use a clean, food-grade bit, tube and vessel for each tree; mind the drill and the knife",
    "take the tube out and close the hole as the rule set says",
    "sap keeps a day or a few in the cold: chill it at once, and never seal it up warm",
    LOCAL_RULES,
)

WALKING = (
    "tell someone the way and the time you will be back; carry a lamp and a charged phone; better not alone",
    "stay out of the wood in strong wind (large branches move from about 11 m/s); go slowly on ice and in the dark",
    "carry less rather than more; sap keeps a day or a few in the cold: chill it at once, and never seal it up warm",
    LOCAL_RULES,
)
