"""Change the rules one small thing at a time and see whether the tests beside them notice.

The sample is fixed: every possible change is ranked by a hash of its file, line and wording, and each file gives its
best-ranked one in turn, so editing one rule leaves the sample of the others nearly as it was. A mutant lives only in
the process that tests it: an import hook compiles the changed source, and nothing is written to the work tree.
Exit 1 when fewer than 90 % are killed, when a survivor is not explained in tests/mutants.yaml, or when an explanation
there no longer fits any possible change; 2 when the tests fail without any change.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import importlib.util
import os
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.machinery import ModuleSpec, SourceFileLoader
from multiprocessing import get_context
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("inventory/rules", "repairs/rules", "loans/rules")
LEAST_KILLED, SECONDS = 0.9, 120
SWAPS = {"Lt": "LtE", "LtE": "Lt", "Gt": "GtE", "GtE": "Gt", "Eq": "NotEq", "NotEq": "Eq", "Is": "IsNot", "IsNot": "Is"}
SWAPS |= {"In": "NotIn", "NotIn": "In", "And": "Or", "Or": "And", "Add": "Sub", "Sub": "Add", "Mult": "Div"}
SWAPS |= {"Div": "Mult", "FloorDiv": "Mult", "Mod": "Mult", "BitOr": "BitAnd", "BitAnd": "BitOr"}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}
NO_BEHAVIOR = {"annotation", "returns", "decorator_list", "bases"}
Place = tuple[ast.AST, str, int | None]  # parent, field, place where the field is a list


@dataclass(frozen=True)
class Mutant:
    file: str
    number: int  # among the changes of its file
    line: str
    change: str
    lineno: int
    rank: str

    @property
    def key(self) -> tuple[str, str, str]:
        return self.file, self.line, self.change


def alternatives(node: ast.AST, field: str) -> Iterator[ast.AST]:
    """Return what may stand in place of this node, which is in this field of its parent."""
    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            new = getattr(ast, SWAPS[type(operator).__name__])()
            yield ast.Compare(node.left, [*node.ops[:at], new, *node.ops[at + 1 :]], node.comparators)
    elif swap := SWAPS.get(type(getattr(node, "op", None)).__name__):
        yield type(node)(**{**dict(ast.iter_fields(node)), "op": getattr(ast, swap)()})
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.USub)):
        yield node.operand
    elif isinstance(node, ast.Constant) and isinstance(node.value, (bool, int, float)):
        value = node.value
        more = not value if isinstance(value, bool) else value + 1 if isinstance(value, int) else value * 1.25 or 1.0
        yield ast.Constant(more)
    elif isinstance(node, ast.Name) and node.id in NAMES:
        yield ast.Name(NAMES[node.id], ast.Load())
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield ast.Pass()
    if field == "test" and isinstance(node, (ast.Name, ast.Attribute, ast.Call)):
        yield ast.UnaryOp(ast.Not(), node)
    if field == "ifs":
        yield ast.Constant(value=True)


def changes(parent: ast.AST) -> Iterator[tuple[Place, ast.AST, ast.AST]]:
    """Walk a tree in a fixed order: each place, what is there, and what may stand there instead."""
    for field, value in ast.iter_fields(parent):
        if field in NO_BEHAVIOR or (isinstance(parent, ast.keyword) and parent.arg == "strict"):
            continue
        for at, node in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(node, ast.AST):
                place = (parent, field, at if isinstance(value, list) else None)
                yield from ((place, node, new) for new in alternatives(node, field))
                yield from changes(node)


def mutants_of(file: str) -> list[Mutant]:
    text, seen, found = (ROOT / file).read_text(encoding="utf-8"), Counter[str](), []
    for number, (_, old, new) in enumerate(changes(ast.parse(text))):
        line, change = text.splitlines()[old.lineno - 1].strip(), f"{ast.unparse(old)} -> {ast.unparse(new)}"
        seen[line + change] += 1
        rank = hashlib.sha256(f"{file} {line} {change} {seen[line + change]}".encode()).hexdigest()
        found.append(Mutant(file, number, line, change, old.lineno, rank))
    return found


def mirror_of(file: str) -> str | None:
    """Return the test file of a module, or that of its package."""
    own, package = (path.parent / f"test_{path.stem}.py" for path in (Path(file), Path(file).parent))
    return next((f"tests/{mirror}" for mirror in (own, package) if (ROOT / "tests" / mirror).exists()), None)


def sample(*, size: int, room: str = "") -> list[Mutant]:
    """Return the sample's mutants of the files whose path begins with ``room``; size 0 is every one there is."""
    files = [str(path.relative_to(ROOT)) for part in ROOMS for path in (ROOT / part).rglob("*.py")]
    ranked = [sorted(mutants_of(file), key=lambda mutant: mutant.rank) for file in files if mirror_of(file)]
    turns = sorted((turn, one.rank, one) for of_file in ranked for turn, one in enumerate(of_file))[: size or None]
    return sorted((one for *_, one in turns if one.file.startswith(room)), key=lambda one: (one.file, one.number))


class ChangedModule(SourceFileLoader):
    """Finds and loads one module, compiled from its changed tree."""

    def __init__(self, mutant: Mutant) -> None:
        name = mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        super().__init__(name, str(ROOT / mutant.file))
        self.number = mutant.number

    def find_spec(self, name: str, *_: object) -> ModuleSpec | None:
        return importlib.util.spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def get_code(self, _: str) -> object:
        tree = ast.parse(Path(self.path).read_bytes())
        (parent, field, at), old, new = list(changes(tree))[self.number]
        ast.copy_location(new, old)
        setattr(parent, field, new if at is None else [*(value := getattr(parent, field))[:at], new, *value[at + 1 :]])
        return compile(ast.fix_missing_locations(tree), self.path, "exec")


def passes(tests: list[str], *, seconds: int, mutant: Mutant | None = None) -> bool:
    """Run test files in a process of their own that ends at the first failure, or when so much processor time is used."""
    child = os.fork()
    if not child:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.meta_path[:0] = [ChangedModule(mutant)] if mutant else []
        signal.setitimer(signal.ITIMER_PROF, seconds)
        code = 1  # a change that nothing can be imported with is noticed
        try:
            code = pytest.main(["-qx", "-p", "no:randomly", "-p", "no:cacheprovider", "--hypothesis-seed=0", *tests])
        finally:
            os._exit(code)
    return os.waitpid(child, 0)[1] == 0


def survives(mutant: Mutant) -> bool:
    return passes([str(mirror_of(mutant.file))], seconds=SECONDS, mutant=mutant)


def explanations() -> dict[tuple[str, str, str], str]:
    entries = yaml.safe_load((ROOT / "tests" / "mutants.yaml").read_text(encoding="utf-8")) or []
    return {(entry["file"], entry["line"], entry["change"]): entry["reason"] for entry in entries}


def run(mutants: list[Mutant]) -> int:
    os.chdir(ROOT)
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = tempfile.gettempdir() + "/hornbook-mutants"
    if not mutants or not passes(sorted({str(mirror_of(one.file)) for one in mutants}), seconds=10 * SECONDS):
        print("No mutants there, or the tests fail without any change.")
        return 2
    reasons, killed, unexplained = explanations(), 0, 0
    with get_context("fork").Pool() as pool:
        for one, survived in zip(mutants, pool.imap(survives, mutants), strict=True):
            killed += not survived
            unexplained += survived and one.key not in reasons
            if survived:
                reason = reasons.get(one.key, "SURVIVED")
                print(f"{one.file}:{one.lineno}: {one.line}\n    {one.change}\n    {reason}", flush=True)
    stale = reasons.keys() - {one.key for one in sample(size=0)}
    print(*(f"explains no possible change: {key}" for key in stale), sep="\n", end="\n" if stale else "")
    print(f"{killed} of {len(mutants)} killed ({killed / len(mutants):.1%}), {unexplained} survivors unexplained")
    return int(killed < LEAST_KILLED * len(mutants) or unexplained > 0 or bool(stale))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--room", default="", help="only files whose path begins so: repairs/rules, loans/rules/due.py")
    parser.add_argument("--size", type=int, default=200, help="how many over all rooms; 0 is every change there is")
    options = parser.parse_args()
    sys.exit(run(sample(size=options.size, room=options.room)))
