"""Plausible numbers: what a usual band is, who says so, and the bands of what follows from a design.

Outside a band a number is worth a second look; it need not be wrong. The bands of a design's own numbers stand in
numbers.py, with all else that is known of them; the allowed ranges of a file are far wider.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"
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


#: Bands of what follows from a design, by the name under which answers give it.
FOLLOWS = {
    "frequency_hz": Usual(2.0, 5.0),
    "stiffness_un_m_per_rad": Usual(0.05, 10.0, hint="inertia and beat together"),
    "radius_of_gyration_mm": Usual(2.5, 9.0, hint="inertia and mass belong to one balance; is one in another unit?"),
    "total_q_at_270_deg": Usual(90.0, 350.0, "100 to 300 published for wrist balances (weak)",
                                "viscous_q, pivot friction and mass together"),
    "unbalance_rate_at_180_deg_s_per_day": Usual(0.0, 30.0, hint="unbalance against inertia and beat"),
    "hairspring_modulus_gpa": Usual(150.0, 240.0, "steel 200 to 210, its alloys somewhat less, from memory",
                                    "the strip's sizes and coils against inertia and beat: its thickness counts three "
                                    "times over"),
    "lift_angle_deg": Usual(42.0, 58.0, hint="fork ratio, lock, run, lift and shake together"),
    "knock_angle_deg": Usual(300.0, 345.0, hint="a balance strikes the fork near a full turn"),
    "impulse_deg": Usual(30.0, 50.0, "a published drawing has 38, from 22 of the wheel"),
    "impulse_over_wheel_radius": Usual(0.3, 0.75, "0.58 in a published drawing"),
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
