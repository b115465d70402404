"""The three small scripts in a real browser, on plain pages served from loopback: keys, double taps, kept forms."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, sync_playwright

STATIC = Path(__file__).resolve().parents[2] / "static"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]  # fmt: skip
pytestmark = pytest.mark.once

PAD = "".join(
    f'<button type="button" data-key="{key}">{key}</button>'
    for key in [*"0123456789", ".", "-", "back", "clear", "unit"]
)
ROUND = f"""<p data-person="ines"></p><form method="post" id="f" data-keep="KEEP">
<input name="value" data-big inputmode="decimal">
<select name="unit" data-unit-field><option>F</option><option>C</option></select>
<div data-keypad hidden>{PAD}</div><button type="submit" name="save" value="1">Save</button></form>"""
NOTE = """<p data-person="PERSON"></p><form method="post" id="n"><textarea name="note"></textarea>
<input name="pin" type="text"><input name="secret" type="password"><input type="checkbox" name="ok" value="1">
<input name="ticket" autocomplete="one-time-code"><button type="submit">Send</button></form>"""
PAGES = {
    "/round-a": ROUND.replace("KEEP", "silo-a 17:00"),
    "/round-b": ROUND.replace("KEEP", "silo-b 17:00"),
    "/round-unnamed": ROUND.replace('data-keep="KEEP"', ""),
    "/note": NOTE.replace("PERSON", "ines"),
    "/wash": """<form method="post" id="w"><input name="method"><input name="id"><input name="action">
<button type="submit">Send</button></form>""",
    "/note-of-another": NOTE.replace("PERSON", "tomas"),
    "/saved": '<ul><li data-kept="clear">Saved.</li></ul>',
    "/refused": '<div data-errors tabindex="-1">Not saved yet</div>' + NOTE.replace("PERSON", "ines"),
}
WORDS = '<template id="kept-words"><p role="status">typed before</p></template>'
SCRIPTS = "".join(f'<script src="/static/js/{name}.js" defer></script>' for name in ("once", "keep", "keypad"))


class Server(ThreadingHTTPServer):
    """Serves the pages, counts the posts, and answers them with the page `answer`."""

    daemon_threads = True
    posts: list[str]
    answer: str
    hold: threading.Event


class Handler(BaseHTTPRequestHandler):
    """One request. The content security policy forbids inline scripts, as the real pages do."""

    server: Server

    def log_message(self, format: str, *args: object) -> None:
        """Stay quiet."""

    def do_GET(self) -> None:
        """Send a page or a script; the same path keeps its name whatever content a test puts there."""
        path = self.path.split("?")[0]
        if path.startswith("/static/"):
            self._send((STATIC / path.removeprefix("/static/")).read_bytes(), "text/javascript")
            return
        body = PAGES.get(path, "")
        self._send(f"<!doctype html><title>t</title>{body}{WORDS}{SCRIPTS}".encode(), "text/html; charset=utf-8")

    def do_POST(self) -> None:
        """Count it and answer."""
        size = int(self.headers.get("Content-Length") or 0)
        self.server.posts.append(self.rfile.read(size).decode())
        self.server.hold.wait(5)
        self.send_response(303)
        self.send_header("Location", self.server.answer)
        self.end_headers()

    def _send(self, body: bytes, kind: str) -> None:
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Security-Policy", "default-src 'self'; script-src 'self'; style-src 'self'")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server on a free port of loopback."""
    made = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=made.serve_forever, daemon=True)
    thread.start()
    yield made
    made.shutdown()
    made.server_close()


@pytest.fixture(scope="module")
def context() -> Iterator[BrowserContext]:
    """Debian's Chromium with a fresh profile."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        yield browser.new_context()
        browser.close()


@pytest.fixture
def page(server: Server, context: BrowserContext) -> Iterator[Page]:
    """A new tab (its own sessionStorage) that must end without an error of a script."""
    server.posts, server.answer, server.hold = [], "/saved", threading.Event()
    server.hold.set()
    tab = context.new_page()
    wrong: list[str] = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    yield tab
    tab.close()
    assert wrong == []


def _open(page: Page, server: Server, path: str) -> None:
    page.goto(f"http://127.0.0.1:{server.server_port}{path}")


def _keys(page: Page, *keys: str) -> str:
    for key in keys:
        page.click(f'[data-key="{key}"]')
    return page.input_value("[data-big]")


def test_the_keys_type_into_the_big_field(page: Page, server: Server) -> None:
    """Digits, point, erase, minus and clear do what they say."""
    _open(page, server, "/round-a")
    assert _keys(page, "4", "3", ".", "9", "back", "8") == "43.8"
    assert _keys(page, "-") == "-43.8"
    assert _keys(page, "-") == "43.8"
    assert _keys(page, "clear") == ""


def test_the_keys_type_where_the_caret_stands(page: Page, server: Server) -> None:
    """A digit goes in at the caret and replaces what is selected."""
    _open(page, server, "/round-a")
    page.fill("[data-big]", "438")
    page.evaluate("document.querySelector('[data-big]').setSelectionRange(2, 2)")
    assert _keys(page, ".") == "43.8"
    page.evaluate("document.querySelector('[data-big]').select()")
    assert _keys(page, "5") == "5"


def test_the_unit_key_changes_the_unit_and_not_the_digits(page: Page, server: Server) -> None:
    """What was typed stays as typed."""
    _open(page, server, "/round-a")
    assert _keys(page, "7", "unit") == "7"
    assert page.input_value("[data-unit-field]") == "C"


def test_a_double_tap_sends_once(page: Page, server: Server) -> None:
    """While the first answer is awaited a second tap sends nothing; the pressed button's name is sent."""
    _open(page, server, "/round-a")
    server.hold.clear()
    page.fill("[data-big]", "43.8")
    page.evaluate("() => { const b = document.querySelector('[name=save]'); b.click(); b.click(); b.click(); }")
    server.hold.set()
    page.wait_for_url("**/saved")
    assert server.posts == ["value=43.8&unit=F&save=1"]


def test_after_ten_seconds_a_retry_goes_through(page: Page, server: Server) -> None:
    """A form that got no answer can be sent again: the server knows its id."""
    page.clock.install()
    _open(page, server, "/round-a")
    page.evaluate("() => document.addEventListener('submit', e => { window.tries = (window.tries || 0) + 1; })")
    page.evaluate(
        "() => { window.passed = 0; document.addEventListener('submit', e => {"
        " if (!e.defaultPrevented) { window.passed += 1; } e.preventDefault(); }); }"
    )
    page.click("[name=save]")
    page.click("[name=save]", force=True)
    assert page.evaluate("window.passed") == 1
    page.clock.run_for(10_100)
    page.click("[name=save]")
    assert page.evaluate("window.passed") == 2


def test_a_half_typed_note_comes_back_and_says_so(page: Page, server: Server) -> None:
    """After a reload the note is there, with the words that it is not saved."""
    _open(page, server, "/note")
    page.fill("[name=note]", "gasket looks worn")
    page.check("[name=ok]")
    page.reload()
    assert page.input_value("[name=note]") == "gasket looks worn"
    assert page.is_checked("[name=ok]")
    assert page.inner_text("[role=status]") == "typed before"


def test_pins_and_passwords_are_never_kept(page: Page, server: Server) -> None:
    """Neither comes back, and neither is anywhere in the store."""
    _open(page, server, "/note")
    page.fill("[name=note]", "x")
    for name in ("pin", "secret", "ticket"):
        page.fill(f"[name={name}]", "271828")
    page.reload()
    assert [page.input_value(f"[name={name}]") for name in ("pin", "secret", "ticket")] == ["", "", ""]
    assert "271828" not in page.evaluate("JSON.stringify(Object.entries(sessionStorage))")


def test_another_person_sees_nothing_of_it(page: Page, server: Server) -> None:
    """On a shared tablet what one person typed does not come up for the next."""
    _open(page, server, "/note")
    page.fill("[name=note]", "mine")
    PAGES["/note"], mine = PAGES["/note-of-another"], PAGES["/note"]
    try:
        page.reload()
        assert page.input_value("[name=note]") == ""
    finally:
        PAGES["/note"] = mine


def test_a_number_typed_for_one_vessel_never_comes_back_for_another(page: Page, server: Server) -> None:
    """At the same address the next check has an empty field."""
    _open(page, server, "/round-a")
    _keys(page, "4", "3")
    PAGES["/round-a"], silo_a = PAGES["/round-b"], PAGES["/round-a"]
    try:
        page.reload()
        assert page.input_value("[data-big]") == ""
    finally:
        PAGES["/round-a"] = silo_a
    page.reload()
    assert page.input_value("[data-big]") == "43"


def test_a_number_is_not_kept_where_the_form_does_not_say_for_what(page: Page, server: Server) -> None:
    """Without data-keep a big field starts empty."""
    _open(page, server, "/round-unnamed")
    _keys(page, "4", "3")
    page.reload()
    assert page.input_value("[data-big]") == ""


def test_an_old_number_is_forgotten(page: Page, server: Server) -> None:
    """After half an hour a number is no observation any more."""
    page.clock.install()
    _open(page, server, "/round-a")
    _keys(page, "4", "3")
    page.clock.fast_forward("31:00")
    page.reload()
    assert page.input_value("[data-big]") == ""


def test_what_was_saved_is_forgotten(page: Page, server: Server) -> None:
    """After a success the form starts empty."""
    _open(page, server, "/note")
    page.fill("[name=note]", "done")
    page.click("[type=submit]")
    page.wait_for_url("**/saved")
    _open(page, server, "/note")
    assert page.input_value("[name=note]") == ""


def test_what_was_refused_is_kept(page: Page, server: Server) -> None:
    """An answer with errors clears nothing, and the summary has the focus."""
    server.answer = "/refused"
    _open(page, server, "/note")
    page.fill("[name=note]", "again")
    page.click("[type=submit]")
    page.wait_for_url("**/refused")
    assert page.evaluate("document.activeElement.hasAttribute('data-errors')")
    _open(page, server, "/note")
    assert page.input_value("[name=note]") == "again"


def test_a_field_may_be_named_method(page: Page, server: Server) -> None:
    """A wash has its method, and a field's name must not stand in the way: kept, and a double tap sends once."""
    _open(page, server, "/wash")
    page.fill("[name=method]", "CIP")
    page.reload()
    assert page.input_value("[name=method]") == "CIP"
    server.hold.clear()
    page.evaluate("() => { const b = document.querySelector('[type=submit]'); b.click(); b.click(); }")
    server.hold.set()
    page.wait_for_url("**/saved")
    assert server.posts == ["method=CIP&id=&action="]
