"""The tests that a pasteurizer's parts are proved by: the numbered tests, and which of them follow work on which part.

The numbers 1 to 9 are those of La. 51 VII-313 (text consulted); which device each of 5.1 to 5.9 is for, and 10 to 12,
are from memory of the Grade "A" PMO, Appendix I. Which tests follow which work is from memory too, on the side of
caution: the regulator says what has to be repeated.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as say
from django.utils.translation import gettext_lazy as _

from plant.rules.intervals import HOLDING, INSTRUMENTS

READ, MEMORY = "text consulted", "from memory"
HOLDING_TIME = "11"


@dataclass(frozen=True, slots=True)
class NumberedTest:
    """One test of the list; `row` of the rule set says how often, `basis` how far the number's own text was read."""

    number: str
    name: Promise
    row: str = INSTRUMENTS
    basis: str = READ

    @property
    def words(self) -> str:
        """'5.6, response time of the diversion device'."""
        return f"{self.number}, {self.name}"


@dataclass(frozen=True, slots=True)
class Part:
    """A part that is worked on, the numbers of the tests that follow, and whether the law wants it sealed."""

    key: str
    name: Promise
    tests: tuple[str, ...]
    sealed: bool = False
    usual: bool = True  # most pasteurizers have it; its tests are missed where no record of them exists


_TESTS = (
    NumberedTest("1", _("indicating thermometer: temperature")),
    NumberedTest("2", _("recorder: temperature")),
    NumberedTest("3", _("recorder: time")),
    NumberedTest("4", _("recorder against indicating thermometer")),
    NumberedTest("5.1", _("diversion device: leak past the valve"), basis=MEMORY),
    NumberedTest("5.2", _("diversion device: free movement"), basis=MEMORY),
    NumberedTest("5.3", _("diversion device: assembly, single stem"), basis=MEMORY),
    NumberedTest("5.4", _("diversion device: assembly, dual stem"), basis=MEMORY),
    NumberedTest("5.5", _("diversion device: manual diversion"), basis=MEMORY),
    NumberedTest("5.6", _("diversion device: response time"), basis=MEMORY),
    NumberedTest("5.7", _("diversion device: delay for inspection"), basis=MEMORY),
    NumberedTest("5.8", _("diversion device: delay for CIP"), basis=MEMORY),
    NumberedTest("5.9", _("diversion device: delay of the leak-detect flush"), basis=MEMORY),
    NumberedTest("6", _("leak-protector valve")),
    NumberedTest("7", _("indicating thermometer: response")),
    NumberedTest("8", _("recorder: response")),
    NumberedTest("9", _("regenerator: pressure controls")),
    NumberedTest("10", _("cut-in and cut-out temperatures"), basis=MEMORY),
    NumberedTest(HOLDING_TIME, _("holding time"), HOLDING, MEMORY),
    NumberedTest("12", _("other controls"), basis=MEMORY),
)
TESTS = {one.number: one for one in _TESTS}
_DEVICE = ("5.1", "5.2", "5.3", "5.4", "5.5", "5.6", "5.7", "5.8", "5.9")
_PARTS = (
    Part("timing pump", _("timing pump or its drive"), (HOLDING_TIME,), sealed=True),
    Part("homogenizer", _("homogenizer"), (HOLDING_TIME,)),
    Part("holding tube", _("holding tube"), (HOLDING_TIME,)),
    Part("plates", _("plates and gaskets of the press"), ("9", HOLDING_TIME)),
    Part("diversion device", _("flow diversion device"), (*_DEVICE, "10"), sealed=True),
    Part("recorder", _("recorder-controller"), ("2", "3", "4", "8", "10"), sealed=True),
    Part("indicating thermometer", _("indicating thermometer"), ("1", "4", "7")),
    Part("pressure controls", _("pressure gauges, switches or controllers"), ("9",)),
    Part("booster pump", _("booster pump or its wiring"), ("9",), usual=False),
    Part("meter", _("flow meter or its controller"), (HOLDING_TIME, "12"), usual=False),
    Part("wiring", _("wiring or program of the public-health controls"), (*_DEVICE, "9", "10", HOLDING_TIME, "12")),
    Part("leak-protector valve", _("leak-protector valve of a vat"), ("6",), usual=False),
)
OTHER = "other"
PARTS = {one.key: one for one in _PARTS}
# The tests that every continuous pasteurizer has some of: where none of a line is in the book, that is said.
EXPECTED: tuple[tuple[str, ...], ...] = (
    ("1",), ("2",), ("3",), ("4",), _DEVICE, ("7",), ("8",), ("9",), ("10",),
)  # fmt: skip


def part_choices() -> list[tuple[str, str]]:
    """Every part with its words; the last is anything else."""
    return [*((one.key, str(one.name)) for one in _PARTS), (OTHER, say("another part"))]


def part_words(key: str) -> str:
    """A part in words; one that this list does not have stands as it is."""
    found = PARTS.get(key)
    return str(found.name) if found else say("another part") if key == OTHER else key


def test_choices() -> list[tuple[str, str]]:
    """Every numbered test but the holding time, which has a form of its own."""
    return [(one.number, one.words) for one in _TESTS if one.number != HOLDING_TIME]


def test_words(number: str) -> str:
    """A test in words; a number that this list does not have stands as it is."""
    return TESTS[number].words if number in TESTS else number


def tests_after(part: str, seals_broken: bool) -> list[str]:
    """The tests to be repeated after work on a part of a pasteurizer, in order of their numbers.

    Breaking any seal asks for the holding time again: ATCP 65.68(3)(c) (text consulted).
    """
    numbers = set(PARTS[part].tests) if part in PARTS else set()
    if seals_broken:
        numbers.add(HOLDING_TIME)
    return in_order(numbers)


def in_order(numbers: Iterable[str]) -> list[str]:
    """Numbers of tests in the order of the list; unknown ones last."""
    known = list(TESTS)
    return sorted(numbers, key=lambda one: (known.index(one) if one in TESTS else len(known), one))


def seal_places() -> list[str]:
    """Where a pasteurizer is sealed at least: pump, diversion device, recorder."""
    return [one.key for one in _PARTS if one.sealed]
