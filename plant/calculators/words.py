"""The words that rows are typed with: understood in English and in the page's language, shown in the page's.

A row's word has one English key, which the calculation takes. Names that people give themselves (a stream, a vessel, a
step of a wash) are no such words and stay as they were typed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence

from django.utils.translation import gettext, gettext_noop

from plant.process.said import Said, say

YES_NO = ("yes", "no")
# Those of plant.kept_words (yes, milk, raised, flow …) are collected there.
CLASSES = (
    "milk", "raised", "mix", "eggnog", gettext_noop("ingredient"), gettext_noop("raised ingredient"),
    gettext_noop("cream for butter"), gettext_noop("plastic or frozen cream"),
)  # fmt: skip
HOMOGENIZER = ("none", "timing pump", "running", "bypassed")
QUANTITIES = (
    gettext_noop("time"), gettext_noop("temperature"), gettext_noop("conductivity"), gettext_noop("concentration"),
    "flow",
)  # fmt: skip
RESULTS = (
    gettext_noop("absent"), gettext_noop("not detected"), gettext_noop("negative"),
    gettext_noop("present"), gettext_noop("detected"), gettext_noop("positive"),
)  # fmt: skip
BULKY = (gettext_noop("cocoa"), gettext_noop("fruit or nuts"), "other")
# The kinds of product of plant.calculators.pasteurization_asks, as answers name them.
PRODUCTS = (
    "milk", gettext_noop("cream"), gettext_noop("half-and-half"), gettext_noop("sweetened milk"),
    gettext_noop("condensed milk"), gettext_noop("milk product"), gettext_noop("ice cream mix"),
    gettext_noop("frozen dessert mix"), "eggnog", gettext_noop("dairy ingredient"), "cream for butter",
    gettext_noop("plastic cream"),
)  # fmt: skip
# The 9 % rule stands where a percentage would.
RULE = gettext_noop("rule")
CONTENTS = (
    gettext_noop("fat"), gettext_noop("SNF"), gettext_noop("MSNF"), gettext_noop("other fat"),
    gettext_noop("whey solids"), gettext_noop("sucrose"), gettext_noop("corn syrup solids"), gettext_noop("dextrose"),
    gettext_noop("fructose"), gettext_noop("glucose"), gettext_noop("invert sugar"), gettext_noop("maltodextrin"),
    gettext_noop("honey solids"), gettext_noop("stabilizer"), gettext_noop("emulsifier"), gettext_noop("egg solids"),
    gettext_noop("other solids"), gettext_noop("sugars"), gettext_noop("milk solids"), gettext_noop("total solids"),
    gettext_noop("water"), gettext_noop("milkfat"), gettext_noop("sugar"), RULE,
)  # fmt: skip
LONGEST = 80  # of a word with its value: no more is looked at
_WITH_VALUE = re.compile(r"(.*?\S)(\s*[ =]\s*)([^\s%]+)(\s*%?)")


def folded(text: str) -> str:
    """A word for comparing: without case, accents and spare spaces."""
    bare = "".join(one for one in unicodedata.normalize("NFKD", text) if not unicodedata.combining(one))
    return " ".join(bare.split()).casefold()


def known(typed: str, keys: Iterable[str]) -> str:
    """The key that a word means, in English first, then in the page's language; empty where it means none."""
    found, every = folded(typed), tuple(keys)
    for shown in (str, gettext, shown_word):
        for key in every:
            if found and found == folded(shown(key)):
                return key
    return ""


def in_keys(part: str, keys: Sequence[str]) -> str:
    """A part of a row with the words of the page's language as their keys; what is none of them stays as typed.

    Words may stand in a list with commas, each with a value after it: "grasa 3.5, MSNF regla".
    """

    def key_of(word: str) -> str:
        key = known(word, keys)
        return "" if folded(key) == folded(word) else key

    return said_word(_turned(part, key_of), keys)


def in_page_words(part: str, keys: Sequence[str]) -> str:
    """The same the other way, for an example: keys as the words that a reader of the page would type."""
    return _turned(part, lambda word: shown_word(word) if word in keys else "")


def shown_word(key: str) -> str:
    """A key as it is typed in the page's language, without what a translation explains in brackets."""
    return gettext(key).partition(" (")[0]


def said_word(name: str, keys: Iterable[str] = CONTENTS) -> str:
    """A word that can be said again in the reader's language; a person's own name as it stands."""
    return say(name) if name in keys and not isinstance(name, Said) else name


def listed(parts: Sequence[str], between: str = ", ") -> str:
    """Parts as one text, each still to be said in the reader's language."""
    if not parts:
        return ""
    pattern = between.join(f"%(part{place})s" for place in range(len(parts)))
    return Said(pattern, {f"part{place}": part for place, part in enumerate(parts)})


def _turned(part: str, turn: Callable[[str], str]) -> str:
    """Every piece between commas, or its word before a value and the value, as `turn` has it; empty: as it stands."""
    return ",".join(_piece(one, turn) for one in part.split(","))


def _piece(piece: str, turn: Callable[[str], str]) -> str:
    word = piece.strip()
    if not word or len(word) > LONGEST:
        return piece
    turned = turn(word)
    found = None if turned else _WITH_VALUE.fullmatch(word)
    if found:
        turned = f"{turn(found[1]) or found[1]}{found[2]}{turn(found[3]) or found[3]}{found[4]}"
    return piece.replace(word, turned or word, 1)
