"""docs/real-cases.md prints what the program says today; what it says of checks stands there (tests/outside)."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

import oscsim
from oscsim.answers.hairspring import pinned_further
from oscsim.bench.diagnose import diagnose
from oscsim.bench.poise import poise
from oscsim.bench.verdict import _ALIKE
from oscsim.slips.readings import Reading, Readings
from tests.outside.test_hairspring import POCKET, natural_error
from tests.outside.test_rate_cards import CARDS, PLACES

PAGE = (Path(__file__).parent.parent / "docs/real-cases.md").read_text("utf-8")
CHECKS = (Path(__file__).parent.parent / "docs/outside-checks.md").read_text("utf-8")
FERRYMAN = oscsim.load("ferryman")
STRIP, BALANCE = FERRYMAN.mainspring, FERRYMAN.balance
BUNDLED = {movement.name: movement for movement in map(oscsim.load, oscsim.bundled())}


def row(names: str) -> str:
    """The page's one row that names this."""
    (line,) = [line for line in PAGE.splitlines() if line.startswith("| ") and names in line]
    return line


def amplitudes(movement, positions=("CH", "12H"), hours=0.0, **setting):
    answer = oscsim.settle(movement, oscsim.Setting(positions=positions, hours=hours, **setting))
    return answer.points.amplitude_deg[:, 0]


def card(rates, amplitude_deg):
    return Readings(tuple(Reading(PLACES[p], 0.0, amplitude_deg, float(rate)) for p, rate in rates.items()))


def test_strips():
    thin = {"mainspring.thickness_mm": STRIP.thickness_mm - 0.01}
    tired = {"mainspring.elastic_limit_mpa": 0.8 * STRIP.elastic_limit_mpa}

    def takes(change, hours, position=1):
        return float(
            (amplitudes(FERRYMAN, hours=hours) - amplitudes(FERRYMAN.with_(change), hours=hours))[position]
        )

    told = row("example 4)")
    assert f"0.01 mm less of {STRIP.thickness_mm:g} takes {takes(thin, 0.0):.0f}° wound" in told
    assert f"pendant up at 20 h, {takes(thin, 20.0):.0f}°" in told
    assert f"takes {takes(tired, 20.0):.0f}° there; both together {takes(thin | tired, 20.0):.0f}°" in told
    assert f"{2.0 * takes(thin, 24.0, 0):.0f}° in all after 24 h, dial up" in row("§65")


def test_rates_of_a_strip_too_thin_and_set():
    poised = FERRYMAN.with_({"balance.unbalance_ug_cm": 0.0})
    tired = {"mainspring.thickness_mm": STRIP.thickness_mm - 0.01,
             "mainspring.elastic_limit_mpa": 0.8 * STRIP.elastic_limit_mpa}  # fmt: skip
    setting = oscsim.Setting(positions=("CH", "12H"), hours=np.linspace(0.0, 24.0, 13))
    upright_less = []
    for movement in (poised.with_(tired), poised):
        flat, upright = oscsim.settle(movement, setting).points.rate_s_per_day.mean(axis=1)
        upright_less.append(f"{upright - flat:.1f}".replace("-", "−"))
    bad, proper = upright_less
    assert f"shows {bad}, and {proper} with its proper strip" in row("of example 4, and the proper one")


def test_pivot_ends():
    flat, upright = amplitudes(FERRYMAN)

    def with_ends(radius_um):
        return amplitudes(FERRYMAN.with_({"balance.end_friction_radius_um": radius_um}))

    three, six = (with_ends(factor * BALANCE.end_friction_radius_um) for factor in (3.0, 6.0))
    told = row("thick oil at the upper jewel")
    assert (
        f"three times the friction at the ends takes {flat - three[0]:.0f}°, six times {flat - six[0]:.0f}°"
        in told
    )
    assert three[1] == six[1] == upright
    shown = {"CH": flat - 45.0, "FH": flat, "12H": upright, "9H": upright, "3H": upright}
    found = diagnose(
        FERRYMAN, Readings(tuple(Reading(p, 0.0, float(round(a)), math.nan) for p, a in shown.items()))
    )
    first = found.to_dict()["causes"][0]
    assert first["name"] == "pivot_flat_upper"
    assert first["chance"] > 0.75
    assert "the end of the upper pivot, by far the likeliest" in told
    flat_spring = FERRYMAN.with_({"balance.cubic_stiffness": 0.0})
    whole, half = (replace(flat_spring, hairspring=pinned_further(POCKET, by)) for by in (0.0, 0.5))
    rough = {"balance.end_friction_radius_um": 6.0 * BALANCE.end_friction_radius_um}
    own, at_whole, at_half = (
        float(np.subtract(*(oscsim.settle(one).points.rate_s_per_day[0, 0] for one in (m.with_(rough), m))))
        for m in (FERRYMAN, whole, half)
    )
    assert f"makes dial up {-own:.1f} s/day slower in Ferryman as it is" in told
    assert (
        f"of {POCKET.turns:g} whole turns {at_whole:.1f} faster, of half a turn more {-at_half:.1f} slower"
        in told
    )
    ends = with_ends(30.0)
    told = row("flat pivot ends")
    assert f"ends of 30 µm in place of {BALANCE.end_friction_radius_um:g} take {flat - ends[0]:.0f}°" in told
    assert f"flat stays {ends[0] - ends[1]:.0f}° above vertical" in told
    assert f"Ferryman's {flat - upright:.0f}°" in told


def test_bundled_designs_side_by_side():
    wound, later = (
        {name: amplitudes(movement, hours=hours) for name, movement in BUNDLED.items()}
        for hours in (0.0, 24.0)
    )

    def ends(values, digits=0):
        return f"{min(values):.{digits}f} to {max(values):.{digits}f}"

    apart = [flat - upright for flat, upright in wound.values()]
    assert f"bundled designs {ends(apart)}°" in row("§51, 55")
    assert f"bundled designs {ends([up / flat for flat, up in wound.values()], 2)}; {ends(apart)}°" in row(
        "serviced"
    )
    above = sorted(name for name, (flat, upright) in wound.items() if upright / flat > 0.905)
    assert f"{', '.join(above[:-1])} and {above[-1]} lie above 0.905" in row("serviced")
    flat, upright = amplitudes(BUNDLED["Dockhand"].with_({"balance.pivot_friction": 0.107}))
    assert f"Dockhand would show {upright / flat:.2f} " in row("serviced")
    flat, upright = [a[0] for a in wound.values()], [a[1] for a in later.values()]
    assert f"flat {ends(flat)}; vertical after a day {ends(upright)}" in row("Limits in print")
    drop = {name: wound[name][0] - later[name][0] for name in BUNDLED}
    kept = sorted(name for name in BUNDLED if drop[name] < 50.0 and later[name][1] >= 180.0)
    others = sorted(set(BUNDLED) - set(kept))
    assert max(apart) < 50.0
    told = row("Acceptance by a movement factory")
    for names, some in ((kept, "met by "), (others, "Tidewaiter; ")):
        assert some + ", ".join(names[:-1]) + f" and {names[-1]}" in told
    assert f"drop {ends([drop[name] for name in others])}°" in told


def test_heavy_points():
    weak = {"DU": 0, "DD": 0, "PU": 14, "PR": -10, "PL": 12}
    proper = {"DU": -2, "DD": -3, "PU": -16, "PR": 2, "PL": -6}
    first, second = poise(FERRYMAN, card(weak, 200.0)), poise(FERRYMAN, card(proper, 250.0))
    told = row("example 7")
    assert f"at {first.direction_deg:.0f}° of the dial from the first card, read as 200° of swing" in told
    assert f"at {second.direction_deg:.0f}° from the second, read as 250°" in told
    assert f"both cards to {first.direction_deg - second.direction_deg:.0f}°" in told
    before, after = (poise(FERRYMAN, card(rates, 180.0)) for rates in CARDS["Fig. 20"][:2])
    left = math.hypot(*after.vector_ug_cm) / math.hypot(*before.vector_ug_cm)
    told = row("Fig. 20")
    assert (
        f"at {before.direction_deg:.0f}° of the dial; after the work {100.0 * left:.0f} % of it is left"
        in told
    )


def test_springs():
    told = row("example 10) | |")
    apart = [natural_error(spring, 225.0)[0] for spring in (POCKET, pinned_further(POCKET, 0.5))]
    assert f"{apart[0]:.1f} faster than 6 up, and {-apart[1]:.1f} slower" in told
    poised = FERRYMAN.with_({"balance.cubic_stiffness": 0.0, "balance.unbalance_ug_cm": 0.0})
    less = []
    for eighth in range(9):
        pinned = replace(poised, hairspring=pinned_further(POCKET, eighth / 8.0))
        setting = oscsim.Setting(positions=("CH", "FH", "12H", "9H", "3H"))
        rate = oscsim.settle(pinned, setting).points.rate_s_per_day[:, 0]
        less.append(rate[:2].mean() - rate[2:].mean())
    moved = np.abs(np.diff(less))
    told = row("pinned an eighth of a coil")
    assert f"moves flat against vertical by {moved.min():.0f} to {moved.max():.0f} either way" in told
    natural = [natural_error(POCKET, degrees)[0] for degrees in (225.0, 250.0, 270.0)]
    assert f"{min(natural):.0f} to {max(natural):.0f} between 225 and 270°" in row("§32 to 34")


def test_cold():
    told = row("freezer")
    for name, words in (
        ("Tidewaiter", "{:.0f}° and {:.1f} s/day from Tidewaiter"),
        ("Dockhand", "{:.0f}° and {:.1f} from Dockhand"),
    ):
        warm, cold = (
            oscsim.settle(
                BUNDLED[name], oscsim.Setting(positions=("CH", "FH", "3H", "6H", "9H"), temperature_c=degrees)
            ).points
            for degrees in (23.0, -18.0)
        )
        fallen = float(warm.amplitude_deg[0, 0] - cold.amplitude_deg[0, 0])
        lost = float(warm.rate_s_per_day.mean() - cold.rate_s_per_day.mean())
        assert words.format(fallen, lost) in told
    assert f"From {_ALIKE:.0f} s/day on" in row("A weak magnetisation")


def test_what_the_checks_have_is_what_the_page_says():
    """The ledger's own numbers, which come from tests/outside as they run."""
    assert "taken away, against 86400 (G/k)(J₁(A)/A) by hand | 218.9 | 217.5 " in CHECKS
    assert "a moment of 218 µg·cm was taken away, 0.3 mg" in row("§63")
    assert "change of horizontal less vertical | 4 to 10 | 5.059 " in CHECKS
    assert "| 5 for 20° more of play each way" in row("§37 to 39")
    assert "loss per °C | 10.5 to 12.5 | 10.95 " in CHECKS
    assert "10.95 per °C from the materials" in row("Berthoud")
