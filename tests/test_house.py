"""Rules of the house: which room imports which, what an import loads, what is documented."""

import ast
import graphlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import oscsim

ROOT = Path(oscsim.__file__).parent
#: Rooms and what they must never import, at any depth of their code.
COMMAND_LINE = ("oscsim.cli", "oscsim.commands")
NEVER = {
    "motion": ("oscsim.answers", "oscsim.bench", "oscsim.show", *COMMAND_LINE, "matplotlib", "sympy"),
    "parts": (
        "oscsim.answers",
        "oscsim.bench",
        "oscsim.show",
        *COMMAND_LINE,
        "oscsim.motion",
        "matplotlib",
        "sympy",
    ),
    "typical": (
        "oscsim.answers",
        "oscsim.bench",
        "oscsim.show",
        *COMMAND_LINE,
        "matplotlib",
        "sympy",
        "oscsim.motion",
    ),
    "slips": ("oscsim.answers", "oscsim.bench", "oscsim.show", *COMMAND_LINE, "matplotlib", "sympy"),
    "show": (*COMMAND_LINE, "sympy", "scipy", "oscsim.motion.settle", "oscsim.operating"),
    "answers": (*COMMAND_LINE, "oscsim.bench", "sympy"),
    "bench": (*COMMAND_LINE, "sympy"),
}


def _module(path):
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {_module(path): path for path in sorted(ROOT.rglob("*.py"))}


def _imports(nodes):
    """Names imported by these statements and all inside them; a name taken from a package may be a module."""
    for node in nodes:
        for inner in ast.walk(node):
            if isinstance(inner, ast.Import):
                yield from (alias.name for alias in inner.names)
            elif isinstance(inner, ast.ImportFrom):
                assert inner.level == 0, "imports are absolute here"
                yield inner.module
                yield from (f"{inner.module}.{alias.name}" for alias in inner.names)


def _at_load(path):
    """Statements that run when the module is loaded."""
    for node in ast.parse(path.read_text("utf-8")).body:
        typing_only = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        if not typing_only and not isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node


@pytest.mark.parametrize("room", NEVER)
def test_import_arrows(room):
    here = [name for name in MODULES if name.startswith(f"oscsim.{room}")]
    assert len(here) > 1
    for name in here:
        body = ast.parse(MODULES[name].read_text("utf-8")).body
        if room in ("answers", "show"):  # naming a type is no dependence
            body = [node for node in body if "TYPE_CHECKING" not in ast.dump(node)]
        for found in _imports(body):
            for banned in NEVER[room]:
                assert found != banned, f"{name} imports {found}"
                assert not found.startswith(f"{banned}."), f"{name} imports {found}"


def test_no_import_cycles():
    graph = {
        name: {found for found in _imports(_at_load(path)) if found in MODULES and found != "oscsim"}
        for name, path in MODULES.items()
        if name != "oscsim"
    }
    assert sum(len(inner) for inner in graph.values()) > len(graph)
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError


def _loaded_by(statement):
    code = f"{statement}; import sys; print(' '.join(sys.modules))"
    run = [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(ROOT.parent)!r}); {code}"]
    found = subprocess.run(run, capture_output=True, encoding="utf-8", timeout=60, check=True)
    return {name.split(".")[0] for name in found.stdout.split()}


@pytest.mark.parametrize(
    "statement",
    ["import oscsim", "import oscsim.cli", "import oscsim; oscsim.settle(oscsim.load('dockhand')).to_json()"],
)
def test_neither_matplotlib_nor_sympy_is_loaded(statement):
    loaded = _loaded_by(statement)
    assert {"oscsim", "numpy"} <= loaded
    assert not {"matplotlib", "sympy", "pytest", "hypothesis"} & loaded


def test_every_public_name_is_there_and_listed():
    assert sorted(oscsim.__all__) == sorted(set(oscsim.__all__))
    shown = {
        name
        for name, value in vars(oscsim).items()
        if not name.startswith("_") and not inspect.ismodule(value)
    }
    assert shown | {"__version__"} == set(oscsim.__all__)


def _public():
    for name in oscsim.__all__:
        value = getattr(oscsim, name)
        if callable(value):
            yield name, value
        if inspect.isclass(value):
            for inner in dir(value):
                if (
                    not inner.startswith("_")
                    and inner in vars(value)
                    and not isinstance(vars(value)[inner], float | int)
                ):
                    yield f"{name}.{inner}", getattr(value, inner)


@pytest.mark.parametrize(
    ("name", "value"), [p for p in _public() if callable(p[1]) or isinstance(p[1], property)]
)
def test_every_public_name_is_documented(name, value):
    text = inspect.getdoc(value) or ""
    assert len(text.split()) >= 3, f"{name} has no docstring"
    assert not text.startswith(f"{name}("), f"{name} has only what dataclass writes"


@pytest.mark.parametrize("name", MODULES)
def test_every_module_says_what_it_is_for(name):
    path = MODULES[name]
    assert ast.get_docstring(ast.parse(path.read_text("utf-8")))
    assert len(path.read_text("utf-8").splitlines()) <= 400


def test_every_quantity_says_what_it_means():
    from tests.movements import all_quantities

    for key, info in all_quantities():
        assert info.meaning, key
        assert info.symbol, key
        assert info.low < info.high, key
        endings = {"_deg": "deg", "_mm": "mm", "_um": "µm", "_mg": "mg", "_mg_cm2": "mg·cm²", "_gpa": "GPa",
                   "_mpa": "MPa", "_n_mm": "N·mm", "_per_m": "1/m", "_ug_cm": "µg·cm"}  # fmt: skip
        unit = next(
            (u for e, u in sorted(endings.items(), key=lambda x: -len(x[0])) if key.endswith(e)), None
        )
        assert unit is None or info.unit == unit, key
