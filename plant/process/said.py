"""Sentences that can be said again in another language: English text that remembers its pattern and its values.

Pure code says English; whoever knows the reader says the same pattern in theirs with `again`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping


class Said(str):
    """A sentence in English. `pattern` has named places; `values` fill them, each a text or another Said."""

    pattern: str
    values: Mapping[str, str]

    def __new__(cls, pattern: str, values: Mapping[str, str]) -> Said:
        """The pattern filled."""
        said = super().__new__(cls, pattern % values if values else pattern)
        said.pattern, said.values = pattern, dict(values)
        return said


class Within(Said):
    """A sentence that follows a colon: its first letter is small."""

    def __new__(cls, sentence: str) -> Within:
        """The sentence, beginning small."""
        said = str.__new__(cls, _small(sentence))
        said.pattern, said.values = "", {"sentence": sentence}
        return said


def say(pattern: str, **values: str) -> Said:
    """A sentence of this pattern. Modules import it as `_`, so that the pattern is collected for translation."""
    return Said(pattern, values)


def again(text: str, translate: Callable[[str], str]) -> str:
    """The same said by `translate`d patterns; what is no Said stands as it is (a number, a name, an answer)."""
    if isinstance(text, Within):
        return _small(again(text.values["sentence"], translate))
    if not isinstance(text, Said):
        return text
    values = {name: again(value, translate) for name, value in text.values.items()}
    pattern = translate(text.pattern)
    return pattern % values if values else pattern


def _small(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"
