"""Run the lesson's notebook: ``python -m tests.lesson`` writes docs/notebook.ipynb anew, with what its cells show."""

import sys
from pathlib import Path

import nbclient
import nbformat

LESSON = Path(__file__).parents[1] / "docs" / "notebook.ipynb"


def executed(path=LESSON):
    """The notebook with fresh outputs; raises nbclient's error with the cell's traceback when one fails."""
    book = nbformat.read(path, as_version=4)
    nbclient.NotebookClient(book, timeout=600, record_timing=False, kernel_name="python3").execute()
    book.metadata["language_info"] = {"name": "python"}  # no versions, so that only answers can differ
    return book


def main(to):
    nbformat.write(executed(), to)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else LESSON)
