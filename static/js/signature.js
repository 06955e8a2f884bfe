// A box to sign in: keeps vector strokes with their timing in the form's hidden field, and draws them as SVG paths.

const SVG = "http://www.w3.org/2000/svg";

const attach = (field) => {
  const box = field.querySelector("svg");
  const kept = field.querySelector('input[name="strokes"]');
  let strokes = [];
  let began = 0;
  let path = null;

  const point = (event) => {
    const frame = box.getBoundingClientRect();
    const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most));
    return [
      within(((event.clientX - frame.left) / frame.width) * 1000, 1000),
      within(((event.clientY - frame.top) / frame.height) * 300, 300),
      Math.round(event.timeStamp - began),
    ];
  };

  const draw = () => {
    const stroke = strokes.at(-1);
    path.setAttribute("d", "M " + stroke.map(([x, y]) => `${x} ${y}`).join(" L "));
    kept.value = JSON.stringify(strokes);
  };

  box.addEventListener("pointerdown", (event) => {
    began ||= event.timeStamp;
    box.setPointerCapture(event.pointerId);
    strokes.push([point(event)]);
    path = box.appendChild(document.createElementNS(SVG, "path"));
    draw();
    event.preventDefault();
  });
  box.addEventListener("pointermove", (event) => {
    if (!path) return;
    strokes.at(-1).push(point(event));
    draw();
  });
  box.addEventListener("pointerup", () => (path = null));
  field.querySelector("[data-signature-clear]").addEventListener("click", () => {
    strokes = [];
    began = 0;
    kept.value = "";
    box.replaceChildren();
  });
};

document.querySelectorAll("[data-signature]").forEach(attach);
