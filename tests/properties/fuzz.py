"""Coverage-guided fuzzing of the readers, by hand and for as long as one likes (needs the extra ``fuzz``: atheris).

    python -m tests.properties.fuzz design -max_total_time=300
    python -m tests.properties.fuzz readings -max_total_time=300

What it finds is written to a file crash-…; it belongs into tests/properties/test_any_bytes.py as an example. Any
exception but InputError counts, warnings and an unprintable message too.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from pathlib import Path

import atheris

with atheris.instrument_imports(
    include=["tomllib", "oscsim.files", "oscsim.tables", "oscsim.slips.readings", "oscsim.answers.candidates"]
):
    from .mangled import SOUND
    from .test_any_bytes import READERS, one_line


def main() -> None:
    kind = sys.argv.pop(1)
    warnings.simplefilter("error")
    folder = Path(tempfile.mkdtemp())
    corpus = folder / "corpus"
    corpus.mkdir()
    (corpus / "sound").write_bytes(SOUND[kind][1].encode())
    path = folder / f"any{SOUND[kind][0]}"

    def one(content: bytes) -> None:
        path.write_bytes(content)
        with one_line():
            READERS[kind](str(path))

    atheris.Setup([*sys.argv, str(corpus)], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
