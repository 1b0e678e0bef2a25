"""What is known of each number of a design beside its value: one row a number, and this is the only place for it.

A row stands beside the number's ``quantity`` in its part, which has unit, symbol, meaning and allowed range. Here:

- the two groups to which a difference is put down (``oscsim compare``): a cause a watchmaker would name, and in it the
  part or the piece of work;
- the band in which the number usually lies, and who says so. Outside it is worth a second look and need not be wrong;
- the spread among sound examples of one design, in percent of the value or ± in its unit;
- a step that a watchmaker can picture, in the number's unit;
- how a bench learns it; docs/bench.md says more;
- what a watchmaker calls a design that has more of it, and one that has less, and the number itself.

Nothing here needs NumPy: the shell's completion takes its words from these rows.
"""

from __future__ import annotations

from dataclasses import dataclass

from oscsim.tolerances import Spread
from oscsim.typical.bands import JENKIN, KINETIC, PLAYTNER, Usual

NO_WAY = "not at a bench"
#: Outer groups: what a difference in amplitude between two designs is put down to.
DRIVE = "drive for its balance"
TRAIN = "train friction and jewels"
LEVER = "lever escapement and lock"
PIVOTS = "pivots and damping"
POISE = "poise, beat and hairspring"
#: Where a number is put that has no row; a test holds that there is none.
OTHER = "other numbers"

_TORQUE, _BEAT = "mainspring and gearing", "balance and beat"
_JEWELS, _MESHES = "jewels", "meshes and friction"
_LOCK, _STONES, _INERTIA = "lock and lift", "friction of stones and fork", "inertia of lever and wheel"
_DETENT = "detent and impulse"
_PIVOTS, _DRAG = "balance pivots and mass", "air and oil"
_HEAVY, _OUT, _SPRING = "poise", "beat setting", "hairspring and regulation"


@dataclass(frozen=True)
class Facts:
    """A number's row: groups, outer and inner; step; and where there are such, usual band, spread (± in its unit or
    percent), how it is learnt at a bench, what a design has that has more of it, or less, and what it is called in a
    sentence where its meaning does not begin with a name."""

    outer: str
    inner: str
    step: float
    usual: Usual | None = None
    percent: float | None = None
    plus_minus: float | None = None
    how: str = NO_WAY
    words: tuple[str, str] | None = None
    said: str = ""


#: By dotted name, in the order of the design file; a table's name stands for all numbers in it that have no row.
# fmt: off
NUMBERS = {
    "balance.beats_per_hour": Facts(DRIVE, _BEAT, 100.0, Usual(14400, 36000), how="count the beats",
        words=("a faster beat", "a slower beat"), said="beat"),
    "balance.inertia_mg_cm2": Facts(DRIVE, _BEAT, 1.0, Usual(1.0, 400.0), percent=1.5,
        how="two small weights on the rim", words=("a heavier balance", "a lighter balance"),
        said="moment of inertia of the balance"),
    "balance.mass_mg": Facts(PIVOTS, _PIVOTS, 1.0, Usual(12.0, 900.0), how="weigh it",
        words=("more weight on its pivots", "less weight on its pivots"), said="mass of the balance"),
    "balance.viscous_q": Facts(PIVOTS, _DRAG, 10.0,
        Usual(120.0, 550.0, "100 to 300 published, weak, for all losses together; this is one part"),
        percent=12.0, how="let it swing out, lever removed",
        words=("less drag of air and oil", "more drag of air and oil"),
        said="quality factor of air and oil"),
    "balance.quadratic_drag": Facts(PIVOTS, _DRAG, 1e-5, Usual(0.0, 0.001),
        how="let it swing out, from a large swing", said="drag of the air"),
    "balance.oil_share": Facts(PIVOTS, _DRAG, 0.01, Usual(0.0, 0.5), said="oil's share of the drag"),
    "balance.pivot_friction": Facts(PIVOTS, _PIVOTS, 0.01, Usual(0.06, 0.20, JENKIN), percent=20.0,
        words=("more friction at the pivots", "less friction at the pivots")),
    "balance.end_friction_radius_um": Facts(PIVOTS, _PIVOTS, 1.0, Usual(0.2, 40.0, KINETIC), percent=25.0,
        words=("flatter pivot ends", "rounder pivot ends"), said="friction radius of the pivots' ends"),
    "balance.pivot_radius_mm": Facts(PIVOTS, _PIVOTS, 0.001,
        Usual(0.03, 0.08, hint="the key is the radius, half of what a micrometer shows"), percent=2.0,
        how="micrometer", words=("thicker pivots", "thinner pivots")),
    "balance.unbalance_ug_cm": Facts(POISE, _HEAVY, 1.0,
        words=("more want of poise", "less want of poise")),
    "balance.heavy_point_deg": Facts(POISE, _HEAVY, 1.0, said="direction of the heavy point"),
    "balance.out_of_beat_deg": Facts(POISE, _OUT, 1.0, Usual(-2.5, 2.5), plus_minus=0.6,
        said="angle out of beat"),
    "balance.cubic_stiffness": Facts(POISE, _SPRING, 1e-5, Usual(-1e-4, 1e-4),
        said="cubic term of the hairspring"),
    "balance.regulation_s_per_day": Facts(POISE, _SPRING, 1.0, said="regulation"),
    "balance.temperature_s_per_day_c": Facts(POISE, _SPRING, 1.0,
        Usual(-11.5, 2.0, "steel spring and brass balance about -11, by derivation"),
        said="rate gained per °C"),
    "escapement.teeth": Facts(DRIVE, _TORQUE, 1.0, Usual(15, 22), how="count the teeth",
        words=("more teeth", "fewer teeth"), said="number of teeth of the escape wheel"),
    "escapement.teeth_embraced": Facts(DRIVE, _TORQUE, 0.1, Usual(2.5, 4.5), how="count under the loupe",
        said="number of tooth spaces embraced"),
    "escapement.fork_ratio": Facts(LEVER, _LOCK, 0.001, Usual(0.15, 0.30), said="ratio of the fork"),
    "escapement.lift_angle_deg": Facts(LEVER, _LOCK, 1.0, Usual(42.0, 58.0), how="look it up",
        words=("a larger lift angle", "a smaller lift angle"), said="lift angle"),
    "escapement.lock_deg": Facts(LEVER, _LOCK, 1.0, Usual(1.0, 3.5, PLAYTNER), plus_minus=0.3,
        how="loupe or drawing", words=("a deeper lock", "a shallower lock")),
    "escapement.run_deg": Facts(LEVER, _LOCK, 0.1, Usual(0.1, 0.8, PLAYTNER), plus_minus=0.1,
        how="loupe or drawing", words=("more run to banking", "less run to banking")),
    "escapement.pallet_lift_deg": Facts(LEVER, _LOCK, 1.0, Usual(7.0, 10.5, PLAYTNER), how="drawing",
        words=("more lift on the stones", "less lift on the stones"), said="lift on the stones"),
    "escapement.drop_deg": Facts(LEVER, _LOCK, 1.0, Usual(0.8, 2.5, PLAYTNER), plus_minus=0.2,
        how="loupe or drawing", words=("more drop", "less drop"), said="drop"),
    "escapement.draw_deg": Facts(LEVER, _LOCK, 1.0, Usual(10.0, 16.0, PLAYTNER), plus_minus=1.0,
        how="drawing", words=("more draw", "less draw")),
    "escapement.pallet_friction": Facts(LEVER, _STONES, 0.01, Usual(0.08, 0.20, JENKIN), percent=15.0,
        words=("more friction at the stones", "less friction at the stones")),
    "escapement.fork_efficiency": Facts(LEVER, _STONES, 0.01, Usual(0.85, 1.0),
        said="efficiency of the fork"),
    "escapement.notch_shake_deg": Facts(LEVER, _LOCK, 0.1, Usual(0.1, 0.8), plus_minus=0.1,
        how="loupe or drawing", said="shake of the pin in the notch"),
    "escapement.lever_inertia_mg_cm2": Facts(LEVER, _INERTIA, 0.01,
        words=("a heavier lever", "a lighter lever")),
    "escapement.wheel_inertia_mg_cm2": Facts(LEVER, _INERTIA, 0.01,
        words=("a heavier escape wheel", "a lighter escape wheel")),
    "escapement.horn_clearance_deg": Facts(LEVER, _LOCK, 1.0, Usual(2.0, 20.0),
        said="clearance of the horn"),
    "escapement.knock_restitution": Facts(LEVER, _STONES, 0.01, Usual(0.2, 0.9),
        said="rebound at the horn"),
    "escapement.centre_distance": Facts(LEVER, _DETENT, 0.01, Usual(1.2, 1.8)),
    "escapement.half_advance_deg": Facts(LEVER, _DETENT, 0.1, Usual(9.0, 14.0),
        said="half of the wheel's advance"),
    "escapement.impulse_friction": Facts(LEVER, _DETENT, 0.01, Usual(0.10, 0.20, JENKIN)),
    "escapement.detent_ratio": Facts(LEVER, _DETENT, 0.01, said="ratio of the detent"),
    "escapement.detent_inertia_mg_cm2": Facts(LEVER, _DETENT, 0.01),
    "escapement.detent_arm": Facts(LEVER, _DETENT, 0.1),
    "escapement.detent_friction": Facts(LEVER, _DETENT, 0.01, Usual(0.08, 0.20, JENKIN)),
    "escapement.detent_spring_un_m": Facts(LEVER, _DETENT, 0.01),
    "escapement.unlocking_deg": Facts(LEVER, _DETENT, 1.0, said="unlocking angle"),
    "escapement.passing_spring_un_m": Facts(LEVER, _DETENT, 0.001),
    "escapement.passing_deg": Facts(LEVER, _DETENT, 1.0, said="passing angle"),
    "escapement.kind": Facts(LEVER, _LOCK, 1.0),
    "train.ratio": Facts(DRIVE, _TORQUE, 10.0, how="count the teeth",
        words=("a higher gearing", "a lower gearing"), said="ratio of the train"),
    "train.wheel_teeth": Facts(DRIVE, _TORQUE, 1.0, how="count the teeth"),
    "train.pinion_leaves": Facts(DRIVE, _TORQUE, 1.0, how="count the leaves"),
    "train.layout": Facts(DRIVE, _TORQUE, 1.0),
    "train.jewels": Facts(TRAIN, _JEWELS, 1.0, Usual(0, 31), how="count the jewels",
        words=("more jewels", "fewer jewels"), said="number of jewels"),
    **{
        f"train.jewels.{hole}": Facts(TRAIN, _JEWELS, 1.0, how="count the jewels")
        for hole in ("barrel", "centre", "third", "fourth", "escape", "pallet")
    },
    "train.meshes": Facts(DRIVE, _TORQUE, 1.0, Usual(3, 5), how="count them", said="number of meshes"),
    "train.mesh_efficiency": Facts(TRAIN, _MESHES, 0.01, Usual(0.94, 0.99), percent=0.8,
        words=("better meshes", "poorer meshes"), said="efficiency of a mesh"),
    "train.mesh_friction": Facts(TRAIN, _MESHES, 0.01, Usual(0.05, 0.20),
        words=("poorer meshes", "better meshes")),
    "train.jewel_friction": Facts(TRAIN, _MESHES, 0.01, Usual(0.08, 0.20, JENKIN), percent=15.0),
    "train.brass_friction": Facts(TRAIN, _MESHES, 0.01, Usual(0.12, 0.25, JENKIN), percent=15.0),
    "train.arbors": Facts(TRAIN, _MESHES, 0.01),
    "mainspring.thickness_mm": Facts(DRIVE, _TORQUE, 0.01, Usual(0.045, 0.26), percent=0.8,
        how="micrometer, in several places", words=("a thicker strip", "a thinner strip")),
    "mainspring.height_mm": Facts(DRIVE, _TORQUE, 0.1, Usual(0.5, 4.0), percent=0.8, how="micrometer",
        words=("a higher strip", "a lower strip")),
    "mainspring.length_mm": Facts(DRIVE, _TORQUE, 10.0, Usual(150.0, 900.0),
        how="unrolled, or the list it was bought from", words=("a longer strip", "a shorter strip")),
    "mainspring.modulus_gpa": Facts(DRIVE, _TORQUE, 10.0, Usual(190.0, 220.0),
        said="modulus of the mainspring"),
    "mainspring.coil_efficiency": Facts(DRIVE, _TORQUE, 0.01, Usual(0.80, 0.97), percent=2.5,
        how="torque at the barrel, up and down", said="efficiency of the coils"),
    "mainspring.elastic_limit_mpa": Facts(DRIVE, _TORQUE, 100.0, Usual(1500.0, 3600.0), percent=3.0,
        how="torque at the barrel, wound"),
    "mainspring.free_curvature_per_m": Facts(DRIVE, _TORQUE, 10.0, Usual(-150.0, 100.0),
        said="curvature of the mainspring before first winding"),
    "mainspring.tail_turns": Facts(DRIVE, _TORQUE, 0.1, Usual(0.1, 1.5),
        how="torque at the barrel, nearly down", said="turns of fading at the end"),
    "mainspring.slip_torque_n_mm": Facts(DRIVE, _TORQUE, 0.1, how="torque at which the bridle slips"),
    "barrel.inner_diameter_mm": Facts(DRIVE, _TORQUE, 0.1, Usual(5.0, 25.0), how="caliper",
        words=("a larger barrel", "a smaller barrel")),
    "barrel.arbor_diameter_mm": Facts(DRIVE, _TORQUE, 0.1, Usual(1.5, 9.0), how="caliper"),
    "index_pins.stiffness_share": Facts(POISE, _SPRING, 0.01),
    "index_pins.low_contact_deg": Facts(POISE, _SPRING, 1.0, said="lower angle of contact at the pins"),
    "index_pins.high_contact_deg": Facts(POISE, _SPRING, 1.0, said="upper angle of contact at the pins"),
    "hairspring.collet_radius_mm": Facts(POISE, _SPRING, 0.01, how="caliper", said="radius of the collet"),
    "hairspring.outer_radius_mm": Facts(POISE, _SPRING, 0.01, how="caliper",
        said="radius of the last coil"),
    "hairspring.turns": Facts(POISE, _SPRING, 0.25, how="count the coils", said="number of coils"),
    "hairspring.pinning_deg": Facts(POISE, _SPRING, 10.0, how="loupe",
        said="direction of the pinning point"),
    "hairspring.strip_mass_mg": Facts(POISE, _SPRING, 0.1, how="weigh it"),
    "hairspring.strip_height_mm": Facts(POISE, _SPRING, 0.01, how="micrometer"),
    "hairspring.strip_thickness_mm": Facts(POISE, _SPRING, 0.001, how="micrometer"),
    "hairspring.strip_density_g_cm3": Facts(POISE, _SPRING, 0.1),
    "hairspring.stud_turn_deg": Facts(POISE, _SPRING, 1.0, how="loupe", said="turn of the stud"),
    "hairspring": Facts(POISE, _SPRING, 1.0),
    "winding": Facts(DRIVE, _TORQUE, 0.1),
}
# fmt: on


def facts_of(name: str) -> Facts:
    """The row of the number at a dotted name, or of the innermost table it is in; ``OTHER`` where neither has one."""
    while name:
        if name in NUMBERS:
            return NUMBERS[name]
        name = name.rpartition(".")[0]
    return Facts(OTHER, OTHER, 1.0)


def usual_of(name: str) -> Usual | None:
    """The band in which the number at a dotted name usually lies, None where it has none."""
    return NUMBERS[name].usual if name in NUMBERS else None


def how_to(name: str) -> str:
    """How the number at a dotted name is learnt at a bench."""
    return NUMBERS[name].how if name in NUMBERS else NO_WAY


#: Spreads for a design that gives none, of sound examples of one design (common practice without source).
DEFAULT_SPREADS = tuple(
    Spread(name, facts.plus_minus, facts.percent)
    for name, facts in NUMBERS.items()
    if facts.percent or facts.plus_minus
)
