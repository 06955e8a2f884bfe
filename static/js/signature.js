// A box to sign in: keeps vector strokes with their timing in the form's hidden field, and draws them as SVG paths.
// What was signed before a refusal is drawn again from the field, so that the box always shows what would be sent.

const SVG = "http://www.w3.org/2000/svg";

const attach = (field) => {
  const box = field.querySelector("svg");
  const kept = field.querySelector('input[name="strokes"]');
  let strokes = [];
  let began = null;
  let path = null;

  const point = (event) => {
    const frame = box.getBoundingClientRect();
    const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most));
    return [
      within(((event.clientX - frame.left) / frame.width) * 1000, 1000),
      within(((event.clientY - frame.top) / frame.height) * 300, 300),
      Math.max(0, Math.round(event.timeStamp - began), strokes.flat().at(-1)?.[2] ?? 0),
    ];
  };

  const begin = () => (path = box.appendChild(document.createElementNS(SVG, "path")));

  const draw = (stroke) => {
    const points = stroke.length > 1 ? stroke : [stroke[0], stroke[0]];
    path.setAttribute("d", "M " + points.map(([x, y]) => `${x} ${y}`).join(" L "));
  };

  const keep = () => {
    draw(strokes.at(-1));
    kept.value = JSON.stringify(strokes);
  };

  const clear = () => {
    strokes = [];
    began = null;
    path = null;
    kept.value = "";
    box.querySelectorAll("path").forEach((each) => each.remove());
  };

  box.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary || event.button) return;
    began ??= event.timeStamp;
    box.setPointerCapture(event.pointerId);
    begin();
    strokes.push([point(event)]);
    keep();
    event.preventDefault();
  });
  box.addEventListener("pointermove", (event) => {
    if (!path || !event.isPrimary) return;
    const next = point(event);
    const [x, y] = strokes.at(-1).at(-1);
    if (next[0] === x && next[1] === y) return;
    strokes.at(-1).push(next);
    keep();
  });
  for (const name of ["pointerup", "pointercancel"]) box.addEventListener(name, () => (path = null));
  field.querySelector("[data-signature-clear]").addEventListener("click", clear);

  try {
    strokes = JSON.parse(kept.value || "[]");
    for (const stroke of strokes) {
      begin();
      draw(stroke);
    }
    // Time goes on from where it was, whenever the page was sent again.
    if (strokes.length) began = performance.now() - strokes.flat().at(-1)[2];
  } catch {
    clear();
  }
  path = null;
};

document.querySelectorAll("[data-signature]").forEach(attach);
