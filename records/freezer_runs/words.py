"""What happens in a freezer's run, as pages say it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from plant.process.allergens import US_MAJOR
from plant.process.units import plain
from records.freezer_runs.models import (
    CUP,
    DESTROYED,
    DRAIN,
    DRAW,
    DRAW_BEGUN,
    DRAW_ENDED,
    FED,
    FIRST_RIGHT,
    HARDENING,
    KEPT,
    PURGED,
    REWORK,
    FreezerEvent,
)
from records.freezer_runs.state import about_words
from records.run_rows.models import ENDED, NOTE, OPENED, UNUSUAL

ALLERGENS = US_MAJOR


def what_words(what: str) -> str:
    """The name of an event in the reader's language."""
    return {
        OPENED: _("run begun"),
        PURGED: _("barrel purged"),
        DRAW_BEGUN: _("draw begun"),
        DRAW_ENDED: _("draw ended"),
        FIRST_RIGHT: _("first tubs right"),
        DRAW: _("draw temperature"),
        CUP: _("cup weighed"),
        FED: _("feeder filled"),
        HARDENING: _("into hardening"),
        UNUSUAL: _("unusual occurrence"),
        NOTE: _("note"),
        ENDED: _("run ended"),
    }.get(what, what)


def state_words(state: str) -> str:
    """The state of a run in the reader's language."""
    return {
        "not drawing": _("not drawing yet"),
        "drawing": _("drawing"),
        "between products": _("between products"),
        "ended": _("ended"),
    }[state]


def became_words(became: str) -> str:
    """What became of product, in the reader's language."""
    return {
        REWORK: _("like-flavor rework"),
        DRAIN: _("drain"),
        DESTROYED: _("destroyed"),
        KEPT: _("kept apart, not decided"),
    }.get(became, became)


def words_label(what: str) -> str:
    """What the free words of an event are asked for."""
    if what == UNUSUAL:
        return _("What happened, and what was done")
    return _("Note")


def allergen_words(names: str) -> str:
    """Allergens kept by comma, in the reader's language."""
    known = {
        "milk": _("milk"), "eggs": _("eggs"), "fish": _("fish"), "crustacean shellfish": _("crustacean shellfish"),
        "tree nuts": _("tree nuts"), "peanuts": _("peanuts"), "wheat": _("wheat"), "soybeans": _("soybeans"),
        "sesame": _("sesame"),
    }  # fmt: skip
    return ", ".join(known.get(one, one) for one in names.split(", ") if one)


def details(row: FreezerEvent) -> str:
    """What was said of an event, on one line."""
    parts = [row.product_name] if row.what in (OPENED, DRAW_BEGUN) else []
    if row.about:
        parts.append(about_words(row.about))
    if row.ingredient:
        words = {"name": row.ingredient, "lot": row.lot_code}
        parts.append(_("%(name)s, lot %(lot)s") % words)
    if row.amount_typed:
        parts.append(f"{row.amount_typed} {row.unit}")
    if row.overrun is not None:
        words = {
            "overrun": plain(row.overrun), "mix": row.cup_mix, "product": row.cup_product, "empty": row.cup_empty,
            "unit": row.mass_unit,
        }  # fmt: skip
        parts.append(_("overrun %(overrun)s %% (mix %(mix)s, product %(product)s, cup %(empty)s %(unit)s)") % words)
    if row.lb_gal is not None:
        parts.append(_("%(weight)s lb/gal") % {"weight": plain(row.lb_gal)})
    if row.minutes is not None:
        parts.append(_("%(minutes)s min after the draw") % {"minutes": plain(row.minutes)})
    parts += _tubs(row)
    if row.what == FED:
        parts.append(_("allergens: %(which)s") % {"which": allergen_words(row.allergens) or _("none")})
    if row.words:
        parts.append(row.words)
    return "; ".join(part for part in parts if part)


def _tubs(row: FreezerEvent) -> list[str]:
    found = []
    if row.tubs is not None:
        said = {
            FIRST_RIGHT: _("%(count)d tubs set aside before"),
            DRAW_ENDED: _("%(count)d tubs made"),
        }.get(row.what, _("%(count)d tubs"))
        found.append(said % {"count": row.tubs})
    if row.became:
        found.append(became_words(row.became))
    if row.use_within_h is not None:
        words = {"hours": row.use_within_h, "which": allergen_words(row.allergens)}
        found.append(_("to be used within %(hours)d h, into the same flavor; allergens: %(which)s") % words)
    return found
