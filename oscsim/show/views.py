"""Which table, picture and file shows which answer: the one place where results and their looks meet."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from oscsim.answers.band import Band
from oscsim.answers.budget import Budget
from oscsim.answers.change import Change
from oscsim.answers.check import Check
from oscsim.answers.compare import Compare
from oscsim.answers.isochronism import Isochronism
from oscsim.answers.page import Page
from oscsim.answers.ratemap import RateMap
from oscsim.answers.rates import Rates
from oscsim.answers.result import VIEWS, Result, View, missing
from oscsim.answers.rundown import RunDown
from oscsim.answers.settle import Settle
from oscsim.answers.swap import Swap
from oscsim.answers.tolerance import Tolerance
from oscsim.answers.trace import Trace, Transient
from oscsim.answers.whatif import Sensitivities, WhatIf
from oscsim.bench.findings import Diagnose
from oscsim.bench.fit import Fit
from oscsim.bench.poise import Poise
from oscsim.bench.progress import Progress
from oscsim.bench.sketched import Sketch
from oscsim.show.bench_plots import diagnose_figure, plot_diagnose, plot_fit, plot_progress
from oscsim.show.bench_tables import diagnose_table
from oscsim.show.budget_plots import plot_budget
from oscsim.show.budget_tables import budget_table
from oscsim.show.check_tables import check_table
from oscsim.show.compare_plots import plot_change, plot_compare
from oscsim.show.compare_tables import change_table, compare_table
from oscsim.show.fit_tables import fit_table
from oscsim.show.page import page_html, page_text
from oscsim.show.plots import figure_of, plot_rundown, plot_settle, rundown_figure
from oscsim.show.poise_plots import plot_poise, poise_figure
from oscsim.show.poise_tables import poise_table
from oscsim.show.progress_tables import progress_table
from oscsim.show.rate_plots import plot_band, plot_isochronism, plot_ratemap, plot_rates
from oscsim.show.rate_tables import band_text, isochronism_table, ratemap_table, rates_table
from oscsim.show.sketch_file import sketch_file
from oscsim.show.sketch_plots import plot_sketch
from oscsim.show.sketch_tables import sketch_table
from oscsim.show.swap_plots import plot_swap
from oscsim.show.swap_tables import swap_table
from oscsim.show.tables import reminded, rundown_table, settle_table
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
_shown(Compare, compare_table, plot_compare)
_shown(Isochronism, isochronism_table, plot_isochronism)
_shown(Page, page_text, file=page_html)
_shown(RateMap, ratemap_table, plot_ratemap)
_shown(Rates, rates_table, plot_rates)
_shown(RunDown, rundown_table, plot_rundown, rundown_figure)
_shown(Settle, settle_table, plot_settle)
_shown(Swap, swap_table, plot_swap)
_shown(Tolerance, tolerance_table, plot_tolerance)
_shown(Trace, trace_table, plot_trace, trace_figure)
_shown(Transient, transient_table, plot_transient)
_shown(WhatIf, whatif_table, plot_whatif)
_shown(Sensitivities, sensitivities_table)
_shown(Diagnose, diagnose_table, plot_diagnose, diagnose_figure)
_shown(Fit, fit_table, plot_fit)
_shown(Poise, poise_table, plot_poise, poise_figure)
_shown(Progress, progress_table, plot_progress)
VIEWS[Sketch] = View(sketch_table, plot_sketch, figure_of, sketch_file)  # it says itself what a sketch is
