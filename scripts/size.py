"""Print the lines of code by room: no blank lines, comments, docstrings or migrations."""

from __future__ import annotations

import ast
import io
import subprocess
import tokenize
from collections import Counter
from pathlib import Path

ROOMS = ("config", "core", "inventory", "repairs", "loans", "desk")
LAYOUT = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER}


def docstring_lines(tree: ast.Module) -> set[int]:
    found: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and ast.get_docstring(
            node
        ):
            text = node.body[0]
            found.update(range(text.lineno, (text.end_lineno or text.lineno) + 1))
    return found


def code_lines(source: str) -> int:
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in LAYOUT:
            lines.update(range(token.start[0], token.end[0] + 1))
    return len(lines - docstring_lines(ast.parse(source)))


def main() -> None:
    listed = subprocess.run(["git", "ls-files", *ROOMS], capture_output=True, text=True, check=True).stdout.split()
    rooms: Counter[str] = Counter()
    for path in map(Path, listed):
        if path.suffix == ".py" and "migrations" not in path.parts and path.exists():
            room = "/".join(path.parts[: 2 if len(path.parts) > 2 else 1])
            rooms[room] += code_lines(path.read_text(encoding="utf-8"))
    for room, count in sorted(rooms.items()):
        print(f"{count:>7,}  {room}")
    print(f"{rooms.total():>7,}  in all")


if __name__ == "__main__":
    main()
