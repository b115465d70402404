"""A batch as it stands: its sheet, what was weighed, confirmed and tested, and what is missing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from plant.process.properties import UsualDensity, between
from plant.process.units import plain, rounded
from records.batches.computing import Weighed, blend_is, off_percent
from records.batches.models import AdditionConfirmed, BatchAddition, BatchSheet, BlendTest
from records.flow.densities import by_contents, kind_of
from records.ingredients.keeping import first_of, latest_of, standing
from records.people.plans import InForce

MOST = 40


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a sheet with what was weighed of it. `off` in % of its target, None before anything was weighed."""

    at: int
    said: dict[str, Any]
    additions: tuple[BatchAddition, ...]
    weighed: Decimal | None
    off: Decimal | None
    beyond: bool
    unconfirmed: tuple[BatchAddition, ...]


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch: `number` is that of its first sheet, `sheet` the one that stands.

    `weighed`: of each addition, by its number, the line that it was weighed against.
    """

    number: int
    sheet: BatchSheet
    lines: tuple[Line, ...]
    tests: tuple[BlendTest, ...]
    confirmed: dict[int, AdditionConfirmed]
    weighed: dict[int, Weighed]
    blend: dict[str, str]

    @property
    def off_the_sheet(self) -> list[tuple[str, Decimal]]:
        """(name, kg) of what was weighed in and the sheet that stands asks for no more."""
        return [(str(one.line["name"]), one.net) for one in self.weighed.values() if one.at is None]


def batch_of(number: int) -> Batch | None:
    """The batch of a sheet's number, None where there is none or it did not happen."""
    sheet = latest_of(BatchSheet, number)
    if sheet is None or sheet.void:
        return None
    first = first_of(sheet).number
    every = list(BatchAddition.objects.filter(sheet=first).order_by("observed_at", "number"))
    replaced = {one.amends for one in every}
    additions = [one for one in every if one.number not in replaced and not one.void]
    confirmed = {one.addition: one for one in AdditionConfirmed.objects.filter(sheet=first)}
    tests = standing(BlendTest.objects.filter(sheet=first)).order_by("observed_at", "number")
    weighed = _weighed(every, additions, _sheets(sheet), sheet)
    masses = weighed_of(weighed.values())
    lines = tuple(
        _line(at, one, sheet, [each for each in additions if weighed[each.number].at == at], masses, confirmed)
        for at, one in enumerate(sheet.lines)
    )
    blend = blend_is(sheet.lines, list(weighed.values()))
    return Batch(first, sheet, lines, tuple(tests), confirmed, weighed, blend)


def _sheets(last: BatchSheet) -> list[BatchSheet]:
    """The sheets of a batch, each computed again after the one before; the last one is given."""
    found = [last]
    while found[0].amends is not None:
        found.insert(0, BatchSheet.objects.get(number=found[0].amends))
    return found


def _weighed(
    every: list[BatchAddition], additions: list[BatchAddition], sheets: list[BatchSheet], stands: BatchSheet
) -> dict[int, Weighed]:
    """Of each addition that stands: the line it was weighed against, and where the sheet that stands asks for it.

    An amended addition was weighed when the first of its line was.
    """
    before = {one.number: one.amends for one in every}
    found = {}
    for one in additions:
        number = one.number
        while (earlier := before.get(number)) is not None:
            number = earlier
        stood = [sheet for sheet in sheets if sheet.number < number] or sheets[:1]
        line = next(sheet.lines[one.line] for sheet in (*reversed(stood), *sheets) if one.line < len(sheet.lines))
        found[one.number] = Weighed(line, one.net, place_of(line, one.line, stands))
    return found


def place_of(line: dict[str, Any], at: int, sheet: BatchSheet) -> int | None:
    """The line of a sheet for the same thing from the same vessel: at the same place, else the first such."""
    places = [at, *range(len(sheet.lines))]
    wanted = (line["name"].casefold(), line["source"])
    known = {place: (one["name"].casefold(), one["source"]) for place, one in enumerate(sheet.lines)}
    return next((one for one in places if known.get(one) == wanted), None)


def weighed_of(weighed: Iterable[Weighed]) -> dict[int, Decimal]:
    """The mass weighed of each line of the sheet that stands [kg]."""
    found: dict[int, Decimal] = {}
    for one in weighed:
        if one.at is not None:
            found[one.at] = found.get(one.at, Decimal(0)) + one.net
    return found


def _line(
    at: int, said: dict[str, Any], sheet: BatchSheet, mine: list[BatchAddition], weighed: dict[int, Decimal],
    confirmed: dict[int, AdditionConfirmed],
) -> Line:  # fmt: skip
    off = off_percent(weighed[at], Decimal(said["target"])) if at in weighed else None
    beyond = off is not None and abs(off) > sheet.tolerance
    open_ = tuple(one for one in mine if asks_second(one) and one.number not in confirmed)
    return Line(at, said, tuple(mine), weighed.get(at), off, beyond, open_)


def room(batch: Batch, in_force: InForce) -> tuple[Decimal, UsualDensity] | None:
    """The volume of a batch in the plant's unit, by its last test, else by its sheet; None where nothing is in it."""
    kg = Decimal(batch.blend.get("kg", "0"))
    if kg <= 0:
        return None
    product = next((one for one in in_force.plan.products if one.code == batch.sheet.product), None)
    last = batch.tests[-1] if batch.tests else None
    fat = last.fat if last is not None else Decimal(batch.sheet.computed["fat"])
    solids = last.solids if last is not None else Decimal(batch.sheet.computed["solids"])
    density = by_contents(kind_of(product), float(fat), float(solids))
    return rounded(between(kg, "kg", in_force.plan.plant.volume_unit, density.lb_per_gal), 1), density


def asks_second(one: BatchAddition) -> bool:
    """Whether an addition asks for a scan or a second person: it has an allergen, and no scan read its lot."""
    return bool(one.allergen) and not one.scanned


def missing(batch: Batch) -> list[str]:
    """What the batch lacks, in words."""
    found = []
    for line in batch.lines:
        words = {"name": line.said["name"], "target": line.said["target"]}
        if line.weighed is None and Decimal(line.said["target"]) > 0:
            found.append(_("%(name)s: %(target)s kg are not weighed in yet") % words)
        if line.beyond:
            words |= {"off": line.off, "tolerance": plain(batch.sheet.tolerance)}
            sentence = _("%(name)s: %(off)s %% off its target, the sheet allows %(tolerance)s %%: put it right")
            found.append(sentence % words)
        if line.unconfirmed:
            found.append(_("%(name)s has an allergen: a second person has not confirmed it") % words)
    for name, net in batch.off_the_sheet:
        words = {"name": name, "net": plain(net)}
        found.append(_("%(name)s: %(net)s kg are in it, and this sheet does not ask for it: compute it again") % words)
    if not batch.tests:
        found.append(_("no fat and solids test of the blend"))
    return found


def latest(limit: int = MOST) -> list[BatchSheet]:
    """The latest sheets that stand, the newest first."""
    return list(standing(BatchSheet.objects.all()).order_by("-observed_at", "-number")[:limit])


def batches_between(start: datetime, end: datetime) -> list[Batch]:
    """The batches of which a sheet, an addition or a test lies in [start, end), in order."""
    within = {"observed_at__gte": start, "observed_at__lt": end}
    numbers = {first_of(one).number for one in BatchSheet.objects.filter(**within)}
    numbers |= set(BatchAddition.objects.filter(**within).values_list("sheet", flat=True))
    numbers |= {one for one in BlendTest.objects.filter(**within).values_list("sheet", flat=True) if one}
    return [one for number in sorted(numbers) if (one := batch_of(number)) is not None]
