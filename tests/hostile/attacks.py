"""Texts that make a regular expression work longest: made from its own structure, and those that often do."""

import ast
import importlib
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from re import _constants as op
from re import _parser

USUAL = ("a", "1", " ", "'", ",", "-", "1,", "1/", "a ", "1 ", "value [", "(", "no ", "\u0130", "<c ", "\t")
"""Texts repeated that no single expression asks for."""
ENDS = ("", "\x00", "!")


@dataclass(frozen=True)
class Expression:
    """An expression where it is used: ``how`` is the method that is called with it, ``pandas`` whether on a
    column of text."""

    where: str
    pattern: str | bytes
    flags: int
    how: str
    pandas: bool


def texts(pattern: str | bytes, flags: int, length: int) -> list[str]:
    """Texts of about that length against one expression."""
    tree = _parser.parse(pattern, flags)
    pumps = {*USUAL}
    for before, body in _repeats(list(tree), ""):
        pumps |= {body, before + body}
        pumps |= {(before, body)}
    found: dict[str, None] = {}
    bodies = [pump for pump in pumps if isinstance(pump, str) and pump]
    for pump in sorted(map(_as_pair, pumps)):
        before, body = pump
        if body:
            found |= {(before + body * (length // len(body)) + end): None for end in ENDS}
    for first, then in itertools.pairwise(bodies):
        found[first * (length // 2 // len(first)) + then * (length // 2 // len(then)) + "\x00"] = None
    return list(found)


def _as_pair(pump):
    return pump if isinstance(pump, tuple) else ("", pump)


def _repeats(nodes, before: str) -> Iterator[tuple[str, str]]:
    """Each part that may be repeated: a text that leads up to it, and one that it takes."""
    for kind, value in nodes:
        if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            _, most, body = value
            if most > 8:
                yield before, _sample(list(body))
            yield from _repeats(list(body), before)
        elif kind is op.SUBPATTERN:
            yield from _repeats(list(value[-1]), before)
        elif kind is op.ATOMIC_GROUP:
            yield from _repeats(list(value), before)
        elif kind is op.BRANCH:
            for branch in value[1]:
                yield from _repeats(list(branch), before)
        elif kind in (op.ASSERT, op.ASSERT_NOT):
            yield from _repeats(list(value[1]), before)
        before += _sample([(kind, value)])


def _sample(nodes) -> str:
    """A text that a part takes, the shortest but for one turn of each repeat."""
    return "".join(_sample_of(kind, value) for kind, value in nodes)


def _sample_of(kind, value) -> str:
    if kind is op.LITERAL:
        return chr(value)
    if kind is op.NOT_LITERAL:
        return "a" if value != ord("a") else "b"
    if kind is op.ANY:
        return "a"
    if kind is op.IN:
        return _member(value)
    if kind is op.BRANCH:
        return _sample(list(value[1][0]))
    if kind is op.SUBPATTERN:
        return _sample(list(value[-1]))
    if kind is op.ATOMIC_GROUP:
        return _sample(list(value))
    if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
        least, most, body = value
        return _sample(list(body)) * min(max(least, 1), most)
    return ""


IN_CATEGORY = {
    op.CATEGORY_DIGIT: "1",
    op.CATEGORY_SPACE: " ",
    op.CATEGORY_WORD: "a",
    op.CATEGORY_NOT_DIGIT: "a",
    op.CATEGORY_NOT_SPACE: "a",
    op.CATEGORY_NOT_WORD: " ",
}


def _member(members) -> str:
    """A character of a set: for what is shut out, the first usual one that is not."""
    body = "".join(_class_text(kind, value) for kind, value in members)
    shape = re.compile(f"[{body}]", re.DOTALL)
    return next((mark for mark in "a1 -.,/_:'x\"Z0\t(=é" if shape.match(mark)), _first(members))


def _class_text(kind, value) -> str:
    if kind is op.NEGATE:
        return "^"
    if kind is op.LITERAL:
        return re.escape(chr(value))
    if kind is op.RANGE:
        return f"{re.escape(chr(value[0]))}-{re.escape(chr(value[1]))}"
    return {"digit": r"\d", "space": r"\s", "word": r"\w"}.get(
        value.name.lower().removeprefix("category_"), r"\D" if "NOT_DIGIT" in value.name else r"\W"
    )


def _first(members) -> str:
    for kind, value in members:
        if kind is op.LITERAL:
            return chr(value)
        if kind is op.RANGE:
            return chr(value[0])
    return "a"


RE = {"compile", "match", "search", "fullmatch", "sub", "split", "findall", "finditer"}
PANDAS = {"contains", "match", "extract", "replace", "fullmatch", "findall", "extractall"}


def expressions(package: str) -> tuple[list[Expression], list[str]]:
    """Every expression in the source of a package; and the places where it is not known without running."""
    found: list[Expression] = []
    unknown: list[str] = []
    root = Path(importlib.import_module(package).__file__).parent
    for path in sorted(root.rglob("*.py")):
        module = ".".join(path.relative_to(root.parent).with_suffix("").parts).removesuffix(".__init__")
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute):
                _take(call, module, found, unknown)
    used = {(one.pattern, one.flags) for one in found if one.how != "compile"}
    return [one for one in found if one.how != "compile" or (one.pattern, one.flags) not in used], unknown


def _take(call: ast.Call, module: str, found: list[Expression], unknown: list[str]) -> None:
    """The expression of one call, if it is a call with one."""
    on, how = call.func.value, call.func.attr
    with_pandas = (
        isinstance(on, ast.Attribute) and on.attr == "str" and how in PANDAS and _by_expression(call)
    )
    if isinstance(on, ast.Name) and how in RE and on.id != "re":
        value = getattr(importlib.import_module(module), on.id, None) if on.id.isupper() else None
        if isinstance(value, re.Pattern):
            found.append(_expression(f"{module}:{on.id}", value, how, pandas=False))
    elif with_pandas or (isinstance(on, ast.Name) and on.id == "re" and how in RE):
        where = f"{module}:{ast.unparse(call.args[0])[:60]}"
        try:
            value = _evaluated(call.args[0], module)
            flags = _evaluated(call.args[1], module) if how == "compile" and len(call.args) > 1 else 0
        except (NameError, TypeError):
            unknown.append(where)
            return
        whole = value if isinstance(value, re.Pattern) else re.compile(value, flags)
        found.append(_expression(where, whole, how, pandas=with_pandas))


def _by_expression(call: ast.Call) -> bool:
    """Whether a method of a column of text takes its first argument for an expression."""
    said = next((ast.unparse(key.value) for key in call.keywords if key.arg == "regex"), None)
    return bool(call.args) and (said != "False" if call.func.attr != "replace" else said == "True")


def _evaluated(node: ast.expr, module: str):
    """The value of an expression of Python that needs only the names of its module."""
    return eval(compile(ast.Expression(node), module, "eval"), dict(vars(importlib.import_module(module))))


def _expression(where: str, whole: re.Pattern, how: str, *, pandas: bool) -> Expression:
    return Expression(where, whole.pattern, whole.flags & ~re.UNICODE, how, pandas)
