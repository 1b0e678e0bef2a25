// Names beside a drawing: each stands still, and a thin line leads from it to its part, which may move.

/** A point turned by `a` rad, about its own origin that stands at (cx, cy). */
const turned = (a, [x, y], [cx, cy]) => [cx + x * Math.cos(a) - y * Math.sin(a), cy + x * Math.sin(a) + y * Math.cos(a)];

/** Names in an SVG whose drawing has y pointing up. Empty until `name` is called. */
function makeNames(svg) {
  const group = drawn(svg, "g", { class: "names" });
  const LETTER = 13;
  let laid = [];
  let last = null;

  /** Puts names [{text, side, height, part}] into a window of the drawing: side -1 left and 1 right, height in the
   * drawing's own units, part: a function that says where its part is. */
  function lay(names, [x, y, width, height]) {
    last = [names, [x, y, width, height]];
    group.replaceChildren();
    const scale = Math.min(svg.clientWidth / width, svg.clientHeight / height) || 1;
    const edge = (side) => x + width / 2 + side * (svg.clientWidth / (2 * scale) - 6 / scale);
    const lowest = { "-1": -Infinity, 1: -Infinity };
    laid = [...names]
      .sort((a, b) => b.height - a.height)
      .map((name) => {
        // one below the other, never closer than a line
        const down = Math.max(-name.height, lowest[name.side] + (LETTER + 4) / scale);
        lowest[name.side] = down;
        const line = drawn(group, "line");
        const dot = drawn(group, "circle", { r: 2.5 / scale });
        const text = drawn(group, "text", { x: edge(name.side), y: down, class: name.side < 0 ? "start" : "end" }, name.text);
        text.style.fontSize = `${LETTER / scale}px`;
        text.style.strokeWidth = `${4 / scale}px`;
        const end = edge(name.side) - name.side * (text.getComputedTextLength() + 4 / scale);
        return { line, dot, part: name.part, from: [end, down - (0.35 * LETTER) / scale] };
      });
    follow();
  }

  /** Leads the lines to where the parts are now. */
  function follow() {
    for (const { line, dot, part, from } of laid) {
      const [px, py] = part();
      for (const [key, value] of Object.entries({ x1: from[0], y1: from[1], x2: px, y2: -py })) line.setAttribute(key, value);
      dot.setAttribute("cx", px);
      dot.setAttribute("cy", -py);
    }
  }

  // the margins move when the drawing's place on the page changes: a turned phone, a drawn-out window
  new ResizeObserver(() => last && lay(...last)).observe(svg);

  /** Puts the names of a view into its window; none where they are not `wanted`. `views`: [word, side, height, part]. */
  function name(views, view, window, wanted) {
    const shown = wanted ? views[view] : [];
    lay(shown.map(([word, side, height, part]) => ({ text: say(`part_${word}`), side, height, part })), window);
  }

  return { name, follow };
}
