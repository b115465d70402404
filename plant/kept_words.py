"""The words that records and plans keep in English as keys, in the reader's language."""

from __future__ import annotations

from django.utils.translation import gettext, gettext_noop, pgettext, pgettext_lazy

# Collected here for translation; what is not among them (a person's name, a plan's own word) stands as it is.
KEYS = (
    # what a limit stands on
    gettext_noop("text consulted"), gettext_noop("state mirror"), gettext_noop("twin"), gettext_noop("secondary"),
    gettext_noop("from memory"), gettext_noop("computed"), gettext_noop("plant rule"),
    # what a check weighs, and when it is missed
    gettext_noop("safety"), gettext_noop("legal"), gettext_noop("quality"),
    gettext_noop("next due or shift end"), gettext_noop("next due"), gettext_noop("shift end"),
    gettext_noop("day end"), gettext_noop("run end"), gettext_noop("use"),
    gettext_noop("day"), gettext_noop("run"), gettext_noop("tanker"), gettext_noop("label roll"),
    # hazards, control points, escalation
    gettext_noop("biological"), gettext_noop("chemical"), gettext_noop("physical"), gettext_noop("radiological"),
    gettext_noop("allergen"), gettext_noop("sanitation"), gettext_noop("supply-chain"), gettext_noop("prerequisite"),
    gettext_noop("operating"), gettext_noop("late"), gettext_noop("missed"), gettext_noop("deviation"),
    # states of a day sheet
    gettext_noop("draft"), gettext_noop("signed, operator in charge"), gettext_noop("signed, supervisor"),
    # what becomes of held product, how a quantity was found, what a finding without a control point is about
    gettext_noop("release"), gettext_noop("pasteurize again"), gettext_noop("rework"), gettext_noop("destroy"),
    gettext_noop("sent to another use"), gettext_noop("as the regulator wrote"), gettext_noop("level"),
    gettext_noop("meter"), gettext_noop("scale"), gettext_noop("count"), gettext_noop("book"), gettext_noop("service"),
    gettext_noop("pasteurization"), gettext_noop("storage"), gettext_noop("hold"),
    # accounts and who acts
    gettext_noop("added"), gettext_noop("left"), gettext_noop("role granted"), gettext_noop("role ended"),
    gettext_noop("PIN set"), gettext_noop("password set"), gettext_noop("PIN reset"), gettext_noop("password reset"),
    gettext_noop("confirmed"), gettext_noop("unlocked"), gettext_noop("certificate renewed"), gettext_noop("password"),
    gettext_noop("the watch"), gettext_noop("the installer"), gettext_noop("someone at the door"),
    # allergens named by law (21 U.S.C. 321(qq)), and pasteurization classes
    gettext_noop("milk"), gettext_noop("eggs"), gettext_noop("fish"), gettext_noop("crustacean shellfish"),
    gettext_noop("tree nuts"), gettext_noop("peanuts"), gettext_noop("wheat"), gettext_noop("soybeans"),
    gettext_noop("sesame"),
    # those that only Regulation (EU) No 1169/2011, Annex II names
    gettext_noop("cereals containing gluten"), gettext_noop("crustaceans"), gettext_noop("celery"),
    gettext_noop("mustard"), gettext_noop("sulfur dioxide and sulfites"), gettext_noop("lupin"),
    gettext_noop("mollusks"),
    gettext_noop("raised"), gettext_noop("mix"),
    # what recorders write, and a pasteurizer's set-ups
    gettext_noop("hold temperature"), gettext_noop("forward flow"), gettext_noop("pump running"), gettext_noop("flow"),
    gettext_noop("cooled product"), gettext_noop("pressure difference"), gettext_noop("tank temperature"),
    gettext_noop("wash temperature"), gettext_noop("wash strength"), gettext_noop("wash flow"),
    gettext_noop("trace"), gettext_noop("trace of the strength"), gettext_noop("trace of the flow"),
    gettext_noop("test strips"), gettext_noop("inspection"),
    gettext_noop("other"), gettext_noop("sealed pump"), gettext_noop("timing pump"),
    gettext_noop("running"), gettext_noop("bypassed"), gettext_noop("none"),
    # what a trace came to
    gettext_noop("not met or not proven"),
)  # fmt: skip
# A word that means another thing elsewhere.
WHY = {
    "entry": pgettext_lazy("why it was judged", "entry"),
    "amendment": pgettext_lazy("why it was judged", "amendment"),
    "calibration": pgettext_lazy("why it was judged", "calibration"),
    "import": pgettext_lazy("why it was judged", "import"),
}


def kept_word(key: str) -> str:
    """A key in words; empty for empty."""
    if key == "closed":
        return pgettext("a day sheet", "closed")
    return gettext(key) if key else ""


def why_said(key: str) -> str:
    """What a verdict was made for."""
    return str(WHY.get(key, key))
