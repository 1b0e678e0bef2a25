// A clock that runs slower than a watch: it counts the watch's own time and goes and stands by a button.

/**
 * Builds it, standing. `slowness()`: times slower; `shown(seconds)`: draws that moment; `told(running)`: what else to do
 * when it is started or stopped.
 */
function makeClock(button, slowness, shown, told = () => null) {
  let [running, seconds, last] = [false, 0, null];
  function tick(now) {
    if (!running) return;
    // a window that was covered has not let the watch run on
    seconds += (last === null ? 0 : Math.min((now - last) / 1000, 0.1)) / slowness();
    last = now;
    shown(seconds);
    requestAnimationFrame(tick);
  }
  function run(wanted) {
    [running, last] = [wanted, null];
    button.textContent = say(running ? "pause" : "run");
    told(running);
    if (running) requestAnimationFrame(tick);
  }
  button.addEventListener("click", () => run(!running));
  return {
    run,
    seconds: () => seconds,
    /** Stops a little into the next phase that lasts at all; `edges`: where phases begin, and 1, in shares of `period`. */
    next(edges, period) {
      run(false);
      if (edges.length < 2) return;
      const turns = Math.floor(seconds / period);
      const into = edges.slice(1).map((end, i) => edges[i] + 0.35 * (end - edges[i]));
      const wanted = into.find((share, i) => edges[i + 1] > edges[i] && share > seconds / period - turns + 1e-9);
      seconds = (turns + (wanted ?? 1 + into[0])) * period;
      shown(seconds);
    },
  };
}
