"""The frame of every page, and the pages for what went wrong."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.template import engines
from django.template.loader import render_to_string
from django.utils import translation

pytestmark = pytest.mark.once

NAV = [("Round", "/round/", True), ("Floor", "/floor/", False)]
CHILD = (
    '{% extends "base.html" %}{% block title %}Round{% endblock %}{% block heading %}Round{% endblock %}'
    "{% block content %}<p>what is due</p>{% endblock %}"
)
CAUTION = "The legal recorder, the sealed timing pump and the regulator keep the last word."


def _page(**context: Any) -> str:
    return engines["django"].from_string(CHILD).render(context)


def test_a_page_has_one_top_heading_and_a_title() -> None:
    """The heading of the page is its only h1."""
    html = _page()
    assert re.findall(r"<h1>(.*?)</h1>", html) == ["Round"]
    assert "<title>Round ·" in html


def test_the_first_link_skips_to_the_page() -> None:
    """The skip link comes first and leads to the main part, which can take the focus."""
    html = _page(nav=NAV)
    assert re.findall(r'<a [^>]*href="([^"]*)"', html)[0] == "#main"
    assert '<main id="main" tabindex="-1"' in html


def test_the_present_page_is_marked_in_the_navigation() -> None:
    """One entry of the navigation is the current page."""
    html = _page(nav=NAV)
    assert re.findall(r'<a href="([^"]*)" aria-current="page">', html) == ["/round/"]


def test_a_page_without_navigation_has_no_empty_one() -> None:
    """Nobody signed in, nothing to choose from."""
    assert "<nav" not in _page()


def test_an_invented_plant_says_so_on_every_page() -> None:
    """The strip is there exactly when the database was made as the invented plant."""
    assert "Invented plant, demonstration only" in _page(installation={"invented": True})
    assert "Invented plant" not in _page(installation={"invented": False})
    assert "Invented plant" not in _page()


def test_every_page_carries_the_caution() -> None:
    """The foot says what keeps the last word."""
    assert CAUTION in _page()


@pytest.mark.parametrize(("minutes", "words"), [(4, "Ines Alder · locks in 4 min"), (0, "Ines Alder · locks in 0 min")])
def test_the_person_and_the_lock_stand_in_the_band(minutes: int, words: str) -> None:
    """Who is unlocked, and for how long."""
    assert words in _page(person_name="Ines Alder", locks_in_min=minutes)


def test_a_person_without_a_lock_has_none() -> None:
    """Those who sign in with a password have no lock time."""
    assert "locks in" not in _page(person_name="Wren Castell")


def test_names_are_escaped() -> None:
    """A name with markup stays text."""
    assert "<b>" not in _page(person_name="<b>Ines", nav=[("<b>x", "/", False)])


def test_the_language_of_the_page_is_declared() -> None:
    """The lang attribute follows the language in force."""
    with translation.override("es"):
        assert '<html lang="es"' in _page()


def test_nothing_is_inline() -> None:
    """A strict content security policy finds no inline style, script or handler."""
    html = _page(nav=NAV, person_name="I", lock_url="/lock/", sign_out_url="/out/")
    assert not re.search(r"<style|<script(?![^>]*src=)|\sstyle=|\son\w+=", html)


@pytest.mark.parametrize("name", ["400.html", "403.html", "403_csrf.html", "404.html", "500.html"])
def test_error_pages_need_no_context(name: str) -> None:
    """A page for what went wrong renders with nothing given, has one heading and the caution, and a way back."""
    html = render_to_string(name)
    assert len(re.findall("<h1>", html)) == 1
    assert CAUTION in html
    assert 'href="/"' in html


@pytest.mark.parametrize("name", ["400.html", "403.html", "403_csrf.html"])
def test_refusals_say_that_nothing_was_written(name: str) -> None:
    """Nobody is left to think that an entry was saved."""
    assert "Nothing was written." in render_to_string(name)


def test_a_broken_page_does_not_claim_that_nothing_was_saved() -> None:
    """After a fault nobody knows: the page says to look, and that sending twice writes once."""
    html = render_to_string("500.html")
    assert "may not have kept" in html
    assert "writes it once" in html


def test_the_keypad_is_hidden_without_script() -> None:
    """The keys are in the page, hidden, and every key has a name."""
    html = render_to_string("_keypad.html")
    assert re.search(r"<div [^>]*data-keypad[^>]* hidden>", html)
    assert re.findall(r'data-key="([^"]+)"', html) == [*"789456123", "-", "0", ".", "clear", "back"]
    assert html.count('type="button"') == 14
