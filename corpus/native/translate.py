"""From a kernel to LLVM's intermediate language: one method for each construct of ``corpus.native.language``.

Variables live in memory here; LLVM's own passes move them into registers.
"""

import ast
import inspect
import textwrap
from collections.abc import Callable, Sequence
from typing import Any, Final

from llvmlite import ir

from corpus.native.language import LANES

Kernel = Callable[..., int]

_NUMBER: Final = ir.IntType(64)
_CONDITION: Final = ir.IntType(1)
_ENTRY_BITS: Final = {"Bytes": 8, "Int32s": 32, "Int64s": 64}
_UNSIGNED: Final = "Bytes"
_COMPARED: Final = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}


class UnknownConstructError(TypeError):
    """A kernel contains what the translator does not know: a mistake of who wrote the kernel."""

    def __init__(self, node: ast.AST, what: str = "") -> None:
        super().__init__(f"line {getattr(node, 'lineno', '?')} of a kernel: {what or ast.unparse(node)}")


def module_of(kernels: Sequence[Kernel], bits: int) -> ir.Module:
    """Kernels as one module, with lanes of so many bits; each may call those before it."""
    module = ir.Module(name="kernels")
    known: dict[str, ir.Function] = {}
    for kernel in kernels:
        tree = ast.parse(textwrap.dedent(inspect.getsource(kernel))).body[0]
        assert isinstance(tree, ast.FunctionDef)
        _Translation(module, tree, getattr(kernel, "__globals__", {}), known, bits).run()
    return module


class _Translation:
    """One kernel on its way."""

    def __init__(
        self, module: ir.Module, tree: ast.FunctionDef, constants: dict[str, Any], known: dict[str, Any], bits: int
    ) -> None:
        self._module, self._tree, self._constants, self._known = module, tree, constants, known
        self._lanes = ir.VectorType(ir.IntType(bits), LANES)
        self._kinds = {argument.arg: _annotation(argument) for argument in tree.args.args}
        parameters = [self._type(kind) for kind in self._kinds.values()]
        self._function = ir.Function(module, ir.FunctionType(_NUMBER, parameters), tree.name)
        known[tree.name] = self._function
        self._entry = self._function.append_basic_block("entry")
        self._builder = ir.IRBuilder(self._function.append_basic_block("body"))
        self._variables: dict[str, Any] = {}
        self._arrays: dict[str, Any] = {}
        self._loops: list[tuple[ir.Block, ir.Block]] = []
        """Where ``continue`` and ``break`` go."""

    def _type(self, kind: str) -> Any:
        if kind == "int":
            return _NUMBER
        return ir.PointerType(self._lanes if kind == "ManyLanes" else ir.IntType(_ENTRY_BITS[kind]))

    def run(self) -> None:
        """Translate the body; a kernel whose end is reached without ``return`` gives 0."""
        for argument, (name, kind) in zip(self._function.args, self._kinds.items(), strict=True):
            if kind == "int":
                self._store(name, argument)
            else:
                argument.add_attribute("noalias")
                self._arrays[name] = argument
        self._block(self._tree.body)
        if not self._builder.block.is_terminated:
            self._builder.ret(_NUMBER(0))
        ir.IRBuilder(self._entry).branch(self._function.blocks[1])

    # Statements

    def _block(self, statements: Sequence[ast.stmt]) -> None:
        for statement in statements:
            getattr(self, f"_do_{type(statement).__name__}", self._unknown)(statement)

    def _unknown(self, node: ast.AST) -> Any:
        raise UnknownConstructError(node)

    def _do_Expr(self, node: ast.Expr) -> None:  # noqa: N802 (named after what is translated)
        if not isinstance(node.value, ast.Constant):
            self._value(node.value)  # a docstring does nothing

    def _do_Assign(self, node: ast.Assign) -> None:  # noqa: N802
        value = self._value(node.value)
        for target in node.targets:
            self._assign(target, value)

    def _do_AugAssign(self, node: ast.AugAssign) -> None:  # noqa: N802
        self._assign(node.target, self._operation(node.op, self._value(node.target), self._value(node.value), node))

    def _do_Return(self, node: ast.Return) -> None:  # noqa: N802
        assert node.value is not None
        self._builder.ret(self._value(node.value))

    def _do_Break(self, _node: ast.Break) -> None:  # noqa: N802
        self._builder.branch(self._loops[-1][1])

    def _do_Continue(self, _node: ast.Continue) -> None:  # noqa: N802
        self._builder.branch(self._loops[-1][0])

    def _do_If(self, node: ast.If) -> None:  # noqa: N802
        condition = self._value(node.test)
        yes, no, after = (self._function.append_basic_block(name) for name in ("then", "else", "after"))
        self._builder.cbranch(condition, yes, no)
        for block, statements in ((yes, node.body), (no, node.orelse)):
            self._inside(block, statements, after)
        self._builder.position_at_end(after)

    def _do_While(self, node: ast.While) -> None:  # noqa: N802
        test, body, after = (self._function.append_basic_block(name) for name in ("test", "body", "after"))
        self._builder.branch(test)
        self._builder.position_at_end(test)
        self._builder.cbranch(self._value(node.test), body, after)
        self._loops.append((test, after))
        self._inside(body, node.body, test)
        self._loops.pop()
        self._builder.position_at_end(after)

    def _do_For(self, node: ast.For) -> None:  # noqa: N802
        if not (isinstance(node.target, ast.Name) and isinstance(node.iter, ast.Call) and not node.orelse):
            raise UnknownConstructError(node)
        limits = [self._value(argument) for argument in node.iter.args]
        if ast.unparse(node.iter.func) != "range" or len(limits) > 2:
            raise UnknownConstructError(node.iter)
        name = node.target.id
        test, body, step, after = (self._function.append_basic_block(n) for n in ("test", "body", "step", "after"))
        counter = self._room(_NUMBER)
        self._builder.store(limits[0] if len(limits) == 2 else _NUMBER(0), counter)
        self._builder.branch(test)
        self._builder.position_at_end(test)
        at = self._builder.load(counter)
        self._builder.cbranch(self._builder.icmp_signed("<", at, limits[-1]), body, after)
        self._builder.position_at_end(body)
        self._store(name, at)
        self._loops.append((step, after))
        self._inside(body, node.body, step)
        self._loops.pop()
        self._builder.position_at_end(step)
        self._builder.store(self._builder.add(self._builder.load(counter), _NUMBER(1)), counter)
        self._builder.branch(test)
        self._builder.position_at_end(after)

    def _inside(self, block: ir.Block, statements: Sequence[ast.stmt], then: ir.Block) -> None:
        """Statements in a block, which goes on to another where they do not leave it themselves."""
        self._builder.position_at_end(block)
        self._block(statements)
        if not self._builder.block.is_terminated:
            self._builder.branch(then)

    def _assign(self, target: ast.expr, value: Any) -> None:
        if isinstance(target, ast.Name):
            self._store(target.id, value)
            return
        if not isinstance(target, ast.Subscript):
            raise UnknownConstructError(target)
        place, kind = self._place(target)
        if kind in _ENTRY_BITS and _ENTRY_BITS[kind] < _NUMBER.width:
            value = self._builder.trunc(value, ir.IntType(_ENTRY_BITS[kind]))
        self._builder.store(value, place, align=_align(kind))

    def _store(self, name: str, value: Any) -> None:
        if name not in self._variables:
            self._variables[name] = self._room(value.type)
        self._builder.store(value, self._variables[name])

    def _room(self, kind: Any) -> Any:
        """Room for a variable, made on entry so that loops do not make it again."""
        return ir.IRBuilder(self._entry).alloca(kind)

    # Values

    def _value(self, node: ast.expr) -> Any:
        return getattr(self, f"_of_{type(node).__name__}", self._unknown)(node)

    def _of_Constant(self, node: ast.Constant) -> Any:  # noqa: N802
        if not isinstance(node.value, int):
            raise UnknownConstructError(node)
        return _NUMBER(int(node.value))

    def _of_Name(self, node: ast.Name) -> Any:  # noqa: N802
        if node.id in self._variables:
            return self._builder.load(self._variables[node.id])
        if node.id in self._arrays:
            return self._arrays[node.id]
        constant = self._constants.get(node.id)
        if not isinstance(constant, int):
            raise UnknownConstructError(node, f"{node.id} is no variable and no whole number of the module")
        return _NUMBER(constant)

    def _of_Subscript(self, node: ast.Subscript) -> Any:  # noqa: N802
        place, kind = self._place(node)
        value = self._builder.load(place, align=_align(kind))
        if kind not in _ENTRY_BITS or _ENTRY_BITS[kind] == _NUMBER.width:
            return value
        return (self._builder.zext if kind == _UNSIGNED else self._builder.sext)(value, _NUMBER)

    def _place(self, node: ast.Subscript) -> tuple[Any, str]:
        """The address of an entry of an array, and the array's kind."""
        if not (isinstance(node.value, ast.Name) and node.value.id in self._arrays):
            raise UnknownConstructError(node)
        name = node.value.id
        return self._builder.gep(self._arrays[name], [self._value(node.slice)]), self._kinds[name]

    def _of_BinOp(self, node: ast.BinOp) -> Any:  # noqa: N802
        return self._operation(node.op, self._value(node.left), self._value(node.right), node)

    def _operation(self, operator: ast.operator, left: Any, right: Any, node: ast.AST) -> Any:
        builder = self._builder
        if left.type == self._lanes:
            if not isinstance(operator, ast.Add):
                raise UnknownConstructError(node)
            return self._intrinsic("llvm.uadd.sat", self._lanes, left, right)
        if isinstance(operator, (ast.Mod, ast.FloorDiv)):
            # As in Python what is left over has the divisor's sign, which is positive here.
            over = builder.srem(builder.add(builder.srem(left, right), right), right)
            return over if isinstance(operator, ast.Mod) else builder.sdiv(builder.sub(left, over), right)
        made = {ast.Add: builder.add, ast.Sub: builder.sub, ast.Mult: builder.mul, ast.BitAnd: builder.and_,
                ast.BitOr: builder.or_, ast.LShift: builder.shl, ast.RShift: builder.ashr}  # fmt: skip
        if type(operator) not in made:
            raise UnknownConstructError(node)
        return made[type(operator)](left, right)

    def _of_UnaryOp(self, node: ast.UnaryOp) -> Any:  # noqa: N802
        value = self._value(node.operand)
        if isinstance(node.op, ast.Not):
            return self._builder.not_(value)
        if not isinstance(node.op, ast.USub):
            raise UnknownConstructError(node)
        return self._builder.neg(value)

    def _of_Compare(self, node: ast.Compare) -> Any:  # noqa: N802
        if len(node.ops) != 1 or type(node.ops[0]) not in _COMPARED:
            raise UnknownConstructError(node)
        sign = _COMPARED[type(node.ops[0])]
        return self._builder.icmp_signed(sign, self._value(node.left), self._value(node.comparators[0]))

    def _of_BoolOp(self, node: ast.BoolOp) -> Any:  # noqa: N802
        """What comes later is only looked at where it decides."""
        result, after = self._room(_CONDITION), self._function.append_basic_block("decided")
        for operand in node.values:
            value = self._value(operand)
            self._builder.store(value, result)
            following = self._function.append_basic_block("undecided")
            ways = (following, after) if isinstance(node.op, ast.And) else (after, following)
            self._builder.cbranch(value, *ways)
            self._builder.position_at_end(following)
        self._builder.branch(after)
        self._builder.position_at_end(after)
        return self._builder.load(result)

    def _of_Call(self, node: ast.Call) -> Any:  # noqa: N802
        name, values = ast.unparse(node.func), [self._value(argument) for argument in node.args]
        if name in ("min", "max") and len(values) == 2:
            return self._intrinsic(f"llvm.s{name}", _NUMBER, *values)
        if name == "lower" and len(values) == 2:
            return self._intrinsic("llvm.umin", self._lanes, *values)
        if name == "least":
            found = self._intrinsic("llvm.vector.reduce.umin", self._lanes.element, *values)
            return self._builder.zext(found, _NUMBER)
        if name not in self._known:
            raise UnknownConstructError(node)
        return self._builder.call(self._known[name], values)

    def _intrinsic(self, name: str, result: Any, *values: Any) -> Any:
        """A call of an operation that LLVM knows by name and type."""
        kind = values[0].type
        told = f"v{kind.count}i{kind.element.width}" if isinstance(kind, ir.VectorType) else f"i{kind.width}"
        full = f"{name}.{told}"
        function = self._module.globals.get(full)
        if function is None:
            function = ir.Function(self._module, ir.FunctionType(result, [value.type for value in values]), full)
        return self._builder.call(function, values)


def _align(kind: str) -> int:
    """Bytes that entries of an array are aligned to: numpy promises no more than its own types need."""
    return _ENTRY_BITS.get(kind, 8) // 8


def _annotation(argument: ast.arg) -> str:
    name = "" if argument.annotation is None else ast.unparse(argument.annotation)
    if name not in (*_ENTRY_BITS, "int", "ManyLanes"):
        raise UnknownConstructError(argument, f"{argument.arg} has no type that kernels know")
    return name
