// The program, a folder of its own, and a browser that is not let out.

import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const PROGRAM = process.env.BACKPORCH;

/** A folder that is gone after the tests. */
export function folder() {
  const path = mkdtempSync(join(tmpdir(), "backporch-report-"));
  return { path, file: (name) => join(path, name), remove: () => rmSync(path, { recursive: true, force: true }) };
}

/** Runs the program; gives standard output. Damage found (status 1) is an answer, too. */
export function run(here, ...words) {
  const done = spawnSync(PROGRAM, words, { cwd: here.path, encoding: "utf8", maxBuffer: 1 << 28 });
  if (done.status !== 0 && done.status !== 1) throw new Error(`${words.join(" ")}: ${done.stderr}`);
  return done.stdout;
}

/** Runs a command line as a shell would, with the program under the name it goes by. */
export function shell(here, line) {
  const script = `backporch() { "$BACKPORCH" "$@"; }; ${line}`;
  try {
    return execFileSync("bash", ["-c", script], { cwd: here.path, encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
  } catch (error) {
    if (error.status === 1) return error.stdout;
    throw error;
  }
}

/** Starts Chromium without anything that would talk to a network of its own accord. */
export function launch() {
  const still = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"];
  const args = [...still, "--disable-component-update", "--disable-sync", "--no-sandbox"];
  return chromium.launch({ executablePath: process.env.CHROMIUM, args });
}

/** Opens a page from disk. `complaints` gathers whatever ought not to be. */
export async function open(browser, path, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, offline: true, ...options });
  const page = await context.newPage();
  const address = pathToFileURL(path).href;
  const complaints = [];
  page.on("console", (message) => complaints.push(`console ${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => complaints.push(`error: ${error.message}`));
  page.on("dialog", (dialog) => { complaints.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
  page.on("request", (request) => {
    const url = request.url();
    if (url !== address && !url.startsWith("data:") && !url.startsWith(`${address}#`)) complaints.push(`request: ${url}`);
  });
  await page.goto(address);
  return { page, context, complaints };
}

// Runs in the browser: bytes as base64, which crosses to here far faster than a list of numbers.
const SEND = `(frame) => {
  let text = "";
  for (let at = 0; at < frame.data.length; at += 32768) text += String.fromCharCode(...frame.data.subarray(at, at + 32768));
  return { width: frame.width, height: frame.height, base64: btoa(text) };
}`;

/** Width, height and pixels (red, green, blue, opaque) that were sent. */
function received({ width, height, base64 }) {
  return { width, height, pixels: Buffer.from(base64, "base64") };
}

/** What a canvas of the player shows. */
export async function pane(page, name) {
  return received(await page.evaluate(`((canvas) => (${SEND})(canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height)))
    (document.getElementById("pane-${name}"))`));
}

/** The same of a PNG file, decoded by the browser on a page of its own. */
export async function png(browser, path) {
  const context = await browser.newContext();
  const page = await context.newPage();
  const base64 = readFileSync(path).toString("base64");
  const output = await page.evaluate(`(async () => {
    const image = new Image();
    image.src = "data:image/png;base64,${base64}";
    await image.decode();
    const canvas = new OffscreenCanvas(image.naturalWidth, image.naturalHeight);
    const to = canvas.getContext("2d");
    to.drawImage(image, 0, 0);
    return (${SEND})(to.getImageData(0, 0, canvas.width, canvas.height));
  })()`);
  await context.close();
  return received(output);
}

/** Waits until the player shows the step of that number in the sweep. */
export const shows = (page, step) => page.waitForSelector(`#player[data-shown="${step}"]`);

/** Saves every file of a page into a folder; gives the names. */
export async function save(page, here) {
  const names = [];
  for (const link of await page.locator("a.save").all()) {
    const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
    names.push(await link.getAttribute("download"));
    await download.saveAs(here.file(names.at(-1)));
  }
  return names;
}

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** What axe has to say; the page has to be opened past its own policy. */
export async function findings(page) {
  await page.evaluate(AXE);
  return page.evaluate(() => globalThis.axe.run());
}
