"""Where each name of a TOML text stands: path ("monitoring[3].answer.kind") to line number.

tomllib gives values without their lines, and a person needs the line. The text is known to be valid.
"""

from __future__ import annotations

_QUOTES = ('"""', "'''", '"', "'")


class Lines:
    """The line of each table, key and list member of one TOML text."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._table = ""
        self._counts: dict[str, int] = {}
        self._lines: dict[str, int] = {}
        while self._next():
            if text[self._at] == "[":
                self._header()
            else:
                self._pair(self._table)

    def line_of(self, path: str) -> int:
        """The line of a path, or of the nearest thing that contains it; 0 when nothing does."""
        while path and path not in self._lines:
            cut = max(path.rfind("."), path.rfind("["))
            path = path[:cut] if cut > 0 else ""
        return self._lines.get(path, 0)

    def _mark(self, path: str) -> None:
        self._lines.setdefault(path, self._text.count("\n", 0, self._at) + 1)

    def _next(self) -> bool:
        """Step over blanks, line ends and remarks; False at the end."""
        while self._at < len(self._text):
            sign = self._text[self._at]
            if sign == "#":
                end = self._text.find("\n", self._at)
                self._at = len(self._text) if end < 0 else end
            elif sign in " \t\r\n":
                self._at += 1
            else:
                return True
        return False

    def _header(self) -> None:
        listed = self._text.startswith("[[", self._at)
        start = self._at
        self._at += 2 if listed else 1
        names = self._names("]")
        self._at += 2 if listed else 1
        path = ""
        for at, name in enumerate(names):
            path = f"{path}.{name}" if path else name
            if listed and at == len(names) - 1:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                path = f"{path}[{self._counts[path] - 1}]"
        end, self._at = self._at, start
        self._mark(path)
        self._at = end
        self._table = path

    def _pair(self, table: str) -> None:
        start = self._at
        path = table
        for name in self._names("="):
            path = f"{path}.{name}" if path else name
        end, self._at = self._at, start
        self._mark(path)
        self._at = end + 1
        self._value(path)

    def _names(self, stop: str) -> list[str]:
        """The parts of a dotted key up to the sign that ends it."""
        names, name = [], ""
        while self._text[self._at] != stop:
            sign = self._text[self._at]
            if sign in "\"'":
                start = self._at
                self._string()
                name += self._text[start + 1 : self._at - 1]
                continue
            if sign == ".":
                names.append(name)
                name = ""
            elif sign not in " \t":
                name += sign
            self._at += 1
        return [*names, name]

    def _value(self, path: str) -> None:
        self._next()
        sign = self._text[self._at]
        if sign in "\"'":
            self._string()
        elif sign == "[":
            self._list(path)
        elif sign == "{":
            self._inline(path)
        else:
            while self._at < len(self._text) and self._text[self._at] not in ",]}\n#":
                self._at += 1

    def _string(self) -> None:
        quote = next(one for one in _QUOTES if self._text.startswith(one, self._at))
        self._at += len(quote)
        while not self._text.startswith(quote, self._at):
            self._at += 2 if quote[0] == '"' and self._text[self._at] == "\\" else 1
        self._at += len(quote)
        while len(quote) == 3 and self._text.startswith(quote[0], self._at):
            self._at += 1  # a quote mark may stand right before the closing three

    def _list(self, path: str) -> None:
        self._at += 1
        count = 0
        while self._next() and self._text[self._at] != "]":
            if self._text[self._at] == ",":
                self._at += 1
                continue
            self._mark(f"{path}[{count}]")
            self._value(f"{path}[{count}]")
            count += 1
        self._at += 1

    def _inline(self, path: str) -> None:
        self._at += 1
        while self._next() and self._text[self._at] != "}":
            if self._text[self._at] == ",":
                self._at += 1
                continue
            self._pair(path)
        self._at += 1
