"""What the browser's tests share: one screen with the counted taps of a person, and how people sign in."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Literal

from playwright.sync_api import Locator, Page

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]  # fmt: skip


class Screen:
    """A page as a person has it: `tap` counts every touch, `keys` the digits pressed one by one."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.taps = 0
        self.digits = 0
        self.errors: list[str] = []
        self._shots = 0
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda said: self._heard(said.type, said.text))

    def _heard(self, kind: str, text: str) -> None:
        # The answer to a form that was refused (422) is a page, not a mistake.
        if kind == "error" and "Failed to load resource" not in text:
            self.errors.append(text)

    def open(self, path: str) -> None:
        """Go to an address of the plant."""
        answer = self.page.goto(f"{self.address}{path}")
        assert answer is not None and answer.status < 500, f"{path}: {self.page.locator('body').inner_text()}"

    def tap(self, what: Locator | str) -> None:
        """One touch of a finger (or click) on what is in sight."""
        found = self.page.locator(what) if isinstance(what, str) else what
        found.tap()
        self.taps += 1

    def press(self, name: str, role: Literal["button", "link"] = "button") -> None:
        """Tap a button, or a link, by its words, and wait for the page that it leads to."""
        with self.page.expect_navigation():
            self.tap(self.page.get_by_role(role, name=name).first)

    def follow(self, name: str) -> None:
        """Tap a link by its words."""
        self.press(name, "link")

    def keys(self, text: str) -> None:
        """The digits of a number on the page's own number keys."""
        for key in text:
            self.page.locator(f'[data-keypad] [data-key="{key}"]').tap()
            self.digits += 1

    def say(self, label: str, answer: str) -> None:
        """Tap an answer of the question that begins with `label`."""
        group = self.page.get_by_role("group", name=re.compile(re.escape(label))).last
        self.tap(group.get_by_text(answer, exact=True))

    def fill(self, label: str, text: str) -> None:
        """Type into the field of that label."""
        self.page.get_by_label(label).fill(text)

    @property
    def heading(self) -> str:
        """The page's top heading."""
        return self.page.locator("h1").inner_text()

    @property
    def text(self) -> str:
        """All that the page's main part says."""
        return self.page.locator("main").inner_text()

    def shot(self, name: str) -> None:
        """Keep a picture, when SHOTS names a folder."""
        folder = os.environ.get("SHOTS")
        if folder:
            self._shots += 1
            Path(folder).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


def join_tablet(screen: Screen, token: str) -> None:
    """Make this browser the plant's tablet by its link."""
    screen.open(f"/tablet/{token}/")
    screen.press("Make this browser the tablet")


def open_with_pin(screen: Screen, name: str, pin: str) -> None:
    """On the tablet: tap the name, give the PIN."""
    screen.open("/sign-in/")
    screen.press(name)
    screen.fill("PIN", pin)
    screen.press("Open the book")


def open_with_password(screen: Screen, sign_in: str, password: str) -> None:
    """Anywhere: sign-in name and password."""
    screen.open("/sign-in/?with=password")
    screen.fill("Sign-in name", sign_in)
    screen.fill("Password", password)
    screen.press("Sign in")


def unlock(screen: Screen, secret: str) -> None:
    """After a long while: the PIN or password again."""
    screen.page.locator("[name=unlock_secret]").fill(secret)
    screen.press("Go on")
