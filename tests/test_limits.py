"""docs/limits.md: what the constants are and what they are worth is what laws, designs and engine say today."""

import math
import re
from pathlib import Path

import pytest

import oscsim
from oscsim.answers.follows import follows_unsettled
from oscsim.tables import value_at
from oscsim.typical.families import FAMILIES
from oscsim.typical.laws import fill
from tests.typical.test_designs import smooth_ring_q

PAGE = (Path(__file__).parent.parent / "docs/limits.md").read_text("utf-8").replace("−", "-")
STONES = {
    movement.name: movement
    for movement in map(oscsim.load, oscsim.bundled())
    if getattr(movement.escapement, "kind", "") == "lever"
}
DOCKHAND = STONES["Dockhand"]
LAWS = {one.name: one for one in fill({}, FAMILIES["plain"], {"balance_diameter_mm": 10.0})}
WOUND = {"positions": ["CH", "12H"], "hours": [0]}
#: Row of the table: the number it is about.
CONSTANTS = {
    "friction of tooth on stone": "escapement.pallet_friction",
    "drop of the escape wheel": "escapement.drop_deg",
    "what a mesh passes on": "train.mesh_efficiency",
    "Q of what goes with speed": "balance.viscous_q",
    "drag of fast air": "balance.quadratic_drag",
    "friction of the balance pivots": "balance.pivot_friction",
    "friction radius of a pivot's end": "balance.end_friction_radius_um",
    "friction in jewelled holes": "train.jewel_friction",
    "friction in brass holes": "train.brass_friction",
    "lock": "escapement.lock_deg",
    "draw": "escapement.draw_deg",
    "shake of the notch": "escapement.notch_shake_deg",
    "fork and impulse pin pass on": "escapement.fork_efficiency",
    "elastic limit of the mainspring": "mainspring.elastic_limit_mpa",
    "efficiency of the mainspring's coils": "mainspring.coil_efficiency",
    "modulus of the mainspring": "mainspring.modulus_gpa",
}
#: Rows whose other value is no plain number of one key.
OTHERWISE = {
    "inertia of lever and of wheel": {
        "escapement.lever_inertia_mg_cm2": 2.0 * DOCKHAND.escapement.lever_inertia_mg_cm2,
        "escapement.wheel_inertia_mg_cm2": 2.0 * DOCKHAND.escapement.wheel_inertia_mg_cm2,
    },
    "elastic limit of the mainspring": {
        "mainspring.elastic_limit_mpa": 0.87 * DOCKHAND.mainspring.elastic_limit_mpa
    },
}


def cells(begins):
    """The cells of the page's one row that has this heading, or begins so, without its heading."""
    rows = [line for line in PAGE.splitlines() if line.startswith(f"| {begins}")]
    (line,) = [line for line in rows if line.startswith(f"| {begins} |")] or rows
    return [cell.strip() for cell in line.strip("|").split("|")][1:]


def amplitudes(movement, **setting):
    return oscsim.settle(movement, oscsim.Setting(**WOUND | setting)).points.amplitude_deg[:, 0]


OWN = amplitudes(DOCKHAND)


def says(worth, movement=DOCKHAND, **setting):
    """Whether a worth such as '-2° (-10°)' or '+3°' is what the movement shows beside Dockhand as bundled."""
    flat, upright = amplitudes(movement, **setting) - OWN
    told = [float(number) for number in re.findall(r"([-+]?\d+)°", worth)]
    if len(told) == 1:  # 12 up as dial up
        return told == [round(flat)] and abs(flat - upright) < 1.0
    return told == [round(flat), round(upright)]


@pytest.mark.parametrize("row", CONSTANTS)
def test_worth_in_degrees(row):
    worths = re.findall(r"(\d[\d.]*)[^;,:+-]*(?:, [^:]*)?: ([-+]?\d+°(?: \([-+]?\d+°\))?)", cells(row)[-1])
    assert len(worths) == cells(row)[-1].count(":") > 0
    for value, worth in worths:
        change = OTHERWISE.get(row) or {CONSTANTS[row]: float(value)}
        assert says(worth, DOCKHAND.with_(change)), (row, value, amplitudes(DOCKHAND.with_(change)) - OWN)


def test_worth_of_inertia_and_cold():
    row = "inertia of lever and of wheel"
    assert says(cells(row)[-1], DOCKHAND.with_(OTHERWISE[row]))
    assert says(cells("oil's share of the drag")[-1].removeprefix("at 8 °C"), temperature_c=8.0)


def test_what_cold_oil_on_stones_and_train_might_take():
    """docs/ageing.md: a tenth more friction there, at 8 °C."""
    page = (Path(__file__).parent.parent / "docs/ageing.md").read_text("utf-8")
    train = ("train.jewel_friction", "train.brass_friction")
    cold = oscsim.Setting(temperature_c=8.0)
    rough = oscsim.Setting(temperature_c=8.0, condition=oscsim.Condition(pallet_friction=1.1))
    took = {}
    for name, movement in (STONES | {"Bollard": oscsim.load("bollard")}).items():
        dry = movement.with_({key: 1.1 * value_at(movement, key) for key in train})
        own, *others = (
            float(oscsim.settle(one, setting).points.amplitude_deg[0, 0])
            for one, setting in ((movement, cold), (movement, rough), (dry, cold))
        )
        took[name] = [round(own - other) for other in others]
    stones, holes = took.pop("Dockhand")
    beside = round(float(OWN[0] - amplitudes(DOCKHAND, temperature_c=8.0)[0]))
    assert f"takes {stones}° beside the {beside}°" in page
    assert f"in the holes of the train {holes}° " in page
    pins = took.pop("Bollard")
    assert f"with pins {pins[0]}° and {pins[1]}°" in page
    ((five,), holes) = ({one[0] for one in took.values()}, [one[1] for one in took.values()])
    assert f"with stones {five}° and {min(holes)} to {max(holes)}°" in page


def least_and_most(name):
    found = [float(value_at(movement, name)) for movement in STONES.values()]
    return f"{min(found):g}" if min(found) == max(found) else f"{min(found):g} to {max(found):g}"


@pytest.mark.parametrize("row", CONSTANTS)
def test_what_designs_and_laws_have(row):
    name, here = CONSTANTS[row], cells(row)[0]
    assert here.replace(" (carbon steel)", "").startswith(f"designs {least_and_most(name)}")
    spread, value = LAWS[name].spread, LAWS[name].value
    ends = f"± {spread.percent:g} %" if spread.percent else f"± {spread.plus_minus:g}"
    assert ends in here
    if name not in ("balance.viscous_q", "balance.end_friction_radius_um", "mainspring.elastic_limit_mpa"):
        assert f"laws {value:g}" in here


def test_q_that_air_leaves():
    found = {
        movement.name: smooth_ring_q(movement.balance) for movement in map(oscsim.load, oscsim.bundled())
    }
    least, most, own = (round(q, -1) for q in (min(found.values()), max(found.values()), found["Dockhand"]))
    said = f"leaves the bundled balances {least:.0f} to {most:.0f}, Dockhand {own:.0f}."
    assert said in cells("Q of what goes")[1]
    (total,) = (one.value for one in follows_unsettled(DOCKHAND) if one.name == "total_q_at_270_deg")
    assert f"{DOCKHAND.balance.viscous_q:g} makes {total:.0f} of all losses" in cells("Q of what goes")[1]


def test_what_families_have():
    def ends(key):
        found = [getattr(family, key) for family in FAMILIES.values()]
        return f"{min(found):g} to {max(found):g}"

    assert f"laws {ends('viscous_q')} by family" in cells("Q of what goes")[0]
    assert f"laws {ends('elastic_limit_mpa')} by family" in cells("elastic limit")[0]
    assert f"The laws reach {LAWS['escapement.drop_deg'].ends[1]:.1f} and" in cells("drop of the")[1]
    assert f"reach down to {LAWS['train.mesh_efficiency'].ends[0]:.3f}" in cells("what a mesh")[1]
    usual = cells("usual amplitude of a family")[0]
    assert usual == f"{ends('usual_deg')}, ± {ends('usual_off_deg')}"
    less = {name: family.upright_less_deg for name, family in FAMILIES.items()}
    small, pins, others = less.pop("small"), less.pop("pin-pallet"), set(less.values())
    (other,) = others
    assert cells("what such a movement shows")[0] == (
        f"{other:g} ± {FAMILIES['plain'].upright_less_off_deg:g} deg, wound; small ones {small:g}, "
        f"with steel pins {pins:g}"
    )
    apart = [
        round(float(-(found[1] - found[0]))) for found in map(amplitudes, map(oscsim.load, oscsim.bundled()))
    ]
    assert f"the bundled designs {min(apart)} to {max(apart)}" in cells("what such a movement shows")[1]


def efficiency(movement):
    """Of the escapement, per cent, fully wound, dial up."""
    answer = oscsim.budget(movement, oscsim.Setting(positions=["CH"], hours=[0]))
    return 100.0 * float(answer.escapement_efficiency[0, 0])


def test_what_would_bring_the_efficiency_down():
    heads = cells("fully wound, dial up")
    friction = {"escapement.pallet_friction": 0.20}
    drop = {"escapement.drop_deg": 3.0}
    for column, name in enumerate(heads):
        movement = STONES[name]
        own = amplitudes(movement)[0]

        def printed(begins, column=column):
            return float(cells(begins)[column])

        def takes(change, movement=movement, own=own):
            return own - amplitudes(movement.with_(change))[0]

        assert printed("efficiency of the escapement, %") == pytest.approx(efficiency(movement), abs=0.06)
        rougher = {"escapement.pallet_friction": printed("friction of tooth on stone that")}
        assert efficiency(movement.with_(rougher)) == pytest.approx(35.0, abs=0.1)
        assert printed("and takes, deg") == pytest.approx(takes(rougher), abs=0.6)
        slope = math.tan(math.radians(movement.escapement.draw_deg))
        assert printed("tangent of the draw") == pytest.approx(slope, abs=6e-4)
        assert rougher["escapement.pallet_friction"] > slope  # the lever would not be drawn to its banking
        assert printed("a drop of 3° takes") == pytest.approx(takes(drop), abs=0.51)
        assert printed("and makes the efficiency") == pytest.approx(
            efficiency(movement.with_(drop)), abs=0.06
        )
        both = movement.with_(drop | friction)
        assert printed("with a friction of 0.20") == pytest.approx(efficiency(both), abs=0.06)
        for mesh in ("0.947", "0.931"):
            took = takes({"train.mesh_efficiency": float(mesh)})
            assert printed(f"meshes of {mesh}") == pytest.approx(took, abs=0.51)
    others = re.search(r"\((\d+) % with steel pins, (\d+) with a detent\)", PAGE)
    told = [float(number) for number in others.groups()]
    assert told == pytest.approx([efficiency(oscsim.load(name)) for name in ("bollard", "pilot")], abs=0.51)
