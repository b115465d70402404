"""What people type wrongly into a form, and what its page answers: beside the field, kept as typed, unrecorded."""

from __future__ import annotations

import html
import re
from html.parser import HTMLParser
from typing import Any

from django.test import Client

from records.ledger.models import Entry

LONG = "x" * 10_000
NUL = "S\0ilo"
RIGHT_TO_LEFT = "\u202eelttE"
TEXTS = [LONG, NUL]
NOT_NUMBERS = ["twelve", "1O", "12..5", "-5", "9" * 60, NUL, LONG]
NOT_TIMES = ["noon", "2026-13-45T10:00", "25:99", "2093-01-01T10:00", "0001-01-01T00:00", "", NUL, LONG]
_NOT_PLAIN = re.compile(r"null character|invalid|traceback|exception|none|ensure this|valid (date|value)", re.I)


class Kept(HTMLParser):
    """What the controls of a page hold, by name."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.holds: dict[str, str] = {}
        self._select = self._area = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        had = dict(attrs)
        name, value = had.get("name") or "", had.get("value") or ""
        if tag == "textarea":
            self._area, self.holds[name] = name, ""
        elif tag == "select":
            self._select = name
        elif tag == "option" and "selected" in had:
            self.holds[self._select] = value
        elif tag == "input" and name and (had.get("type") not in ("radio", "checkbox") or "checked" in had):
            self.holds[name] = value

    def handle_endtag(self, tag: str) -> None:
        self._area = "" if tag == "textarea" else self._area

    def handle_data(self, data: str) -> None:
        if self._area:
            self.holds[self._area] += data


def refused(client: Client, address: str, good: dict[str, Any], field: str, value: str, beside: str = "") -> str:
    """Send the good form with one wrong value; the sentence beside its field (or beside `beside`).

    Asserts that the page is no error of ours, that the sentence is plain, that all that was typed stands in the form
    again, and that the book has not one entry more.
    """
    before = Entry.objects.count()
    body = good | {field: value}
    answer = client.post(address, body)
    page = answer.content.decode()
    assert answer.status_code in (200, 422), (answer.status_code, answer.get("Location"))
    found = re.search(rf'id="id_{re.escape(beside or field)}_error"[^>]*>(.*?)</div>', page, re.DOTALL)
    assert found is not None, re.findall(r'id="id_(\w+)_error"[^>]*>(.*?)</div>', page, re.DOTALL)
    sentence = html.unescape(re.sub(r"<[^>]+>", "", found[1])).strip()
    assert sentence.endswith((".", "?")) and not _NOT_PLAIN.search(sentence), sentence
    kept = Kept(page).holds
    for name, typed in body.items():
        no_text = re.search(rf'<select name="{name}"|<input type="(?:radio|checkbox)" name="{name}"', page)
        if isinstance(typed, str) and typed and not (name == field and no_text):
            assert kept.get(name, "").strip("\n") == typed, name
    assert Entry.objects.count() == before
    return sentence
