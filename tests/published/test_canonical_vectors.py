"""Canonical JSON against RFC 8785 (June 2020), as far as records use it: no fractions, names up to U+FFFF."""

from __future__ import annotations

import hashlib

import pytest

from records.ledger.canonical import NotCanonical, canonical

pytestmark = pytest.mark.once

STRING = "€$\x0f\nA'B\"\\\\\"/"


def test_string_and_literals_of_the_authors_sample() -> None:
    """The sample of the scheme's author (github.com/cyberphone/json-canonicalization, README), without its numbers."""
    expected = '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    assert canonical({"string": STRING, "literals": [None, True, False]}) == expected


def test_escaping_of_the_test_line() -> None:
    """The member 'escaping' of the test line: only what must be is escaped, in lower-case hex."""
    assert canonical({"escaping": STRING}) == '{"escaping":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'


def test_the_whole_sample_differs_only_in_its_numbers() -> None:
    """With the numbers as published put in by hand, the sample's bytes have the SHA-256 of the published bytes."""
    text = canonical({"string": STRING, "literals": [None, True, False], "numbers": []})
    text = text.replace("[]", "[333333333.3333333,1e+30,4.5,0.002,1e-27]")
    # Hash of the 118 bytes that the author also prints in hex.
    digest = hashlib.sha256(text.encode()).hexdigest()
    assert digest == "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"


def test_names_sort_by_their_utf16_units() -> None:
    """Section 3.2.3's sorting example (from memory), without its name beyond U+FFFF, which records refuse."""
    sample = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\x80": 5, "\xf6": 6}
    assert canonical(sample) == '{"\\r":2,"1":4,"\x80":5,"\xf6":6,"\u20ac":1,"\ufb33":3}'
    with pytest.raises(NotCanonical):
        canonical({"😀": 7})


@pytest.mark.parametrize("number", [333333333.33333329, 1e30, 4.50, 2e-3, 1e-27])
def test_numbers_of_the_sample_are_refused(number: float) -> None:
    """Records keep what is measured as text: a fraction in JSON is a mistake."""
    with pytest.raises(NotCanonical):
        canonical([number])


def test_whole_numbers_end_below_two_to_the_53() -> None:
    """I-JSON (RFC 7493 section 2.2): beyond ±(2^53 - 1) numbers are not exact everywhere."""
    assert canonical([2**53 - 1, -(2**53) + 1]) == "[9007199254740991,-9007199254740991]"
    for number in (2**53, -(2**53)):
        with pytest.raises(NotCanonical):
            canonical([number])
