"""Small wrong versions of a source file, and a fair sample of them.

The operators (`OPERATORS` names them) change one place each: arithmetic, comparison, constant,
boolean, sign, a function for its opposite, result and flow. Left out, because a change there says
nothing about the tests: docstrings, annotations, decorators, the words of a message (f-strings
and whatever stands in a `raise`), ``__slots__`` and ``__all__``.
"""

from __future__ import annotations

import ast
import random
from dataclasses import dataclass
from pathlib import Path
from typing import Any

OPERATORS = (
    "arithmetic",
    "comparison",
    "constant",
    "boolean",
    "sign",
    "opposite",
    "result",
    "flow",
)

ARITHMETIC = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "*"),
    ast.Pow: ("**", "*"),
}
# The border moved by a hair, and the whole question turned round.
COMPARISON = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
}
MARK = b"\xc2\xb6"
_PAIRS = (
    ("min", "max"),
    ("minimum", "maximum"),
    ("fmin", "fmax"),
    ("nanmin", "nanmax"),
    ("argmin", "argmax"),
    ("any", "all"),
    ("floor", "ceil"),
    ("sin", "cos"),
    ("cumsum", "cumprod"),
)
OPPOSITE = {a: b for pair in _PAIRS for a, b in (pair, pair[::-1])}


@dataclass(frozen=True, slots=True, kw_only=True, eq=True)
class Mutant:
    """One change at one place.

    Lines count from 1, columns from 0 in bytes; ``lines`` is the statement around the change.
    """

    file: str
    operator: str
    line: int
    start: int
    end: int
    old: str
    new: str
    lines: tuple[int, int]

    @property
    def name(self) -> str:
        """The same place and change give the same name in every run."""
        return f"{self.file}:{self.line}:{self.start} {self.old} -> {self.new}"


def applied(text: bytes, mutant: Mutant) -> bytes:
    """The source with the change in it."""
    return text[: mutant.start] + mutant.new.encode() + text[mutant.end :]


class _Finder(ast.NodeVisitor):
    """Walks a source and notes every change that the operators allow."""

    def __init__(self, file: str, text: bytes) -> None:
        self.file = file
        self.text = text
        self.starts = [0]
        for line in text.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))
        self.found: list[Mutant] = []
        self.lines = (1, 1)

    def at(self, line: int, column: int) -> int:
        return self.starts[line - 1] + column

    def span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def note(self, operator: str, start: int, end: int, new: str) -> None:
        line = self.text.count(b"\n", 0, start) + 1
        old = self.text[start:end].decode()
        self.found.append(
            Mutant(
                file=self.file,
                operator=operator,
                line=line,
                start=start,
                end=end,
                old=old,
                new=new,
                lines=self.lines,
            )
        )

    def sign_between(self, left: ast.expr, right: ast.expr, sign: str) -> tuple[int, int] | None:
        """Where an infix sign stands: between its operands, outside of comments."""
        start, end = self.span(left)[1], self.span(right)[0]
        found = self.text.find(sign.encode(), start, end)
        if found < 0 or b"#" in self.text[start:end]:
            return None
        return found, found + len(sign)

    def visit(self, node: ast.AST) -> None:
        if isinstance(node, ast.stmt):
            before = self.lines
            inner = getattr(node, "body", None)
            last = node.end_lineno or node.lineno
            if isinstance(inner, list) and inner:
                last = max(node.lineno, inner[0].lineno - 1)
            self.lines = (node.lineno, last)
            super().visit(node)
            self.lines = before
            return
        super().visit(node)

    # What is left out.
    def visit_Raise(self, node: ast.Raise) -> None: ...
    def visit_JoinedStr(self, node: ast.JoinedStr) -> None: ...
    def visit_Import(self, node: ast.Import) -> None: ...
    def visit_ImportFrom(self, node: ast.ImportFrom) -> None: ...

    def visit_If(self, node: ast.If) -> None:
        if not (isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"):
            self.negated(node.test)
            self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in [*node.args.defaults, *node.args.kw_defaults]:
            if default is not None:
                self.visit(default)
        for statement in node.body:
            self.visit(statement)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for statement in node.body:
            self.visit(statement)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        names = {target.id for target in node.targets if isinstance(target, ast.Name)}
        if not names & {"__all__", "__slots__"}:
            self.generic_visit(node)

    # Changes.
    def visit_BinOp(self, node: ast.BinOp) -> None:
        texts = (ast.JoinedStr,)
        is_text = any(
            isinstance(side, texts)
            or (isinstance(side, ast.Constant) and isinstance(side.value, str))
            for side in (node.left, node.right)
        )
        if type(node.op) in ARITHMETIC and not is_text:
            sign, new = ARITHMETIC[type(node.op)]
            place = self.sign_between(node.left, node.right, sign)
            if place:
                self.note("arithmetic", *place, new)
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        if type(node.op) in ARITHMETIC and isinstance(node.target, ast.expr):
            sign, new = ARITHMETIC[type(node.op)]
            place = self.sign_between(node.target, node.value, f"{sign}=")
            if place:
                self.note("arithmetic", *place, f"{new}=")
        self.visit(node.value)

    def visit_Compare(self, node: ast.Compare) -> None:
        left = node.left
        for operator, right in zip(node.ops, node.comparators, strict=True):
            sign, others = COMPARISON[type(operator)]
            place = self.sign_between(left, right, sign)
            if place:
                for new in others:
                    self.note("comparison", *place, new)
            left = right
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        sign, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        place = self.sign_between(node.values[0], node.values[1], f" {sign} ")
        if place and len(node.values) == 2:
            self.note("boolean", *place, f" {new} ")
        self.generic_visit(node)

    def negated(self, test: ast.expr) -> None:
        """A condition that is a bare name or call, asked the other way round."""
        if isinstance(test, ast.Name | ast.Attribute | ast.Call):
            start, end = self.span(test)
            self.note("boolean", start, end, f"not {self.text[start:end].decode()}")

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.negated(node.test)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start, end = self.span(node)
        inner = self.text[self.span(node.operand)[0] : end].decode()
        if isinstance(node.op, ast.USub):
            self.note("sign", start, end, f"+{inner}")
        elif isinstance(node.op, ast.Not):
            self.note("boolean", start, end, f"bool({inner})")
        elif isinstance(node.op, ast.Invert):
            self.note("boolean", start, end, inner)
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        start, end = self.span(node)
        if isinstance(node.value, bool):
            self.note("constant", start, end, str(not node.value))
        elif isinstance(node.value, int):
            self.note("constant", start, end, str(node.value + 1))
        elif isinstance(node.value, float):
            self.note("constant", start, end, repr(1.1 * node.value) if node.value else "1.0")

    def visit_Call(self, node: ast.Call) -> None:
        function = node.func
        if isinstance(function, ast.Name) and function.id in OPPOSITE:
            self.note("opposite", *self.span(function), OPPOSITE[function.id])
        elif isinstance(function, ast.Attribute) and function.attr in OPPOSITE:
            end = self.span(function)[1]
            self.note("opposite", end - len(function.attr.encode()), end, OPPOSITE[function.attr])
        for word in node.keywords:
            if isinstance(word.value, ast.Constant) and word.value.value in ("left", "right"):
                new = "right" if word.value.value == "left" else "left"
                self.note("opposite", *self.span(word.value), f'"{new}"')
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        plain = isinstance(node.value, ast.Constant) and node.value.value is None
        if node.value is not None and not plain:
            self.note("result", *self.span(node.value), "None")
        self.generic_visit(node)

    def visit_Break(self, node: ast.Break) -> None:
        start = self.at(node.lineno, node.col_offset)
        self.note("flow", start, start + 5, "continue")

    def visit_Continue(self, node: ast.Continue) -> None:
        start = self.at(node.lineno, node.col_offset)
        self.note("flow", start, start + 8, "break")


def mutants_of(root: Path, file: str) -> list[Mutant]:
    """Every mutant of one file that Python can still read."""
    text = (root / file).read_bytes()
    finder = _Finder(file, text)
    finder.visit(ast.parse(text))
    return [mutant for mutant in finder.found if _is_readable(applied(text, mutant))]


def text_of(root: Path, mutant: Mutant) -> str:
    """The line that a mutant begins on, with a mark where it does."""
    text = (root / mutant.file).read_bytes()
    begin = text.rfind(b"\n", 0, mutant.start) + 1
    end = text.find(b"\n", mutant.start)
    return (text[begin : mutant.start] + MARK + text[mutant.start : end]).decode()


def found_again(root: Path, noted: dict[str, Any]) -> Mutant | None:
    """The same change of the same line in sources that may have moved on; None if it is gone."""
    if not (root / noted["file"]).exists():
        return None
    same = [
        mutant
        for mutant in mutants_of(root, noted["file"])
        if (mutant.operator, mutant.old, mutant.new)
        == (noted["operator"], noted["old"], noted["new"])
        and text_of(root, mutant) == noted["text"]
    ]
    return min(same, key=lambda mutant: abs(mutant.line - noted["line"]), default=None)


def _is_readable(text: bytes) -> bool:
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True


def sample(root: Path, files: list[str], n_mutants: int, seed: int) -> tuple[list[Mutant], int]:
    """Draw mutants without replacement; also how many there were to draw from.

    Files take turns in proportion to the root of what each holds, so that every file has its say;
    in a file, operators are drawn first, then places, so that constants do not crowd out the rest.
    """
    pools = {file: mutants_of(root, file) for file in sorted(files)}
    n_all = sum(map(len, pools.values()))
    chance = random.Random(seed)
    weights = {file: len(pool) ** 0.5 for file, pool in pools.items() if pool}
    drawn: list[Mutant] = []
    taken = dict.fromkeys(weights, 0)
    while len(drawn) < n_mutants and any(pools.values()):
        open_files = [file for file in weights if pools[file]]
        # The file that is furthest behind its share is next.
        file = min(open_files, key=lambda name: ((taken[name] + 1) / weights[name], name))
        pool = pools[file]
        operator = chance.choice(sorted({mutant.operator for mutant in pool}))
        mutant = chance.choice([one for one in pool if one.operator == operator])
        pool.remove(mutant)
        taken[file] += 1
        drawn.append(mutant)
    return drawn, n_all
