// @ts-check
/** The field in which a customer signs: strokes of pen or finger, kept as points in a hidden field. */

export const WIDTH = 1000, HEIGHT = 300;

/**
 * A place on the screen as a point of the field, inside its borders.
 * @param {{left: number, top: number, width: number, height: number}} box @param {number} x @param {number} y
 * @returns {[number, number]}
 */
export function pointIn(box, x, y) {
  const within = (/** @type {number} */ share, /** @type {number} */ most) => Math.round(Math.min(Math.max(share, 0), 1) * most);
  return [within((x - box.left) / box.width, WIDTH), within((y - box.top) / box.height, HEIGHT)];
}

/** Reads the strokes of a hidden field. @param {string} text @returns {number[][][]} */
export function strokesOf(text) {
  try {
    const strokes = JSON.parse(text || "[]");
    return Array.isArray(strokes) ? strokes : [];
  } catch {
    return [];
  }
}

/** @param {HTMLCanvasElement} canvas @param {number[][][]} strokes */
function draw(canvas, strokes) {
  const pen = canvas.getContext("2d");
  if (!pen) return;
  pen.clearRect(0, 0, WIDTH, HEIGHT);
  pen.lineWidth = 5;
  pen.lineCap = pen.lineJoin = "round";
  pen.strokeStyle = getComputedStyle(canvas).color;
  for (const stroke of strokes) {
    pen.beginPath();
    stroke.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (stroke.length === 1) pen.lineTo(stroke[0][0] + 1, stroke[0][1]);
    pen.stroke();
  }
}

/** @param {Element | null} part */
function padOf(part) {
  const pad = part?.closest("[data-pad]");
  const canvas = pad?.querySelector("canvas"), kept = pad?.querySelector('input[name="strokes"]');
  return canvas instanceof HTMLCanvasElement && kept instanceof HTMLInputElement ? { canvas, kept } : null;
}

/** Draws again what each field of a page holds. @param {ParentNode} page */
export function redrawPads(page) {
  for (const each of page.querySelectorAll("[data-pad]")) {
    const pad = padOf(each);
    if (pad) draw(pad.canvas, strokesOf(pad.kept.value));
  }
}

/** @param {Document} page */
export function watchPads(page) {
  /** @type {number[][] | null} */
  let stroke = null;
  page.addEventListener("pointerdown", (event) => {
    const target = event.target instanceof HTMLCanvasElement ? event.target : null;
    const pad = padOf(target);
    if (!pad || !target || !event.isPrimary) return;
    target.setPointerCapture(event.pointerId);
    target.dataset.pen = "1";
    stroke = [pointIn(pad.canvas.getBoundingClientRect(), event.clientX, event.clientY)];
    event.preventDefault();
  });
  page.addEventListener("pointermove", (event) => {
    const pad = stroke && event.target instanceof Element ? padOf(event.target) : null;
    if (!pad || !stroke) return;
    stroke.push(pointIn(pad.canvas.getBoundingClientRect(), event.clientX, event.clientY));
    draw(pad.canvas, [...strokesOf(pad.kept.value), stroke]);
  });
  const lift = () => { for (const each of page.querySelectorAll("canvas[data-pen]")) if (each instanceof HTMLElement) delete each.dataset.pen; };
  page.addEventListener("pointerup", (event) => {
    lift();
    const pad = stroke && event.target instanceof Element ? padOf(event.target) : null;
    if (pad && stroke) pad.kept.value = JSON.stringify([...strokesOf(pad.kept.value), stroke]);
    stroke = null;
  });
  page.addEventListener("pointercancel", () => { lift(); stroke = null; redrawPads(page); });
  page.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-pad-clear]") : null;
    const pad = padOf(button);
    if (!pad) return;
    pad.kept.value = "";
    draw(pad.canvas, []);
  });
  redrawPads(page);
}
