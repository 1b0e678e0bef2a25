"""Amplitude and rate of a mechanical watch from the physics of its balance, escapement, train and mainspring.

>>> import oscsim
>>> movement = oscsim.load("dockhand")
>>> print(oscsim.settle(movement, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])))  # doctest: +SKIP
"""

from oscsim.answers.points import SettledPoints
from oscsim.answers.rundown import RunDown, run_down
from oscsim.answers.settled import Settled, settle
from oscsim.errors import InputError
from oscsim.files import bundled, dumps, load, loads, save
from oscsim.motion.states import State
from oscsim.movement import Movement, parameter_names
from oscsim.parts.balance import Balance
from oscsim.parts.escapement import Escapement
from oscsim.parts.mainspring import Barrel, Mainspring
from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train
from oscsim.setting import Setting
from oscsim.units import POSITIONS, Position, position
from oscsim.version import __version__

__all__ = [
    "POSITIONS",
    "Arbor",
    "Arbors",
    "Balance",
    "Barrel",
    "Escapement",
    "InputError",
    "JewelledHoles",
    "Mainspring",
    "Movement",
    "Position",
    "RunDown",
    "Setting",
    "Settled",
    "SettledPoints",
    "State",
    "Train",
    "__version__",
    "bundled",
    "dumps",
    "load",
    "loads",
    "parameter_names",
    "position",
    "run_down",
    "save",
    "settle",
]
