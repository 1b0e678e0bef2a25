// The engine's tables: what the watch does at the sliders' setting. No physics here but the tables and their axes.

const RADIAN = Math.PI / 180;

/** Numbers of a packed table (32-bit, little endian, base64). */
function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  return Float64Array.from({ length: bytes.length / 4 }, (_, i) => view.getFloat32(4 * i, true));
}

/** What each Chebyshev node between low and high weighs at x (barycentric formula). */
function weights(x, count, low, high) {
  const share = new Float64Array(count);
  if (high === low) {
    share[0] = 1;
    return share;
  }
  let sum = 0;
  for (let j = 0; j < count; j++) {
    const node = low + (high - low) * 0.5 * (1 - Math.cos((Math.PI * j) / (count - 1)));
    const away = x - node;
    if (Math.abs(away) < 1e-12 * (high - low)) {
      share.fill(0);
      share[j] = 1;
      return share;
    }
    share[j] = ((j % 2 ? -1 : 1) * (j === 0 || j === count - 1 ? 0.5 : 1)) / away;
    sum += share[j];
  }
  return share.map((s) => s / sum);
}

/** The column of a table (amplitude, inertia, lock, friction, terms) at given inertia, lock and friction. */
function column(table, counts, terms, at) {
  const [swings, n1, n2, n3] = counts;
  const found = Array.from({ length: terms }, () => new Float64Array(swings));
  let i = 0;
  for (let a = 0; a < swings; a++)
    for (let p = 0; p < n1; p++)
      for (let q = 0; q < n2; q++)
        for (let r = 0; r < n3; r++) {
          const w = at[0][p] * at[1][q] * at[2][r];
          for (let t = 0; t < terms; t++) found[t][a] += w * table[i++];
        }
  return found;
}

const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);

/** Everything the page knows of one design; `at(settings)` gives the watch at a setting of the sliders. */
function makeWatchmaker(data) {
  const { tables: t, watch: w, mainspring: m } = data;
  const table = Object.fromEntries(
    ["drive", "rate", "heavy_drive", "heavy_rate", "taken"].map((name) => [name, unpacked(t[name])])
  );
  const pull = unpacked(m.torque);
  const base = Object.fromEntries(data.sliders.map((s) => [s.key, s]));
  const own = base.inertia.base;

  /** Torque of the barrel at turns wound, that at full wind being 1: cubic between the table's points. */
  function torqueAt(turns) {
    const last = pull.length - 1;
    const at = Math.sqrt(Math.min(Math.max(turns / m.full_turns, 0), 1)) * last;
    const i = Math.min(Math.max(Math.floor(at) - 1, 0), last - 3);
    const x = at - i;
    return (
      (-pull[i] * (x - 1) * (x - 2) * (x - 3)) / 6 +
      (pull[i + 1] * x * (x - 2) * (x - 3)) / 2 -
      (pull[i + 2] * x * (x - 1) * (x - 3)) / 2 +
      (pull[i + 3] * x * (x - 1) * (x - 2)) / 6
    );
  }

  /** The turns at which the barrel has a torque. */
  function turnsAt(torque) {
    let low = 0;
    let high = m.full_turns;
    for (let i = 0; i < 60; i++) {
      const middle = 0.5 * (low + high);
      if (torqueAt(middle) < torque) low = middle;
      else high = middle;
    }
    return 0.5 * (low + high);
  }

  return function at(settings) {
    const strength = settings.torque / 100;
    const inertia = (own * settings.inertia) / 100;
    const lock = base.lock.base + settings.lock;
    const friction = (base.friction.base * settings.friction) / 100;
    const jewels = data.jewels[settings.jewels];
    const unbalance = settings.unbalance / t.unbalance;
    const contact = w.contact_deg + w.contact_per_lock * lock;
    const floor = t.floor * (contact + Math.abs(w.out_of_beat_deg));
    const span = Math.log(t.ceiling_deg / floor);
    const knock = 360 - contact - w.horn_clearance_deg;
    const along = (counts, moment) => [
      weights(inertia, counts[1], ...t.spans[0]),
      weights(lock, counts[2], ...t.spans[1]),
      weights(moment, counts[3], ...t.spans[2]),
    ];
    const curves = Object.fromEntries(
      ["flat", "vertical"].map((lie) => {
        const moment = friction * w.friction_radius_um[lie];
        const fine = along(t.fine, moment);
        const coarse = along(t.coarse, moment);
        return [
          lie,
          {
            drive: column(table.drive, t.fine, 1, fine)[0],
            // per share of friction more: nearly a straight line
            rubbed: w.spring ? column(table.drive, t.fine, 1, along(t.fine, 0.9 * moment))[0] : null,
            rate: column(table.rate, t.fine, 1, fine)[0],
            heavyDrive: column(table.heavy_drive, t.coarse, 5, coarse),
            heavyRate: column(table.heavy_rate, t.coarse, 5, coarse),
            taken: column(table.taken, t.coarse, data.groups.length, coarse),
          },
        ];
      })
    );

    const amplitudeAt = (u) => floor * Math.exp(span * u);
    const placeOf = (amplitude) => Math.log(amplitude / floor) / span;
    const fineAt = (u) => weights(u, t.fine[0], 0, 1);
    const coarseAt = (u) => weights(u, t.coarse[0], 0, 1);

    /** The heavy point's angle from straight below, rad. */
    const fromBelow = (position) => (settings.heavy - position.hour_up_deg - 180) * RADIAN;
    const terms = (phi) => [
      unbalance ** 2,
      unbalance * Math.cos(phi),
      unbalance * Math.sin(phi),
      unbalance ** 2 * Math.cos(2 * phi),
      unbalance ** 2 * Math.sin(2 * phi),
    ];
    const added = (columns, at, sizes) => columns.reduce((sum, c, i) => sum + sizes[i] * dot(at, c), 0);

    /** A value told over the swing, in a straight line between its points. */
    function between(values, amplitude) {
      const swings = w.spring.swing_deg;
      const last = swings.length - 1;
      const at = Math.min(Math.max((amplitude - swings[0]) / (swings[1] - swings[0]), 0), last);
      const i = Math.min(Math.floor(at), last - 1);
      return values[i] + (at - i) * (values[i + 1] - values[i]);
    }

    function driveAt(position, u) {
      const curve = curves[position.vertical ? "vertical" : "flat"];
      const weightsAt = fineAt(u);
      let steady = dot(weightsAt, curve.drive);
      if (w.spring) {
        // side thrust goes with the spring's stiffness, and so with the inertia
        const more = (between(w.spring.added[position.vertical ? "vertical" : "flat"], amplitudeAt(u)) * inertia) / own;
        steady += 10 * more * (steady - dot(weightsAt, curve.rubbed));
      }
      return position.vertical
        ? steady + added(curve.heavyDrive, coarseAt(u), terms(fromBelow(position)))
        : steady;
    }

    function rateAt(position, u) {
      const curve = curves[position.vertical ? "vertical" : "flat"];
      let sum = dot(fineAt(u), curve.rate);
      if (position.vertical) sum += added(curve.heavyRate, coarseAt(u), terms(fromBelow(position)));
      if (w.spring) sum += between(w.spring.rate[position.symbol], amplitudeAt(u));
      return w.rate_offset + (sum * own) / inertia;
    }

    const driveAfter = (hours) => {
      const turns = m.full_turns - hours / m.hours_per_turn;
      return turns > 0 ? strength * jewels * torqueAt(turns) : 0;
    };

    /** State, amplitude in deg and rate in s/day at some hours since full wind; null where there is no number. */
    function reading(position, hours) {
      const drive = driveAfter(hours);
      if (!(drive > driveAt(position, 0))) return { state: "stops", amplitude: null, rate: null, place: null };
      if (drive > driveAt(position, 1)) return { state: "knocks", amplitude: null, rate: null, place: null };
      let low = 0;
      let high = 1;
      let lowGap = driveAt(position, 0) - drive;
      let highGap = driveAt(position, 1) - drive;
      for (let i = 0; i < 60 && high - low > 1e-10; i++) {
        // false position within a halving, so that it closes in from both sides
        let u = i % 3 === 2 ? 0.5 * (low + high) : low - (lowGap * (high - low)) / (highGap - lowGap);
        u = Math.min(Math.max(u, low + 1e-3 * (high - low)), high - 1e-3 * (high - low));
        const gap = driveAt(position, u) - drive;
        if (gap < 0) [low, lowGap] = [u, gap];
        else [high, highGap] = [u, gap];
      }
      const place = 0.5 * (low + high);
      const amplitude = amplitudeAt(place);
      return { state: amplitude > knock ? "knocks" : "running", amplitude, rate: rateAt(position, place), place };
    }

    /** Hours since full wind at which the watch stops in a position. */
    function stopHours(position) {
      const least = driveAt(position, 0) / (strength * jewels);
      return least < 1 ? (m.full_turns - turnsAt(least)) * m.hours_per_turn : 0;
    }

    /** What the heavy point adds to the rate, s/day, at an amplitude, φ (rad) from straight below. */
    function poiseEffect(amplitude) {
      const at = coarseAt(placeOf(amplitude));
      const parts = curves.vertical.heavyRate.map((c) => (dot(at, c) * own) / inertia);
      return (phi) => dot(terms(phi), parts);
    }

    /** The amplitude at which a heavy point below or above changes nothing; null where there is none. */
    function node() {
      const part = (a) => dot(coarseAt(placeOf(a)), curves.vertical.heavyRate[1]);
      let [low, high] = [Math.max(150, floor), 290];
      if (!(part(low) * part(high) < 0)) return null;
      const sign = Math.sign(part(low));
      for (let i = 0; i < 50; i++) {
        const middle = 0.5 * (low + high);
        if (part(middle) * sign > 0) low = middle;
        else high = middle;
      }
      return 0.5 * (low + high);
    }

    /** Shares of what the escape wheel is given, by group; null where there is no number. */
    function shares(position, hours) {
      const found = reading(position, hours);
      if (found.place === null) return null;
      const at = coarseAt(found.place);
      const columns = curves[position.vertical ? "vertical" : "flat"].taken;
      const taken = columns.map((c) => dot(at, c));
      const sum = taken.reduce((a, b) => a + b);
      return taken.map((t) => t / sum);
    }

    /** Energy that the escape wheel is given in a beat, nJ, and what share of the barrel's that is. */
    const beatEnergy = (hours) => data.given_nj * driveAfter(hours);
    const trainPasses = data.train_efficiency * jewels;

    return {
      settings, inertia, lock, friction, knock, floor, contact,
      reading, stopHours, poiseEffect, node, shares, beatEnergy, trainPasses, fromBelow, driveAfter,
    };
  };
}
