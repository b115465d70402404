"""What a person says of batches, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass, field

from records.ingredients.data import Said


@dataclass(frozen=True, slots=True, kw_only=True)
class LineData:
    """One line of a sheet: its tested contents [% by mass], the test, and a mass that is given [kg]."""

    name: str
    source: str = ""
    fat: str = ""
    snf: str = ""
    sugar: str = ""
    other: str = ""
    test: str = ""
    fixed: str = ""
    allergen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetData(Said):
    """A batch sheet to compute. Wanted contents in % by mass, `total` in kg; empty: not asked for."""

    batch: str
    place: str
    product: str
    lines: tuple[LineData, ...]
    fat: str = ""
    snf: str = ""
    sugar: str = ""
    solids: str = ""
    total: str = ""
    tolerance: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditionData(Said):
    """A line weighed in [kg]. `begins_now`: not yet; what stands against it refuses it."""

    sheet: int
    line: int
    gross: str
    tare: str = ""
    scale: str
    received: int | None = None
    scanned: str = ""
    begins_now: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendTestData(Said):
    """Fat and total solids of a vat [% by mass]; `at` is when the sample was taken."""

    place: str
    sample: str
    fat: str
    solids: str
    method: str
    sheet: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamData:
    """A stream of the separator: mass [kg] and fat [% by mass], each with its standard uncertainty or empty."""

    mass: str
    fat: str
    mass_u: str = ""
    fat_u: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeparationData(Said):
    """What went into the separator and what came out."""

    place: str
    milk: StreamData = field()
    cream: StreamData = field()
    skim: StreamData = field()


@dataclass(frozen=True, slots=True, kw_only=True)
class VitaminData(Said):
    """A concentrate used for milk: strength [IU/mL], amount [mL], milk in `milk_unit`."""

    vitamin: str
    place: str
    product: str
    received: int
    strength: str
    amount: str
    milk: str
    milk_unit: str
    scanned: str = ""
    begins_now: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FlavorData(Said):
    """An ingredient into a vessel of pasteurized product, and why it may go in unheated."""

    place: str
    product: str
    received: int
    amount: str
    unit: str
    why: str = ""
    why_words: str = ""
    scanned: str = ""
    begins_now: bool = False
