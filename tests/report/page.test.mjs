// The page of the demo's sweep, as a person meets it.

import assert from "node:assert/strict";
import { readFileSync, statSync } from "node:fs";
import { after, before, test } from "node:test";
import { findings, folder, launch, open, pane, png, run, save, shell, shows } from "./bench.mjs";

const BENCH = new URL("../benches/harbour-rows.bench.ron", import.meta.url).pathname;
const here = folder();
const path = here.file("page.html");
let browser;

before(async () => {
  run(here, "report", BENCH, "--over", "start_address=0..64", "--out", path);
  browser = await launch();
});
after(async () => {
  await browser?.close();
  here.remove();
});

/** Opens the page, hands it over, and has no complaint in the end. */
async function on(options, body) {
  const { page, context, complaints } = await open(browser, path, options);
  if (options.javaScriptEnabled !== false) await page.waitForSelector("#player[data-shown]");
  await body(page);
  assert.deepEqual(complaints, []);
  await context.close();
}

test("it is below 3 MB", () => assert.ok(statSync(path).size < 3_000_000));

test("it loads from disk without complaint or request", () => on({}, async (page) => {
  assert.match(await page.title(), /Harbour panorama/);
  assert.match(await page.locator(".lede").innerText(), /62 of 64 steps are damaged, on every 4th line/);
}));

test("arrow keys, Home and End move the slider", () => on({}, async (page) => {
  await page.focus("#scrub");
  await page.keyboard.press("Home");
  await shows(page, 0);
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  await shows(page, 2);
  await page.keyboard.press("ArrowLeft");
  await shows(page, 1);
  await page.keyboard.press("End");
  await shows(page, 63);
  assert.equal(await page.getAttribute("#scrub", "aria-valuetext"), "start_address 63: edge-damaged");
  assert.match(await page.locator("#says").innerText(), /50 of 200 lines/);
}));

test("arrow keys leaf when nothing else wants them", () => on({}, async (page) => {
  const first = Number(await page.getAttribute("#player", "data-shown"));
  await page.keyboard.press("ArrowRight");
  await shows(page, first + 1);
}));

test("the mouse drags the slider and presses on the map", () => on({}, async (page) => {
  await page.locator("#sweep").evaluate((section) => section.scrollIntoView({ block: "end", behavior: "instant" }));
  const scrub = await page.locator("#scrub").boundingBox();
  const middle = scrub.y + scrub.height / 2;
  const first = Number(await page.getAttribute("#player", "data-shown"));
  // The thumb's middle, at its first place and at its last.
  const thumb = 20;
  const at = (step) => scrub.x + thumb / 2 + (step / 63) * (scrub.width - thumb);
  await page.mouse.move(at(first), middle);
  await page.mouse.down();
  await page.mouse.move(at(20), middle, { steps: 4 });
  await page.mouse.move(at(5), middle, { steps: 4 });
  await page.mouse.up();
  await shows(page, 5);
  const map = await page.locator("#map").boundingBox();
  await page.mouse.click(map.x + ((40 + 0.5) / 64) * map.width, map.y + map.height - 30);
  await shows(page, 40);
  // The slider's thumb stands below the column it means.
  const cursor = await page.locator("#cursor").boundingBox();
  assert.ok(Math.abs(cursor.x + cursor.width / 2 - at(40)) < 2, "the cursor is not above the thumb");
}));

test("the film runs, pauses, and goes on from the end to the beginning", () => on({}, async (page) => {
  await page.focus("#scrub");
  await page.keyboard.press("End");
  await page.selectOption("#speed", "32");
  await page.click("#play");
  await page.waitForFunction(() => Number(document.getElementById("player").dataset.shown) < 20);
  assert.equal(await page.locator("#play").innerText(), "Pause");
  await page.click("#play");
  assert.equal(await page.locator("#play").innerText(), "Play");
  const still = await page.inputValue("#scrub");
  await page.waitForTimeout(150);
  assert.equal(await page.inputValue("#scrub"), still);
}));

const same = (one, other) =>
  one.width === other.width && one.height === other.height && one.pixels.equals(other.pixels);

test("every pane shows the pixels that `frame` gives", () => on({}, async (page) => {
  for (const step of [0, 1, 16, 31, 32, 33, 63]) {
    await page.fill("#scrub", String(step));
    await shows(page, step);
    const frame = async (name, ...words) => {
      run(here, "frame", BENCH, "--start", String(step), "--out", name, ...words);
      return png(browser, here.file(name));
    };
    const [plain, faulty] = [await frame("h.png", "--no-quirks", "--plain"), await frame("f.png")];
    assert.deepEqual([plain.width, plain.height], [320, 200]);
    assert.ok(same(await pane(page, "plain"), plain), `plain, step ${step}`);
    assert.ok(same(await pane(page, "faulty"), faulty), `faulty, step ${step}`);
    // What differs is coloured, what is equal is grey.
    const { pixels } = await pane(page, "difference");
    for (let at = 0; at < pixels.length; at += 4) {
      const coloured = pixels[at] !== pixels[at + 1] || pixels[at + 1] !== pixels[at + 2];
      const differs = plain.pixels.readUInt32LE(at) !== faulty.pixels.readUInt32LE(at);
      assert.equal(coloured, differs, `difference, step ${step}, pixel ${at / 4}`);
    }
  }
}));

test("its case makes it again, verdict for verdict and byte for byte", () => on({}, async (page) => {
  const again = folder();
  const names = await save(page, again);
  assert.deepEqual(names, ["harbour-rows.case.zip"]);
  const command = await page.locator("#command").innerText();
  shell(again, `${command} --out again.html`);
  assert.ok(readFileSync(again.file("again.html")).equals(readFileSync(path)), "another page");
  const range = command.match(/--over (\S+)/)[1];
  const steps = JSON.parse(run(again, "sweep", names[0], "--over", range, "--format", "json"));
  const rows = await page.locator("table.verdicts tbody tr").evaluateAll((rows) =>
    rows.map((row) => Array.from(row.cells, (cell) => cell.innerText.trim())));
  assert.deepEqual(rows.map(([start, verdict, damaged, visible]) => [start, verdict, damaged, visible].map(String)),
    steps.steps.map((step) => [step.values.start_address, step.verdict, step.damaged_lines, step.visible_lines].map(String)));
  again.remove();
}));

test("a verdict leads to its step", () => on({}, async (page) => {
  await page.click("table.verdicts a[data-frame='12']");
  await shows(page, 12);
}));

test("texts are copied", () => on({}, async (page) => {
  await page.context().grantPermissions(["clipboard-read", "clipboard-write"]);
  await page.click("button[data-copy='command']");
  await page.waitForFunction(() => document.querySelector("button[data-copy='command']").textContent === "Copied");
  assert.equal(await page.evaluate(() => navigator.clipboard.readText()), await page.locator("#command").innerText());
}));

test("without its script it is still whole", () => on({ javaScriptEnabled: false }, async (page) => {
  assert.equal(await page.locator(".panes img:visible").count(), 2);
  assert.equal(await page.locator("button:visible, input:visible, canvas:visible").count(), 0);
  assert.equal(await page.locator("table.verdicts tbody tr").count(), 64);
}));

test("it prints without what cannot be pressed on paper", () => on({}, async (page) => {
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.locator("button:visible, input:visible, select:visible, nav:visible").count(), 0);
  const height = await page.locator(".scroll", { has: page.locator(".verdicts") }).evaluate((box) => [box.scrollHeight, box.clientHeight]);
  assert.ok(height[0] <= height[1] + 1, "rows are cut off");
  assert.ok((await page.pdf({ format: "A4" })).length > 10_000);
}));

for (const colorScheme of ["light", "dark"]) {
  for (const [name, viewport] of [["desk", { width: 1280, height: 900 }], ["phone", { width: 360, height: 740 }]]) {
    test(`axe finds nothing on a ${colorScheme} ${name}, and nothing hangs over its edge`, () =>
      // Axe has to be let in past the page's own policy.
      on({ colorScheme, viewport, bypassCSP: true }, async (page) => {
        assert.deepEqual((await findings(page)).violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html)]), []);
        const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
        assert.ok(wide <= room, `${wide} pixels in ${room}`);
      }));
  }
}
