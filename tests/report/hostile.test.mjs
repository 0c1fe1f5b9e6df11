// Names and texts that hold markup and script, in every file form that a page is made of, come out as text.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";
import { findings, folder, launch, open, run, save, shell, shows } from "./bench.mjs";

const MARKUP = `<img src=x onerror=alert(1)><script>alert(2)</script></script>"'&amp;`;
const RON = JSON.stringify(MARKUP);
// What a file may be called: no slash.
const NAME = `<img src=x onerror=alert(3)>"'&.`;
const assets = (name) => readFileSync(fileURLToPath(new URL(`../../assets/${name}`, import.meta.url)), "utf8");

const here = folder();
let browser;

before(async () => {
  browser = await launch();
  mkdirSync(here.file("parts"));
  const adapter = assets("adapters/linear-256.ron")
    .replace(/name: "linear-256"/, `name: ${RON}`)
    .replace(/title: "64 KiB[^"]*"/, `title: ${RON}`)
    .replace(/name: "320x200x256"/, `name: ${RON}`)
    .replace(/title: "320 × 200, 256 colours"/, `title: ${RON}`)
    .replace(/means: "Characters shown[^"]*"/, `means: ${RON}`);
  const monitor = assets("monitors/fixed-31.ron").replace(/name: "fixed-31"/, `name: ${RON}`).replace(/title: "[^"]*"/, `title: ${RON}`);
  writeFileSync(here.file(`parts/${NAME}adapter.ron`), adapter);
  writeFileSync(here.file(`parts/${NAME}monitor.ron`), monitor);
  const quirk = readFileSync(fileURLToPath(new URL("../../quirks/row-reload.ron", import.meta.url)), "utf8")
    .replace(/title: "[^"]*"/, `title: ${RON}`).replace(/cause: "[^"]*"/, `cause: ${RON}`).replace(/looks: "[^"]*"/, `looks: ${RON}`);
  writeFileSync(here.file(`parts/${NAME}quirk.ron`), quirk);
  run(here, "frame", "harbour-256-plain", "--out", `parts/${NAME}png`);
  const part = (name) => JSON.stringify(`parts/${NAME}${name}`);
  writeFileSync(here.file(`${NAME}bench.ron`), `// ${MARKUP}
(version: 1, title: ${RON}, adapter: ${part("adapter.ron")}, registers: {"displayed": 35}, quirks: [(name: ${part("quirk.ron")})],
 picture: (source: ${part("png")}), monitor: ${part("monitor.ron")})`);
  const suspect = { quirk: "row-reload", parameters: { row_bytes: 256, reloads: 1 }, probability: 0.9, explains: 3, contradicts: 0 };
  const outcomes = [{ sees: MARKUP, probability: 0.5, suspects: [MARKUP] }];
  writeFileSync(here.file("diagnosis.json"), JSON.stringify({
    says: MARKUP, suspects: [suspect], indistinguishable: [[MARKUP, "row-reload"]],
    probes: [{ registers: { [MARKUP]: 3 }, expected_information_bits: 1.5, outcomes }],
  }));
  writeFileSync(here.file("hazards.json"), JSON.stringify({
    frames: 3, hazards: [{ kind: MARKUP, frame: 1, line: 300, dot: 700, what: MARKUP, cure: MARKUP }],
  }));
  run(here, "report", `${NAME}bench.ron`, "--over", "start_address=0..4",
    "--diagnosis", "diagnosis.json", "--hazards", "hazards.json", "--title", `A page of ${MARKUP}`, "--out", "page.html");
});
after(async () => {
  await browser?.close();
  here.remove();
});

test("markup in files and names stays text, and the page does its work", async () => {
  const { page, context, complaints } = await open(browser, here.file("page.html"), { bypassCSP: true });
  await page.waitForSelector("#player[data-shown]");
  assert.equal(await page.title(), `A page of ${MARKUP}`);
  assert.equal(await page.locator("h1").innerText(), `A page of ${MARKUP}`);
  // The page's own script and its data, and no picture that is not the page's.
  assert.equal(await page.locator("script").count(), 2);
  assert.equal(await page.locator("img:not([src^='data:image/png;base64,'])").count(), 0);
  const text = await page.locator("#bench").innerText();
  assert.ok(text.split(MARKUP).length > 7, "title, board, mode, monitor and quirk are named");
  for (const [section, times] of [["#diagnosis", 5], ["#hazards", 3]]) {
    assert.equal((await page.locator(section).innerText()).split(MARKUP).length, times + 1, section);
  }
  assert.deepEqual((await findings(page)).violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html)]), []);
  await page.focus("#scrub");
  await page.keyboard.press("Home");
  await shows(page, 0);
  assert.deepEqual(complaints, []);
  await context.close();
});

test("even a script that got in would not run", async () => {
  const html = readFileSync(here.file("page.html"), "utf8").replace("</h1>", "</h1><script>document.title = 'owned'</script>");
  writeFileSync(here.file("forced.html"), html);
  const { page, context, complaints } = await open(browser, here.file("forced.html"));
  assert.notEqual(await page.title(), "owned");
  assert.ok(complaints.some((complaint) => complaint.includes("Content Security Policy")));
  await context.close();
});

test("its case makes it again", async () => {
  const { page, context } = await open(browser, here.file("page.html"));
  await page.waitForSelector("#player[data-shown]");
  const again = folder();
  const names = await save(page, again);
  assert.equal(names.length, 1);
  shell(again, `${await page.locator("#command").innerText()} --out again.html`);
  const rows = (at) => page.goto(`file://${at}`).then(() => page.locator("table.verdicts tbody").innerText());
  assert.equal(await rows(again.file("again.html")), await rows(here.file("page.html")));
  again.remove();
  await context.close();
});
