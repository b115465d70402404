"""What is wrong with a plan: a path, a sentence, and whether it bars approval. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong. `refuses`: the plan cannot be approved so. `confirm`: the limit that the qualified
    individual may confirm with a reason; it bars approval until that is in the plan's confirmations.
    """

    path: str
    sentence: str
    refuses: bool
    confirm: str = ""

    @property
    def bars_approval(self) -> bool:
        """Whether the plan cannot be approved while this stands."""
        return self.refuses or bool(self.confirm)

    def __str__(self) -> str:
        return f"{self.path}: {self.sentence}" if self.path else self.sentence


@dataclass(slots=True)
class Findings:
    """Collects problems in the order in which they are found."""

    found: list[Problem] = field(default_factory=list)

    def refuse(self, path: str, sentence: str) -> None:
        """Something that bars approval."""
        self.found.append(Problem(path, sentence, True))

    def warn(self, path: str, sentence: str) -> None:
        """Something to look at that bars nothing."""
        self.found.append(Problem(path, sentence, False))

    def ask(self, path: str, sentence: str, limit: str) -> None:
        """Something that bars approval until the qualified individual has confirmed it with a reason."""
        self.found.append(Problem(path, sentence, False, limit))

    def one_of(self, path: str, value: str, known: tuple[str, ...] | list[str], what: str) -> bool:
        """Refuse a word that is none of those known."""
        if value in known:
            return True
        self.refuse(path, f"{value!r} is no {what}; use one of {', '.join(known)}")
        return False
