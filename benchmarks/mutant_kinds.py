"""One place of the source changed: which mutants can be made, and which functions work with the place."""

from __future__ import annotations

import ast
import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

REPO = Path(__file__).parents[1]
PLAIN = {0, 1, 2, -1}
ROUNDING = 1e-6  # a figure no larger than this is the room that a machine's rounding is given
KINDS = ("figure", "compare", "ends", "sign")
TURNED = {ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">")}
SIGNS = {ast.Add: ("+", "-"), ast.Sub: ("-", "+")}
ENDS = {"min": "max", "max": "min"}

Function = tuple[str, str]  # file under the root, qualified name


class Mutant(NamedTuple):
    """A file, the place in it, what stood there and what stands there instead."""

    kind: str
    file: str
    line: int
    column: int
    old: str
    new: str
    text: str  # the whole file, changed


def changed(value: float) -> str:
    """Half as large again, at least one more for a whole number."""
    return str(max(value + 1, round(value * 1.5))) if isinstance(value, int) else repr(value * 1.5)


def in_code(root: Path, file: str, kinds: tuple[str, ...]) -> Iterator[Mutant]:
    """Mutants of a module; docstrings, annotations and what spans lines are left alone."""
    source = (root / file).read_text(encoding="utf-8")
    rows = [row.encode() for row in source.splitlines(keepends=True)]

    def put(kind: str, line: int, start: int, end: int, old: str, new: str) -> Iterator[Mutant]:
        row = rows[line - 1]
        at = row.find(old.encode(), start, end)
        if at >= 0:
            row = row[:at] + new.encode() + row[at + len(old.encode()) :]
            yield Mutant(kind, file, line, at, old, new, b"".join((*rows[: line - 1], row, *rows[line:])).decode())

    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and "figure" in kinds:
            plain = isinstance(node.value, bool) or not isinstance(node.value, int | float) or node.value in PLAIN
            if not plain and node.value > ROUNDING and node.end_lineno == node.lineno:
                old = rows[node.lineno - 1][node.col_offset : node.end_col_offset].decode()
                yield from put("figure", node.lineno, node.col_offset, node.end_col_offset, old, changed(node.value))
        elif isinstance(node, ast.Compare) and "compare" in kinds:
            sides = [node.left, *node.comparators]
            for op, one, other in zip(node.ops, sides, sides[1:], strict=False):
                if type(op) in TURNED and one.end_lineno == other.lineno:
                    yield from put("compare", other.lineno, one.end_col_offset, other.col_offset, *TURNED[type(op)])
        elif isinstance(node, ast.BinOp) and type(node.op) in SIGNS and "sign" in kinds:
            words = any(isinstance(side, ast.JoinedStr | ast.List | ast.Tuple) for side in (node.left, node.right))
            words = words or any(isinstance(getattr(side, "value", 0), str) for side in (node.left, node.right))
            if not words and node.left.end_lineno == node.right.lineno:
                where = (node.right.lineno, node.left.end_col_offset, node.right.col_offset)
                yield from put("sign", *where, *SIGNS[type(node.op)])
        elif isinstance(node, ast.Call) and "ends" in kinds:
            name = node.func
            if isinstance(name, ast.Name) and name.id in ENDS and name.end_lineno == name.lineno:
                yield from put("ends", name.lineno, name.col_offset, name.end_col_offset, name.id, ENDS[name.id])


def in_table(root: Path, file: str) -> Iterator[Mutant]:
    """Mutants of a CSV of the books."""
    rows = list(csv.reader(io.StringIO((root / file).read_text(encoding="utf-8"))))
    for r, row in enumerate(rows[1:], 1):
        for c, cell in enumerate(row):
            try:
                value = float(cell)
            except ValueError:
                continue
            if value == 0:
                continue
            new = f"{value * 1.5:g}"
            out = io.StringIO()
            csv.writer(out, lineterminator="\n").writerows([*rows[:r], [*row[:c], new, *row[c + 1 :]], *rows[r + 1 :]])
            yield Mutant("figure", file, r + 1, c, f"{rows[0][c]} of {' '.join(row[:2])}: {cell}", new, out.getvalue())


def every_mutant(root: Path, rooms: tuple[str, ...], kinds: tuple[str, ...]) -> list[Mutant]:
    """All of some rooms, in the order of their files."""
    found: list[Mutant] = []
    for room in rooms:
        place = root / "siteplan" / room
        for path in sorted(place.rglob("*")) if place.is_dir() else [place.with_suffix(".py")]:
            file = path.relative_to(root).as_posix()
            if path.suffix == ".py":
                found += in_code(root, file, kinds)
            elif path.suffix == ".csv" and "figure" in kinds:
                found += in_table(root, file)
    return found


class Tree:
    """The modules of the package as read from their text: their functions, what they import, who names what."""

    def __init__(self, root: Path) -> None:
        self.texts = {p.relative_to(root).as_posix(): p.read_text("utf-8") for p in (root / "siteplan").rglob("*.py")}
        self.trees = {file: ast.parse(text) for file, text in self.texts.items()}
        self.functions = {file: list(_functions(tree)) for file, tree in self.trees.items()}
        self.imports = {file: set(self._imported(tree)) for file, tree in self.trees.items()}

    def _imported(self, tree: ast.Module) -> Iterator[str]:
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
            else:
                continue
            for name in names:
                for file in (f"{name.replace('.', '/')}.py", f"{name.replace('.', '/')}/__init__.py"):
                    if file in self.texts:
                        yield file

    def importers(self, files: set[str]) -> set[str]:
        """The files and all that import them, by however many steps."""
        found, more = set(files), True
        while more:
            new = {file for file, names in self.imports.items() if file not in found and names & found}
            found |= new
            more = bool(new)
        return found

    def workers(self, file: str, line: int) -> set[Function]:
        """The function that a line stands in; of a line in none: the functions that work with the name it gives."""
        if not file.endswith(".py"):
            readers = [name for name, text in self.texts.items() if f'"{file.rsplit("/", 1)[1]}"' in text]
            return {(reader, name) for reader in readers for _, _, name in self.functions[reader]}
        return self._around(file, line, set())

    def _around(self, file: str, line: int, seen: set[tuple[str, str]]) -> set[Function]:
        """The function round a line, or who works with it where it is compiled: machine code is called unseen."""
        inside = [(first, name) for first, last, name in self.functions[file] if first <= line <= last]
        if not inside:
            return self._of_name(file, line, seen)
        first, name = max(inside)
        compiled = self.texts[file].splitlines()[first - 1].strip() == "@compiled"
        return self._of_name(file, line, seen) if compiled else {(file, name)}

    def within(self, file: str, line: int) -> bool:
        """Whether a line stands in a function."""
        return any(first <= line <= last for first, last, _ in self.functions[file])

    def names(self, file: str, line: int) -> set[str]:
        """Names that a line outside of functions gives: a test that reads one calls nothing."""
        names: set[str] = set()
        for node in self.trees[file].body:
            marks = getattr(node, "decorator_list", ())
            if min([node.lineno, *(mark.lineno for mark in marks)]) <= line <= (node.end_lineno or node.lineno):
                if isinstance(node, ast.ClassDef | ast.FunctionDef):
                    names.add(node.name)
                if not isinstance(node, ast.FunctionDef):
                    names |= {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
        return names

    def _of_name(self, file: str, line: int, seen: set[tuple[str, str]]) -> set[Function]:
        names = self.names(file, line)
        found: set[Function] = set()
        for name in sorted(names):
            if (file, name) in seen:
                continue
            seen.add((file, name))
            for other in [file, *(other for other, held in self.imports.items() if file in held)]:
                for node in ast.walk(self.trees[other]):
                    named = isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load)
                    if not named and not (isinstance(node, ast.Attribute) and node.attr == name):
                        continue
                    found |= self._around(other, node.lineno, seen)
        return found


def _functions(node: ast.AST, within: str = "") -> Iterator[tuple[int, int, str]]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            first = min([child.lineno, *(mark.lineno for mark in child.decorator_list)])
            yield first, child.end_lineno or child.lineno, within + child.name
            yield from _functions(child, f"{within}{child.name}.<locals>.")
        elif isinstance(child, ast.ClassDef):
            yield from _functions(child, f"{within}{child.name}.")
        else:
            yield from _functions(child, within)
