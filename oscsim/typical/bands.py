"""Plausible numbers: the band in which each number of a design usually lies, and who says so.

Outside a band a number is worth a second look; it need not be wrong. The allowed ranges of a file are far wider.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"
MEMORY = "from memory"
JENKIN = "Jenkin and Ewing, Phil. Trans. 167 (1877) 502"
PLAYTNER = "around Playtner, An Analysis of the Lever Escapement, 1910"
KINETIC = "effective radius of a domed end to that of a flat one"


@dataclass(frozen=True)
class Usual:
    """A band and its source; hint: what to look at when a number lies outside."""

    low: float
    high: float
    source: str = PRACTICE
    hint: str = ""

    def holds(self, value: float) -> bool:
        """Whether a value lies in the band."""
        return self.low <= value <= self.high


#: Bands by dotted name. Numbers without one depend on the others; what follows from them has bands below.
USUAL = {
    "balance.beats_per_hour": Usual(14400, 36000),
    "balance.inertia_mg_cm2": Usual(1.0, 400.0),
    "balance.mass_mg": Usual(12.0, 900.0),
    "balance.pivot_radius_mm": Usual(
        0.03, 0.08, hint="the key is the radius, half of what a micrometer shows"
    ),
    "balance.pivot_friction": Usual(0.06, 0.20, JENKIN),
    "balance.end_friction_radius_um": Usual(0.2, 40.0, KINETIC),
    "balance.viscous_q": Usual(
        120.0, 550.0, "100 to 300 published, weak, for all losses together; this is one part"
    ),
    "balance.quadratic_drag": Usual(0.0, 0.001),
    "balance.out_of_beat_deg": Usual(-2.5, 2.5),
    "balance.cubic_stiffness": Usual(-1e-4, 1e-4),
    "balance.temperature_s_per_day_c": Usual(
        -11.5, 2.0, "steel spring and brass balance about -11, by derivation"
    ),
    "balance.oil_share": Usual(0.0, 0.5),
    "escapement.teeth": Usual(15, 22),
    "escapement.teeth_embraced": Usual(2.5, 4.5),
    "escapement.fork_ratio": Usual(0.15, 0.30),
    "escapement.lift_angle_deg": Usual(42.0, 58.0),
    "escapement.lock_deg": Usual(1.0, 3.5, PLAYTNER),
    "escapement.run_deg": Usual(0.1, 0.8, PLAYTNER),
    "escapement.pallet_lift_deg": Usual(7.0, 10.5, PLAYTNER),
    "escapement.drop_deg": Usual(0.8, 2.5, PLAYTNER),
    "escapement.draw_deg": Usual(10.0, 16.0, PLAYTNER),
    "escapement.pallet_friction": Usual(0.08, 0.20, JENKIN),
    "escapement.fork_efficiency": Usual(0.85, 1.0),
    "escapement.notch_shake_deg": Usual(0.1, 0.8),
    "escapement.horn_clearance_deg": Usual(2.0, 20.0),
    "escapement.knock_restitution": Usual(0.2, 0.9),
    "train.jewels": Usual(7, 31),
    "train.meshes": Usual(3, 5),
    "train.mesh_efficiency": Usual(0.94, 0.99),
    "train.jewel_friction": Usual(0.08, 0.20, JENKIN),
    "train.brass_friction": Usual(0.12, 0.25, JENKIN),
    "mainspring.height_mm": Usual(0.5, 4.0),
    "mainspring.thickness_mm": Usual(0.045, 0.26),
    "mainspring.length_mm": Usual(150.0, 900.0),
    "mainspring.modulus_gpa": Usual(190.0, 220.0),
    "mainspring.elastic_limit_mpa": Usual(1500.0, 3600.0),
    "mainspring.free_curvature_per_m": Usual(-150.0, 100.0),
    "mainspring.coil_efficiency": Usual(0.80, 0.97),
    "mainspring.tail_turns": Usual(0.1, 1.5),
    "barrel.inner_diameter_mm": Usual(5.0, 25.0),
    "barrel.arbor_diameter_mm": Usual(1.5, 9.0),
}

#: Bands of what follows from a design, by the name under which answers give it.
FOLLOWS = {
    "frequency_hz": Usual(2.0, 5.0),
    "stiffness_un_m_per_rad": Usual(0.05, 10.0, hint="inertia and beat together"),
    "radius_of_gyration_mm": Usual(2.5, 9.0, hint="inertia and mass belong to one balance; is one in another unit?"),
    "total_q_at_270_deg": Usual(90.0, 350.0, "100 to 300 published for wrist balances (weak)",
                                "viscous_q, pivot friction and mass together"),
    "unbalance_rate_at_180_deg_s_per_day": Usual(0.0, 30.0, hint="unbalance against inertia and beat"),
    "lift_angle_deg": Usual(42.0, 58.0, hint="fork ratio, lock, run, lift and shake together"),
    "knock_angle_deg": Usual(300.0, 345.0, hint="a balance strikes the fork near a full turn"),
    "draw_beyond_friction_deg": Usual(1.5, 12.0, hint="draw less the angle of friction; with too little the lever is "
                                      "not drawn to its banking"),
    "arm_over_wheel_radius": Usual(0.45, 0.75, hint="teeth embraced and teeth together; Playtner has tan 30° = 0.58"),
    "train_efficiency": Usual(0.65, 0.92, "80 to 90 per cent, from memory", "meshes, frictions and jewels together"),
    "hours_per_barrel_turn": Usual(4.0, 9.5, hint="train ratio and teeth together"),
    "barrel_turns": Usual(4.5, 11.0, hint="strip and barrel together"),
    "hours_wound": Usual(28.0, 90.0, hint="train ratio against the barrel's turns"),
    "strip_fills_share": Usual(0.42, 0.66, "most turns at one half, by derivation", "strip and barrel together"),
    "arbor_over_barrel": Usual(0.24, 0.42, hint="about a third"),
    "arbor_radius_over_thickness": Usual(9.0, 20.0, hint="a thick strip on a thin arbor sets or breaks"),
    "barrel_torque_n_mm": Usual(0.8, 40.0, hint="the strip's thickness counts three times over"),
    "torque_kept_after_24_h": Usual(0.45, 1.0, hint="strip, bridle and train ratio together"),
    "escape_torque_un_m": Usual(0.15, 12.0, "1 to 3 for a wrist watch, from memory", "mainspring against train ratio"),
    "slips_before_packed_turns": Usual(0.0, 2.0, hint="slip torque against what the strip gives"),
    "amplitude_ch_wound_deg": Usual(230.0, 320.0, hint="drive against losses; docs/bench.md says what moves it"),
    "amplitude_12h_wound_deg": Usual(200.0, 300.0, hint="as dial up, and the pivots' friction"),
}  # fmt: skip
