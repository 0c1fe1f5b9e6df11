"use strict";
// Leafing through the steps of a sweep, and copying. Without it the page is still whole, only still.
(() => {
  const byId = (id) => document.getElementById(id);
  document.documentElement.classList.add("scripted");

  for (const button of document.querySelectorAll("button[data-copy]")) {
    button.addEventListener("click", () => copy(button, byId(button.dataset.copy)));
  }

  async function copy(button, from) {
    let done = true;
    try {
      await navigator.clipboard.writeText(from.textContent);
    } catch {
      getSelection().selectAllChildren(from);
      done = document.execCommand("copy");
    }
    button.textContent = done ? "Copied" : "Select and copy by hand";
    setTimeout(() => { button.textContent = "Copy"; }, 2000);
  }

  const embedded = byId("steps");
  if (!embedded) return;
  const { pictures, steps, first, lit } = JSON.parse(embedded.textContent);
  const [player, scrub, says, cursor, map, play, speed] =
    ["player", "scrub", "says", "cursor", "map", "play", "speed"].map(byId);
  const panes = ["plain", "faulty", "difference"].map((name) => byId(`pane-${name}`).getContext("2d", { willReadFrequently: true }));
  let shown = first;
  let clock = null;

  // Decoded pictures, a few at a time.
  const decoded = new Map();
  function picture(number) {
    let image = decoded.get(number);
    if (!image) {
      image = new Promise((resolve, reject) => {
        const element = new Image();
        element.onload = () => resolve(element);
        element.onerror = reject;
        element.src = `data:image/png;base64,${pictures[number]}`;
      });
      decoded.set(number, image);
      if (decoded.size > 64) decoded.delete(decoded.keys().next().value);
    }
    return image;
  }

  function paint(context, images) {
    const { naturalWidth: width, naturalHeight: height } = images[images.length - 1];
    Object.assign(context.canvas, { width, height });
    for (const image of images) context.drawImage(image, 0, 0);
    return context.getImageData(0, 0, width, height);
  }

  // What is equal is dim and grey, what differs is lit.
  function difference(one, other) {
    const [width, height] = [Math.max(one.width, other.width), Math.max(one.height, other.height)];
    const out = new ImageData(width, height);
    const at = (frame, x, y) => (x < frame.width && y < frame.height ? (y * frame.width + x) * 4 : -1);
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        const [a, b, to] = [at(one, x, y), at(other, x, y), (y * width + x) * 4];
        const equal = a >= 0 && b >= 0 && [0, 1, 2].every((part) => one.data[a + part] === other.data[b + part]);
        const light = equal ? 20 + (one.data[a] * 2 + one.data[a + 1] * 5 + one.data[a + 2]) / 28 : 0;
        out.data.set(equal ? [light, light, light, 255] : [...lit, 255], to);
      }
    }
    return out;
  }

  async function show(number) {
    shown = Math.min(Math.max(number, 0), steps.length - 1);
    const step = steps[shown];
    scrub.value = shown;
    scrub.setAttribute("aria-valuetext", `${step.setting}: ${step.verdict}`);
    player.dataset.verdict = step.verdict;
    says.textContent = `${step.setting}: ${step.verdict}, ${step.says}`;
    cursor.style.setProperty("--at", shown);
    const plain = await picture(step.plain);
    const faulty = step.faulty === null ? null : await picture(step.faulty);
    if (steps[shown] !== step) return;
    const right = paint(panes[0], [plain]);
    const wrong = paint(panes[1], faulty === null ? [plain] : step.whole ? [faulty] : [plain, faulty]);
    const differs = difference(right, wrong);
    Object.assign(panes[2].canvas, { width: differs.width, height: differs.height });
    panes[2].putImageData(differs, 0, 0);
    ["plain board", "faulty board", "difference"].forEach((name, at) => {
      panes[at].canvas.setAttribute("aria-label", `${name}, ${step.setting}: ${step.verdict}`);
    });
    player.dataset.shown = step.step;
  }

  function run(on) {
    clearInterval(clock);
    clock = on ? setInterval(() => show((shown + 1) % steps.length), 1000 / Number(speed.value)) : null;
    play.textContent = on ? "Pause" : "Play";
    play.setAttribute("aria-pressed", String(on));
    // Not every frame of a film is read out.
    says.setAttribute("aria-live", on ? "off" : "polite");
  }

  const go = (number) => { run(false); show(number); };
  scrub.addEventListener("input", () => go(Number(scrub.value)));
  byId("back").addEventListener("click", () => go(shown - 1));
  byId("forth").addEventListener("click", () => go(shown + 1));
  play.addEventListener("click", () => run(clock === null));
  speed.addEventListener("change", () => { if (clock !== null) run(true); });

  const point = (event) => {
    const { left, width } = map.getBoundingClientRect();
    go(Math.floor(((event.clientX - left) / width) * steps.length));
  };
  map.addEventListener("pointerdown", (event) => { map.setPointerCapture(event.pointerId); point(event); });
  map.addEventListener("pointermove", (event) => { if (map.hasPointerCapture(event.pointerId)) point(event); });

  for (const link of document.querySelectorAll("a[data-frame]")) {
    link.addEventListener("click", () => go(Number(link.dataset.frame)));
  }

  // Arrow keys leaf wherever they have no other use; the slider has its own.
  document.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const busy = event.target.closest("input, select, textarea, pre, .scroll");
    if (!way || busy || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    go(shown + way);
  });

  show(first);
})();
