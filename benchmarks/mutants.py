"""Source text -> its mutants: one operator, number, condition or statement changed in each."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

_OTHER: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.FloorDiv: ast.Mult, ast.Div: ast.Mult, ast.Mod: ast.FloorDiv,
    ast.LShift: ast.RShift, ast.RShift: ast.LShift, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitOr,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """`line` of the change (from 1) and its `text`; what stood there, what stands there now, and the whole new source."""

    module: str
    line: int
    text: str
    before: str
    after: str
    source: str

    @property
    def name(self) -> str:
        return f"{self.module}:{self.line}: {self.before} -> {self.after}"


def count_mutants(source: str) -> int:
    """How many mutants a module has."""
    return sum(1 for _ in _changes(ast.parse(source)))


def mutant_of(module: str, source: str, at: int) -> Mutant:
    """One of the mutants of a module, counted from 0 in the order of the source; annotations, docstrings and texts stay."""
    changed = ast.parse(source)
    node, change = list(_changes(changed))[at]
    text, before = source.splitlines()[node.lineno - 1].strip(), _in_a_line(node)
    line = node.lineno
    after = _in_a_line(_applied(changed, node, change)) or "nothing"
    return Mutant(module, line, text, before, after, ast.unparse(ast.fix_missing_locations(changed)))


def _in_a_line(node: ast.AST) -> str:
    return " ".join(ast.unparse(node).split())


def _changes(tree: ast.Module) -> Iterator[tuple[ast.expr | ast.stmt, str]]:
    """Nodes that can be changed, and how."""
    for node in _code(tree):
        if isinstance(node, ast.Compare):
            yield from ((node, str(at)) for at, one in enumerate(node.ops) if type(one) in _OTHER)
        elif (isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in _OTHER) or (
            isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not)
        ):
            yield node, "operator"
        elif isinstance(node, ast.Constant) and (isinstance(node.value, bool) or type(node.value) in (int, float)):
            yield node, "constant"
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield node, "condition"
        elif isinstance(node, ast.AugAssign) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)):
            yield node, "statement"


def _code(node: ast.AST) -> Iterator[ast.AST]:
    """All nodes but annotations, decorators, what is for type checkers only, and whether `zip` is to guard against iterables of
    unlike lengths."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _is_left_out(child):
                yield child
                yield from _code(child)


def _is_left_out(node: ast.AST) -> bool:
    if isinstance(node, ast.keyword):
        return node.arg == "strict"
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def _applied(tree: ast.Module, node: ast.expr | ast.stmt, change: str) -> ast.AST:
    """Changes the node inside its tree; the node that stands there now."""
    if isinstance(node, ast.Compare):
        node.ops[int(change)] = _OTHER[type(node.ops[int(change)])]()  # type: ignore[call-overload]
        return node
    if isinstance(node, ast.BinOp | ast.BoolOp):
        node.op = _OTHER[type(node.op)]()  # type: ignore[assignment]
        return node
    if isinstance(node, ast.UnaryOp):
        return _put(tree, node, node.operand)
    if isinstance(node, ast.Constant):
        node.value = not node.value if isinstance(node.value, bool) else node.value + 1  # type: ignore[operator]
        return node
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        node.test = ast.UnaryOp(ast.Not(), node.test) if not isinstance(node, ast.While) else ast.Constant(False)
        return node
    return _put(tree, node, ast.Pass())


def _put(tree: ast.Module, node: ast.AST, other: ast.AST) -> ast.AST:
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is node:
                setattr(parent, name, other)
            elif isinstance(value, list) and any(one is node for one in value):
                setattr(parent, name, [other if one is node else one for one in value])
    return other
