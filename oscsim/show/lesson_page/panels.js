// Panels: a few choices, and what the engine computed for each combination. All are drawn by the same code.

const KINDS = { now: "flat", other: "vertical", third: "third", ghost: "ghost" };

/** A chart of curves [{name, kind, x, y}] with axis words; a gap where y is null. */
function drawChart(svg, curves, across, up) {
  const height = 260;
  const width = fresh(svg, height);
  // the key stands above, so that no name lies on a line; two names in a row where they have room
  const columns = Math.max(...curves.map((c) => c.name.length)) * 7 + 40 < (width - 52) / 2 ? 2 : 1;
  const [left, right, top, bottom] = [52, 14, 12 + 18 * Math.ceil(curves.length / columns), 44];
  const xs = curves.flatMap((c) => c.x);
  const ys = curves.flatMap((c) => c.y).filter((v) => v !== null);
  const [x0, x1] = [Math.min(...xs), Math.max(...xs)];
  let [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const spare = 0.06 * (y1 - y0 || 1);
  [y0, y1] = [y0 - spare, y1 + spare];
  const px = (v) => left + ((v - x0) / (x1 - x0)) * (width - left - right);
  const py = (v) => height - bottom - ((v - y0) / (y1 - y0)) * (height - top - bottom);
  const nice = (low, high, count) => {
    const raw = (high - low) / count;
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= raw);
    const found = [];
    for (let v = Math.ceil(low / step) * step; v <= high + 1e-9 * step; v += step) found.push(Number(v.toPrecision(12)));
    return found;
  };
  const tick = (v) => told(String(v).replace("-", "−"));
  for (const v of nice(y0, y1, 5)) {
    drawn(svg, "line", { x1: left, x2: width - right, y1: py(v), y2: py(v), class: v === 0 ? "rail" : "grid" });
    drawn(svg, "text", { x: left - 6, y: py(v) + 4, class: "tick end" }, tick(v));
  }
  for (const v of nice(x0, x1, width < 420 ? 4 : 8))
    drawn(svg, "text", { x: px(v), y: height - bottom + 18, class: "tick middle" }, tick(v));
  drawn(svg, "text", { x: (left + width - right) / 2, y: height - 6, class: "tick middle" }, across);
  for (const c of curves) {
    let piece = [];
    const pieces = [piece];
    c.x.forEach((x, i) => {
      if (c.y[i] === null) pieces.push((piece = []));
      else piece.push([px(x), py(c.y[i])]);
    });
    for (const points of pieces.filter((p) => p.length > 1))
      drawn(svg, "path", { d: path(points), class: `curve ${KINDS[c.kind]}` });
  }
  curves.forEach((c, i) => {
    const [kx, ky] = [left + (i % columns) * ((width - left) / columns), 14 + 18 * Math.floor(i / columns)];
    drawn(svg, "line", { x1: kx, x2: kx + 24, y1: ky - 4, y2: ky - 4, class: `curve ${KINDS[c.kind]}` });
    drawn(svg, "text", { x: kx + 30, y: ky, class: "tick start" }, c.name);
  });
  svg.setAttribute("aria-label", say("chart_label", { up, across }));
}

/** Outlines in mm side by side, each with its name: coils seen from the dial. */
function drawOutlines(svg, outlines) {
  const width = fresh(svg, 10);
  const columns = Math.min(outlines.length, width < 420 ? 2 : 3);
  const side = width / columns;
  const height = (side + 20) * Math.ceil(outlines.length / columns);
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.style.height = `${height}px`;
  const reach = 1.08 * Math.max(...outlines.flatMap((o) => [...o.x, ...o.y].map(Math.abs)));
  outlines.forEach((o, i) => {
    const [cx, cy] = [(i % columns) * side + side / 2, Math.floor(i / columns) * (side + 20) + side / 2 + 18];
    const scale = side / 2 / reach;
    drawn(svg, "text", { x: cx, y: cy - side / 2 + 0, class: "tick middle" }, o.name);
    drawn(svg, "path", { d: path(o.x.map((x, k) => [cx + scale * x, cy - scale * o.y[k]])), class: "outline" });
    drawn(svg, "circle", { cx, cy, r: 2.5, class: "marker" });
  });
}

/** Builds the panels below `parent` and keeps them drawn. */
function makePanels(parent, panels) {
  const make = (name, attributes, text) => {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };
  const redraw = panels.map((panel) => {
    const card = make("section", { class: "card", id: `panel-${panel.key}`, "aria-labelledby": `panel-${panel.key}-title` });
    card.append(make("h2", { id: `panel-${panel.key}-title` }, panel.title), make("p", { class: "lead" }, panel.lead));
    const choices = make("div", { class: "choices" });
    const selects = panel.choices.map((choice, i) => {
      const label = make("label", { for: `panel-${panel.key}-${i}` }, `${choice.label} `);
      const input = choice.ordered
        ? make("input", { type: "range", min: 0, max: choice.options.length - 1, step: 1 })
        : make("select", {});
      input.id = `panel-${panel.key}-${i}`;
      if (!choice.ordered) choice.options.forEach((option, k) => input.append(make("option", { value: k }, option)));
      input.value = choice.first;
      label.append(input);
      if (choice.ordered) label.append(make("output", { for: input.id }, choice.options[choice.first]));
      choices.append(label);
      input.addEventListener("input", () => show());
      return input;
    });
    const outlines = document.createElementNS(SVG, "svg");
    const chart = document.createElementNS(SVG, "svg");
    const up = make("p", { class: "small" });
    const words = make("p", { role: "status" });
    const table = make("table", { class: "choice" });
    for (const svg of [outlines, chart]) svg.setAttribute("role", "img");
    outlines.setAttribute("aria-label", say("coil_label"));
    const frames = [outlines, chart].map((svg) => {
      const frame = make("div", { class: "picture" });
      frame.append(svg);
      return frame;
    });
    card.append(choices, frames[0], up, frames[1], table, words);
    parent.append(card);
    function show() {
      panel.choices.forEach((choice, i) => {
        if (!choice.ordered) return;
        const [input, last] = [selects[i], choice.options.length - 1];
        input.labels[0].querySelector("output").textContent = choice.options[input.value];
        input.setAttribute("aria-valuetext", choice.options[input.value]);
        input.style.setProperty("--at", `${(100 * input.value) / last}%`);
      });
      const at = panel.choices.reduce((sum, choice, i) => sum * choice.options.length + Number(selects[i].value), 0);
      const one = panel.variants[at];
      words.textContent = one.words;
      up.textContent = one.up;
      card.dataset.variant = at;
      frames[0].hidden = !one.drawings.length;
      frames[1].hidden = up.hidden = !one.curves.length;
      if (one.drawings.length) drawOutlines(outlines, one.drawings);
      if (one.curves.length) drawChart(chart, one.curves, one.across, one.up);
      table.hidden = !one.table.length;
      table.replaceChildren();
      table.append(make("caption", { class: "unseen" }, panel.title));
      if (one.table.length) {
        const head = table.createTHead().insertRow();
        for (const word of panel.heads) head.append(make("th", { scope: "col" }, word));
        const body = table.createTBody();
        for (const [name, ...cells] of one.table) {
          const row = body.insertRow();
          row.append(make("th", { scope: "row" }, name));
          for (const cell of cells) row.insertCell().textContent = cell;
        }
      }
    }
    return show;
  });
  return () => redraw.forEach((show) => show());
}
