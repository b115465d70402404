"""The drawings' words in translation, and the marks in templates."""

from __future__ import annotations

import pytest
from django.template import engines

from plant.picture_words import chart_words, gauge_words, outcome_words, stop_words
from plant.pictures import day_chart, gauge, marks
from plant.process.limits import Outcome


def test_every_word_of_the_drawings_can_be_translated() -> None:
    """Each drawing's words have their translated twin, in English the same."""
    assert chart_words() == day_chart.WORDS
    assert gauge_words() == gauge.WORDS
    assert outcome_words() == marks.OUTCOME_WORDS
    assert stop_words() == marks.STOP_WORDS


@pytest.mark.parametrize("outcome", list(Outcome))
def test_a_mark_in_a_template_stands_beside_its_word(outcome: Outcome) -> None:
    """The tag draws the mark and writes the word, from the stored text of a verdict too."""
    html = engines["django"].from_string("{% load pictures %}{% mark outcome %}").render({"outcome": str(outcome)})
    assert html.startswith('<span class="marked"><svg')
    assert html.endswith(f"</svg>{outcome_words()[outcome]}</span>")


def test_a_mark_without_room_still_says_its_word() -> None:
    """A mark alone carries its word for a screen reader."""
    html = engines["django"].from_string("{% load pictures %}{% mark_alone 'not met' ident='m1' %}").render({})
    assert '<title id="m1-t">out of limits</title>' in html


def test_a_stop_in_a_template_has_its_square() -> None:
    """The tag draws the square, hidden from screen readers, who read the note."""
    html = engines["django"].from_string("{% load pictures %}{% stop_square 'late' %}").render({})
    assert 'class="stop-mark"' in html and 'aria-hidden="true"' in html
