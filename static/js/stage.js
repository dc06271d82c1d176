// A drawing that fingers, a wheel and keys move and make larger: `view(stage, strokes)`.
//
// The drawing is moved and scaled as one picture by its transform, once a frame: nothing is laid out and nothing drawn
// anew while it moves; it is drawn sharp once it rests. Sizes are read once, when a finger comes down. With one finger
// `strokes` are made where `strokes.marks()` says so: begin(), over(x, y) for places of the drawing, in its own units
// and close enough to miss no piece, end() or cancel().
const MOST = 16;
const STEP = 5;
const REST = 180;

export const view = (stage, strokes) => {
  const svg = stage.querySelector("svg");
  const box = svg.viewBox.baseVal;
  // The place of the drawing's corner in the stage, in pixels, and how many times it is enlarged.
  const eye = { k: 1, x: 0, y: 0 };
  const fingers = new Map();
  let size = null;
  let asked = false;
  let resting = null;
  let pinch = null;
  let pan = null;
  let last = null;

  const measure = () => {
    const rect = stage.getBoundingClientRect();
    size = { left: rect.left + stage.clientLeft, top: rect.top + stage.clientTop, width: stage.clientWidth, height: stage.clientHeight };
  };
  const place = (x, y) => ({ x: x - size.left, y: y - size.top });
  const write = () => {
    asked = false;
    svg.style.transform = `translate(${eye.x}px, ${eye.y}px) scale(${eye.k})`;
  };
  const rest = () => {
    if (fingers.size) return;
    svg.style.willChange = "auto";
    // Lines stay as thin as they were.
    svg.style.setProperty("--k", eye.k);
  };
  const ask = () => {
    if (!size) measure();
    // The drawing stays in sight: its middle never leaves the stage.
    eye.x = Math.min(Math.max(eye.x, size.width / 2 - eye.k * size.width), size.width / 2);
    eye.y = Math.min(Math.max(eye.y, size.height / 2 - eye.k * size.height), size.height / 2);
    if (eye.k === 1 && !fingers.size) Object.assign(eye, { x: 0, y: 0 });
    if (!asked) requestAnimationFrame(write);
    asked = true;
    svg.style.willChange = "transform";
    clearTimeout(resting);
    resting = setTimeout(rest, REST);
  };
  const zoomAt = (by, at) => {
    const k = Math.min(Math.max(eye.k * by, 1), MOST);
    eye.x = at.x - (at.x - eye.x) * k / eye.k;
    eye.y = at.y - (at.y - eye.y) * k / eye.k;
    eye.k = k;
    ask();
  };
  const pair = () => {
    const [one, two] = [...fingers.values()];
    return { at: place((one.x + two.x) / 2, (one.y + two.y) / 2), far: Math.hypot(one.x - two.x, one.y - two.y) || 1 };
  };
  const scale = () => Math.min(size.width / box.width, size.height / box.height);
  const over = (x, y) => {
    const at = place(x, y);
    strokes.over(
      box.x + box.width / 2 + ((at.x - eye.x) / eye.k - size.width / 2) / scale(),
      box.y + box.height / 2 + ((at.y - eye.y) / eye.k - size.height / 2) / scale(),
    );
  };
  const alongTo = (x, y) => {
    const steps = Math.max(Math.ceil(Math.hypot(x - last.x, y - last.y) / STEP), 1);
    for (let n = 1; n <= steps; n += 1) over(last.x + (x - last.x) * n / steps, last.y + (y - last.y) * n / steps);
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
        over(last.x, last.y);
      } else {
        pan = { x: event.clientX - eye.x, y: event.clientY - eye.y };
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
      Object.assign(eye, { x: event.clientX - pan.x, y: event.clientY - pan.y });
      ask();
    } else if (last) {
      alongTo(event.clientX, event.clientY);
    }
  });

  const up = (event) => {
    if (!fingers.delete(event.pointerId)) return;
    if (last && event.type === "pointerup") strokes.end();
    else if (last) strokes.cancel();
    else ask();
    // What is left of two fingers marks nothing: it would be where nobody meant it.
    last = pan = null;
    if (fingers.size < 2) pinch = null;
  };
  stage.addEventListener("pointerup", up);
  stage.addEventListener("pointercancel", up);
  addEventListener("resize", () => { size = null; ask(); });

  stage.addEventListener("wheel", (event) => {
    // A wheel that would make smaller what is whole moves the page.
    if (eye.k === 1 && event.deltaY > 0) return;
    event.preventDefault();
    measure();
    zoomAt(Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) / 200), place(event.clientX, event.clientY));
  }, { passive: false });

  const whole = () => { Object.assign(eye, { k: 1, x: 0, y: 0 }); ask(); };
  write();
  return {
    whole,
    zoom: (by) => { measure(); zoomAt(by, { x: size.width / 2, y: size.height / 2 }); },
    // By a fifth of the stage; the drawing goes the other way.
    pan: ([dx, dy]) => { measure(); eye.x -= dx * size.width / 5; eye.y -= dy * size.height / 5; ask(); },
    // A place of the drawing, in its own units, comes into the stage, if it is not there.
    reveal: ({ x, y }) => {
      if (eye.k === 1) return;
      measure();
      const sx = eye.x + eye.k * (size.width / 2 + (x - box.x - box.width / 2) * scale());
      const sy = eye.y + eye.k * (size.height / 2 + (y - box.y - box.height / 2) * scale());
      const [mx, my] = [size.width * 0.1, size.height * 0.1];
      eye.x += Math.max(mx - sx, 0) - Math.max(sx - (size.width - mx), 0);
      eye.y += Math.max(my - sy, 0) - Math.max(sy - (size.height - my), 0);
      ask();
    },
  };
};
