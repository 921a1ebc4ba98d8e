"""What the chemistries of cells are called; the words are keys of their translation."""

from types import MappingProxyType
from typing import Final

CHEMISTRY_WORDS: Final = MappingProxyType(
    {
        "nmc": "nickel manganese cobalt",
        "nca": "nickel cobalt aluminium",
        "lfp": "lithium iron phosphate",
        "lmo_blend": "manganese blend",
    }
)
"""Chemistry code to the words shown."""
