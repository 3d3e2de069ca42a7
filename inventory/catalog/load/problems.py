"""What is wrong with a catalog folder, said so that whoever edits it can find the line."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing that does not fit: the file (below its folder), the dotted key in it, and why."""

    file: str
    key: str
    reason: str

    def __str__(self) -> str:
        return f"{self.file}: {self.key}: {self.reason}"


class CatalogError(Exception):
    """The catalog cannot be used; ``problems`` lists everything found, not only the first."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(set(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))
