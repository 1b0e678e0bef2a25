"""Amplitude and rate of a mechanical watch from the physics of its balance, escapement, train and mainspring.

>>> import oscsim
>>> movement = oscsim.load("dockhand")
>>> print(oscsim.settle(movement, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])))  # doctest: +SKIP
"""

from oscsim.answers.band import Band, band
from oscsim.answers.budget import Budget, budget
from oscsim.answers.change import Change, change
from oscsim.answers.check import Check, check
from oscsim.answers.compare import Attribution, Compare, attribution, compare
from oscsim.answers.isochronism import Isochronism, isochronism
from oscsim.answers.page import Page, page
from oscsim.answers.points import SettledPoints
from oscsim.answers.ratemap import RateMap, ratemap
from oscsim.answers.rates import Rates, rates
from oscsim.answers.regulate import regulate
from oscsim.answers.rundown import RunDown, rundown
from oscsim.answers.settle import Settle, settle
from oscsim.answers.swap import Candidate, Swap, calibrate, read_candidates, swap
from oscsim.answers.tolerance import Tolerance, tolerance
from oscsim.answers.trace import Trace, Transient, trace, transient
from oscsim.answers.whatif import Sensitivities, WhatIf, sensitivities, whatif
from oscsim.answers.without import without
from oscsim.bench.diagnose import diagnose
from oscsim.bench.findings import Cause, Diagnose
from oscsim.bench.fit import Fit, fit
from oscsim.bench.poise import Poise, poise
from oscsim.bench.progress import Progress, progress
from oscsim.bench.sketch import sketch
from oscsim.bench.sketched import Sketch
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.files import bundled, dumps, load, loads, save
from oscsim.motion.states import State
from oscsim.movement import Movement, parameter_names
from oscsim.parts.balance import Balance, IndexPins
from oscsim.parts.escapement import Escapement
from oscsim.parts.mainspring import Barrel, Mainspring
from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train
from oscsim.setting import Setting
from oscsim.show import views as _views  # noqa: F401
from oscsim.show.explore import explore
from oscsim.slips.readings import Reading, Readings, bundled_readings, load_readings
from oscsim.slips.slip import Slip, load_slip
from oscsim.tolerances import Spread
from oscsim.units import POSITIONS, Position, position
from oscsim.version import __version__

__all__ = [
    "POSITIONS",
    "Arbor",
    "Arbors",
    "Attribution",
    "Balance",
    "Band",
    "Barrel",
    "Budget",
    "Candidate",
    "Cause",
    "Change",
    "Check",
    "Compare",
    "Condition",
    "Diagnose",
    "Escapement",
    "Fit",
    "IndexPins",
    "InputError",
    "Isochronism",
    "JewelledHoles",
    "Mainspring",
    "Movement",
    "Page",
    "Poise",
    "Position",
    "Progress",
    "RateMap",
    "Rates",
    "Reading",
    "Readings",
    "RunDown",
    "Sensitivities",
    "Setting",
    "Settle",
    "SettledPoints",
    "Sketch",
    "Slip",
    "Spread",
    "State",
    "Swap",
    "Tolerance",
    "Trace",
    "Train",
    "Transient",
    "WhatIf",
    "__version__",
    "attribution",
    "band",
    "budget",
    "bundled",
    "bundled_readings",
    "calibrate",
    "change",
    "check",
    "compare",
    "diagnose",
    "dumps",
    "explore",
    "fit",
    "isochronism",
    "load",
    "load_readings",
    "load_slip",
    "loads",
    "page",
    "parameter_names",
    "poise",
    "position",
    "progress",
    "ratemap",
    "rates",
    "read_candidates",
    "regulate",
    "rundown",
    "save",
    "sensitivities",
    "settle",
    "sketch",
    "swap",
    "tolerance",
    "trace",
    "transient",
    "whatif",
    "without",
]
