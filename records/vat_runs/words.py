"""What happens in a vat's run, as pages say it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.run_rows.models import ENDED, NOTE, OPENED, UNUSUAL
from records.vat_runs.models import (
    HOLD_BEGUN,
    HOLD_ENDED,
    LOOKS,
    NO,
    NOT_SEEN,
    OUTLET_OPENED,
    OUTLET_SHUT,
    READ,
    YES,
    VatEvent,
)
from records.vat_runs.state import look_words


def what_words(what: str) -> str:
    """The name of an event in the reader's language."""
    return {
        OPENED: _("run begun"),
        HOLD_BEGUN: _("hold begun"),
        READ: _("thermometers read"),
        HOLD_ENDED: _("hold ended"),
        OUTLET_OPENED: _("outlet opened"),
        OUTLET_SHUT: _("outlet shut"),
        UNUSUAL: _("unusual occurrence"),
        NOTE: _("note"),
        ENDED: _("run ended"),
    }.get(what, what)


def state_words(state: str) -> str:
    """The state of a run in the reader's language."""
    return {
        "not holding": _("not holding yet"),
        "holding": _("holding"),
        "hold ended": _("hold ended"),
        "emptying": _("outlet open"),
        "ended": _("ended"),
    }[state]


def answer_words(answer: str) -> str:
    """An answer to a look, in the reader's language."""
    return {YES: _("yes"), NO: _("no"), NOT_SEEN: _("not seen")}.get(answer, answer)


def words_label(what: str) -> str:
    """What the free words of an event are asked for."""
    return _("What happened, and what was done") if what == UNUSUAL else _("Note")


def details(row: VatEvent) -> str:
    """What was said of an event, on one line."""
    parts = [row.product_name] if row.what in (OPENED, OUTLET_OPENED) else []
    if row.chart_number:
        parts.append(_("chart %(number)s") % {"number": row.chart_number})
    parts += _temperatures(row)
    if row.what == HOLD_BEGUN:
        parts += [f"{look_words(one)}: {answer_words(getattr(row, one))}" for one in LOOKS]
    if row.what == HOLD_ENDED:
        words = {"fill": row.fill_typed or _("not said"), "empty": row.empty_typed or _("not said")}
        parts.append(_("minutes of filling %(fill)s, of emptying %(empty)s") % words)
    if row.words:
        parts.append(row.words)
    return "; ".join(part for part in parts if part)


def _temperatures(row: VatEvent) -> list[str]:
    if not row.unit:
        return []
    words = {
        "seen": row.indicating_typed or "—", "recorded": row.recording_typed or "—", "air": row.air_space_typed or "—",
        "unit": row.unit,
    }  # fmt: skip
    return [_("indicating %(seen)s, recorder %(recorded)s, air space %(air)s %(unit)s") % words]
