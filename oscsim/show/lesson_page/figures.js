// Pictures of the answers. Each is drawn into an empty SVG at its own width in pixels, so that text keeps its size.

/** An empty SVG of the element's width and this height. */
function fresh(svg, height) {
  const width = Math.max(svg.parentElement.clientWidth, 200);
  svg.replaceChildren();
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("height", height);
  return width;
}

/** Whole multiples of a step between two numbers. */
function steps(low, high, step) {
  const found = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + 1e-9; i++) found.push(i * step);
  return found;
}

/** Amplitude by position: full dot wound, open dot a day later, a small stroke for the design as given. */
function drawAmplitudes(svg, rows, knock) {
  const line = 34;
  const left = Math.max(74, 8 + 7.2 * Math.max(...rows.map((row) => row.words.length)));
  const [right, top] = [16, 8];
  const width = fresh(svg, top + rows.length * line + 40);
  // everything the tables can give lies within
  const high = 400;
  const x = (a) => left + (a / high) * (width - left - right);
  const bottom = top + rows.length * line;
  drawn(svg, "rect", { x: x(knock), y: top, width: x(high) - x(knock), height: bottom - top, class: "zone" });
  drawn(svg, "text", { x: width - right, y: bottom + 36, class: "tick end" }, say("shaded"));
  for (const a of steps(0, high, x(60) - left < 34 ? 120 : 60)) {
    drawn(svg, "line", { x1: x(a), x2: x(a), y1: top, y2: bottom, class: "grid" });
    drawn(svg, "text", { x: x(a), y: bottom + 18, class: "tick middle" }, `${a}°`);
  }
  rows.forEach((row, i) => {
    const y = top + (i + 0.5) * line;
    const kind = row.vertical ? "vertical" : "flat";
    drawn(svg, "text", { x: 0, y: y + 5, class: "label" }, row.words);
    drawn(svg, "line", { x1: left, x2: width - right, y1: y, y2: y, class: "rail" });
    const [now, later] = [row.now.amplitude, row.later.amplitude];
    if (now !== null && later !== null)
      drawn(svg, "line", { x1: x(now), x2: x(later), y1: y, y2: y, class: `bond ${kind}` });
    for (const a of [row.designNow, row.designLater])
      if (a !== null) drawn(svg, "line", { x1: x(a), x2: x(a), y1: y - 10, y2: y + 10, class: "ghost" });
    if (later !== null) drawn(svg, "circle", { cx: x(later), cy: y, r: 6, class: `open ${kind}` });
    if (now !== null) drawn(svg, "circle", { cx: x(now), cy: y, r: 6.5, class: `dot ${kind}` });
    else drawn(svg, "text", { x: left + 6, y: y - 4, class: "note" }, say(`state_${row.now.state}`));
  });
}

/** Run-down: amplitude over hours, one line lying flat and one vertical, the design's own thin behind them. */
function drawRunDown(svg, lines, ghosts, knock) {
  const height = 280;
  const width = fresh(svg, height);
  const [left, right, top, bottom] = [44, 14, 22, 40];
  const hours = Math.max(6, ...[...lines, ...ghosts].map((l) => l.stop));
  const end = hours * 1.06;
  const high = Math.max(330, ...[...lines, ...ghosts].flatMap((l) => l.points.map((p) => p[1])));
  const x = (h) => left + (h / end) * (width - left - right);
  const y = (a) => height - bottom - (a / high) * (height - top - bottom);
  for (const a of steps(0, high, 60)) {
    drawn(svg, "line", { x1: left, x2: width - right, y1: y(a), y2: y(a), class: "grid" });
    drawn(svg, "text", { x: left - 6, y: y(a) + 4, class: "tick end" }, `${a}°`);
  }
  if (knock < high)
    drawn(svg, "rect", { x: left, width: width - right - left, y: y(high), height: y(knock) - y(high), class: "zone" });
  for (const h of steps(0, end, width < 420 ? 12 * Math.ceil(end / 60) : 6 * Math.ceil(end / 60)))
    drawn(svg, "text", { x: x(h), y: height - bottom + 18, class: "tick middle" }, `${h}`);
  drawn(svg, "text", { x: (left + width - right) / 2, y: height - 4, class: "tick middle" }, say("hours"));
  if (24 < end) {
    drawn(svg, "line", { x1: x(24), x2: x(24), y1: top, y2: height - bottom, class: "mark" });
    drawn(svg, "text", { x: x(24), y: top - 7, class: "tick middle" }, say("a_day"));
  }
  const curve = (l) => path(l.points.map(([h, a]) => [x(h), y(a)]));
  for (const l of ghosts) if (l.points.length) drawn(svg, "path", { d: curve(l), class: "curve ghost" });
  lines.forEach((l) => {
    if (!l.points.length) return;
    drawn(svg, "path", { d: curve(l), class: `curve ${l.kind}` });
    const [h, a] = l.points[l.points.length - 1];
    drawn(svg, "path", { d: `M${x(h)} ${y(a)}L${x(l.stop)} ${y(0)}`, class: `curve tail ${l.kind}` });
  });
  // names stand where the lines lie apart, one above and one below
  lines.forEach((l, i) => {
    const at = l.points[Math.floor(l.points.length * 0.15)];
    if (!at) return;
    const over = i === 0 && y(at[1]) > top + 24;
    // below it the name keeps clear of the line as far as it reaches
    const end = l.points.find((p) => x(p[0]) > x(at[0]) + 8 * l.name.length) ?? at;
    drawn(svg, "text", { x: x(at[0]), y: over ? y(at[1]) - 10 : y(end[1]) + 18, class: `name ${l.kind}` }, l.name);
  });
}

/** A colour of the map, red, green and blue: -1 loses, 0 nothing, 1 gains. */
function mapColour(part, ends) {
  const to = part < 0 ? ends.lose : ends.gain;
  const share = Math.min(Math.abs(part), 1) ** 0.75;
  return ends.none.map((c, i) => Math.round(c + (to[i] - c) * share));
}

/** Rate map: what the heavy point adds, over amplitude and where it stands; node as a line, the watch as markers. */
function drawMap(canvas, svg, map, ends) {
  const height = 320;
  const width = fresh(svg, height);
  const narrow = width < 440; // a phone: positions by their symbols, sides on a line of their own
  const [left, right, top, bottom] = [44, 12, 10, narrow ? 58 : 44];
  const [low, high] = map.range;
  const [w, h] = [72, 60];
  const picture = document.createElement("canvas");
  [picture.width, picture.height] = [w, h];
  const ink = picture.getContext("2d");
  const pixels = ink.createImageData(w, h);
  for (let j = 0; j < h; j++) {
    const effect = map.effect(high - ((j + 0.5) / h) * (high - low));
    for (let i = 0; i < w; i++) {
      const colour = mapColour(effect((((i + 0.5) / w) * 360 - 180) * RADIAN) / map.scale, ends);
      pixels.data.set([...colour, 255], 4 * (j * w + i));
    }
  }
  ink.putImageData(pixels, 0, 0);
  const plot = { x: left, y: top, width: width - left - right, height: height - top - bottom };
  const ratio = window.devicePixelRatio || 1;
  [canvas.width, canvas.height] = [width * ratio, height * ratio];
  [canvas.style.width, canvas.style.height] = [`${width}px`, `${height}px`];
  const page = canvas.getContext("2d");
  page.scale(ratio, ratio);
  page.drawImage(picture, plot.x, plot.y, plot.width, plot.height);
  const x = (deg) => plot.x + ((deg + 180) / 360) * plot.width;
  const y = (a) => plot.y + ((high - a) / (high - low)) * plot.height;
  drawn(svg, "rect", { ...plot, class: "frame" });
  for (const a of steps(low, high, 30)) drawn(svg, "text", { x: left - 6, y: y(a) + 4, class: "tick end" }, `${a}°`);
  // clockwise from below, seen from the dial, is to the left
  const places = [[-180, say("above")], [-90, say("right")], [0, say("below")], [90, say("left")], [180, say("above")]];
  for (const [deg, word] of places) {
    const anchor = deg === -180 ? "start" : deg === 180 ? "end" : "middle";
    const line = narrow && Math.abs(deg) === 90 ? 32 : 18;
    drawn(svg, "text", { x: x(deg), y: height - bottom + line, class: `tick ${anchor}` }, word);
    if (Math.abs(deg) < 180) drawn(svg, "line", { x1: x(deg), x2: x(deg), y1: top, y2: top + plot.height, class: "mark" });
  }
  drawn(svg, "text", { x: plot.x + plot.width / 2, y: height - 6, class: "tick middle" }, say("map_across"));
  if (map.node !== null && map.node > low && map.node < high) {
    drawn(svg, "line", { x1: plot.x, x2: plot.x + plot.width, y1: y(map.node), y2: y(map.node), class: "node" });
    // its name on the side of the line where fewer markers stand
    const above = map.markers.filter((m) => m.amplitude > map.node).length;
    const shift = above > map.markers.length / 2 ? 17 : -7;
    drawn(svg, "text", { x: plot.x + 8, y: y(map.node) + shift, class: "halo" }, say("map_node", { at: map.node.toFixed(0) }));
  }
  for (const m of map.markers) {
    if (m.amplitude === null || m.amplitude < low || m.amplitude > high) continue;
    const [cx, cy] = [x(m.fromBelow), y(m.amplitude)];
    drawn(svg, "circle", { cx, cy, r: 5.5, class: "marker" });
    const near = cx < plot.x + 28 ? "start" : cx > plot.x + plot.width - 28 ? "end" : "middle";
    const under = map.node !== null && Math.abs(y(map.node) - (cy - 14)) < 12; // clear of the node's line
    drawn(svg, "text", { x: cx, y: under ? cy + 20 : cy - 10, class: `halo ${near}` }, narrow ? m.symbol : m.words);
  }
}
