// What the page sends, and in which order.

// changes sends one change after another. Of what one slider or handle passes through only the
// newest waits; nothing else gives way to anything. busy is told when it begins and ends.
export function changes(send, busy) {
  const waiting = [];
  let under = false;
  async function run() {
    under = true;
    busy(true);
    while (waiting.length) await send(waiting.shift());
    under = false;
    busy(false);
  }
  function change(path, body) {
    const last = waiting[waiting.length - 1];
    if (last && passesThrough(last, { path, body })) last.body = body;
    else waiting.push({ path, body });
    return under ? undefined : run();
  }
  change.waiting = () => waiting.length > 0;
  return change;
}

// passesThrough tells whether a change is one more of the same drag.
export function passesThrough(last, next) {
  return Boolean(last.body.Drag && next.body.Drag) && last.path === next.path
    && last.body.Flag === next.body.Flag && last.body.Index === next.body.Index;
}

// newest asks for one thing at a time: what comes meanwhile waits, the newest of it alone. What is
// under way is never given up, so that something is shown however fast it comes. stop forgets what
// waits and what is under way.
export function newest(ask, show) {
  let waiting = null;
  let under = false;
  let round = 0;
  async function push(body) {
    waiting = body;
    if (under) return;
    under = true;
    while (waiting) {
      const next = waiting;
      const mine = round;
      waiting = null;
      const answer = await ask(next).catch(() => null);
      if (answer && mine === round) show(answer);
    }
    under = false;
  }
  return { push, stop() { waiting = null; round += 1; } };
}
