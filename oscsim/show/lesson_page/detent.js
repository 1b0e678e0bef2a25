// The detent at work, drawn from its settled cycle; radius of the escape wheel is 1, y points up.

/** Draws balance, rollers, detent and escape wheel into `svg`; `motion` is one period of them. */
function makeDetent(svg, motion) {
  const { drawing: d } = motion;
  const [time, balance, detent, wheelTurn] = ["time", "balance_deg", "detent_deg", "wheel_deg"].map((n) => unpacked(motion[n]));
  const pitch = (2 * Math.PI) / d.teeth;
  const staff = [0, d.distance];
  const RIM = 1.62;
  const locked = -(d.half_advance_deg + d.drop_deg) * RADIAN;
  // the detent points at the staff and holds the tooth that stands nearest to where that line would touch the wheel
  const held = locked + pitch * Math.round((Math.acos(1 / d.distance) - locked) / pitch);
  const tip = [-Math.sin(held), Math.cos(held)];
  const long = Math.hypot(tip[0] - staff[0], tip[1] - staff[1]);
  const along = [(tip[0] - staff[0]) / long, (tip[1] - staff[1]) / long];
  const off = [along[1], -along[0]]; // away from the wheel
  const at = (far, aside) => [staff[0] + along[0] * far + off[0] * aside, staff[1] + along[1] * far + off[1] * aside];
  const foot = long + d.detent_arm;
  // lever arms of unlocking stone and horn have the detent's ratio
  const horn = (d.detent_ratio * foot) / (1 + d.detent_ratio);

  const paper = drawn(svg, "g", { transform: "scale(1,-1)" });
  const rim = drawn(drawn(paper, "g", { class: "part far" }), "g", { transform: `translate(${staff})` });
  const turningRim = drawn(rim, "g");
  drawn(turningRim, "circle", { r: RIM, class: "rim" });
  drawn(turningRim, "path", { d: `M0 ${-RIM + 0.05}L0 ${RIM - 0.05}`, class: "spoke" });
  const roller = drawn(drawn(drawn(paper, "g", { class: "part" }), "g", { transform: `translate(${staff})` }), "g");
  const wheel = drawn(paper, "g", { class: "part wheel" });
  const blade = drawn(paper, "g", { class: "part detent" });
  const small = drawn(drawn(drawn(paper, "g", { class: "part" }), "g", { transform: `translate(${staff})` }), "g");

  const outline = [];
  for (let k = 0; k < d.teeth; k++)
    for (const [radius, back] of [[0.8, 0.5], [0.99, 0.05], [1, 0], [0.8, 0.12]]) {
      const angle = (k - back) * pitch;
      outline.push([-radius * Math.sin(angle), radius * Math.cos(angle)]);
    }
  drawn(wheel, "path", { d: path(outline) + "ZM0.64 0A0.64 0.64 0 1 0 -0.64 0A0.64 0.64 0 1 0 0.64 0Z", "fill-rule": "evenodd" });
  for (let k = 0; k < 3; k++) drawn(wheel, "path", { d: "M0 0.15L0 0.66", class: "rib", transform: `rotate(${120 * k})` });
  drawn(wheel, "circle", { r: 0.16 });
  drawn(wheel, "circle", { r: 0.06, class: "arbor" });

  // impulse roller: a disc cut away behind the pallet, so that the tooth can follow it
  const place = (r, a) => [-r * Math.sin(a), -r * Math.cos(a)];
  const r = d.impulse_radius - 0.025;
  const inner = 0.68 * d.impulse_radius;
  const round = Array.from({ length: 61 }, (_, i) => place(r, (310 * RADIAN * i) / 60));
  drawn(roller, "path", { d: path([...round, place(inner, 335 * RADIAN), place(inner, 0)]) + "Z", class: "impulse" });
  drawn(roller, "path", {
    d: path([place(d.impulse_radius, 0), place(inner - 0.05, 0), place(inner - 0.05, 0.16), place(d.impulse_radius - 0.03, 0.1)]) + "Z",
    class: "stone working",
  });
  // the unlocking stone meets the horn when the balance is where the equations have it
  const stone = Math.atan2(-along[0], -along[1]) - d.met_deg * RADIAN - 0.2;
  drawn(small, "circle", { r: 0.72 * horn, class: "safety" });
  drawn(small, "path", {
    d: path([place(0.6 * horn, stone - 0.25), place(horn + 0.02, stone - 0.03), place(horn + 0.02, stone + 0.1), place(0.6 * horn, stone + 0.25)]) + "Z",
    class: "stone working",
  });
  drawn(small, "circle", { r: 0.05, class: "arbor" });

  // blade, foot and locking stone: the tooth presses on the stone's face towards the foot
  drawn(blade, "path", { d: path([at(horn, 0), at(long - 0.12, 0.1), at(foot - 0.2, 0.1), at(foot, 0.06), at(foot, -0.02), at(foot - 0.2, 0.05), at(long - 0.12, 0.05), at(horn, -0.02)]) + "Z" });
  const slant = 0.1 * Math.tan(d.draw_deg * RADIAN);
  drawn(blade, "path", { d: path([at(long, -d.lock), at(long + slant, 0.1), at(long + 0.13, 0.1), at(long + 0.1, -d.lock)]) + "Z", class: "stone working" });
  const passing = drawn(blade, "path", { class: "passing" });
  const [fx, fy] = at(foot, 0.02);
  drawn(paper, "rect", { x: fx - 0.1, y: fy - 0.1, width: 0.2, height: 0.2, class: "stud" });

  const names = makeNames(svg);
  let now = { angle: 0 };
  const onRoller = (point) => () => turned(-now.angle * RADIAN, point, staff);
  const stays = (point) => () => point;
  const NAMES = {
    whole: [
      ["balance", -1, staff[1] + 1.6, stays([-0.6 * RIM, staff[1] + 0.8 * RIM])],
      ["impulse_pallet", 1, staff[1] + 1.6, onRoller(place(d.impulse_radius - 0.05, 0.05))],
      ["unlocking_stone", -1, staff[1] + 1.0, onRoller(place(horn, stone))],
      ["passing", -1, staff[1] + 0.3, stays(at(horn + 0.12, -0.02))],
      ["detent", -1, -0.5, stays(at(foot - 0.3, 0.08))],
      ["locking_stone", -1, -0.8, stays(at(long + 0.07, 0.06))],
      ["escape_wheel", 1, -0.95, stays([0.5, -0.53])],
    ],
    close: [
      ["impulse_pallet", 1, staff[1] + 0.3, onRoller(place(d.impulse_radius - 0.05, 0.05))],
      ["unlocking_stone", -1, staff[1] + 0.3, onRoller(place(horn, stone))],
      ["passing", -1, staff[1] + 0.1, stays(at(horn + 0.12, -0.02))],
      ["locking_stone", -1, staff[1] - 0.35, stays(at(long + 0.07, 0.06))],
      ["detent", -1, staff[1] - 0.65, stays(at(long - 0.25, 0.08))],
      ["escape_wheel", 1, 0.3, stays([0.53, 0.53])],
    ],
  };

  return {
    /** Where the phases begin, as fractions of the period, and the period's end. */
    starts: () => [...Array.from(time).filter((_, i) => i === 0 || motion.phase[i] !== motion.phase[i - 1]), 1],
    /** Put the parts where they stand at a fraction of the period; returns the phase's name in the table of words. */
    pose(fraction, periods) {
      let [low, high] = [0, time.length - 1];
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (time[middle] <= fraction) low = middle;
        else high = middle;
      }
      const length = time[high] - time[low];
      const share = length > 0 ? Math.min((fraction - time[low]) / length, 1) : 1;
      const between = (values) => values[low] + share * (values[high] - values[low]);
      const angle = between(balance);
      now = { angle };
      for (const part of [turningRim, roller, small]) part.setAttribute("transform", `rotate(${-angle})`);
      wheel.setAttribute("transform", `rotate(${locked / RADIAN + between(wheelTurn) + (periods % d.teeth) * (360 / d.teeth)})`);
      const lifted = between(detent);
      blade.setAttribute("transform", `rotate(${-lifted} ${at(foot, 0)})`);
      const phase = motion.phases[motion.phase[high]];
      const bent = phase === "passing spring" ? 0.1 * Math.sin(Math.PI * Math.min(Math.abs((angle - balance[first(high)]) / span(high)), 1)) : 0;
      passing.setAttribute("d", `M${at(long - 0.3, 0.06)}L${at(horn + 0.15, -0.03)}L${at(horn - 0.06, -0.03 - bent)}`);
      names.follow();
      return phase.replaceAll(" ", "-");
    },
    name: (view, window, wanted) => names.name(NAMES, view, window, wanted),
    views: {
      whole: [-1.85, -(staff[1] + RIM + 0.15), 3.6, staff[1] + RIM + 0.15 + 1.1],
      close: [-1.3, -(staff[1] + 0.4), 2.0, 1.7],
    },
  };

  /** First sample of the stretch in which a sample lies, and the angle that the stretch covers. */
  function first(i) {
    while (i > 0 && motion.phase[i - 1] === motion.phase[i]) i--;
    return i;
  }
  function span(i) {
    let last = i;
    while (last < balance.length - 1 && motion.phase[last + 1] === motion.phase[i]) last++;
    return balance[last] - balance[first(i)] || 1;
  }
}
