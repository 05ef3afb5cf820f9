"""The package's own text in; what no command can ever call out.

A walk over names: a function is reached when code that is reached names it. Names are resolved through each module's
imports; an attribute that no import explains reaches every method and property of that name, so that the walk errs
towards 'reached'. A string is no call: what is looked up by text (the commands) is a root.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from pathlib import Path

Def = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(slots=True)
class Module:
    """One file: what it defines, what its imports call it, and what runs when it is imported."""

    name: str
    path: Path
    functions: dict[str, Def] = field(default_factory=dict)
    classes: dict[str, ast.ClassDef] = field(default_factory=dict)
    values: dict[str, list[ast.stmt]] = field(default_factory=dict)
    at_import: list[ast.stmt] = field(default_factory=list)
    imports: dict[str, str] = field(default_factory=dict)  # local name -> dotted target, of the whole file


@dataclass(frozen=True, slots=True)
class Unreached:
    """A function, method or value that nothing reaches."""

    where: str  # dotted
    lines: int


def modules_of(root: Path) -> dict[str, Module]:
    """Every module under a package folder, by dotted name."""
    found = {}
    for path in sorted(root.rglob("*.py")):
        parts = [root.name, *path.relative_to(root).with_suffix("").parts]
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = _read(name, path)
    return found


def _read(name: str, path: Path) -> Module:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    module = Module(name, path)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                module.imports[alias.asname or alias.name.split(".")[0]] = (
                    alias.name if alias.asname else alias.name.split(".")[0]
                )
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                module.imports[alias.asname or alias.name] = f"{node.module}.{alias.name}"
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            module.functions[node.name] = node
        elif isinstance(node, ast.ClassDef):
            module.classes[node.name] = node
        elif isinstance(node, (ast.Assign, ast.AnnAssign)) and (names := _targets(node)):
            for one in names:
                module.values.setdefault(one, []).append(node)
        else:
            module.at_import.append(node)
    return module


def _targets(node: ast.Assign | ast.AnnAssign) -> list[str]:
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    flat = [e for t in targets for e in (t.elts if isinstance(t, ast.Tuple) else [t])]
    return [t.id for t in flat if isinstance(t, ast.Name)]


def _in_class(node: ast.ClassDef) -> dict[str, Def]:
    return {n.name: n for n in node.body if isinstance(n, (ast.FunctionDef, ast.AsyncFunctionDef))}


class Walk:
    """Reaches from roots; `reached` holds dotted names of functions, classes, values and methods."""

    def __init__(self, modules: dict[str, Module]) -> None:
        self.modules = modules
        self.reached: set[str] = set()
        self.attributes: set[str] = set()
        self._todo: list[tuple[Module | None, ast.AST]] = []
        self._methods: dict[str, list[tuple[Module, str, Def]]] = {}
        self._imported: set[str] = set()

    def start(self, dotted: str) -> None:
        """Reach a name and all it leads to."""
        self._reach(dotted)
        self._run()

    def unreached(self) -> list[Unreached]:
        """What was never reached: functions, classes, methods, values of modules."""
        found = []
        for module in self.modules.values():
            for name, node in module.functions.items():
                if f"{module.name}.{name}" not in self.reached:
                    found.append(Unreached(f"{module.name}.{name}", _lines(node)))
            for name, node in module.classes.items():
                if f"{module.name}.{name}" not in self.reached:
                    found.append(Unreached(f"{module.name}.{name}", _lines(node)))
                    continue
                found += [
                    Unreached(f"{module.name}.{name}.{inner}", _lines(method))
                    for inner, method in _in_class(node).items()
                    if f"{module.name}.{name}.{inner}" not in self.reached
                ]
            found += [
                Unreached(f"{module.name}.{name}", sum(_lines(n) for n in nodes))
                for name, nodes in module.values.items()
                if f"{module.name}.{name}" not in self.reached and not name.startswith("__")
            ]
        return found

    def _reach(self, dotted: str) -> None:
        home, _, name = dotted.rpartition(".")
        while home and home not in self.modules:
            home, _, more = home.rpartition(".")
            name = more
        if dotted in self.modules:
            return self._import(dotted)
        if not home:
            return None
        module = self.modules[home]
        self._import(home)
        whole = f"{home}.{name}"
        if whole in self.reached:
            return None
        if name in module.functions:
            self.reached.add(whole)
            self._todo.append((module, module.functions[name]))
        elif name in module.classes:
            self.reached.add(whole)
            self._class(module, name)
        elif name in module.values:
            self.reached.add(whole)
            self._todo += [(module, node) for node in module.values[name]]
        elif name in module.imports:
            self._reach(module.imports[name])
        return None

    def _import(self, name: str) -> None:
        if name in self._imported:
            return
        self._imported.add(name)
        self._todo += [(self.modules[name], node) for node in self.modules[name].at_import]

    def _class(self, module: Module, name: str) -> None:
        node = module.classes[name]
        methods = _in_class(node)
        self._todo += [(module, part) for part in [*node.bases, *node.decorator_list] if part]
        self._todo += [(module, n) for n in node.body if n not in methods.values()]
        foreign = any(not self._ours(module, base) for base in node.bases)
        for inner, method in methods.items():
            if inner.startswith("__") or inner in self.attributes or (foreign and not inner.startswith("_")):
                self._method(module, f"{module.name}.{name}.{inner}", method)
            else:
                self._methods.setdefault(inner, []).append((module, f"{module.name}.{name}.{inner}", method))

    def _ours(self, module: Module, base: ast.expr) -> bool:
        """Whether a base class is ours or a plain value's: then no library calls its methods."""
        name = ast.unparse(base).split("[")[0]
        target = module.imports.get(name.split(".")[0], name)
        return (
            name in module.classes
            or target.startswith("siteplan.")
            or target in {"typing.NamedTuple", "Exception", "ValueError"}
        )

    def _method(self, module: Module, dotted: str, node: Def) -> None:
        if dotted not in self.reached:
            self.reached.add(dotted)
            self._todo.append((module, node))

    def _run(self) -> None:
        while self._todo:
            module, node = self._todo.pop()
            for part in ast.walk(node):
                if isinstance(part, ast.Attribute):
                    self._attribute(module, part)
                elif isinstance(part, ast.Name) and isinstance(part.ctx, ast.Load):
                    self._reach(
                        f"{module.name}.{part.id}" if module.name in self.modules else module.imports.get(part.id, "")
                    )
                elif isinstance(part, (ast.Import, ast.ImportFrom)):
                    names = [a.name for a in part.names] if isinstance(part, ast.Import) else [part.module or ""]
                    for one in names:
                        if one in self.modules:
                            self._import(one)

    def _attribute(self, module: Module, part: ast.Attribute) -> None:
        chain, inner = [part.attr], part.value
        while isinstance(inner, ast.Attribute):
            chain.append(inner.attr)
            inner = inner.value
        if isinstance(inner, ast.Name) and inner.id in module.imports:
            self._reach(".".join([module.imports[inner.id], *reversed(chain)]))
        if part.attr not in self.attributes:
            self.attributes.add(part.attr)
            for home, dotted, method in self._methods.pop(part.attr, []):
                self._method(home, dotted, method)


def _lines(node: ast.AST) -> int:
    return node.end_lineno - node.lineno + 1
