"""Words of the forms that decide something: read by the forms and by the acts alike."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.flow.data import PACKED


def is_packing(target: str | None, target_name: str | None) -> bool:
    """Whether a movement goes into packs: outside, in this word, in English or in the reader's language."""
    return not target and (target_name or "").strip().lower() in (PACKED, _("packed"))
