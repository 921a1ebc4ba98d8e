"""Answers of intake, beyond the recipe's words."""

from collections.abc import Mapping
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.item import Item
from jobs.practice.book import Book
from jobs.practice.scene import Scene
from jobs.steps.intake.items import VIN

__all__ = ["BOOK"]


def _vin(scene: Scene, _item: Item[Any], _parts: Mapping[str, str]) -> Json:
    return scene.shop.vehicles[scene.recipe.plate].vin


BOOK: Final[Book] = {VIN.key: _vin}
