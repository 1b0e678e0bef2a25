"""The page of the design file: it is the one committed, lists every key, and its examples load."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import oscsim
from oscsim.designs import bundled_text
from oscsim.fields import quantities
from oscsim.movement import movement_from
from oscsim.parts.detent import DetentEscapement
from oscsim.show.design_file import page
from oscsim.typical.numbers import DEFAULT_SPREADS
from tests.movements import all_quantities

COMMITTED = Path(__file__).parents[2] / "docs" / "design-file.md"
EXAMPLES = re.findall(r"^```toml\n(.*?)^```", page(), re.MULTILINE | re.DOTALL)

DETENT = '`[escapement] kind = "detent"`'


def section(title):
    """The part of the page under one heading."""
    return page().split(f"\n## {title}\n")[1].split("\n## ")[0]


def cells(title, key):
    """The row of ``key`` in the section ``title``, cell by cell."""
    rows = [line for line in section(title).splitlines() if line.startswith(f"| `{key}` |")]
    if title == "`[escapement]`" and not rows:  # of another kind of escapement than the lever
        rows = [line for line in section(DETENT).splitlines() if line.startswith(f"| `{key}` |")]
    assert len(rows) == 1, (title, key, rows)
    return rows[0].strip("| ").split(" | ")


def test_the_committed_page_is_the_generated_one():
    assert COMMITTED.read_text("utf-8") == page(), (
        "run python -m oscsim.show.design_file > docs/design-file.md"
    )


def test_the_module_prints_the_page():
    command = [sys.executable, "-X", "utf8", "-m", "oscsim.show.design_file"]
    assert subprocess.run(command, capture_output=True, check=True).stdout.decode() == page()


@pytest.mark.parametrize("name", oscsim.parameter_names())
def test_every_key_has_one_row_with_its_unit_and_range(name):
    table, _, key = re.sub(r"(arbors)\.\w+\.", r"\1.NAME.", name).rpartition(".")
    row = cells(f"`[{table}]`" if table else "Top of the file", key)
    assert len(row) == 6
    if not table:
        assert row[4] == "text"
        return
    detent = {f"escapement.{f.name}": info for f, info in quantities(DetentEscapement)}
    info = (detent | dict(all_quantities())).get(name)
    if info is None:  # a text or a list
        assert row[1:3] == ["–", "–"]
        assert all(row[3:])
        return
    assert row[1:4] == [info.symbol, info.unit or "–", info.meaning]
    assert re.fullmatch(r"(\S+) to (\S+?)(, whole)?", row[4])
    low, high = (float(bound.rstrip(",")) for bound in row[4].split()[0:3:2])
    assert (low, high) == (info.low, info.high)


def test_the_keys_marked_required_are_those_a_file_cannot_do_without():
    tables = tomllib.loads(bundled_text("dockhand"))
    for name, _ in all_quantities():
        table, _, key = name.rpartition(".")
        if table not in tables:  # tables inside [train]
            continue
        kept = {k: v for k, v in tables[table].items() if k != key}
        without = tables | {table: kept}
        default = cells(f"`[{table}]`", key)[5]
        if default == "required without teeth":
            untold = {k: v for k, v in kept.items() if k not in ("wheel_teeth", "pinion_leaves")}
            with pytest.raises(oscsim.InputError, match="train"):
                movement_from(tables | {table: untold})
        elif default == "required" or (default == "one of the two" and key in tables[table]):
            with pytest.raises(oscsim.InputError, match=key):
                movement_from(without)
        else:
            taken = getattr(getattr(movement_from(without), table), key)
            assert default == ("absent" if taken is None else f"{taken:g}") or default == "one of the two"


def test_the_examples_load():
    assert len(EXAMPLES) == 11
    for example in EXAMPLES:
        tables = tomllib.loads(bundled_text("dockhand"))
        for table, keys in tomllib.loads(example).items():
            tables[table] = tables.get(table, {}) | keys if isinstance(keys, dict) else keys
        if "lift_angle_deg" in tables["escapement"]:
            del tables["escapement"]["fork_ratio"]
        assert movement_from(tables) != oscsim.load("dockhand")


def test_spreads_assumed_for_a_design_without_any():
    rows = re.findall(r"^\| `([\w.]+)` \| ([\d.]+) (\S+) \|$", section("`[tolerance]`"), re.MULTILINE)
    assert len(rows) == len(DEFAULT_SPREADS)
    for (name, width, unit), spread in zip(rows, DEFAULT_SPREADS, strict=True):
        assert name == spread.name
        assert float(width) == (spread.percent if unit == "%" else spread.plus_minus)


def test_standard_radii():
    # pivot, pinion and wheel of each arbor, mm: the table in docs/physics.md §3
    expected = {
        "barrel": ["0.6", "–", "5.3"],
        "centre": ["0.35", "1", "3.9"],
        "third": ["0.14", "0.5", "2.9"],
        "fourth": ["0.11", "0.45", "2.6"],
        "escape": ["0.09", "0.4", "–"],
    }
    for name, radii in expected.items():
        assert cells("`[train.arbors.NAME]`", name)[1:] == radii
