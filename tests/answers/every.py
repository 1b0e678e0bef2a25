"""One answer of every kind, small, in a setting that differs from the default in everything."""

import functools
from dataclasses import replace

import oscsim

DESIGN = "dockhand"
CONDITION = oscsim.Condition(oil_age_years=3.0, drive=0.97)
SETTING = oscsim.Setting(
    positions=("CH", "12H"), hours=(0.0, 24.0), lift_angle_deg=50.0, temperature_c=15.0, condition=CONDITION
)
ONE = replace(SETTING, positions="12H", hours=6.0)
RUN = replace(SETTING, positions="CH", hours=0.0)
OWN = replace(ONE, lift_angle_deg=None)
KEPT = replace(OWN, hours=(0.0,))
AROUND = oscsim.Setting(temperature_c=15.0, condition=CONDITION)


@functools.cache
def movement():
    return oscsim.load(DESIGN)


def _readings(name):
    return oscsim.load_readings(name)


def _series():
    read = oscsim.breathing(movement(), OWN, faults_percent={"fourth": 3.0}, duration_s=900.0, noise_deg=1.0)
    return oscsim.Series(read.time_s, read.amplitude_deg)


def _packet():
    return oscsim.load("packet")


#: Class name to a function that asks.
ASK = {
    "Settle": lambda: oscsim.settle(movement(), SETTING),
    "RunDown": lambda: oscsim.rundown(movement(), RUN, step_h=8),
    "Rates": lambda: oscsim.rates(movement(), SETTING, shares=True),
    "Isochronism": lambda: oscsim.isochronism(movement(), KEPT, (180.0, 220.0)),
    "HairspringShape": lambda: oscsim.hairspring(oscsim.load("tidewaiter"), (-90.0, 45.0), (180.0, 250.0)),
    "RateMap": lambda: oscsim.ratemap(
        movement(), KEPT, amplitudes_deg=(180.0, 240.0), heavy_points_deg=(0.0, 180.0), unbalance_ug_cm=3.0
    ),
    "Band": lambda: oscsim.band(movement(), 10.0, AROUND),
    "Trace": lambda: oscsim.trace(movement(), OWN, samples=5),
    "Transient": lambda: oscsim.transient(movement(), OWN, swing_deg=100.0, duration_s=1.0),
    "Breathing": lambda: oscsim.breathing(movement(), OWN, faults_percent={"fourth": 3.0}, duration_s=60.0),
    "Ripple": lambda: oscsim.ripple(movement(), _series(), OWN),
    "Budget": lambda: oscsim.budget(movement(), replace(SETTING, lift_angle_deg=None)),
    "Compare": lambda: oscsim.compare([movement(), _packet()], SETTING),
    "WhatIf": lambda: oscsim.whatif(movement(), {"escapement.lock_deg": [1.5, 2.0]}, SETTING),
    "Sensitivities": lambda: oscsim.sensitivities(movement(), ["escapement.lock_deg"], SETTING),
    "Change": lambda: oscsim.change(movement(), None, SETTING, condition=oscsim.Condition()),
    "Swap": lambda: oscsim.swap(
        movement(),
        [oscsim.Candidate(name="thinner", height_mm=1.3, thickness_mm=0.105, length_mm=380.0)],
        AROUND,
    ),
    "Tradeoff": lambda: oscsim.tradeoff([movement(), _packet()], AROUND, measures=["lock_energy", "reserve"]),
    "Ageing": lambda: oscsim.ageing(
        [movement()],
        oscsim.Setting(temperature_c=15.0, condition=oscsim.Condition(drive=0.97)),
        years=(0.0, 4.0),
    ),
    "Tolerance": lambda: oscsim.tolerance(movement(), SETTING, examples=40, rng=3, sobol=False),
    "Diagnose": lambda: oscsim.diagnose(_packet(), _readings("packet_dirty_pivots")),
    "Poise": lambda: oscsim.poise(oscsim.load("ferryman"), _readings("ferryman_heavy_point")),
    "Fit": lambda: oscsim.fit(
        oscsim.load("tidewaiter"), _readings("tidewaiter_known_good"), ["balance.viscous_q"]
    ),
    "Progress": lambda: oscsim.progress(
        _packet(), _readings("packet_dirty_pivots"), _readings("packet_cleaned")
    ),
    "Trial": lambda: oscsim.trial(movement(), examples=20, rng=3, condition=CONDITION),
    "Days": lambda: oscsim.days(movement(), count=2, condition=CONDITION),
    "Diary": lambda: oscsim.diary(movement(), oscsim.load_diary("dockhand_september"), condition=CONDITION),
    "Morning": lambda: oscsim.morning(ASK["Compare"]()),
    "Check": lambda: oscsim.check(DESIGN),
    "Page": lambda: oscsim.page(movement()),
    "Sketch": lambda: oscsim.sketch(
        oscsim.Slip(given={"balance.beats_per_hour": 18000}, facts={"movement_diameter_mm": 25.6})
    ),
}


@functools.cache
def answer(kind):
    """The answer of this kind, asked once for all tests."""
    return ASK[kind]()
