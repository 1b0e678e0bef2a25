"""The diagnosis measured on this world: ``python -m tests.bench.world.study`` prints the tables of docs/diagnosis.md.

Every figure comes with its standard error. ``--designs`` and ``--cases`` set the size: so many designs of each of the
five kinds, so many cases each in every group; the full size takes about an hour of one processor.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

import oscsim
from oscsim.bench.causes import FAULTS, NAMES
from oscsim.bench.diagnose import unseen, weighed
from oscsim.slips.readings import Findings, Reading, Readings, Seen, Sister
from oscsim.slips.slip import Slip
from oscsim.tables import value_at

from .cases import (
    EXACT,
    LEVEL,
    MOST,
    PIVOTS,
    POSITIONS,
    SETTINGS,
    USUAL,
    World,
    cases,
    met,
    met_cases,
    mixed,
    read_cases,
    sized,
)
from .movements import KINDS, design, examples

#: What half of the slips have beside beat, jewels, lift angle, winding and the balance's diameter, and how well it is
#: measured.
STRIP = {
    "mainspring.height_mm": 0.008, "mainspring.thickness_mm": 0.012, "mainspring.length_mm": 0.02,
    "barrel.inner_diameter_mm": 0.008, "barrel.arbor_diameter_mm": 0.012, "train.ratio": 0.0, "balance.mass_mg": 0.015,
}  # fmt: skip


GROUPS = ("known", "named", "progress", "fit", "poise", "slip")
WIDER = World(width=1.5, noise=7.5, offset=4.5, by_position=6.0, faults=1.5)


@dataclass
class Judged:
    """What was said of one case: chance of a loss, chance, size ends and gain ends of each fault, loss ends, misfit."""

    case: object
    kind: str
    group: str
    chance: float
    chances: np.ndarray
    sizes: list
    gains: list
    losses: list
    misfit_p: float
    effective: float
    strip: bool = False
    rule: float = math.nan
    done_gain: float = math.nan
    first: str = ""
    extra: dict = field(default_factory=dict)

    @property
    def lost(self):
        return max(self.case.loss)

    @property
    def any_pivot(self):
        """Chance that a pivot's side or end is the cause: the balance is taken out for either."""
        return sum(self.chances[NAMES.index(name)] for name in PIVOTS)

    @property
    def only(self):
        """The one fault, if there is one."""
        return next(iter(self.case.faults)) if len(self.case.faults) == 1 else None


def judged(what, case, kind, group, worth=20.0, **more):
    """One case, judged."""
    w = weighed(what, case.readings)
    t = w.table
    loss, full = t.loss, t.full
    has = t.size > 0.0
    chances = np.array([w.share(has[:, j]) for j in range(len(NAMES))])
    hidden = unseen(w, case.readings)
    sizes = [w.ends(t.size[:, j], has[:, j]) for j in range(len(NAMES))]
    gains = []
    for j in range(len(NAMES)):
        brings = full[t.mended[:, j]] - full
        gains.append([w.mean(brings[:, k], has[:, j]) for k in (0, 1)])
    return Judged(
        case,
        kind,
        group,
        w.share(loss.max(axis=1) >= worth),
        chances,
        sizes,
        gains,
        [w.ends(loss[:, 0]), w.ends(loss[:, 1])],
        w.misfit_p,
        w.effective,
        first=max(NAMES, key=lambda name: (name not in hidden, chances[NAMES.index(name)])),
        **more,
    )


def designs_of(count, seed) -> Iterator[tuple]:
    """Kind, its name, a design, its balance's diameter, and a generator of its own."""
    for number in range(count):
        for k, (name, kind) in enumerate(KINDS.items()):
            rng = np.random.default_rng([seed, number, k])
            found = None
            while found is None:
                found = design(kind, rng)
            yield name, kind, found[0], found[1], rng


def groups(count, rng):
    """Faults and losses of the groups in which known designs are judged."""
    one = [[LEVEL[n % len(LEVEL)]] for n in range(count)]
    ends = [[PIVOTS[n % len(PIVOTS)]] for n in range(count)]
    yield "sound", [[] for _ in range(count)], [[] for _ in range(count)]
    yield "level 30–40", one, [[rng.uniform(30, 40)] for _ in one]
    yield "level 40–60", one, [[rng.uniform(40, 60)] for _ in one]
    yield "pivots 10–20", ends, [[rng.uniform(10, 20)] for _ in ends]
    yield "mixed", *mixed(count, rng)


def known(designs, count, world=USUAL, seed=1):
    """Known designs in one setting: twelve readings with rates."""
    found = []
    for name, _, movement, _, rng in designs_of(designs, seed):
        for group, names, losses in groups(count, rng):
            found += [judged(movement, c, name, group) for c in cases(movement, names, losses, rng, world)]
    return found


def named(designs, count, seed=2):
    """Level causes of 40 to 60 deg in known designs, without and with lock and arbor torque looked at."""
    plain, looked = [], []
    for name, _, movement, _, rng in designs_of(designs, seed):
        one = [[LEVEL[n % len(LEVEL)]] for n in range(count)]
        for c in cases(movement, one, [[rng.uniform(40, 60)] for _ in one], rng):
            plain.append(judged(movement, c, name, "plain"))
            seen = {"lock_deg": Seen(c.lock, 0.3), "barrel_torque_n_mm": Seen(c.torque, 0.05 * c.torque)}
            c = replace(c, readings=replace(c.readings, findings=Findings(looked=seen)))
            looked.append(judged(movement, c, name, "looked"))
    return plain, looked


def progressed(designs, count, seed=5):
    """Row 7: level faults of 20 to 50 deg and pivots of 15 to 30, read before and after they were mended: what
    ``progress``, told what was done, predicts of the mean amplitude's change, over what an instrument without errors
    shows; and whether its 90 % interval holds that."""
    ratio, held = [], []
    for _, _, movement, _, rng in designs_of(designs, seed):
        names = [[(LEVEL + PIVOTS)[n % 8]] for n in range(count)]
        losses = [[rng.uniform(*((20, 50) if name in LEVEL else (15, 30)))] for (name,) in names]
        stack = examples(movement, count, rng)
        worn = sized(stack, names, losses)
        well = {key: np.zeros(count) for key in worn}
        read = [
            read_cases(movement, stack, sizes, rng, world)
            for world in (EXACT, USUAL) for sizes in (worn, well)
        ]  # fmt: skip
        if {len(one) for one in read} != {count}:
            continue
        for (done,), was, now, before, after in zip(
            names, *([c.readings for c in one] for one in read), strict=True
        ):
            found = oscsim.progress(movement, before, after, done=[done])
            places = {(m.position, m.hours) for m in found.moved if m.read == "amplitude_deg"}
            first, then = ({(r.position, r.hours): r.amplitude_deg for r in one.rows} for one in (was, now))
            if not all(place in first and place in then for place in places):
                continue
            true = float(np.mean([then[place] - first[place] for place in places]))
            told = found.turns[0].predicted
            ratio.append(told.middle / true)
            held.append(told.low <= true <= told.high)
    return float(np.median(ratio)), share(held)


def fitted(designs, count, seed=8):
    """Row 12: two numbers of a sound example fitted to its readings: whether the 90 % interval holds each."""
    names = ("balance.viscous_q", "mainspring.coil_efficiency")
    held = []
    for _, _, movement, _, rng in designs_of(designs, seed):
        stack = examples(movement, count, rng)
        read = read_cases(movement, stack, {key: np.zeros(count) for key in MOST}, rng, USUAL)
        if len(read) < count:
            continue
        true = {name: np.ravel(value_at(stack, name)) for name in names}
        for n, c in enumerate(read):
            for one in oscsim.fit(movement, c.readings, names).numbers:
                held.append(one.low <= true[one.name][n] <= one.high)
    return share(held)


def slip_of(kind, movement, diameter, strip, rng):
    """What a bench knows of a design, and the design's own lift angle, which the instrument is told."""
    lift = math.degrees(float(movement.escapement.lift_angle()))
    given = {
        "balance.beats_per_hour": kind.beats,
        "train.jewels": kind.jewels,
        "escapement.lift_angle_deg": round(lift),
    }
    if strip:
        given |= {
            k: float(value_at(movement, k)) * math.exp(sd * rng.standard_normal()) for k, sd in STRIP.items()
        }
    across = diameter * math.exp(0.02 * rng.standard_normal())
    winding = "self" if kind.winds_itself else "hand"
    return Slip(given=given, facts={"balance_diameter_mm": across}, winding=winding), lift


def by_slip(designs, count, world=USUAL, seed=3, *, sister=False, lock=False, near=False):
    """Movements known by a slip only: four or six positions, wound or wound and a day later; the rule of thumb
    beside. ``near``: losses of 8 to 60 deg, many near the 20 that count, in place of faults as they are met.

    The lift angle is told wrong for all movements of a kind alike: it is one number that was looked up.
    """
    found = []
    for name, kind, movement, diameter, rng in designs_of(designs, seed):
        told = world.lift_wrong + world.lift_sd * rng.standard_normal()
        own = replace(world, lift_sd=0.0, lift_wrong=told)
        strip = bool(rng.random() < 0.5)
        slip, lift = slip_of(kind, movement, diameter, strip, rng)
        hours = (0.0, 24.0) if rng.random() < 0.5 else (0.0,)
        positions = POSITIONS if rng.random() < 0.5 else ("CH", "FH", "12H", "9H")
        four = {"positions": ("CH", "FH", "12H", "6H"), "hours": (0.0,), "told": lift}
        other = cases(movement, [[]], [[]], rng, own, **four)[0].readings
        how = {"hours": hours, "positions": positions, "told": lift}
        if near:
            these = cases(movement, *mixed(count, rng), rng, own, **how)
        else:
            these = met_cases(movement, met(count, rng, world.faults), rng, own, **how)
        for c in these:
            findings = Findings(
                sisters=(Sister(other),) if sister else (),
                looked={"lock_deg": Seen(c.lock, 0.3)} if lock else {},
            )
            c = replace(c, readings=replace(c.readings, findings=findings))
            found.append(
                judged(slip, c, name, "slip", strip=strip, rule=rule_of_thumb(c.readings, kind.wanted))
            )
    return found


def two_readings(designs, count, seed=6):
    """Row 9: a pivot fault of 20 deg, of a movement known by a slip only, read dial up and 12 up alone: how often it is
    named first of all that takes amplitude."""
    found = []
    for name, kind, movement, diameter, rng in designs_of(designs, seed):
        slip, lift = slip_of(kind, movement, diameter, bool(rng.random() < 0.5), rng)
        faults = [[("pivot_vertical", "pivot_flat_upper")[n % 2]] for n in range(count)]
        how = {"hours": (0.0,), "positions": ("CH", "12H"), "told": lift}
        for c in cases(movement, faults, [[20.0]] * count, rng, **how):
            found.append(judged(slip, c, name, "two readings"))
    return found


def poised(count, seed=4):
    """Row 11: the poising aid where the lift angle is told 2 deg wrong: whether its interval holds the moment, and
    whether a told direction is turned over; the bundled ferryman and dockhand, vertical rates at two hours."""
    held, turned = [], []
    for name in ("ferryman", "dockhand"):
        movement = oscsim.load(name)
        own = math.degrees(float(movement.escapement.lift_angle()))
        rng = np.random.default_rng(seed)
        for number in range(count):
            wrong = 2.0 if number % 2 else -2.0
            heavy, moment = rng.uniform(0.0, 360.0), rng.uniform(10.0, 30.0)
            hours = [(0.0,), (24.0,), (8.0,), (0.0, 30.0)][number // 2 % 4]
            condition = oscsim.Condition(unbalance_ug_cm=moment, heavy_point_deg=heavy)
            setting = oscsim.Setting(
                positions=POSITIONS[2:], hours=hours, condition=condition, lift_angle_deg=own + wrong
            )
            points = oscsim.settle(movement, setting).points
            rows = tuple(
                Reading(p, h, float(points.apparent_amplitude_deg[i, j] + 5.0 * rng.standard_normal()),
                        float(points.rate_s_per_day[i, j] + 2.0 * rng.standard_normal()))
                for i, p in enumerate(setting.positions) for j, h in enumerate(hours)
            )  # fmt: skip
            found = oscsim.poise(movement, Readings(rows, own))
            if found.told:
                held.append(found.low_ug_cm <= moment <= found.high_ug_cm)
                turned.append(abs((found.direction_deg - heavy + 180.0) % 360.0 - 180.0) > 120.0)
    return share(held), int(sum(turned)), len(turned)


def rule_of_thumb(readings, usual):
    """The usual amplitude of the kind less what is read flat, or vertical and 25 deg (common practice)."""
    wound = [(r.position in ("CH", "FH"), r.amplitude_deg) for r in readings.rows if r.hours == 0.0]
    flat, upright = ([a for lies, a in wound if lies is which] for which in (True, False))
    return max(
        usual - float(np.mean(flat)) if flat else -math.inf,
        usual - float(np.mean(upright)) - 25.0 if upright else -math.inf,
    )


def auc(score, ill):
    """Chance that an ill one scores above a sound one, and its standard error (Hanley and McNeil, Radiology 143, 1982,
    29)."""
    score, ill = np.asarray(score), np.asarray(ill, bool)
    first, second = score[ill], score[~ill]
    above = (first[:, None] > second).mean() + 0.5 * (first[:, None] == second).mean()
    q1, q2 = above / (2 - above), 2 * above**2 / (1 + above)
    n, m = len(first), len(second)
    variance = (above * (1 - above) + (n - 1) * (q1 - above**2) + (m - 1) * (q2 - above**2)) / (n * m)
    return float(above), math.sqrt(max(variance, 0.0))


def share(flags):
    """A share and its standard error."""
    flags = np.asarray(flags, float)
    if not len(flags):
        return math.nan, math.nan
    p = float(flags.mean())
    return p, math.sqrt(max(p * (1.0 - p), 0.25 / len(flags) ** 2) / len(flags))


def forecasts(found):
    """Every chance of a cause and whether it was true, (chances, 2)."""
    return np.array(
        [(p, float(NAMES[j] in j_.case.faults)) for j_ in found for j, p in enumerate(j_.chances)]
    )


def calibration(pairs):
    """Expected calibration error over ten bins; of chances above .8 how many were true, and their number."""
    bins = np.minimum((pairs[:, 0] * 10).astype(int), 9)
    error = sum(
        abs(float(np.diff(pairs[bins == b].mean(axis=0))[0])) * (bins == b).mean() for b in np.unique(bins)
    )
    high = pairs[pairs[:, 0] > 0.8]
    return float(error), share(high[:, 1]), len(high)


def known_figures(found):
    """Rows 2 to 6 of one setting."""
    by = {g: [j for j in found if j.group == g] for g in dict.fromkeys(j.group for j in found)}
    singles = [j for j in found if j.only is not None and j.group != "mixed"]
    ratio = {
        name: [j.sizes[NAMES.index(name)][1] / j.case.faults[name] for j in singles if j.only == name]
        for name in NAMES
    }
    shown = {f.name: f.shown for f in FAULTS}
    percent = {
        name: [
            shown[name](j.sizes[NAMES.index(name)][1]) / shown[name](j.case.faults[name])
            for j in singles
            if j.only == name
        ]
        for name in NAMES
    }
    held = [
        j.sizes[NAMES.index(j.only)][0] <= j.case.faults[j.only] <= j.sizes[NAMES.index(j.only)][2]
        for j in singles
    ]
    error, true, count = calibration(forecasts(by["mixed"]))
    return {
        "accused": share([j.chance > 0.5 for j in by["sound"]]),
        "level 30–40": share([j.chance > 0.5 for j in by["level 30–40"]]),
        "level 40–60": share([j.chance > 0.5 for j in by["level 40–60"]]),
        "pivots 10–20": share([j.chances[NAMES.index(j.only)] > 0.5 for j in by["pivots 10–20"]]),
        "any of pivots": share([j.any_pivot > 0.5 for j in by["pivots 10–20"]]),
        "pivots, sound": share([j.any_pivot > 0.5 for j in by["sound"]]),
        "true above .8": true,
        "above .8": count,
        "calibration error": error,
        "size": {name: float(np.median(v)) for name, v in percent.items() if v},
        "log size": {name: float(np.median(v)) for name, v in ratio.items() if v},
        "held": share(held),
        "gain": float(np.median([gain_ratio(j) for j in singles])),
        "misfit": share([j.misfit_p < 0.01 for j in by["sound"]]),
        "loss held": share(
            [
                lo - 0.5 <= j.case.loss[k] <= hi + 0.5
                for j in by["mixed"]
                for k, (lo, _, hi) in enumerate(j.losses)
            ]
        ),
    }


def gain_ratio(j):
    """What mending the fault was predicted to bring, over what it brings, where it counts most."""
    true = j.case.gain[j.only]
    k = int(np.argmax(true))
    return j.gains[NAMES.index(j.only)][k] / true[k]


def slip_figures(found):
    """Row 8 for a group of slips."""
    ill = np.array([j.lost >= 20.0 for j in found])
    chance, rule = np.array([j.chance for j in found]), np.array([j.rule for j in found])
    strip = np.array([j.strip for j in found])
    sound = np.array([not j.case.faults for j in found])
    level = [j for j in found if j.only in LEVEL and j.lost >= 20.0]
    error, true, count = calibration(forecasts(found))
    both = {"all": np.ones(len(found), bool), "strip measured": strip, "strip not measured": ~strip}
    return {
        "cases": len(found),
        "auc": {
            name: auc(chance[m], ill[m]) for name, m in both.items() if ill[m].any() and not ill[m].all()
        },
        "rule": {name: auc(rule[m], ill[m]) for name, m in both.items() if ill[m].any() and not ill[m].all()},
        "brier": float(np.mean((chance - ill) ** 2)),
        "sound above .9": share(chance[sound] > 0.9),
        "sound above .5": share(chance[sound] > 0.5),
        "loss held": share(
            [lo - 0.5 <= j.case.loss[k] <= hi + 0.5 for j in found for k, (lo, _, hi) in enumerate(j.losses)]
        ),
        "level named first": first_named(level),
        "level 40–60 named": first_named([j for j in level if 40.0 <= j.lost < 60.0]),
        "true above .8": true,
        "above .8": count,
        "calibration error": error,
        "pivots named": share(
            [
                j.chances[NAMES.index(j.only)] == j.chances.max()
                for j in found
                if j.only in PIVOTS and j.lost > 18
            ]
        ),
    }


def first_named(found):
    """Share of single faults that stand first on the page."""
    return share([j.first == j.only for j in found])


def written(value):
    """A figure with its standard error."""
    if isinstance(value, tuple):
        return f"{value[0]:.3f} ± {value[1]:.3f}"
    if isinstance(value, dict):
        return "; ".join(f"{key} {written(one)}" for key, one in value.items())
    return f"{value:.3f}" if isinstance(value, float) else str(value)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--designs", type=int, default=10)
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--slips", type=int, default=40, help="designs of each kind known by a slip")
    parser.add_argument("--only", choices=GROUPS, nargs="+", default=GROUPS)
    options = parser.parse_args()
    if "known" in options.only:
        for setting, world in SETTINGS.items():
            print(f"\n## {setting}", flush=True)
            for key, value in known_figures(known(options.designs, options.cases, world)).items():
                print(f"{key:20s} {written(value)}", flush=True)
    if "named" in options.only:
        plain, looked = named(options.designs, options.cases)
        print("\n## level cause named first, known design")
        print(
            f"twelve readings with rates {written(first_named(plain))}; with lock and arbor torque "
            f"{written(first_named(looked))}"
        )
    if "progress" in options.only:
        ratio, held = progressed(options.designs, 8)
        print(
            f"\n## progress: predicted over true gain {written(ratio)}, interval {written(held)}", flush=True
        )
    if "fit" in options.only:
        print(
            f"\n## fit: interval of a sound example's number {written(fitted(options.designs, 8))}",
            flush=True,
        )
    if "poise" in options.only:
        held, turned, told = poised(10 * options.cases)
        print(
            f"\n## poising aid, lift told 2° wrong: interval {written(held)}, turned over {turned} of {told}"
        )
    if "slip" in options.only:
        for label, more in (
            ("slip", {}), ("slip, losses of 8 to 60°", {"near": True}), ("ranges 1.5 times as wide", {"world": WIDER}),
            ("lift told 2° less", {"world": SETTINGS["lift told 2° less"]}), ("with a sister", {"sister": True}),
            ("with a sister and the lock", {"sister": True, "lock": True}),
        ):  # fmt: skip
            print(f"\n## {label}", flush=True)
            for key, value in slip_figures(by_slip(options.slips, options.cases, **more)).items():
                print(f"{key:20s} {written(value)}", flush=True)
        pair = two_readings(options.slips, options.cases // 4)
        print("\n## pivot fault of 20°, read in CH and 12H alone, named first")
        for name in ("pivot_vertical", "pivot_flat_upper"):
            print(f"{name:20s} {written(first_named([j for j in pair if j.only == name]))}", flush=True)


if __name__ == "__main__":
    main()
