"""What a step of a wash is called in the reader's language."""

from django.utils.translation import gettext as _


def step_words(step: str) -> str:
    """The name of a step in the reader's language."""
    return {
        "pre-rinse": _("pre-rinse"),
        "alkaline wash": _("alkaline wash"),
        "rinse": _("rinse"),
        "acid wash": _("acid wash"),
        "final rinse": _("final rinse"),
        "wash": _("wash"),
        "sanitize": _("sanitize"),
        "inspection": _("inspection by eye"),
    }.get(step, step)
