"""What the manual makes of the code while it is built: formulas, pictures, printed answers, the studies.

    ```{derivation}     names of derivations, one a line: meaning, formula, where it comes from
    ```{picture}        one command line with --plot FILE: the command, and its picture below
    ```{answer}         one command line: the command, and what it prints below
    ```{lesson}         one command line with -o FILE: the command, and a link to the page that it writes
    ```{study}          the command line of a study: the command, and the picture that it draws

In a plain repository browser each shows as the names or the command in it.
"""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any, ClassVar

import matplotlib

matplotlib.use("Agg")

from docutils import nodes
from docutils.parsers.rst import directives
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx import addnodes
from sphinx.application import Sphinx
from sphinx.environment import BuildEnvironment
from sphinx.util.docutils import SphinxDirective
from sphinx_gallery.scrapers import figure_rst

import oscsim
from oscsim import cli
from oscsim.theory.formulas import DERIVED, Derived
from oscsim.theory.latex import latex

SMALL = bool(os.environ.get("MANUAL_SMALL"))
#: Where commands and studies leave their pictures.
MADE = Path(__file__).parent / "_made"


# ---------------------------------------------------------------------------------------- formulas


#: How a meaning's plain text is set on the page.
SET = {"1/omega": "1/ω", "psi": "ψ", "A^2": "A²", "A^3": "A³"}


class Derivation(SphinxDirective):
    """Derived formulas of oscsim/theory, printed from SymPy."""

    has_content = True

    def run(self) -> list[nodes.Node]:
        """One definition, formula and remark for each name in the body."""
        known = {item.name: item for item in DERIVED}
        shown: list[nodes.Node] = []
        for name in " ".join(self.content).split():
            if name not in known:
                raise self.error(f"no derivation is called {name}")
            shown += self._one(known[name])
        return shown

    def _one(self, item: Derived) -> list[nodes.Node]:
        target = nodes.target("", "", ids=[f"derived-{item.name.replace('_', '-')}"])
        text = item.meaning
        for plain, page in SET.items():
            text = text.replace(plain, page)
        meaning = nodes.paragraph("", "", nodes.literal("", item.name), nodes.Text(f"  {text}"))
        formula = nodes.math_block("", latex(item.equation()), nowrap=False, number=None, label=None)
        formula["classes"].append("derived")
        found = [target, meaning, formula]
        for symbol, value in item.where:
            where = latex(symbol) + " = " + latex(value)
            found.append(nodes.paragraph("", "", nodes.Text("with "), nodes.math("", where)))
        return found


def _inline(self: Any, node: nodes.math) -> None:
    self.body.append(tex2mathml(node.astext(), as_block=False))
    raise nodes.SkipNode


def _block(self: Any, node: nodes.math_block) -> None:
    self.body.append(tex2mathml(node.astext(), as_block=True))
    raise nodes.SkipNode


# --------------------------------------------------------------------------- commands and their pictures


def run_command(line: str, folder: Path) -> str:
    """Run one command line of oscsim in this process, in a folder; returns what it prints."""
    program, *words = shlex.split(line)
    if program != "oscsim":
        raise ValueError(f"{line}: begins with oscsim")
    out, err = io.StringIO(), io.StringIO()
    folder.mkdir(parents=True, exist_ok=True)
    with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.main(words)
    if code != 0:
        raise ValueError(f"{line}: exit code {code}: {err.getvalue()}")
    return out.getvalue()


class Answer(SphinxDirective):
    """A command and what it prints."""

    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"lines": directives.positive_int}

    def run(self) -> list[nodes.Node]:
        """The command as it is typed, the answer below it, cut after `lines`."""
        line = self.content[0]
        try:
            printed = run_command(line, MADE / "pictures").rstrip().splitlines()
        except ValueError as error:
            raise self.error(str(error)) from None
        most = self.options.get("lines", len(printed))
        text = "\n".join([f"$ {line}", *printed[:most], *(["..."] if most < len(printed) else [])])
        return [nodes.literal_block(text, text, language="text")]


class Picture(SphinxDirective):
    """A command with --plot, and its picture."""

    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"alt": directives.unchanged_required}

    def run(self) -> list[nodes.Node]:
        """The command as it is typed, the picture below it."""
        line = self.content[0]
        words = shlex.split(line)
        try:
            run_command(line, MADE / "pictures")
        except ValueError as error:
            raise self.error(str(error)) from None
        name = words[words.index("--plot") + 1]
        command = nodes.literal_block(line, line, language="sh")
        image = nodes.image(uri=f"/_made/pictures/{name}", alt=self.options["alt"])
        return [command, image]


class Lesson(SphinxDirective):
    """A command that writes a page, and a link to it."""

    has_content = True

    def run(self) -> list[nodes.Node]:
        """The command as it is typed, the link below it."""
        line = self.content[0]
        words = shlex.split(line)
        name = words[words.index("-o") + 1]
        (MADE / "lesson" / name).unlink(missing_ok=True)
        try:
            run_command(line, MADE / "lesson")
        except ValueError as error:
            raise self.error(str(error)) from None
        link = nodes.reference("", "Open the page that it writes", refuri=name)
        return [nodes.literal_block(line, line, language="sh"), nodes.paragraph("", "", link)]


# --------------------------------------------------------------------------------------------- studies


class Study(SphinxDirective):
    """A study's command, and its picture; the gallery has its story and what it prints."""

    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"alt": directives.unchanged_required}

    def run(self) -> list[nodes.Node]:
        """The command as it is typed, the picture below it."""
        line = self.content[0]
        script = Path(line.split()[-1])
        folder = MADE / "pictures"
        folder.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, script.name, "--out", str(folder), *(["--small"] if SMALL else [])]
        where = Path(__file__).parents[1] / "studies"
        done = subprocess.run(command, cwd=where, capture_output=True, text=True, check=False)
        if done.returncode:
            raise self.error(f"{line}: {done.stderr}")
        image = nodes.image(uri=f"/_made/pictures/{script.stem}.png", alt=self.options["alt"])
        return [nodes.literal_block(line, line, language="sh"), image]


def arguments_of_study(_: dict[str, Any], __: dict[str, Any]) -> list[str]:
    """What the gallery calls each study with."""
    # relative to the folder of the studies, where the gallery runs them: no path of this machine is printed
    return ["--out", "../docs/_made/study", *(["--small"] if SMALL else [])]


def picture_of_study(block: Any, block_vars: dict[str, Any], gallery: dict[str, Any]) -> str:
    """Hand the gallery the picture that a study has written."""
    names = []
    for path in sorted((MADE / "study").glob("*.png")):
        name = next(block_vars["image_path_iterator"])
        shutil.move(path, name)
        names.append(name)
    return figure_rst(names, gallery["src_dir"])


# ------------------------------------------------------------------------ files at the top of the repository


def top_of_repository(_: Sphinx, docname: str, source: list[str]) -> None:
    """Show DEVELOPERS.md as a page, and lead links to it there; links to README.md go to the front page."""
    if docname == "developers":
        text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text("utf-8")
        source[0] = text.replace("](docs/", "](").replace("](README.md)", "](index.md)")
    else:
        source[0] = source[0].replace("](../DEVELOPERS.md)", "](developers.md)")
    source[0] = source[0].replace("](../studies/)", "](_made/gallery/index.rst)")


# ------------------------------------------------------------------------------------------ public names


def public_name(
    app: Sphinx, env: BuildEnvironment, node: addnodes.pending_xref, shown: nodes.TextElement
) -> nodes.reference | None:
    """A type is named after the file it is made in; lead to it under its public name."""
    name = node.get("reftarget", "").rsplit(".", 1)[-1]
    if node.get("refdomain") != "py" or name not in oscsim.__all__:
        return None
    domain = env.get_domain("py")
    return domain.resolve_xref(env, node["refdoc"], app.builder, "class", f"oscsim.{name}", node, shown)


def setup(app: Sphinx) -> dict[str, bool]:
    """Register what is above."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    app.connect("missing-reference", public_name)
    app.connect("source-read", top_of_repository)
    app.add_directive("derivation", Derivation)
    app.add_directive("answer", Answer)
    app.add_directive("picture", Picture)
    app.add_directive("lesson", Lesson)
    app.add_directive("study", Study)
    return {"parallel_read_safe": False, "parallel_write_safe": True}
