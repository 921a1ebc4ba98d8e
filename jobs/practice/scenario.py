"""The invented workshop and the jobs played in it, read from fixtures/.

Pure data: who works there, with what, for whom; for each job the vehicle's hidden fault and what
people say. Days count from the day on which it is loaded. Not here: entering it (`shop`).
"""

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from django.conf import settings
from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "CustomerData",
    "EquipmentData",
    "LeakData",
    "PersonData",
    "Recipe",
    "Scenario",
    "SpareData",
    "fixtures",
    "pack_text",
    "recipe",
    "scenario",
]


class _Data(BaseModel):
    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")


class QualificationData(_Data):
    """A qualification and how many days it is still good for."""

    code: str
    expires_in_days: int
    certificate: str


class PersonData(_Data):
    """A person of the workshop."""

    short_name: str
    display_name: str
    role: str
    qualifications: tuple[QualificationData, ...] = ()


class EquipmentData(_Data):
    """A piece of equipment."""

    kind: str
    label: str
    serial: str = ""
    tested_days_ago: int | None = None
    issued: bool = False
    ratings: Mapping[str, Any]


class SpareTestData(_Data):
    """The last test of a spare."""

    tested_days_ago: int
    capacity_ah: float | None = None
    resistance_mohm: float | None = None
    cell_v: float | None = None
    insulation_ohm: float | None = None
    insulation_comparator: str = "="
    insulation_test_v: float | None = None


class SpareData(_Data):
    """A module on the shelf."""

    serial: str
    part: str
    chemistry: str
    cells: int
    provenance: str
    place: str
    quarantined: bool = False
    test: SpareTestData


class VehicleData(_Data):
    """A vehicle of a customer."""

    plate: str
    vin: str
    make: str
    model: str
    year: int
    body: str


class CustomerData(_Data):
    """A customer with their vehicles."""

    name: str
    phone: str
    email: str
    address: str
    vehicles: tuple[VehicleData, ...]


class ShopData(_Data):
    """What the workshop says about itself."""

    name: str
    address: str
    phone: str
    email: str
    number_prefix: str
    time_zone: str
    currency: str
    tax_percent: Annotated[Decimal, Field(strict=False)]
    warranty_text: str


class Scenario(_Data):
    """The whole workshop; the first person is the manager who enters the others."""

    pin: str
    packs: tuple[str, ...]
    shop: ShopData
    people: tuple[PersonData, ...]
    equipment: tuple[EquipmentData, ...]
    spares: tuple[SpareData, ...]
    customers: tuple[CustomerData, ...]


class LeakData(_Data):
    """A hidden leak inside the pack."""

    module: str
    position_cells: float
    leak_ohm: float


class Recipe(_Data):
    """One job: the vehicle, its hidden fault, and what is said and chosen.

    Attributes
    ----------
    slug, title : str
        Name of the recipe, and what it is about.
    plate, pack : str
        Which vehicle, which pack definition.
    seed : int
        Where the errors of all readings come from.
    cell_v : float
        Mean rested voltage of the cells [V].
    leaks : tuple[LeakData, ...]
        Hidden leaks in the pack.
    other : {"", "harness", "busbar", "connector", "contactor", "cooling_plate"}
        What leaks in the pack where no module does.
    vehicle_leaks : Mapping[str, float]
        Insulation of the vehicle's parts that leak [ohm].
    seen : str
        What is seen in the open pack.
    answer : {"approved", "declined"}
        The customer's answer to the quotation.
    quotation : tuple[tuple[str, str, str, str, str], ...]
        Lines of the quotation: what for, text, quantity, unit, price of one without tax.
    optional : tuple[str, ...]
        Texts of the lines that are optional; the customer takes the first of them.
    payers : Mapping[str, str]
        Who pays a line, by its text; the customer pays the others.
    words : Mapping[str, str | float]
        What is said, chosen or read, by item; the rest comes from the recipe ``every-job``.
    """

    slug: str
    title: str
    plate: str
    pack: str
    seed: int
    cell_v: float
    leaks: tuple[LeakData, ...] = ()
    other: Literal["", "harness", "busbar", "connector", "contactor", "cooling_plate"] = ""
    vehicle_leaks: Mapping[str, float] = {}
    seen: str = "nothing"
    answer: Literal["approved", "declined"] = "approved"
    quotation: tuple[tuple[str, str, str, str, str], ...] = ()
    optional: tuple[str, ...] = ()
    payers: Mapping[str, str] = {}
    words: Mapping[str, str | float] = {}


def fixtures() -> Path:
    """Give the folder of the invented workshop."""
    return Path(settings.BASE_DIR) / "fixtures"


def _read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def scenario() -> Scenario:
    """Read the invented workshop."""
    return Scenario.model_validate(_listed(_read(fixtures() / "shop.toml")))


@cache
def recipe(slug: str) -> Recipe:
    """Read one job's recipe; what it does not state is as in every job."""
    every = _read(fixtures() / "jobs" / "every-job.toml")
    own = _read(fixtures() / "jobs" / f"{slug}.toml")
    words = {**every["words"], **own.get("words", {})}
    return Recipe.model_validate({**_listed({**every, **own}), "slug": slug, "words": words})


def pack_text(slug: str) -> str:
    """Read the text of a pack definition."""
    return (fixtures() / "packs" / f"{slug}.toml").read_text(encoding="utf-8")


def _listed(value: Any) -> Any:
    """Turn lists into tuples, as the strict models want them; ratings stay as they are."""
    if isinstance(value, dict):
        return {name: each if name == "ratings" else _listed(each) for name, each in value.items()}
    return tuple(_listed(each) for each in value) if isinstance(value, list) else value
