// A drawing that fingers, a wheel and keys move and make larger: `view(stage, strokes)`.
//
// The drawing lies in #moved, which is moved and scaled as a whole by one attribute, once a frame; sizes are read once,
// when a finger comes down, so that nothing is laid out while it moves. With one finger `strokes` are made where
// `strokes.marks()` says so: begin(), over(x, y) for places close enough to miss no piece, end() or cancel().
const MOST = 24;
const STEP = 5;

export const view = (stage, strokes) => {
  const svg = stage.querySelector("svg");
  const moved = svg.querySelector("#moved");
  const box = svg.viewBox.baseVal;
  const eye = { k: 1, x: 0, y: 0 };
  const fingers = new Map();
  let rect = null;
  let unit = 1;
  let asked = false;
  let pinch = null;
  let pan = null;
  let last = null;

  // Where the drawing lies on the screen: its corner, and how many millimeters a pixel is.
  const measure = () => {
    rect = svg.getBoundingClientRect();
    unit = Math.max(box.width / rect.width, box.height / rect.height);
  };
  const place = (x, y) => ({
    x: box.x + box.width / 2 + (x - rect.left - rect.width / 2) * unit,
    y: box.y + box.height / 2 + (y - rect.top - rect.height / 2) * unit,
  });
  const write = () => {
    asked = false;
    moved.setAttribute("transform", `translate(${eye.x} ${eye.y}) scale(${eye.k})`);
  };
  const ask = () => {
    // The drawing stays in sight: its middle never leaves the stage.
    const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];
    eye.x = Math.min(Math.max(eye.x, cx - eye.k * (box.x + box.width)), cx - eye.k * box.x);
    eye.y = Math.min(Math.max(eye.y, cy - eye.k * (box.y + box.height)), cy - eye.k * box.y);
    if (!asked) requestAnimationFrame(write);
    asked = true;
  };
  const zoomAt = (by, at) => {
    const k = Math.min(Math.max(eye.k * by, 1), MOST);
    eye.x = at.x - (at.x - eye.x) * k / eye.k;
    eye.y = at.y - (at.y - eye.y) * k / eye.k;
    eye.k = k;
    if (k === 1) Object.assign(eye, { x: 0, y: 0 });
    ask();
  };
  const middle = () => ({ x: box.x + box.width / 2, y: box.y + box.height / 2 });
  const pair = () => {
    const [one, two] = [...fingers.values()];
    return { at: place((one.x + two.x) / 2, (one.y + two.y) / 2), far: Math.hypot(one.x - two.x, one.y - two.y) || 1 };
  };

  const alongTo = (x, y) => {
    const steps = Math.max(Math.ceil(Math.hypot(x - last.x, y - last.y) / STEP), 1);
    for (let n = 1; n <= steps; n += 1) strokes.over(last.x + (x - last.x) * n / steps, last.y + (y - last.y) * n / steps);
    last = { x, y };
  };

  stage.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    if (!fingers.size) measure();
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    stage.setPointerCapture(event.pointerId);
    if (fingers.size === 1) {
      if (strokes.marks()) {
        last = { x: event.clientX, y: event.clientY };
        strokes.begin();
        strokes.over(last.x, last.y);
      } else {
        pan = { from: place(event.clientX, event.clientY), x: eye.x, y: eye.y };
      }
      return;
    }
    if (last) strokes.cancel();
    last = pan = null;
    if (fingers.size === 2) pinch = pair();
  });

  stage.addEventListener("pointermove", (event) => {
    const finger = fingers.get(event.pointerId);
    if (!finger) return;
    Object.assign(finger, { x: event.clientX, y: event.clientY });
    if (pinch && fingers.size === 2) {
      const now = pair();
      eye.x += now.at.x - pinch.at.x;
      eye.y += now.at.y - pinch.at.y;
      zoomAt(now.far / pinch.far, now.at);
      pinch = now;
    } else if (pan) {
      const now = place(event.clientX, event.clientY);
      Object.assign(eye, { x: pan.x + now.x - pan.from.x, y: pan.y + now.y - pan.from.y });
      ask();
    } else if (last) {
      alongTo(event.clientX, event.clientY);
    }
  });

  const up = (event) => {
    if (!fingers.delete(event.pointerId)) return;
    if (last && event.type === "pointerup") strokes.end();
    else if (last) strokes.cancel();
    // What is left of two fingers marks nothing: it would be where nobody meant it.
    last = pan = null;
    if (fingers.size < 2) pinch = null;
  };
  stage.addEventListener("pointerup", up);
  stage.addEventListener("pointercancel", up);

  stage.addEventListener("wheel", (event) => {
    // A wheel that would make smaller what is whole moves the page.
    if (eye.k === 1 && event.deltaY > 0) return;
    event.preventDefault();
    measure();
    zoomAt(Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) / 200), place(event.clientX, event.clientY));
  }, { passive: false });

  write();
  return {
    zoom: (by) => zoomAt(by, middle()),
    whole: () => { Object.assign(eye, { k: 1, x: 0, y: 0 }); ask(); },
    // By a fifth of the stage; the drawing goes the other way.
    pan: ([dx, dy]) => { eye.x -= dx * box.width / 5; eye.y -= dy * box.height / 5; ask(); },
    // A place of the drawing comes into the stage, if it is not there.
    reveal: ({ x, y }) => {
      const [sx, sy] = [eye.x + eye.k * x, eye.y + eye.k * y];
      const [mx, my] = [box.width * 0.08, box.height * 0.08];
      eye.x += Math.max(box.x + mx - sx, 0) - Math.max(sx - (box.x + box.width - mx), 0);
      eye.y += Math.max(box.y + my - sy, 0) - Math.max(sy - (box.y + box.height - my), 0);
      if (eye.k > 1) ask();
      else Object.assign(eye, { x: 0, y: 0 });
    },
  };
};
