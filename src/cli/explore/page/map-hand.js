/** Pointer and keys on the map. */

/** How far an arrow key moves the map and, with shift, the cursor, px. */
const [PAN_PX, CURSOR_PX] = [40, 6];
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * Drag and arrows move the map, wheel and + - change its scale, 0 fits it; shift with an arrow moves the cursor. `read` is called with a
 * place in µm or `null`, `pick` with a place that is asked to be drawn larger.
 */
export function handleMap(canvas, map, { read, pick }) {
  let drag = null;
  const at = (event) => [event.offsetX, event.offsetY];

  canvas.addEventListener("pointerdown", (event) => {
    drag = at(event);
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    const now = at(event);
    if (drag) {
      map.pan(now[0] - drag[0], now[1] - drag[1]);
      drag = now;
    }
    map.point(null);
    read(map.toChip(now));
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (drag = null));
  canvas.addEventListener("pointerleave", () => read(map.cursor()));
  canvas.addEventListener("dblclick", (event) => pick(map.toChip(at(event))));
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      map.zoom(Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.05 : 0.0016)), at(event));
    },
    { passive: false },
  );

  const middle = () => [canvas.clientWidth / 2, canvas.clientHeight / 2];
  const onScreen = () => (map.cursor() ? map.toScreen(map.cursor()) : middle());
  function point(place) {
    map.point(map.toChip(place));
    read(map.cursor());
  }

  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    const keys = {
      "+": () => map.zoom(1.5),
      "=": () => map.zoom(1.5),
      "-": () => map.zoom(1 / 1.5),
      0: () => map.fit(),
      Enter: () => pick(map.toChip(onScreen())),
    };
    if (!arrow && !keys[event.key]) return;
    event.preventDefault();
    const place = onScreen();
    if (keys[event.key]) keys[event.key]();
    else if (event.shiftKey) return point([place[0] + arrow[0] * CURSOR_PX, place[1] + arrow[1] * CURSOR_PX]);
    else map.pan(-arrow[0] * PAN_PX, -arrow[1] * PAN_PX);
    point(place);
  });
  canvas.addEventListener("focus", () => canvas.matches(":focus-visible") && point(onScreen()));
  canvas.addEventListener("blur", () => {
    map.point(null);
    read(null);
  });
}
