"""Rules of the house: which room imports which, what an import loads, what is documented."""

import ast
import functools
import graphlib
import importlib
import inspect
import re
import subprocess
import sys
import typing
from pathlib import Path

import pytest

import oscsim
from oscsim.answers.result import Result
from oscsim.answers.view import VIEWS
from oscsim.cli import parser_of_all

ROOT = Path(oscsim.__file__).parent
#: Commands that answer a question; a window, the list of designs and a script for the shell are no results.
COMMANDS = [name for name in parser_of_all() if name not in ("explore", "designs", "completion")]
#: The house from the bottom up: a room, and the rooms it may import beside itself. A room is a package or a file at the
#: top; a new one gets its line here. Imports inside functions and for typing count like any other.
ROOMS = {
    "errors": "",
    "arrays": "",
    "version": "",
    "designs": "errors",
    "text": "errors arrays",
    "units": "errors",
    "fields": "errors",
    "whole": "errors",
    "output": "",
    "toml": "errors whole",
    "spreadsheet": "errors arrays whole",
    "tables": "errors fields",
    "tolerances": "errors",
    "theory": "arrays",
    "parts": "errors arrays units fields tables",
    "motion": "errors arrays version whole theory",
    "movement": "errors fields tables tolerances parts",
    "files": "errors designs whole toml tables parts movement",
    "edited": "errors movement files",
    "stack": "errors arrays tables parts movement",
    "typical": "errors arrays units fields tables tolerances parts movement stack",
    "oil": "arrays tables parts movement stack",
    "condition": "errors arrays fields tables parts movement stack oil",
    "setting": "errors arrays units fields parts condition",
    "slips": "errors arrays designs units toml spreadsheet typical fields tables tolerances parts movement files "
    "setting",
    "escapements": "errors arrays units parts motion",
    "operating": "errors arrays units parts motion movement condition setting escapements",
    "turning": "errors parts movement",
    "answers": "BELOW",
    "bench": "BELOW",
    "use": "BELOW",
    "teaching": "BELOW",
    "show": "BELOW",
    "": "BELOW",  # the package itself: it names what is public
    "commands": "BELOW",
    "cli": "BELOW",
    "command_line": "errors commands cli",
    "__main__": "cli",
}
#: What a room above may import of no room: each takes of these only what the rooms between make of them.
NEVER = {"show": ("oscsim.operating", "oscsim.motion.settle", "oscsim.motion.sustain", "oscsim.motion.sweep")}
#: Heavy libraries and the rooms that may import them, for typing aside.
HEAVY = {
    "sympy": ("theory",),
    "matplotlib": ("show", "commands"),
    "scipy": ("theory", "answers", "bench", "use", "teaching"),
}
#: The one circle there is: the theory is derived in SymPy, which must not be loaded with the package.
CIRCLE = ("oscsim.theory", "oscsim.theory.formulas")


def _module(path):
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {_module(path): path for path in sorted(ROOT.rglob("*.py"))}


def _room(module):
    return module.split(".")[1] if "." in module else ""


def _imports(text):
    """Names imported anywhere in a module; a name taken from a package may be a module, or its package is meant."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute here"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in MODULES else node.module


#: What the package names as public, and loads when it is asked for.
PUBLIC = (ROOT / "__init__.pyi").read_text("utf-8")


@functools.cache
def imports():
    """What each module imports, by name; read once, and not while tests are being collected."""
    found = {name: set(_imports(path.read_text("utf-8"))) for name, path in MODULES.items()}
    found["oscsim"] |= set(_imports(PUBLIC))
    return found


def test_every_room_imports_only_what_stands_below_it():
    assert set(map(_room, MODULES)) <= set(ROOMS)
    below = []
    for room, told in ROOMS.items():
        may = {room, *(below if told == "BELOW" else told.split())}
        assert may <= {room, *below}, f"{room} may import what stands above it"
        below.append(room)
        for name in filter(lambda name: _room(name) == room, MODULES):
            for found in imports()[name]:
                if found.split(".")[0] == "oscsim":
                    assert _room(found) in may, f"{name} imports {found}"
                    assert found not in NEVER.get(room, ()), f"{name} imports {found}"


def test_no_import_circles():
    graph = {name: {found for found in imports()[name] if found in MODULES} for name in MODULES}
    assert sum(map(len, graph.values())) > 3 * len(graph)
    graph[CIRCLE[0]].remove(CIRCLE[1])
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError


@pytest.mark.parametrize("library", HEAVY)
def test_heavy_libraries_keep_to_their_rooms(library):
    using = {name for name in MODULES if any(found.split(".")[0] == library for found in imports()[name])}
    assert using
    for name in using:
        typing_only = library == "matplotlib" and name == "oscsim.answers.result"
        assert typing_only or _room(name) in HEAVY[library], f"{name} imports {library}"


#: Runs a command line whose text nobody reads.
MAIN = (
    "import contextlib, io, oscsim.cli\n"
    "with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit): oscsim.cli.main"
)


@pytest.mark.parametrize(
    ("library", "files"),
    [("tomllib", {"oscsim.toml"}), ("csv", {"oscsim.spreadsheet", "oscsim.output"})],
)
def test_files_are_read_and_written_in_one_way(library, files):
    assert {name for name in MODULES if library in imports()[name]} == files


@pytest.mark.parametrize("kind", ["lever", "detent"])
def test_only_its_room_and_its_part_know_an_escapement(kind):
    """The motion's room of a kind is imported by that room and its module in ``escapements`` alone."""
    room, module = f"oscsim.motion.{kind}", f"oscsim.escapements.{kind}"
    using = {name for name, found in imports().items() if any(one.startswith(f"{room}.") for one in found)}
    assert module in using
    assert {name for name in using if not name.startswith(room)} == {module}


def test_the_detents_words_stay_at_home():
    """Keys of the detent in its part, its rooms, the table of numbers, and what oil does to it."""
    words = (
        "passing_spring",
        "unlocking_deg",
        "detent_ratio",
        "detent_arm",
        "impulse_friction",
        "half_advance",
    )
    home = (
        "oscsim.parts.detent",
        "oscsim.motion.detent",
        "oscsim.escapements.detent",
        "oscsim.typical.numbers",
    )
    for name, path in MODULES.items():
        if name.startswith(home) or name == "oscsim.oil":
            continue
        text = path.read_text("utf-8")
        assert not [word for word in words if word in text], name


#: Keys of the lever, and the modules that know them beside its part, its rooms and the table of numbers: what is built
#: on a lever and refuses another kind (``needs_lever``), what has alternatives or a deeper lock, and examples in help.
LEVERS_WORDS = ("lock_deg", "run_deg", "pallet_lift", "notch_shake", "fork_efficiency", "fork_ratio", "horn_clearance",
                "teeth_embraced", "lever_inertia", "pallet_friction")  # fmt: skip
LEVERS_HOME = ("oscsim.parts.escapement", "oscsim.motion.lever", "oscsim.escapements.lever", "oscsim.typical")
BUILT_ON_A_LEVER = ("answers.measures", "answers.tradeoff", "answers.explore", "answers.joint", "teaching", "show.page",
                    "bench.causes", "bench.hypotheses", "bench.next_step", "bench.sketch",
                    "slips.readings")  # fmt: skip
ALTERNATIVES = (
    "movement",
    "stack",
    "condition",
    "oil",
    "answers.gaps",
    "show.design_file",
    "show.whatif_tables",
)
HELP = ("commands.compare", "commands.bench", "commands.whatif", "commands.points")


def test_the_levers_words_stay_at_home():
    may = tuple(f"oscsim.{name}" for name in (*BUILT_ON_A_LEVER, *ALTERNATIVES, *HELP))
    using = set()
    for name, path in MODULES.items():
        if not name.startswith(LEVERS_HOME) and any(word in path.read_text("utf-8") for word in LEVERS_WORDS):
            assert name.startswith(may), name
            using.add(next(one for one in may if name.startswith(one)))
    assert using == set(may), "a module on the list knows no word of the lever any more"


def _loaded_by(statement):
    code = f"{statement}\nimport sys; print(' '.join(sys.modules))"
    run = [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(ROOT.parent)!r})\n{code}"]
    found = subprocess.run(run, capture_output=True, encoding="utf-8", timeout=60, check=True)
    return {name.split(".")[0] for name in found.stdout.split()}


@pytest.mark.parametrize(
    ("statement", "never"),
    [
        ("import oscsim, oscsim.cli", {"numpy", "scipy", "sympy", "matplotlib"}),
        (f"{MAIN}(['--help'])", {"numpy"}),
        (f"{MAIN}(['settle', '--help'])", {"numpy"}),
        (f"{MAIN}(['completion', 'bash'])", {"numpy"}),
        (f"{MAIN}(['settle', 'dockhand'])", {"scipy", "sympy", "matplotlib"}),
        ("import oscsim; oscsim.settle(oscsim.load('dockhand')).to_json()", {"scipy", "sympy", "matplotlib"}),
    ],
)
def test_no_more_is_loaded_than_is_needed(statement, never):
    loaded = _loaded_by(statement)
    assert "oscsim" in loaded
    assert not {"pytest", "hypothesis", *never} & loaded


def test_every_public_name_is_there_and_listed():
    listed = re.findall(r"^from (\S+) import (\w+) as (\w+)$", PUBLIC, re.MULTILINE)
    assert len(listed) == PUBLIC.count("import")
    assert all(name == shown for _, name, shown in listed)
    assert dir(oscsim) == oscsim.__all__ == sorted({name for _, name, _ in listed})
    for home, name, _ in listed:
        assert getattr(oscsim, name) is getattr(importlib.import_module(home), name)
        assert home in MODULES
    with pytest.raises(AttributeError, match="no attribute 'setle'"):
        oscsim.setle  # noqa: B018


def test_every_view_is_of_the_class_it_shows():
    """Each function in the table of views is there, and its first argument is a result of that class."""
    results = {
        name
        for name in oscsim.__all__
        if inspect.isclass(getattr(oscsim, name)) and issubclass(getattr(oscsim, name), Result)
    }
    assert set(VIEWS) == results
    for kind, view in VIEWS.items():
        for what in ("page", "plot", "figure", "file"):
            if getattr(view, what):
                function = view.function(what, kind)
                first = next(iter(inspect.signature(function).parameters.values()))
                assert first.annotation in (kind, "Drawn"), (kind, what)
    with pytest.raises(TypeError, match="Check has none"):
        oscsim.check("dockhand").plot()


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


@pytest.mark.parametrize("command", COMMANDS)
def test_command_function_and_class_agree(command):
    """``oscsim rundown`` calls ``oscsim.rundown`` and gets a ``RunDown``; a name that a part has stays the part's."""
    function = getattr(oscsim, command)
    result = typing.get_type_hints(function)["return"]
    part = command in (name.lower() for name in oscsim.__all__ if name.lower() != name)
    assert result.__name__.lower() == command or (part and result.__name__.lower().startswith(command))
    assert getattr(oscsim, result.__name__) is result
    assert function.__module__.split(".")[-1] == command
