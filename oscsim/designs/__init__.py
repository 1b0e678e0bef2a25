"""Demo movements of our own invention, one design file each, and demo readings, series and a diary of them."""

from __future__ import annotations

from pathlib import Path

from oscsim.errors import InputError, nearest, shown

_HERE = Path(__file__).parent
#: The bundled design that commands use when none is named.
DEFAULT_DESIGN = "dockhand"


def bundled() -> list[str]:
    """Names of the bundled demo designs, sorted."""
    return sorted(path.stem for path in _HERE.glob("*.toml"))


def bundled_text(name: str) -> str:
    """The file of a bundled design, as it stands; raises InputError for an unknown name."""
    if name not in bundled():
        raise InputError(f"design {shown(name)}: no bundled design of that name; {nearest(name, bundled())}")
    return (_HERE / f"{name}.toml").read_text("utf-8")


def bundled_readings() -> list[str]:
    """Names of the bundled demo readings, sorted; each begins with its design's name."""
    return sorted(path.stem for path in (_HERE / "readings").glob("*.csv"))


def bundled_readings_text(name: str) -> str:
    """The file of bundled readings, as it stands; raises InputError for an unknown name."""
    known = bundled_readings()
    if name not in known:
        raise InputError(f"readings {shown(name)}: no bundled readings of that name; {nearest(name, known)}")
    return (_HERE / "readings" / f"{name}.csv").read_text("utf-8")


def bundled_series() -> list[str]:
    """Names of the bundled demo series of amplitudes, sorted; each begins with its design's name."""
    folder = _HERE / "series"
    return sorted(item.name.removesuffix(".csv") for item in folder.iterdir() if item.name.endswith(".csv"))


def bundled_series_text(name: str) -> str:
    """The file of a bundled series, as it stands; raises InputError for an unknown name."""
    known = bundled_series()
    if name not in known:
        raise InputError(
            f"series {shown(name)}: no such file, and no bundled series of that name; {nearest(name, known)}"
        )
    return (_HERE / "series" / f"{name}.csv").read_text("utf-8")


def bundled_diaries() -> list[str]:
    """Names of the bundled demo diaries, sorted; each begins with its design's name."""
    folder = _HERE / "diaries"
    return sorted(item.name.removesuffix(".csv") for item in folder.iterdir() if item.name.endswith(".csv"))


def bundled_diary_text(name: str) -> str:
    """The file of a bundled diary, as it stands; raises InputError for an unknown name."""
    known = bundled_diaries()
    if name not in known:
        raise InputError(
            f"diary {shown(name)}: no such file, and no bundled diary of that name; {nearest(name, known)}"
        )
    return (_HERE / "diaries" / f"{name}.csv").read_text("utf-8")
