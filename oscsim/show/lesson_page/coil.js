// The hairspring, bent as the engine bent it: its points at some angles of the balance, and between them.

/** Draws a coil about `staff` in `parent`, its radius at rest `reach`; returns what puts it to an angle in deg. */
function makeCoil(parent, coil, staff, reach) {
  const scale = reach / coil.radius_mm;
  const [x, y] = ["x", "y"].map((name) => unpacked(coil[name]));
  const [low, high] = coil.span_deg;
  const points = x.length / coil.angles;
  const strip = drawn(parent, "path", { class: "hairspring" });
  const stud = drawn(parent, "rect", { class: "stud", width: 0.12, height: 0.12 });

  return (angle) => {
    // told without the turn that each point takes of the balance, so that little is left to lay a polynomial through
    const weight = weights(Math.min(Math.max(angle, low), high), coil.angles, low, high);
    const at = Array.from({ length: points }, (_, i) => {
      let [px, py] = [0, 0];
      for (let j = 0; j < coil.angles; j++) {
        px += weight[j] * x[i * coil.angles + j];
        py += weight[j] * y[i * coil.angles + j];
      }
      const turn = -angle * RADIAN * (1 - i / (points - 1));
      const [c, s] = [scale * Math.cos(turn), scale * Math.sin(turn)];
      return [staff[0] + c * px - s * py, staff[1] + s * px + c * py];
    });
    strip.setAttribute("d", smooth(at));
    const [ex, ey] = at[points - 1];
    stud.setAttribute("x", ex - 0.06);
    stud.setAttribute("y", ey - 0.06);
  };
}

/** A smooth curve through points: between two of them a cubic whose ends have the slope of their neighbours' chord. */
function smooth(points) {
  const told = ([x, y]) => `${x.toFixed(4)} ${y.toFixed(4)}`;
  const last = points.length - 1;
  const lean = (i) => {
    const [a, b] = [points[Math.max(i - 1, 0)], points[Math.min(i + 1, last)]];
    const share = i === 0 || i === last ? 1 / 3 : 1 / 6;
    return [(b[0] - a[0]) * share, (b[1] - a[1]) * share];
  };
  let drawing = `M${told(points[0])}`;
  for (let i = 0; i < last; i++) {
    const [p, q, m, n] = [points[i], points[i + 1], lean(i), lean(i + 1)];
    drawing += `C${told([p[0] + m[0], p[1] + m[1]])} ${told([q[0] - n[0], q[1] - n[1]])} ${told(q)}`;
  }
  return drawing;
}
