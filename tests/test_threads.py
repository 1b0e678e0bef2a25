"""No answer depends on what runs beside it: threads, processes started either way, and no state that use changes."""

import ast
import functools
import hashlib
import importlib
import multiprocessing
import pickle
import pkgutil
import types
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import oscsim
from oscsim.answers.result import Result
from tests.answers.every import ASK, answer

#: Answers whose bits are compared; the others are made of the same parts and take longer.
QUICK = ("Settle", "Rates", "Isochronism", "RateMap", "Band", "Trace", "Budget", "Change", "Tolerance")
#: Caches are state that use changes. These may be, since what they hold follows from the key alone and is never
#: changed afterwards; two threads may both make an entry, and either is right.
CACHES = {
    "oscsim.answers.breathing._course": "amplitude without ripple of a frozen movement in a frozen setting",
    "oscsim.motion.series._onto": "a series to the same over a shorter stretch",
    "oscsim.fields._quantities": "fields of a part that are numbers",
    "oscsim.tables._hints": "types of a part's fields",
    "oscsim.tables._known": "fields of a part by name",
    "oscsim.tables._part_type": "the part in a field's type",
    "oscsim.movement._parameter_names": "names of a design's entries",
    "oscsim.movement._number_names": "names of a design's numbers",
    "oscsim.motion.rules.collocation": "nodes and weights of a quadrature",
    "oscsim.motion.rules.gauss": "nodes and weights of Gauss's quadrature",
    "oscsim.parts.coil._weights": "weights along a coil",
    "oscsim.parts.coil._rule": "nodes and running weights along a coil",
    "oscsim.parts.coil._projected": "values at those nodes to Legendre coefficients",
    "oscsim.parts.hairspring._response": "a coil's series by the bytes of its numbers",
    "oscsim.parts.hairspring._to_series": "values at Chebyshev's nodes to a series",
    "oscsim.parts.hairspring_table._check_coils": "that a frozen hairspring is sound; a refusal is not kept",
    "oscsim.teaching.detent_motion.detent_motion": "the bundled detent's period, for the lesson",
    "oscsim.use.wound.curves_of": "settled curves of a frozen movement in a frozen condition",
}


def _json(kind):
    return ASK[kind]().to_json()


def test_threads_give_the_same_bits():
    """Every kind from several threads at once, each kind more than once, a diagnosis among them."""
    jobs = [kind for kind in (*QUICK, "Diagnose") for _ in range(1 if kind == "Diagnose" else 2)]
    with ThreadPoolExecutor(6) as pool:
        found = list(pool.map(_json, jobs[::-1]))[::-1]
    for kind, text in zip(jobs, found, strict=True):
        assert text == answer(kind).to_json(), kind


@pytest.mark.parametrize(
    "start", [m for m in ("spawn", "fork") if m in multiprocessing.get_all_start_methods()]
)
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_processes_give_the_same_bits(start):
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(start)) as pool:
        found = list(pool.map(_json, QUICK[:4]))
    for kind, text in zip(QUICK[:4], found, strict=True):
        assert text == answer(kind).to_json(), kind


@pytest.mark.parametrize("kind", ["Settle", "Diagnose", "Sketch"])
def test_answers_travel_between_processes(kind):
    again = pickle.loads(pickle.dumps(answer(kind)))
    assert again.to_json() == answer(kind).to_json()
    assert str(again) == str(answer(kind))


def _modules():
    for found in pkgutil.walk_packages(oscsim.__path__, "oscsim."):
        if not found.name.endswith("__main__") and not found.name.startswith("oscsim.theory.gener"):
            yield importlib.import_module(found.name)


def _told(value, seen=()):
    """What is in a value, to be compared with later; functions, modules and types by name."""
    if id(value) in seen:
        return "..."
    seen = (*seen, id(value))
    if isinstance(value, np.ndarray):
        return (value.shape, value.tobytes())
    if isinstance(value, dict | types.MappingProxyType):
        return [(repr(key), _told(inner, seen)) for key, inner in value.items()]
    if isinstance(value, list | tuple | set | frozenset):
        return [_told(inner, seen) for inner in value]
    if isinstance(value, types.FunctionType | types.ModuleType | type | functools._lru_cache_wrapper):
        return getattr(value, "__qualname__", repr(value))
    if hasattr(value, "__dict__"):
        return [type(value).__qualname__, _told(vars(value), seen)]
    return repr(value)


def _state():
    """A digest of every module's own names, and of what its classes hold."""
    found = {}
    for module in _modules():
        for name, value in vars(module).items():
            if name.startswith("__") or isinstance(value, types.ModuleType):
                continue
            if isinstance(value, type):
                if value.__module__ == module.__name__:
                    inner = {k: v for k, v in vars(value).items() if not k.startswith(("__", "_abc"))}
                    found[f"{module.__name__}.{name}"] = hashlib.sha256(repr(_told(inner)).encode()).digest()
            else:
                found[f"{module.__name__}.{name}"] = hashlib.sha256(repr(_told(value)).encode()).digest()
    return found


def test_nothing_in_a_module_changes_with_use():
    before = _state()
    assert len(before) > 500
    for kind in QUICK:
        found = ASK[kind]()
        assert isinstance(found, Result)
        for shown in (found.to_json(), found.to_csv(), str(found)):
            assert shown
        found.plot()
    assert _state() == before


def test_the_digest_would_see_a_change(monkeypatch):
    before = _state()
    monkeypatch.setitem(oscsim.POSITIONS, "CH", oscsim.POSITIONS["FH"])
    changed = _state()
    assert {name for name in before if before[name] != changed[name]} >= {"oscsim.units.POSITIONS"}


def test_caches_are_the_allowed_ones():
    found = {
        f"{module.__name__}.{name}"
        for module in _modules()
        for name, value in vars(module).items()
        if isinstance(value, functools._lru_cache_wrapper) and value.__module__ == module.__name__
    }
    assert found == set(CACHES)


@pytest.mark.parametrize(
    "module", sorted(Path(oscsim.__file__).parent.rglob("*.py")), ids=lambda path: path.stem
)
def test_no_function_writes_to_its_module(module):
    for node in ast.walk(ast.parse(module.read_text("utf-8"))):
        assert not isinstance(node, ast.Global), f"{module.name}:{node.lineno} declares global"
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            # settings of the whole process
            assert called not in ("os.umask", "os.chdir", "np.seterr", "np.random.seed", "random.seed"), (
                called
            )
