// Where the focus goes when what had it is seen no more, or answers no more: near to where that was.
let last = null; // what had the focus, and the boxes around it, from within
let mute = null; // what keeps no focus

const able = 'button:not([disabled]), select:not([disabled]), input:not([disabled]), summary, a[href], [tabindex]';
const seen = (e) => e.isConnected && e.checkVisibility({ visibilityProperty: true });

// start takes note of what has the focus, but for an element that keeps none.
export function start(but) {
  mute = but;
  document.addEventListener('focusin', (e) => {
    if (e.target === mute) return;
    const around = [];
    for (let box = e.target.parentElement; box; box = box.parentElement) around.push(box);
    last = { e: e.target, around };
  });
  // A click beside all that takes the focus puts it away.
  document.addEventListener('pointerdown', () => setTimeout(() => { if (document.activeElement === document.body) last = null; }));
}

// keep puts the focus back, or near to where it was, if it was lost.
export function keep() {
  const now = document.activeElement;
  if (!last || now && now !== document.body && now !== mute && seen(now) && !now.disabled) return;
  const to = seen(last.e) && !last.e.disabled ? last.e : nearby();
  if (to) to.focus();
}

// nearby is the first that takes the focus in the smallest of the boxes that has one.
function nearby() {
  for (const box of last.around) {
    if (!seen(box)) continue;
    const free = [...box.querySelectorAll(able)].find((e) => seen(e) && e !== mute);
    if (free) return free;
  }
  return null;
}
