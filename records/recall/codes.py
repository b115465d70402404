"""The lot of a code as a person types it, or as a scanner types a pack's label: the code, or a GS1 element string."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from plant.process.gs1 import Gs1Error, gtin_14
from plant.process.gs1_scan import (
    BEST_BEFORE,
    USE_BY,
    ScanError,
    Scanned,
    is_bare,
    is_marked,
    plain_of,
    read_scan,
)
from records.deviations.errors import Refused
from records.flow.choices import product_of
from records.flow.common import plan_at
from records.labels.sheet import dates_of_pack
from records.lots.models import Lot
from records.lots.squeezed import Squeezed, squeezed

LONGEST = 200  # characters of a scan: codes are far shorter, an element string has other parts too
MOST_LIKE = 20


@dataclass(frozen=True, slots=True)
class Looked:
    """The lot, or a sentence for beside the field with the codes like it."""

    lot: Lot | None
    sentence: str = ""
    like: tuple[Lot, ...] = ()


def look(typed: str, year: int) -> Looked:
    """The lot of what was typed or scanned. Spaces and case are forgiven where only one code fits.

    `year`: now, for the two-digit years of a scan. Two or three statements; only a miss looks at all codes.
    """
    if len(typed) > LONGEST:
        words = {"most": LONGEST}
        return Looked(None, _("This is longer than %(most)d characters; no label carries so much.") % words)
    text = plain_of(typed)
    found = _exact(text)  # a code may have brackets too
    if found is not None:
        return Looked(found)
    if is_marked(typed) or is_bare(typed):
        return _of_scan(typed, year)
    if not text.isprintable():
        return Looked(None, sentence_of(ScanError("characters")))
    near = _near(text)
    if len(near) == 1:
        return Looked(near[0])
    like = near or tuple(Lot.objects.filter(code__icontains=text).order_by("-number")[:MOST_LIKE])
    return Looked(None, _("No lot of the code “%(code)s” was packed.") % {"code": text}, like)


def lot_of(typed: str, year: int) -> Lot | None:
    """For an act: the lot of exactly this code, or of a scan. Refused beside 'code' for a scan that names none."""
    found = _exact(plain_of(typed))
    if found is not None or not (is_marked(typed) or is_bare(typed)):
        return found
    looked = look(typed, year)
    if looked.lot is None:
        raise Refused(looked.sentence, "code")
    return looked.lot


def lot_meant(typed: str, year: int, field: str) -> Lot:
    """For an act that forgives what the search forgives. Refused beside `field` where no one lot fits, with those like.

    `typed` has to be some text.
    """
    looked = look(typed, year)
    if looked.lot is not None:
        return looked.lot
    like = ", ".join(one.code for one in looked.like if one.code and one.code not in looked.sentence)
    raise Refused(_("%(sentence)s Codes like it: %(codes)s.") % {"sentence": looked.sentence, "codes": like}
                  if like else looked.sentence, field)  # fmt: skip


def _exact(text: str) -> Lot | None:
    return Lot.objects.filter(code=text).first() if text and text.isprintable() else None


def _near(text: str) -> tuple[Lot, ...]:
    rows = Lot.objects.alias(squeezed=Squeezed("code")).filter(squeezed=squeezed(text))
    return tuple(rows.order_by("-number")[:MOST_LIKE])


def _of_scan(typed: str, year: int) -> Looked:
    try:
        scanned = read_scan(typed, year)
    except ScanError as error:
        return Looked(None, sentence_of(error))
    near = _near(scanned.lot)
    fits = _of_gtin(near, scanned)
    if len(fits) > 1:  # as it stands on the label: with its case
        fits = [one for one in fits if "".join((one.code or "").split()) == scanned.lot]
    if len(fits) == 1:
        other = _another_day(fits[0], scanned)
        return Looked(None, other, tuple(fits)) if other else Looked(fits[0])
    if not near:
        words = {"lot": scanned.lot}
        return Looked(None, _("The scan names lot %(lot)s (10). No lot of that code was packed.") % words)
    if not fits:
        words = {"lot": scanned.lot, "gtin": scanned.gtin}
        sentence = _("The scan names lot %(lot)s (10) of GTIN %(gtin)s (01), which is not its product's in the plan.")
        return Looked(None, sentence % words, near)
    return Looked(None, _("More than one code fits this scan. Choose below."), tuple(fits))


def _another_day(lot: Lot, scanned: Scanned) -> str:
    """Why the dates of a scan cannot stand on this lot's label; empty where they can, or where nothing says so."""
    if not (scanned.best_before or scanned.use_by or scanned.produced):
        return ""
    dates = dates_of_pack(lot)
    if dates is None:
        return ""
    for identifier, day in ((BEST_BEFORE, scanned.best_before), (USE_BY, scanned.use_by)):
        if day is not None and dates.best_before is not None and day != dates.best_before:
            sentence = _(
                "The scan says %(scanned)s (%(identifier)s), and the label of %(code)s says %(label)s. Is it of another"
                " day's packs? Look at the pack, and type the code that stands on it."
            )
            return sentence % {
                "identifier": identifier, "scanned": day, "code": lot.code, "label": dates.best_before,
            }  # fmt: skip
    if scanned.produced is not None and scanned.produced > dates.packed_on:
        sentence = _(
            "The scan says that it was produced on %(scanned)s (11), and %(code)s was packed on %(label)s. Look at the"
            " pack, and type the code that stands on it."
        )
        return sentence % {"scanned": scanned.produced, "code": lot.code, "label": dates.packed_on}
    return ""


def _of_gtin(lots: Iterable[Lot], scanned: Scanned) -> list[Lot]:
    """Those whose product had this GTIN when they were packed; all of them for a scan without one."""
    if not scanned.gtin:
        return list(lots)
    found = []
    for lot in lots:
        product = product_of(plan_at(lot.observed_at), lot.product)
        try:
            same = product is not None and gtin_14(product.gtin) == scanned.gtin
        except Gs1Error:  # the plan has none for it
            same = False
        if same:
            found.append(lot)
    return found


def sentence_of(error: ScanError) -> str:
    """What is wrong with a scan, in the words of who holds the scanner."""
    told = {
        "characters": _("There are characters in it that no label carries. Scan it again, or type the code."),
        "check digit": _("The check digit of the GTIN (01) is wrong. Scan it again, or type the code."),
        "digits": _("The GTIN (01) has 14 digits, and nothing else. Scan it again, or type the code."),
        "short": _("The scan is cut short in (%(identifier)s). Scan it again, or type the code."),
        "length": _("There is too much in (%(identifier)s). Scan it again, or type the code."),
        "long": _("There are more than 20 characters in (%(identifier)s). Scan it again, or type the code."),
        "lot": _("The lot (10) is empty, or has characters that no label carries. Scan it again, or type the code."),
        "date": _("There is no such day in (%(identifier)s). Scan it again, or type the code."),
        "twice": _("(%(identifier)s) stands in it twice and differs. Was more than one label scanned?"),
        "identifier": _("“%(identifier)s” is no identifier of a label. Scan it again, or type the code."),
        "no lot": _("This scan names no lot (10). Type the code that stands on the pack."),
    }
    return told[error.fault] % {"identifier": error.identifier}
