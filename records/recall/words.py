"""The words of a recall's records in the reader's language."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.recall.models import CHECK, DESTROYED, GROWN, LOCATED, NOTE, NOTICE, PUBLIC, REPLY, RETURNED

# In the order in which a recall goes; the last is written by the watch alone.
STEPS = (NOTICE, REPLY, CHECK, PUBLIC, LOCATED, RETURNED, DESTROYED, NOTE)
REHEARSED = (LOCATED, NOTE)


def step_words(what: str) -> str:
    """A step of a recall."""
    said = {
        NOTICE: _("notice given"),
        REPLY: _("reply received"),
        CHECK: _("effectiveness check"),
        PUBLIC: _("telling the public: decided"),
        LOCATED: _("located"),
        RETURNED: _("returned"),
        DESTROYED: _("destroyed"),
        GROWN: _("the scope grew"),
        NOTE: _("note"),
    }
    return said.get(what, what)
