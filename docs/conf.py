"""The manual: `python -m sphinx -W --keep-going -n docs docs/_build/html`, from the top of the repository.

MANUAL_SMALL=1 runs the studies at small size.
"""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

(Path(__file__).parent / "_made" / "lesson").mkdir(parents=True, exist_ok=True)

from oscsim import __version__  # noqa: E402

project, author, copyright = "oscsim", "the owners of oscsim", "the owners of oscsim"
version = release = __version__

extensions = [
    "myst_nb",  # Markdown as myst_parser reads it, and the notebook
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "numpydoc",
    "sphinx_gallery.gen_gallery",
    "directives",
]
exclude_patterns = ["_build", "_made/gallery/*.ipynb"]  # the gallery's are for download
nb_execution_mode = "off"  # the notebook holds what its cells show; tests run it anew
html_theme = "furo"
html_title = f"oscsim {version}"
html_math_renderer = "mathml"  # docs/directives.py: the browser draws it, nothing is fetched
html_copy_source = False
html_show_sourcelink = False
html_extra_path = ["_made/lesson"]
html_static_path = ["_static"]
html_css_files = ["manual.css"]

myst_heading_anchors = 3  # links such as physics.md#poise, as a repository browser makes them

templates_path = ["_templates"]
autosummary_generate = True
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True, "inherited-members": "str, Exception, Enum"}
numpydoc_show_class_members = False  # autodoc lists them
autodoc_preserve_defaults = True
autodoc_type_aliases = dict.fromkeys(("Array", "Flags", "ArrayLike", "Indices"), "numpy.ndarray")
# Types of other libraries, whose manuals are not fetched, and types that only results hold and nobody makes.
nitpick_ignore_regex = [
    ("py:.*", r"(numpy|np|matplotlib|collections|concurrent|os|pathlib|typing|enum)\..*"),
    ("py:class", r"tuple\[\w+"),  # an annotation such as tuple[int, ...] | None is cut at its comma
    ("py:class", r"(~?oscsim\.\w+\.[\w.]+|[A-Z]\w*)"),
]

sphinx_gallery_conf = {
    "examples_dirs": "../studies",
    "gallery_dirs": "_made/gallery",
    "filename_pattern": r"[/\\][a-z]\w+\.py$",
    "ignore_pattern": r"(^|[/\\])_\w+\.py$",
    "image_scrapers": ("directives.picture_of_study",),
    "reset_argv": "directives.arguments_of_study",
    "reset_modules": (),
    "within_subsection_order": "FileNameSortKey",
    "download_all_examples": False,
    "show_signature": False,
    "write_computation_times": False,
    "min_reported_time": 3600,
    "abort_on_example_error": True,
}
