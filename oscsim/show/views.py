"""Which table, picture and file shows which answer: the one place where results and their looks meet.

A line for each class of result: its page, its picture, the whole figure where that is more than the picture, and the
file it makes, each as ``file of this room:function``. Names and not functions, so that a command loads only what it
shows; tests/test_house.py holds that every name is there and takes results of that class.
"""

from __future__ import annotations

from oscsim.answers.view import VIEWS, View


def _shown(
    kind: str,
    page: str,
    plot: str = "",
    figure: str = "plots:figure_of",
    file: str = "",
    remind: str = "tables:reminded",
) -> None:
    VIEWS[kind] = View(*(where and f"oscsim.show.{where}" for where in (page, plot, figure, file, remind)))


_shown("Ageing", "tradeoff_tables:ageing_table", "tradeoff_plots:plot_ageing")
_shown("Band", "rate_tables:band_text", "rate_plots:plot_band")
_shown("Breathing", "ripple_tables:breathing_table", "ripple_plots:plot_breathing")
_shown("Budget", "budget_tables:budget_table", "budget_plots:plot_budget")
_shown("Change", "compare_tables:change_table", "compare_plots:plot_change")
_shown("Check", "check_tables:check_table")
_shown("Compare", "compare_tables:compare_table", "compare_plots:plot_compare")
# drawn from a slip, a diagnosis judges nevertheless
_shown(
    "Diagnose",
    "bench_tables:diagnose_table",
    "bench_plots:plot_diagnose",
    "bench_plots:diagnose_figure",
    remind="tables:slip_reminded",
)
_shown("Fit", "fit_tables:fit_table", "bench_plots:plot_fit")
_shown(
    "HairspringShape",
    "hairspring_tables:hairspring_table",
    "hairspring_plots:plot_hairspring",
    "hairspring_plots:hairspring_figure",
)
_shown("Isochronism", "rate_tables:isochronism_table", "rate_plots:plot_isochronism")
_shown("Page", "page:page_text", file="page:page_html")
_shown("Poise", "poise_tables:poise_table", "poise_plots:plot_poise", "poise_plots:poise_figure")
_shown(
    "Progress",
    "progress_tables:progress_table",
    "bench_plots:plot_progress",
    "bench_plots:progress_figure",
    remind="tables:slip_reminded",
)
_shown("RateMap", "rate_tables:ratemap_table", "rate_plots:plot_ratemap")
_shown("Rates", "rate_tables:rates_table", "rate_plots:plot_rates")
_shown("Ripple", "ripple_tables:ripple_table", "ripple_plots:plot_ripple", "ripple_plots:ripple_figure")
_shown("RunDown", "tables:rundown_table", "plots:plot_rundown", "plots:rundown_figure")
_shown("Sensitivities", "whatif_tables:sensitivities_table")
_shown("Settle", "tables:settle_table", "plots:plot_settle", "plots:settle_figure")
# a sketch says itself what it is
_shown(
    "Sketch",
    "sketch_tables:sketch_table",
    "sketch_plots:plot_sketch",
    file="sketch_file:sketch_file",
    remind="",
)
_shown("Swap", "swap_tables:swap_table", "swap_plots:plot_swap")
_shown("Tolerance", "tolerance_tables:tolerance_table", "tolerance_plots:plot_tolerance")
_shown(
    "Tradeoff",
    "tradeoff_tables:tradeoff_table",
    "tradeoff_plots:plot_tradeoff",
    "tradeoff_plots:tradeoff_figure",
)
_shown("Trace", "trace_tables:trace_table", "trace_plots:plot_trace", "trace_plots:trace_figure")
_shown("Transient", "trace_tables:transient_table", "trace_plots:plot_transient")
_shown("Days", "use_tables:days_table", "use_plots:plot_days", "use_plots:days_figure")
_shown("Diary", "use_tables:diary_table", "use_plots:plot_diary")
_shown("Morning", "use_tables:morning_table", "use_plots:plot_morning", "use_plots:morning_figure", remind="")
_shown("Trial", "use_tables:trial_table", "use_plots:plot_trial")
_shown("WhatIf", "whatif_tables:whatif_table", "whatif_plots:plot_whatif")
