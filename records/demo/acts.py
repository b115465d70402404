"""What the people of the invented days do, as plain data: who reads the scenario needs no code.

Times are "HH:MM" on the plant's clock, within the plant day (which begins at 05:00). Nothing here writes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Move:
    """Product from `source` to `target` (codes; outside by its words), told when it begins and when it ends."""

    at: str
    end: str
    source: str
    target: str
    product: str
    quantity: str
    unit: str = "gal"
    via: str = ""
    code: str = ""  # what stands on the packs; {day} becomes the plant day
    emptied: bool = False
    from_outside: str = ""
    to_outside: str = ""
    measured_by: str = "level"


@dataclass(frozen=True, slots=True)
class Washed:
    """A wash or a sanitizing of several places by the plan's programs, one after the other, told when it has ended."""

    at: str
    end: str
    places: tuple[str, ...]
    what: str = "washed"
    days_back: int = 0  # 1: on the day before, written down now


@dataclass(frozen=True, slots=True)
class Ready:
    """The looks before first product: every gate that the plan has at these places."""

    at: str
    places: tuple[str, ...]
    product_class: str = "milk"
    product: str = ""  # what the press will run; its start is begun with these looks


@dataclass(frozen=True, slots=True)
class Look:
    """What is asked of an event before it begins: a tanker at the bay, before its hose is connected, and of whom."""

    at: str
    event: str
    place: str
    farm: str = ""
    pounds: str = ""


@dataclass(frozen=True, slots=True)
class Happened:
    """An event that the plan may ask checks for."""

    at: str
    event: str
    place: str = ""
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Stock:
    """Product that was there before the book began."""

    at: str
    place: str
    product: str
    quantity: str
    unit: str = "gal"


@dataclass(frozen=True, slots=True)
class Say:
    """How one due check is answered otherwise than usual. `due` narrows it to that time; `at` says when it is read.

    `never`: nobody answers it. `paper`: number of the paper form; `at` is then the time on paper and `keyed` when it
    was copied.
    """

    key: str
    place: str = ""
    due: str = ""
    at: str = ""
    typed: str = ""
    not_taken: str = ""
    note: str = ""
    paper: str = ""
    keyed: str = ""
    reason: str = ""
    one_place: tuple[str, str] = ("", "")  # of a list of places: this one is answered so
    never: bool = False


@dataclass(frozen=True, slots=True)
class Again:
    """A second reading that no check asked for: after something was put right, or to be sure."""

    at: str
    key: str
    place: str
    typed: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Noted:
    """What was done or seen, added to the last reading of a check."""

    at: str
    key: str
    place: str
    text: str


@dataclass(frozen=True, slots=True)
class Amended:
    """The last reading of a check amended by the one who took it."""

    at: str
    key: str
    place: str
    typed: str
    reason: str


@dataclass(frozen=True, slots=True)
class Corrected:
    """A minor matter put right, one line under the last reading of a check."""

    at: str
    key: str
    place: str
    text: str


@dataclass(frozen=True, slots=True)
class Answered:
    """The parts of a corrective action, by who wrote them."""

    at: str
    control_point: str
    place: str
    parts: dict[str, str] = field(default_factory=dict)
    by: str = "wren"


@dataclass(frozen=True, slots=True)
class Disposed:
    """What becomes of everything that a deviation holds: one proposes, another signs."""

    at: str
    control_point: str
    place: str
    what: str
    reason: str
    by: str = "wren"
    second: str = "odile"


@dataclass(frozen=True, slots=True)
class ClosedDeviation:
    """A deviation closed, by somebody who took none of its readings."""

    at: str
    control_point: str
    place: str
    text: str
    by: str = "wren"


@dataclass(frozen=True, slots=True)
class PowerOut:
    """An outage, opened when it is over, with its end."""

    at: str
    since: str
    until: str
    what: str
    text: str
    covers: tuple[tuple[str, str], ...] = ()  # (what, where)


@dataclass(frozen=True, slots=True)
class Fell:
    """The temperature of the press fell to `value` for some seconds; `diverted`: the diversion device saw it."""

    at: str  # "HH:MM:SS"
    seconds: int
    value: str
    diverted: bool = True


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recorder's file brought in: of the press since a time of this day, of the tanks or the CIP since their last."""

    at: str
    of: str  # press, tanks, cip
    since: str = ""
    fell: tuple[Fell, ...] = ()
    by: str = "wren"


@dataclass(frozen=True, slots=True)
class Diverted:
    """The press diverted and went forward again, as the event pen shows; told at `at`."""

    at: str
    since: str
    until: str
    why: str


@dataclass(frozen=True, slots=True)
class ChartOn:
    """A paper chart of 24 h put on the press's recorder; `shown`: the indicating thermometer at that moment."""

    at: str
    number: str
    shown: str


@dataclass(frozen=True, slots=True)
class ChartOff:
    """The press's chart taken off and signed, with what is written on it; `next_one`: the chart put on in its place."""

    at: str
    shown: str
    products: str
    unusual: str = ""
    next_one: str = ""


@dataclass(frozen=True, slots=True)
class Froze:
    """Something said of the freezer's run that goes on; `said` as the parts of its form. `drawn`: minutes before it."""

    at: str
    what: str
    said: dict[str, Any] = field(default_factory=dict)
    drawn: int = 0


@dataclass(frozen=True, slots=True)
class Reworked:
    """The rework set aside last goes into a vessel, all of it; without a vessel it is thrown away, to the drain."""

    at: str
    into: str
    product: str
    quantity: str
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class Sent:
    """Packs of a code that leave for somebody; how they are packed, and the carrier with address and telephone."""

    at: str
    code: str
    to: str
    address: str
    quantity: str
    phone: str = ""
    email: str = ""
    packed_as: str = ""
    carrier: str = "own van"


@dataclass(frozen=True, slots=True)
class CameBack:
    """Packs of a code of `days_ago` that a customer sent back; kept apart, on hold."""

    at: str
    code: str
    sender: str
    quantity: str
    temperature: str
    condition: str
    reason: str
    kept_where: str
    days_ago: int = 0


@dataclass(frozen=True, slots=True)
class Settled:
    """What becomes of all that came back of a code: one proposes, another signs."""

    at: str
    code: str
    what: str
    reason: str
    days_ago: int = 0
    by: str = "wren"
    second: str = "odile"


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """A rehearsal of a recall of a code. `located`: minutes after it began, gallons, at whom, how it was counted."""

    at: str
    code: str
    why: str
    located: tuple[tuple[int, str, str, str], ...]
    minutes: int
    outcome: str


@dataclass(frozen=True, slots=True)
class Challenged:
    """The metal detector at `place` challenged with its three test pieces, all seen."""

    at: str
    place: str
    when: str


@dataclass(frozen=True, slots=True)
class Strained:
    """A strainer opened and found whole, with nothing caught; or another `device`, as good."""

    at: str
    place: str
    after: str
    device: str = "strainer"


@dataclass(frozen=True, slots=True)
class Counted:
    """Parts counted at strip-down: all that the list has."""

    at: str
    place: str
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Cleared:
    """The filling line cleared for a product, and checked by the owner; `labels`, `lids`: how many came off."""

    at: str
    product: str
    labels: str = ""
    lids: str = ""


@dataclass(frozen=True, slots=True)
class Roll:
    """A label roll, lid or tub sleeve opened for a product; `printed`: another product that stands on it."""

    at: str
    kind: str
    code: str
    product: str
    issued: str
    printed: str = ""


@dataclass(frozen=True, slots=True)
class RollCounted:
    """A roll or sleeve counted off the filling line."""

    at: str
    code: str
    used: str
    returned: str
    damaged: str
    because: str = ""


@dataclass(frozen=True, slots=True)
class Sampled:
    """A sample of `kind` taken: of a packed `lot`, at a `place` or of a `farm`; `bench`: for the plant's own bench."""

    at: str
    code: str
    kind: str
    tests: tuple[str, ...] = ()
    lot: str = ""
    place: str = ""
    farm: str = ""
    bench: bool = False
    words: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """Results of a sample of that day, or of `days_ago` days before, as the laboratory wrote them."""

    at: str
    code: str
    results: tuple[tuple[str, str], ...]
    days_ago: int = 0
    batch: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Approved:
    """A supplier approved for an item, for half a year, by the qualified individual."""

    at: str
    supplier: str
    item: str
    hazard: str
    grounds: str


@dataclass(frozen=True, slots=True)
class Supplied:
    """A lot of an ingredient received with its certificate; what its label declares."""

    at: str
    supplier: str
    item: str
    lot: str
    quantity: str
    unit: str = "kg"
    allergens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of a batch sheet: contents as tested or certified [% by mass]; `source` a vessel, `fixed` in kg."""

    name: str
    source: str = ""
    fat: str = ""
    snf: str = ""
    sugar: str = ""
    other: str = ""
    test: str = ""
    fixed: str = ""


@dataclass(frozen=True, slots=True)
class Computed:
    """A batch sheet computed: contents in % by mass, `total` in kg."""

    at: str
    number: str
    product: str
    lines: tuple[SheetLine, ...]
    total: str
    fat: str
    snf: str = ""
    sugar: str = ""
    place: str = "blend-vat"


@dataclass(frozen=True, slots=True)
class WeighedIn:
    """One line of a sheet weighed in [kg]; `lot` of an ingredient, which a scanner read where `scanned`."""

    at: str
    number: str
    what: str
    gross: str
    tare: str = ""
    lot: str = ""
    scanned: bool = False


@dataclass(frozen=True, slots=True)
class Enriched:
    """A vitamin into milk of a vessel: the concentrate's lot, IU/mL and mL, and the gallons of milk."""

    at: str
    vitamin: str
    lot: str
    strength: str
    amount: str
    gallons: str
    product: str = "two-percent"
    place: str = "blend-vat"


@dataclass(frozen=True, slots=True)
class Flavored:
    """A flavor into pasteurized product, with the reason why it may go in unheated."""

    at: str
    place: str
    product: str
    lot: str
    amount: str
    unit: str
    why: str
    shown_by: str


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A second person looks at what was added to a vessel that day and nobody else has seen."""

    at: str
    place: str
    by: str = "hanne"


@dataclass(frozen=True, slots=True)
class Trained:
    """A training of some people, `days_ago` before that day, written down by the supervisor."""

    at: str
    training: str
    people: tuple[str, ...]
    days_ago: int
    trainer: str
    proven: str = "test"
    note: str = ""


Doing = (
    Move | Washed | Ready | Look | Happened | Stock | Again | Noted | Amended | Corrected
    | Answered | Disposed | ClosedDeviation | PowerOut | Recorded
    | Diverted | ChartOn | ChartOff | Froze | Reworked | Sent | CameBack | Settled | Rehearsed
    | Challenged | Strained | Counted | Cleared | Roll | RollCounted | Sampled | Found
    | Approved | Supplied | Computed | WeighedIn | Enriched | Flavored | LookedAt | Trained
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Day:
    """One plant day: what is done, what is answered otherwise than usual, what the shifts tell each other."""

    title: str
    doing: tuple[Doing, ...] = ()
    saying: tuple[Say, ...] = ()
    morning_notes: str = ""
    evening_notes: str = ""
    reviewed_next_morning: bool = True
