// The page itself: sliders in, answers out.

(function () {
  const data = LESSON;
  const $ = (id) => document.getElementById(id);
  const watchAt = makeWatchmaker(data);
  const positions = data.watch.positions;
  const byKey = Object.fromEntries(data.sliders.map((s) => [s.key, s]));
  const design = Object.fromEntries(data.sliders.map((s) => [s.key, s.value]));
  const LATER = 24;
  const FLAT = positions.find((p) => !p.vertical);
  const UPRIGHT = positions.find((p) => p.vertical);
  let settings = { ...design };

  /* ---- words and numbers ---- */
  const deg = (a) => `${a.toFixed(0)}°`;
  const signed = (n, digits) => told(`${n < 0 ? "−" : "+"}${Math.abs(n).toFixed(digits)}`);
  const rate = (r) => (Math.abs(r) < 0.05 ? told("0.0") : signed(r, 1));
  const figure = (n) => told(Number(n.toPrecision(3)));
  const percent = (part) => `${told((100 * part).toFixed(part < 0.0995 ? 1 : 0))}\u00a0%`;
  const clock = (h) => (h > 0 ? `${told(h.toFixed(1))} h` : say("not_running"));
  const reads = (r) => (r.amplitude === null ? say(`state_${r.state}`) : deg(r.amplitude));
  const HOLES = [["escape", 7], ["pallet", 9], ["fourth", 11], ["third", 13], ["centre", 15], ["barrel", 17]];

  const values = {
    torque: (v) => `${v} %`,
    inertia: (v) => `${figure((byKey.inertia.base * v) / 100)} mg·cm²`,
    lock: (v) => `${told((byKey.lock.base + v).toFixed(1))}°`,
    jewels: (v) => `${v}`,
    friction: (v) => figure((byKey.friction.base * v) / 100),
    unbalance: (v) => `${figure(v)} µg·cm`,
    heavy: (v) => `${figure(v)}°`,
  };
  const hints = {
    torque: () => say("hint_torque"),
    inertia: (v) => say("hint_inertia", { percent: v }),
    lock: () => say("hint_lock"),
    jewels(v) {
      if (v === design.jewels) return say("hint_jewels_own");
      const names = HOLES.filter(([, start]) => v > start).map(([name]) => name);
      return names.length ? say("hint_jewels", { last: say(`hole_${names[names.length - 1]}`) }) : say("hint_jewels_none");
    },
    friction: () => say("hint_friction"),
    unbalance: () => say("hint_unbalance"),
    heavy: () => say("hint_heavy"),
  };

  /* ---- sliders ---- */
  function listen() {
    for (const s of data.sliders) {
      const input = $(`slider-${s.key}`);
      Object.assign(input, { min: s.low, max: s.high, step: s.step, value: s.value });
      input.addEventListener("input", () => {
        // the browser may round; where it stands at the design's value the design's value is meant
        const value = Number(input.value);
        settings[s.key] = Math.abs(value - s.value) < 0.49 * s.step ? s.value : value;
        changed();
      });
    }
    $("reset").addEventListener("click", () => set(design, say("reset_said")));
  }

  function set(wanted, said) {
    settings = { ...settings, ...wanted };
    for (const s of data.sliders) $(`slider-${s.key}`).value = settings[s.key];
    changed(said);
  }

  function showSliders() {
    for (const s of data.sliders) {
      const v = settings[s.key];
      const input = $(`slider-${s.key}`);
      $(`value-${s.key}`).textContent = values[s.key](v);
      $(`hint-${s.key}`).textContent = hints[s.key](v);
      input.setAttribute("aria-valuetext", `${values[s.key](v)}, ${hints[s.key](v)}`);
      const part = (x) => (s.high > s.low ? (100 * (x - s.low)) / (s.high - s.low) : 0);
      input.style.setProperty("--at", `${part(v)}%`);
      input.style.setProperty("--design-part", part(s.value) / 100);
      $(`field-${s.key}`).classList.toggle("moved", v !== s.value);
    }
    $("reset").disabled = data.sliders.every((s) => settings[s.key] === s.value);
  }

  /* ---- answers ---- */
  function answersOf(watch) {
    return positions.map((p) => ({ ...p, now: watch.reading(p, 0), later: watch.reading(p, LATER) }));
  }
  const given = watchAt(design);
  const givenAnswers = answersOf(given);
  let watch = given;
  let answers = givenAnswers;

  function runDown(of, position, kind, name) {
    const stop = of.stopHours(position);
    const points = [];
    for (let i = 0; i <= 96; i++) {
      const h = (stop * i) / 96;
      const found = of.reading(position, h);
      if (found.amplitude !== null) points.push([h, found.amplitude]);
    }
    return { kind, name, stop, points };
  }
  const ghosts = [runDown(given, FLAT, "flat", ""), runDown(given, UPRIGHT, "vertical", "")];

  function showTable() {
    answers.forEach((row, i) => {
      const cells = $("readings").tBodies[0].rows[i].cells;
      const put = (cell, text, value, state) => {
        cell.textContent = text;
        cell.dataset.value = value === null ? "" : value;
        cell.dataset.state = state;
      };
      put(cells[1], reads(row.now), row.now.amplitude, row.now.state);
      const before = givenAnswers[i].now.amplitude;
      const change = row.now.amplitude === null || before === null ? null : row.now.amplitude - before;
      put(cells[2], change === null ? "–" : Math.abs(change) < 0.5 ? "0°" : `${signed(change, 0)}°`, change, "");
      put(cells[3], reads(row.later), row.later.amplitude, row.later.state);
      put(cells[4], row.now.rate === null ? "–" : rate(row.now.rate), row.now.rate, row.now.state);
      put(cells[5], row.later.rate === null ? "–" : rate(row.later.rate), row.later.rate, row.later.state);
      cells[1].classList.toggle("warn", row.now.state !== "running");
      cells[3].classList.toggle("warn", row.later.state !== "running");
    });
    const [flat, upright] = [FLAT, UPRIGHT].map((p) => answers[positions.indexOf(p)].now);
    $("brief").textContent = `CH ${reads(flat)}, 12H ${reads(upright)}`;
    const rates = answers.map((a) => a.now.rate);
    const knocks = answers.some((a) => a.now.state === "knocks" || a.later.state === "knocks");
    $("spread").textContent = rates.includes(null)
      ? say("no_mean")
      : say("mean", {
          mean: rate(rates.reduce((a, b) => a + b) / rates.length),
          spread: told((Math.max(...rates) - Math.min(...rates)).toFixed(1)),
        });
    $("knocking").textContent = knocks ? say("knocking", { limit: deg(watch.knock) }) : "";
  }

  function showRunDown() {
    const lines = [runDown(watch, FLAT, "flat", FLAT.words), runDown(watch, UPRIGHT, "vertical", UPRIGHT.words)];
    drawRunDown($("rundown"), lines, ghosts, watch.knock);
    $("stops").textContent = lines[0].stop > 0 || lines[1].stop > 0
      ? say("runs", {
          flat: clock(lines[0].stop),
          upright: clock(lines[1].stop),
          flat_given: clock(ghosts[0].stop),
          upright_given: clock(ghosts[1].stop),
        })
      : say("runs_not");
    $("stops").dataset.value = lines.map((l) => l.stop).join(" ");
  }

  function colours() {
    const style = getComputedStyle(document.documentElement);
    const read = (name) => style.getPropertyValue(name).trim().split(/\s+/).map(Number);
    return { lose: read("--map-lose"), none: read("--map-none"), gain: read("--map-gain") };
  }

  function showMap() {
    const range = [Math.max(120, Math.ceil(watch.floor)), 330];
    const middle = (a) => watch.poiseEffect(a);
    const largest = Math.max(...[range[0], 270, range[1]].map((a) => Math.max(Math.abs(middle(a)(0)), Math.abs(middle(a)(Math.PI)))));
    const scale = largest > 0.05 ? largest : 1;
    const angle = (p) => ((((watch.fromBelow(p) / RADIAN + 180) % 360) + 360) % 360) - 180;
    const markers = answers
      .filter((a) => a.vertical)
      .map((a) => ({ amplitude: a.now.amplitude, fromBelow: angle(a), words: a.words, symbol: a.symbol }));
    const node = watch.node();
    drawMap($("map-paper"), $("map"), { range, effect: middle, scale, markers, node }, colours());
    $("map-loses").textContent = say("loses", { rate: scale.toFixed(0) });
    $("map-gains").textContent = say("gains", { rate: scale.toFixed(0) });
    const each = [150, 220, 300].filter((a) => a >= range[0]).map((a) => say("map_at", { rate: rate(middle(a)(0)), at: a }));
    $("map-words").textContent =
      settings.unbalance === 0
        ? say("map_poised")
        : node === null
          ? say("map_told", { told: each.join(", ") })
          : say("map_told_node", { told: each.join(", "), node: told(node.toFixed(1)) });
    $("map-words").dataset.node = node === null ? "" : node;
  }

  // the groups of the budget; the last two are the balance's own
  const OWN = data.groups.length - 2;

  function showEnergy() {
    const [flat, upright] = [watch.shares(FLAT, 0), watch.shares(UPRIGHT, 0)];
    const most = Math.max(0.05, ...(flat ?? []), ...(upright ?? []));
    data.groups.forEach((_, i) => {
      const row = $("energy").tBodies[0].rows[i];
      row.className = i < OWN ? "escapement" : "balance";
      [flat, upright].forEach((shares, j) => {
        const part = shares ? shares[i] : null;
        row.querySelectorAll(".bar > span")[j].style.width = part === null ? "0" : `${(100 * part) / most}%`;
        row.cells[j + 2].textContent = part === null ? "–" : percent(part);
        row.cells[j + 2].dataset.value = part === null ? "" : part;
      });
    });
    const reaches = (shares) => percent(shares.slice(OWN).reduce((a, b) => a + b));
    $("energy-words").textContent =
      flat && upright
        ? say("energy_words", {
            energy: figure(watch.beatEnergy(0)),
            train: percent(watch.trainPasses),
            flat: reaches(flat),
            upright: reaches(upright),
          })
        : say("energy_none");
  }

  /* ---- the escapement at work ---- */
  const escapement = makeEscapement($("works"), data);
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const period = 7200 / data.watch.beats_per_hour;
  const shown = { phase: undefined, stone: null };
  const motion = makeClock($("run"), slowness, pose, (running) => $("phase-box").setAttribute("aria-live", running ? "off" : "polite"));

  function slowness() {
    return Math.round(10 ** Number($("slow").value));
  }

  function showSlowness() {
    const input = $("slow");
    input.setAttribute("aria-valuetext", say("times_slower", { times: slowness() }));
    input.style.setProperty("--at", `${(100 * (input.value - input.min)) / (input.max - input.min)}%`);
    showWorks();
  }

  function shownReading() {
    const position = positions[Number($("shown-position").value)];
    return watch.reading(position, Number($("shown-hours").value));
  }

  function showWorks() {
    const found = shownReading();
    // above the table the drawing stops at the horn
    const amplitude = found.state === "stops" ? null : Math.min(found.amplitude ?? watch.knock, watch.knock);
    escapement.show(watch.lock, amplitude, settings.heavy, settings.unbalance / data.tables.unbalance);
    $("works-state").textContent =
      found.state === "stops" ? say("drawn_stopped") :
      found.state === "knocks" ? say("drawn_knocks", { limit: deg(watch.knock) }) :
      say("drawn", { amplitude: deg(found.amplitude), times: slowness() });
    if (data.motion.drawing.pins) $("works-state").append(` ${say("drawn_pins")}`);
    pose(motion.seconds());
  }

  function pose(seconds) {
    const { phase, angle, stone } = escapement.pose((seconds / period) % 1, Math.floor(seconds / period));
    if (phase !== shown.phase || stone !== shown.stone) {
      [shown.phase, shown.stone] = [phase, stone];
      const key = phase === null ? "rest" : PHASES[phase];
      $("phase").textContent = say(`phase_${key}`);
      $("phase-stone").textContent = stone === null ? "" : say(`at_work_${stone}`);
      $("phase-words").textContent = say(`phase_${key}_words`);
    }
    $("works").dataset.angle = angle.toFixed(2);
  }

  function view() {
    const chosen = document.querySelector("input[name=view]:checked").value;
    $("works").dataset.view = chosen;
    $("works").setAttribute("viewBox", escapement.views[chosen].map((n) => n.toFixed(3)).join(" "));
    escapement.name(chosen, escapement.views[chosen], $("named").checked);
  }

  /* ---- lesson prompts ---- */
  const difference = (i) => {
    const [a, b] = [answers[i].now.amplitude, givenAnswers[i].now.amplitude];
    return a === null || b === null ? say("not_in_table") : Math.abs(a - b) < 0.5 ? say("unchanged") : `${signed(a - b, 0)}°`;
  };
  const both = () =>
    say("both", { flat: difference(positions.indexOf(FLAT)), upright: difference(positions.indexOf(UPRIGHT)) });
  const reached = (key, value) => Math.min(Math.max(value, byKey[key].low), byKey[key].high);
  const unlocking = (of) => {
    const shares = of.shares(FLAT, 0);
    return shares ? percent(shares[data.groups.indexOf("unlocking")]) : "–";
  };
  const PROMPTS = {
    lock: {
      wanted: () => ({ lock: reached("lock", 1) }),
      values: () => ({ deeper: told(settings.lock.toFixed(1)), now: unlocking(watch), given: unlocking(given) }),
    },
    jewels: {
      wanted: () => ({ jewels: byKey.jewels.low }),
      values: () => ({ jewels: settings.jewels }),
    },
    friction: {
      wanted: () => ({ friction: reached("friction", 2 * design.friction || 100) }),
      values: () => ({}),
    },
    torque: {
      wanted: () => ({ torque: 70 }),
      values: () => ({
        torque: settings.torque,
        before: clock(given.stopHours(FLAT)),
        after: clock(watch.stopHours(FLAT)),
      }),
    },
    node: {
      wanted: () => ({ unbalance: byKey.unbalance.step * Math.round((0.7 * byKey.unbalance.high) / byKey.unbalance.step) }),
      values: () => ({ node: watch.node()?.toFixed(0) }),
    },
    inertia: {
      wanted: () => ({ inertia: reached("inertia", 140) }),
      values: () => ({ more: settings.inertia - 100 }),
    },
  };

  /** The answer at the sliders' present setting; each is named for the slider that matters, but for the node. */
  function answerOf(name) {
    if (name !== "node" && settings[name] === design[name]) return say("set_first");
    if (name === "node" && watch.node() === null) return say("told_node_none");
    return say(`told_${name}`, { both: both(), ...PROMPTS[name].values() });
  }

  function prompts() {
    for (const [name, prompt] of Object.entries(PROMPTS)) {
      $(`set-${name}`).addEventListener("click", () => {
        set({ ...design, ...prompt.wanted() }, say("set_said"));
        $(`answer-${name}`).hidden = true;
        $(`show-${name}`).setAttribute("aria-expanded", "false");
      });
      $(`show-${name}`).addEventListener("click", (event) => {
        const answer = $(`answer-${name}`);
        answer.hidden = !answer.hidden;
        event.currentTarget.setAttribute("aria-expanded", String(!answer.hidden));
        answer.textContent = answerOf(name);
      });
    }
  }

  /* ---- all of it ---- */
  let speaking;
  function speak(said) {
    clearTimeout(speaking);
    speaking = setTimeout(() => {
      const [a, b] = [answers[positions.indexOf(FLAT)], answers[positions.indexOf(UPRIGHT)]];
      $("spoken").textContent =
        say("spoken", {
          said: said ? `${said} ` : "",
          flat: reads(a.now),
          upright: reads(b.now),
          flat_later: reads(a.later),
          upright_later: reads(b.later),
        });
    }, 500);
  }

  const panels = makePanels($("panels"), data.panels);
  const own = givenAnswers[positions.indexOf(FLAT)].now;
  const pair = $("panel-escapements") && own.state !== "stops"
    ? makePair($("panel-escapements"), data, { lock: given.lock, amplitude: Math.min(own.amplitude ?? given.knock, given.knock), period }, calm)
    : () => null;

  function pictures() {
    drawAmplitudes(
      $("amplitudes"),
      answers.map((a, i) => ({
        ...a,
        designNow: givenAnswers[i].now.amplitude,
        designLater: givenAnswers[i].later.amplitude,
      })),
      watch.knock
    );
    showRunDown();
    showMap();
  }

  function everything() {
    pictures();
    view();
    panels();
    pair();
  }

  let waiting = false;
  function changed(said) {
    showSliders();
    if (!waiting) {
      // one drawing a frame, however fast the slider moves
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        answer();
      });
    }
    speak(said);
  }

  function answer() {
    watch = watchAt(settings);
    answers = answersOf(watch);
    showTable();
    pictures();
    showEnergy();
    showWorks();
    for (const name of Object.keys(PROMPTS))
      if (!$(`answer-${name}`).hidden) $(`answer-${name}`).textContent = answerOf(name);
    document.documentElement.dataset.answered = JSON.stringify(settings);
  }

  function build() {
    document.documentElement.classList.add("ready");
    $("name").textContent = data.name;
    $("story").textContent = data.story;
    $("story-box").hidden = !data.story.trim();
    $("story-box").open = data.sketch; // what must be known of it is not folded away
    for (const p of positions) {
      const row = $("readings").tBodies[0].insertRow();
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = `${p.words} `;
      const symbol = document.createElement("abbr");
      symbol.title = "ISO 3158";
      symbol.textContent = p.symbol;
      head.append(symbol);
      row.append(head);
      for (let i = 0; i < 5; i++) row.insertCell();
      const option = document.createElement("option");
      option.value = positions.indexOf(p);
      option.textContent = p.words;
      $("shown-position").append(option);
    }
    for (const group of data.groups) {
      const row = $("energy").tBodies[0].insertRow();
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = say(`group_${group}`);
      row.append(head);
      const bars = row.insertCell();
      for (const lie of ["flat", "upright"]) {
        const bar = document.createElement("div");
        bar.className = `bar ${lie}`;
        bar.append(document.createElement("span"));
        bars.append(bar);
      }
      bars.setAttribute("aria-hidden", "true");
      row.insertCell();
      row.insertCell();
    }
    const e = data.error;
    $("accuracy").textContent = say("accuracy", {
      version: data.version,
      points: e.points,
      degrees: told(e.amplitude_deg),
      seconds: told(e.rate_s_per_day),
      floor: deg(given.floor),
      ceiling: data.tables.ceiling_deg,
      remark: e.remark,
      hash: data.design_hash,
    });
    listen();
    prompts();
    for (const id of ["shown-position", "shown-hours"]) $(id).addEventListener("change", showWorks);
    $("slow").addEventListener("input", showSlowness);
    for (const input of document.querySelectorAll("input[name=view]")) input.addEventListener("change", view);
    $("named").addEventListener("change", view);
    $("next").addEventListener("click", () => motion.next([...escapement.starts(), 1], period));
    $("theme").addEventListener("change", () => {
      document.documentElement.dataset.theme = $("theme").value;
      everything();
    });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", everything);
    let width = 0;
    new ResizeObserver(() => {
      if (document.body.clientWidth === width) return;
      width = document.body.clientWidth;
      everything();
    }).observe(document.body);
    view();
    showSliders();
    answer();
    showSlowness();
    motion.run(!calm);
  }

  build();
})();
