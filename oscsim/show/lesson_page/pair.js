// Lever and detent side by side, in the same time, both drawn from their settled cycles.

/** Builds the stage in a panel's card; `lever`: lock, amplitude and period of the design's own cycle. */
function makePair(card, data, lever, calm) {
  const stage = document.createElement("div");
  stage.className = "pair";
  const figures = ["lever", "detent"].map((kind) => {
    const figure = document.createElement("figure");
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("class", "works");
    svg.setAttribute("role", "img");
    svg.setAttribute("id", `pair-${kind}`);
    const caption = document.createElement("figcaption");
    const [title, phase] = ["strong", "span"].map((name) => caption.appendChild(document.createElement(name)));
    title.textContent = kind === "lever"
      ? say("pair_lever", { name: data.name, swing: lever.amplitude.toFixed(0) })
      : say("pair_detent", { name: data.detent.name, left: data.detent.swings_deg[0].toFixed(0), right: data.detent.swings_deg[1].toFixed(0) });
    svg.setAttribute("aria-label", title.textContent);
    figure.append(svg, caption);
    stage.append(figure);
    return { svg, phase };
  });
  const controls = document.createElement("div");
  controls.className = "choices";
  const button = document.createElement("button");
  button.type = "button";
  button.id = "pair-run";
  const next = document.createElement("button");
  next.type = "button";
  next.id = "pair-next";
  next.textContent = say("next_phase");
  const labelled = (text, element) => {
    const label = document.createElement("label");
    label.append(element, ` ${text}`);
    controls.append(label);
    return element;
  };
  const tick = (id) => Object.assign(document.createElement("input"), { type: "checkbox", id });
  controls.append(button, next);
  const close = labelled(say("pair_close"), tick("pair-close"));
  const named = labelled(say("names"), tick("pair-named"));
  named.checked = true;
  const slow = document.createElement("input");
  Object.assign(slow, { type: "range", id: "pair-slow", min: 0.7, max: 3, step: 0.05, value: 1.7 });
  const label = document.createElement("label");
  label.append(`${say("slower")} `, slow);
  controls.append(label);
  card.querySelector(".lead").after(stage, controls);
  card.classList.add("wide");

  const drawings = [makeEscapement(figures[0].svg, data), makeDetent(figures[1].svg, data.detent)];
  drawings[0].show(lever.lock, lever.amplitude, 0, 0);
  const periods = [lever.period, data.detent.period_s];
  function pose(seconds) {
    const [first, second] = periods.map((period) => [(seconds / period) % 1, Math.floor(seconds / period)]);
    const { phase, stone } = drawings[0].pose(...first);
    figures[0].phase.textContent = phase === null ? say("phase_rest") : `${say(`phase_${PHASES[phase]}`)} ${say(`at_work_${stone}`)}`;
    figures[1].phase.textContent = say(`detent_${drawings[1].pose(...second)}`);
    stage.dataset.seconds = seconds.toFixed(5);
  }
  const clock = makeClock(button, () => 10 ** Number(slow.value), pose);
  /** Windows and names at the present width. */
  function show() {
    drawings.forEach((drawing, i) => {
      const view = close.checked ? ["pallets", "close"][i] : "whole";
      const window = drawing.views[view];
      figures[i].svg.dataset.view = view;
      figures[i].svg.setAttribute("viewBox", window.map((n) => n.toFixed(3)).join(" "));
      drawing.name(view, window, named.checked);
    });
    slow.style.setProperty("--at", `${(100 * (slow.value - slow.min)) / (slow.max - slow.min)}%`);
    slow.setAttribute("aria-valuetext", say("times_slower", { times: Math.round(10 ** slow.value) }));
    pose(clock.seconds());
  }
  next.addEventListener("click", () => clock.next(drawings[1].starts(), periods[1]));
  for (const input of [close, named, slow]) input.addEventListener("input", show);
  clock.run(!calm);
  return show;
}
