"""Which table, picture and file shows which answer: the one place where results and their looks meet."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from oscsim.answers.band import Band
from oscsim.answers.budget import Budget
from oscsim.answers.change import Change
from oscsim.answers.check import Check
from oscsim.answers.compare import Comparison
from oscsim.answers.isochronism import Isochronism
from oscsim.answers.lesson import Lesson
from oscsim.answers.ratemap import RateMap
from oscsim.answers.rates import Rates
from oscsim.answers.result import VIEWS, Result, View, missing
from oscsim.answers.rundown import RunDown
from oscsim.answers.settled import Settled
from oscsim.answers.swap import Swap
from oscsim.answers.tolerance import Tolerance
from oscsim.answers.trace import Trace, Transient
from oscsim.answers.whatif import Sensitivities, WhatIf
from oscsim.bench.findings import Diagnosis
from oscsim.bench.fit_design import FittedDesign
from oscsim.bench.poise import Poising
from oscsim.bench.progress import Progress
from oscsim.bench.sketched import Sketch
from oscsim.show.bench_plots import diagnosis_figure, plot_diagnosis, plot_fit, plot_progress
from oscsim.show.bench_tables import diagnosis_table
from oscsim.show.budget_plots import plot_budget
from oscsim.show.budget_tables import budget_table
from oscsim.show.check_tables import check_table
from oscsim.show.compare_plots import plot_change, plot_comparison
from oscsim.show.compare_tables import change_table, comparison_table
from oscsim.show.fit_tables import fit_table
from oscsim.show.page import lesson_text, page_html
from oscsim.show.plots import figure_of, plot_run_down, plot_settled, run_down_figure
from oscsim.show.poise_plots import plot_poising, poising_figure
from oscsim.show.poise_tables import poising_table
from oscsim.show.progress_tables import progress_table
from oscsim.show.rate_plots import plot_band, plot_isochronism, plot_ratemap, plot_rates
from oscsim.show.rate_tables import band_text, isochronism_table, ratemap_table, rates_table
from oscsim.show.sketch_file import sketch_file
from oscsim.show.sketch_plots import plot_sketch
from oscsim.show.sketch_tables import sketch_table
from oscsim.show.swap_plots import plot_swap
from oscsim.show.swap_tables import swap_table
from oscsim.show.tables import reminded, run_down_table, settled_table
from oscsim.show.tolerance_plots import plot_tolerance
from oscsim.show.tolerance_tables import tolerance_table
from oscsim.show.trace_plots import plot_trace, plot_transient, trace_figure
from oscsim.show.trace_tables import trace_table, transient_table
from oscsim.show.whatif_plots import plot_whatif
from oscsim.show.whatif_tables import sensitivities_table, whatif_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_Answer = TypeVar("_Answer", bound=Result)


def _shown(
    kind: type[_Answer],
    page: Callable[[_Answer], str],
    plot: Callable[..., Axes] = missing,
    figure: Callable[[_Answer], Figure] = figure_of,
    file: Callable[[_Answer], str] = missing,
) -> None:
    VIEWS[kind] = View(lambda answer: reminded(page(answer), answer.designs), plot, figure, file)


_shown(Band, band_text, plot_band)
_shown(Budget, budget_table, plot_budget)
_shown(Change, change_table, plot_change)
_shown(Check, check_table)
_shown(Comparison, comparison_table, plot_comparison)
_shown(Isochronism, isochronism_table, plot_isochronism)
_shown(Lesson, lesson_text, file=page_html)
_shown(RateMap, ratemap_table, plot_ratemap)
_shown(Rates, rates_table, plot_rates)
_shown(RunDown, run_down_table, plot_run_down, run_down_figure)
_shown(Settled, settled_table, plot_settled)
_shown(Swap, swap_table, plot_swap)
_shown(Tolerance, tolerance_table, plot_tolerance)
_shown(Trace, trace_table, plot_trace, trace_figure)
_shown(Transient, transient_table, plot_transient)
_shown(WhatIf, whatif_table, plot_whatif)
_shown(Sensitivities, sensitivities_table)
_shown(Diagnosis, diagnosis_table, plot_diagnosis, diagnosis_figure)
_shown(FittedDesign, fit_table, plot_fit)
_shown(Poising, poising_table, plot_poising, poising_figure)
_shown(Progress, progress_table, plot_progress)
VIEWS[Sketch] = View(sketch_table, plot_sketch, figure_of, sketch_file)  # it says itself what a sketch is
