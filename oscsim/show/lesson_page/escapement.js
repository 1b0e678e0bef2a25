// Balance, lever and escape wheel, drawn from the motion that the engine computed, slowed down.

/** Phases of a beat, by what the table of words calls them. */
const PHASES = ["free_in", "unlocking", "catch_up", "shake", "impulse", "free_out"];
/** The stones in the order in which they are drawn: where the first beat finds the tooth locked, and the other. */
const STONES = ["exit", "entry"];
const SVG = "http://www.w3.org/2000/svg";

/** An SVG element with attributes inside a parent. */
function drawn(parent, name, attributes = {}, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  parent.append(element);
  return element;
}

const path = (points) => "M" + points.map(([x, y]) => `${x.toFixed(4)} ${y.toFixed(4)}`).join("L");

/** Draws the parts into `svg` and moves them; radius of the escape wheel is 1, y points up. */
function makeEscapement(svg, data) {
  const { drawing: d, ...motion } = data.motion;
  const samples = Object.fromEntries(
    ["time", "balance", "lever_deg", "wheel_deg"].map((name) => [name, unpacked(motion[name])])
  );
  const perRow = samples.time.length / (motion.lock_deg.length * motion.swings);
  const swingDeg = unpacked(motion.swing_deg);
  const perPhase = perRow / (2 * PHASES.length);
  const pitch = (2 * Math.PI) / d.teeth;
  // half-integers alone let one stone lock when the other has let go
  const alpha = (Math.PI * (Math.floor(d.embraced) + 0.5)) / d.teeth;
  const pallet = [0, 1 / Math.cos(alpha)];
  const fork = 1.7;
  const pinRadius = d.fork_ratio * fork;
  const staff = [0, pallet[1] + fork + pinRadius];
  const RIM = 1.62;

  const paper = drawn(svg, "g", { transform: "scale(1,-1)" });
  const wheel = drawn(paper, "g", { class: "part wheel" });
  const lever = drawn(paper, "g", { class: "part lever" });
  const bankings = drawn(paper, "g", { class: "banking" });
  const bend = makeCoil(paper, data.coil, staff, 1.05);
  const balance = drawn(paper, "g", { class: "part balance" });

  function drawWheel() {
    const outline = [];
    for (let k = 0; k < d.teeth; k++) {
      for (const [radius, back] of [[0.8, 0.56], [0.995, 0.07], [1, 0], [0.8, 0.17]]) {
        const angle = (k - back) * pitch;
        outline.push([radius * Math.sin(angle), radius * Math.cos(angle)]);
      }
    }
    // four openings between the spokes
    const [inner, outer] = [0.22, 0.68];
    const at = (r, a) => `${(r * Math.cos(a)).toFixed(4)} ${(r * Math.sin(a)).toFixed(4)}`;
    const hole = [0, 1, 2, 3].map((k) => {
      const [from, to] = [(k * Math.PI) / 2, ((k + 1) * Math.PI) / 2];
      const [near, far] = [0.3, 0.147]; // half a spoke's width, as an angle at the hub and at the rim
      return (
        `M${at(inner, from + near)}L${at(outer, from + far)}A${outer} ${outer} 0 0 1 ${at(outer, to - far)}` +
        `L${at(inner, to - near)}A${inner} ${inner} 0 0 0 ${at(inner, from + near)}Z`
      );
    });
    drawn(wheel, "path", { d: path(outline) + "Z" + hole.join(""), "fill-rule": "evenodd" });
    drawn(wheel, "circle", { r: 0.06, class: "arbor" });
  }

  const halfBank = (lock) => ((lock + 2 * d.run_deg + d.lift_deg) * RADIAN) / 2;
  const distance = staff[1] - pallet[1];
  // the guard finger all but touches the safety roller when the lever has left its banking by half of the run
  const clear = (lock) => halfBank(lock) - 0.5 * d.run_deg * RADIAN;
  // large enough that the finger can reach it at the deepest lock
  const safety = Math.max(0.6 * pinRadius, 1.05 * distance * Math.sin(clear(motion.lock_deg[2])));
  const reach = (lock) =>
    distance * Math.cos(clear(lock)) - Math.sqrt(safety ** 2 - (distance * Math.sin(clear(lock))) ** 2);
  const collet = (1.05 * data.coil.inner_mm) / data.coil.radius_mm;
  let [finger, stoneMiddles] = [0, []];
  let stones = [];

  /** The safety roller with its hollow, through which the guard finger passes while the pin is in the fork. */
  function passing() {
    const [half, tip] = [halfBank(motion.lock_deg[2]), reach(motion.lock_deg[0])];
    // where the finger is, as the roller sees it, on the way from one banking to the other
    const way = Array.from({ length: 61 }, (_, i) => {
      const lean = half * (i / 30 - 1);
      return turned(-lean / d.fork_ratio, [tip * Math.sin(lean), tip * Math.cos(lean) - distance], [0, 0]);
    }).filter(([x, y]) => Math.hypot(x, y) < safety + 0.02);
    const hollow = Math.max(...way.map(([x, y]) => Math.hypot(x, y + safety))) + 0.02;
    const corner = Math.acos(1 - hollow ** 2 / (2 * safety ** 2));
    const at = (a) => `${(safety * Math.sin(a)).toFixed(4)} ${(-safety * Math.cos(a)).toFixed(4)}`;
    return `M${at(corner)}A${safety} ${safety} 0 1 1 ${at(-corner)}A${hollow} ${hollow} 0 0 0 ${at(corner)}Z`;
  }

  function drawLever(lock) {
    lever.replaceChildren();
    bankings.replaceChildren();
    const bank = 2 * halfBank(lock);
    const held = (lock + d.run_deg) * RADIAN;
    /** A tooth's tip at `tooth` rad past the top, as the lever sees it when turned by `turn`. */
    const seen = (turn, tooth) => {
      const [x, y] = [Math.sin(tooth) - pallet[0], Math.cos(tooth) - pallet[1]];
      return [x * Math.cos(turn) + y * Math.sin(turn), -x * Math.sin(turn) + y * Math.cos(turn)];
    };
    const faces = [1, -1].map((side) => {
      const release = side * (-bank / 2 + held);
      const corner = seen(release, side * alpha);
      const deep = held + 7 * RADIAN;
      const face = seen(release - side * deep, side * alpha + d.recoil * deep);
      const impulse = Array.from({ length: 9 }, (_, i) => {
        const gone = (d.lift_deg * RADIAN * i) / 8;
        return seen(release + side * gone, side * alpha + d.advance * gone);
      });
      const last = impulse[8];
      // the body of the stone runs on along its locking face and ends square
      const away = Math.hypot(face[0] - corner[0], face[1] - corner[1]);
      const [ax, ay] = [(face[0] - corner[0]) / away, (face[1] - corner[1]) / away];
      const end = 0.3 + ax * corner[0] + ay * corner[1];
      const back = ([x, y]) => {
        const long = end - (ax * x + ay * y);
        return [x + ax * long, y + ay * long];
      };
      return { outline: [back(corner), ...impulse, back(last)], top: [back(corner), back(last)] };
    });
    const body = drawn(lever, "g", { transform: `translate(${pallet})` });
    const turning = drawn(body, "g");
    for (const { top } of faces) {
      const middle = [(top[0][0] + top[1][0]) / 2, (top[0][1] + top[1][1]) / 2];
      drawn(turning, "path", { d: path([[0, 0], middle]), class: "arm" });
    }
    finger = reach(lock);
    drawn(turning, "path", { d: path([[-0.05, fork - 0.2], [0, finger], [0.05, fork - 0.2]]) + "Z", class: "finger" });
    const w = 0.075;
    drawn(turning, "path", {
      d: path([[-0.1, 0], [-0.045, 0.5], [-0.045, fork - 0.32], [-0.2, fork - 0.12], [-0.23, fork + 0.1], [-w, fork + 0.04],
        [-w, fork - 0.14], [w, fork - 0.14], [w, fork + 0.04], [0.23, fork + 0.1], [0.2, fork - 0.12], [0.045, fork - 0.32],
        [0.045, 0.5], [0.1, 0]]) + "Z",
    });
    stoneMiddles = faces.map(({ outline }) => [0, 1].map((i) => (outline[0][i] + outline[9][i] + outline[10][i]) / 3));
    stones = faces.map(({ outline }) => drawn(turning, "path", { d: path(outline) + "Z", class: "stone" }));
    drawn(turning, "circle", { r: 0.07, class: "arbor" });
    const height = 0.75;
    for (const side of [-1, 1])
      drawn(bankings, "circle", {
        cx: side * (Math.sin(bank / 2) * height + 0.045 + 0.05),
        cy: pallet[1] + Math.cos(bank / 2) * height,
        r: 0.05,
      });
    return turning;
  }

  let pinGroup;
  let heavyDot;
  function drawBalance() {
    const place = drawn(balance, "g", { transform: `translate(${staff})` });
    const turning = drawn(place, "g");
    drawn(turning, "circle", { r: collet, class: "collet" });
    drawn(turning, "circle", { r: RIM, class: "rim" });
    drawn(turning, "path", { d: `M0 ${-RIM + 0.05}L0 ${RIM - 0.05}`, class: "spoke" });
    heavyDot = drawn(turning, "circle", { r: 0.11, cy: RIM, class: "heavy" });
    pinGroup = drawn(turning, "g");
    drawn(pinGroup, "circle", { r: pinRadius + 0.1, class: "roller" });
    drawn(pinGroup, "path", { d: passing(), class: "safety" });
    drawn(pinGroup, "circle", { r: 0.055, cy: -pinRadius, class: "pin" });
    drawn(turning, "circle", { r: 0.06, class: "arbor" });
    return turning;
  }

  drawWheel();
  const turningBalance = drawBalance();
  let turningLever = drawLever(motion.lock_deg[1]);
  const names = makeNames(svg);
  let now = { angle: 0, lever: 0 };
  let row = null;
  let shown = { lock: null, amplitude: null, heavy: 0 };

  /** The motion at a lock and an amplitude: between the computed ones in a straight line, sample by sample. */
  function rowAt(lock, amplitude) {
    const locks = motion.lock_deg;
    let l = 0;
    while (l < locks.length - 2 && lock > locks[l + 1]) l++;
    const share = locks[l + 1] > locks[l] ? (lock - locks[l]) / (locks[l + 1] - locks[l]) : 0;
    const found = Object.fromEntries(Object.keys(samples).map((name) => [name, new Float64Array(perRow)]));
    for (const [index, part] of [[l, 1 - share], [l + 1, share]]) {
      const swing = (s) => swingDeg[index * motion.swings + s];
      let s = 0;
      while (s < motion.swings - 2 && amplitude > swing(s + 1)) s++;
      const between = Math.min(Math.max((amplitude - swing(s)) / (swing(s + 1) - swing(s)), 0), 1);
      for (const name of Object.keys(found))
        for (let i = 0; i < perRow; i++) {
          const first = (index * motion.swings + s) * perRow + i;
          found[name][i] += part * ((1 - between) * samples[name][first] + between * samples[name][first + perRow]);
        }
    }
    return found;
  }

  /** Put the parts where they stand; `fraction` of a period since the balance left its left turning point. */
  function pose(fraction, periods) {
    let angle = 0;
    let leverDeg = -data.watch.out_of_beat_deg * d.fork_ratio;
    let wheelDeg = -d.recoil * (leverDeg + (shown.lock + 2 * d.run_deg + d.lift_deg) / 2);
    let [phase, working] = [null, null];
    if (row) {
      let low = 0;
      let high = perRow - 1;
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (row.time[middle] <= fraction) low = middle;
        else high = middle;
      }
      const length = row.time[high] - row.time[low];
      const share = length > 0 ? Math.min((fraction - row.time[low]) / length, 1) : 1;
      const at = (values) => values[low] + share * (values[high] - values[low]);
      angle = at(row.balance) * shown.amplitude;
      leverDeg = at(row.lever_deg);
      wheelDeg = at(row.wheel_deg) + (periods % d.teeth) * (360 / d.teeth);
      phase = Math.floor(high / perPhase) % PHASES.length;
      const second = high >= perPhase * PHASES.length;
      working = second === (phase === PHASES.length - 1) ? 0 : 1;
    }
    turningBalance.setAttribute("transform", `rotate(${-angle})`);
    turningLever.setAttribute("transform", `rotate(${leverDeg})`);
    const locked = (alpha + d.recoil * (shown.lock + d.run_deg) * RADIAN) / RADIAN;
    wheel.setAttribute("transform", `rotate(${-(locked + wheelDeg)})`);
    bend(angle);
    now = { angle: angle * RADIAN, lever: leverDeg * RADIAN };
    // a tooth works on one stone up to the drop, then the other stone holds the next
    stones.forEach((stone, i) => stone.classList.toggle("working", i === working));
    names.follow();
    return { phase, angle, stone: working === null ? null : STONES[working] };
  }

  /** Where points of the lever and of the balance are now. */
  const onLever = (point) => () => turned(now.lever, point, pallet);
  const onRoller = (point) => () => turned(data.watch.out_of_beat_deg * RADIAN - now.angle, point, staff);
  const stays = (x, y) => () => [x, y];
  const onStone = (i) => () => onLever(stoneMiddles[i])();
  const hung = staff[1];
  /** Names by view: word of the table, side, height, part. */
  const NAMES = {
    whole: [
      ["balance", -1, hung + 1.6, stays(-RIM * 0.8, hung + RIM * 0.6)],
      ["hairspring", 1, hung + 1.6, stays(0.62, hung + 0.85)],
      ["fork", -1, hung - 1.5, onLever([-0.12, fork - 0.22])],
      ["banking", 1, hung - 1.5, stays(0.24, pallet[1] + 0.75)],
      ["lever", 1, pallet[1] + 0.42, onLever([0.045, 0.4])],
      ["entry", -1, pallet[1] + 0.2, onStone(1)],
      ["exit", 1, pallet[1] + 0.12, onStone(0)],
      ["wheel", -1, -0.95, stays(-0.53, -0.53)],
    ],
    fork: [
      ["safety", 1, hung + 0.4, stays(0.62 * safety, hung + 0.62 * safety)],
      ["roller", -1, hung + 0.4, stays(-0.72 * (pinRadius + 0.1), hung + 0.69 * (pinRadius + 0.1))],
      ["pin", -1, hung - 0.08, onRoller([0, -pinRadius])],
      ["finger", 1, hung - 0.25, () => onLever([0, finger - 0.03])()],
      ["fork", -1, hung - 0.55, onLever([-0.19, fork - 0.06])],
    ],
    pallets: [
      ["lever", 1, pallet[1] + 0.28, onLever([0.06, 0.3])],
      ["entry", -1, pallet[1] + 0.16, onStone(1)],
      ["exit", 1, pallet[1] + 0.1, onStone(0)],
      ["wheel", -1, 0.3, stays(-0.53, 0.53)],
    ],
  };

  return {
    pose,
    /** Show this lock, amplitude (null: at rest) and place of the heavy point, with its size from 0 to 1. */
    show(lock, amplitude, heavyDeg, size) {
      if (lock !== shown.lock) turningLever = drawLever(lock);
      if (lock !== shown.lock || amplitude !== shown.amplitude)
        row = amplitude === null ? null : rowAt(lock, amplitude);
      shown = { lock, amplitude };
      heavyDot.setAttribute("transform", `rotate(${-heavyDeg})`);
      heavyDot.setAttribute("r", size > 0 ? 0.06 + 0.09 * Math.sqrt(size) : 0);
      pinGroup.setAttribute("transform", `rotate(${data.watch.out_of_beat_deg})`);
    },
    /** Starts of the phases of a period, as fractions of it. */
    starts: () =>
      row ? Array.from({ length: 2 * PHASES.length }, (_, i) => row.time[i * perPhase]) : [],
    /** The names of a view, in its window; none where `wanted` is false. */
    name: (view, window, wanted) => names.name(NAMES, view, window, wanted),
    views: {
      whole: [-1.85, -(staff[1] + RIM + 0.18), 3.7, staff[1] + RIM + 0.18 + 1.12],
      pallets: [-1.0, -(pallet[1] + 0.42), 2.0, 1.3],
      fork: [-0.75, -(staff[1] + 0.28), 1.5, 1.0],
    },
  };
}
