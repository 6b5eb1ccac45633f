"""Small wrong versions of a module: one operator, number, bound or choice changed in each."""

from __future__ import annotations

import ast
import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COUNTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
_PAIRS = (
    ("max", "min"), ("maximum", "minimum"), ("any", "all"), ("zeros", "ones"),
    ("argmax", "argmin"), ("zeros_like", "ones_like"), ("sum", "max"), ("mean", "sum"),
)  # fmt: skip
CALLED = dict(_PAIRS) | {b: a for a, b in _PAIRS if b not in dict(_PAIRS)}

#: arguments that only ask for a check or a type
KEPT = ("strict", "dtype")


@dataclass(frozen=True)
class Mutant:
    """One change: in which function and line it stands, the words of it, and the whole module.

    `turn` counts those of the same words in one function.
    """

    function: str
    line: int
    before: str
    after: str
    turn: int
    source: str


def mutants(source: str) -> Iterator[Mutant]:
    """Every module that differs from `source` in one place."""
    tree = ast.parse(source)
    turns: Counter[tuple[str, str, str]] = Counter()
    for function, around, node in _places(tree, "", tree):
        plain = isinstance(node, ast.Constant | ast.UnaryOp) and not isinstance(around, ast.Module)
        shown = around if plain else node
        for changed in _changes(node):
            kept = dict(vars(node)), node.__class__
            before = ast.unparse(shown)
            node.__class__ = changed.__class__
            vars(node).update(vars(changed))
            told = ast.unparse(ast.fix_missing_locations(tree))
            after = ast.unparse(shown)
            node.__class__ = kept[1]
            vars(node).clear()
            vars(node).update(kept[0])
            said = function, _short(before), _short(after)
            turns[said] += 1
            line = getattr(node, "lineno", 0)
            yield Mutant(function, line, said[1], said[2], turns[said], told)


def _short(code: str) -> str:
    """First line of code: of a whole `if` only what it asks."""
    return code.split("\n")[0]


def _places(
    node: ast.AST, function: str, around: ast.AST
) -> Iterator[tuple[str, ast.AST, ast.AST]]:
    """What may be changed: the function it stands in, what to show of it, and itself.

    Not in hints, words and imports, nor what only asks for a check or a type.
    """
    if isinstance(node, ast.keyword) and node.arg in KEPT:
        return
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "type_params", "format_spec", "names"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, ast.JoinedStr):
                continue
            inside = function
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                inside = f"{function}.{child.name}".lstrip(".")
            yield inside, around, child
            own = isinstance(child, ast.expr | ast.Assign | ast.Return)
            own = own and not isinstance(child, ast.UnaryOp)
            yield from _places(child, inside, child if own else around)


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(ops=[op]) if type(op) in COMPARED:
            yield _with(node, ops=[COMPARED[type(op)]()])
        case ast.BinOp(op=op) | ast.AugAssign(op=op) if type(op) in COUNTED:
            yield _with(node, op=COUNTED[type(op)]())
        case ast.BoolOp(op=op):
            yield _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
            if len(node.values) > 2:
                return
            yield from node.values  # the one side alone
        case ast.UnaryOp(operand=operand):
            yield operand
        case ast.If(test=test) | ast.IfExp(test=test) if not isinstance(test, ast.Compare):
            yield _with(node, test=ast.UnaryOp(ast.Not(), test))
        case ast.Constant(value=bool(value)):
            yield _with(node, value=not value)
        case ast.Constant(value=int(value)):
            yield _with(node, value=value + 1)
        case ast.Constant(value=float(value)):
            yield _with(node, value=1.1 * value if value else 1.0)
        case ast.Call(func=ast.Name(id=name)) if name in CALLED:
            yield _with(node, func=ast.Name(CALLED[name], ast.Load()))
        case ast.Call(func=ast.Attribute(attr=name)) if name in CALLED:
            yield _with(node, func=_with(node.func, attr=CALLED[name]))
        case ast.Break():
            yield ast.Pass()
    match node:
        case ast.AugAssign() | ast.Expr(value=ast.Call()):
            yield ast.Pass()
        case ast.Call(keywords=[*_, ast.keyword(arg=str(name))]) if name not in KEPT and node.args:
            yield _with(node, keywords=node.keywords[:-1])


def _with(node: ast.AST, **fields: object) -> ast.AST:
    """A copy of a node with fields of another value."""
    made = copy.copy(node)
    for name, value in fields.items():
        setattr(made, name, value)
    return made
