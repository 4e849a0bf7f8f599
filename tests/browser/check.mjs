// Holds pages in a headless browser: console, requests, both themes, a phone's width and a desk's, print, a validator,
// and an accessibility checker. Prints what it finds and ends with 1 when it finds anything.
//
//     node check.mjs PAGE.html... [--shots FOLDER]
import { readFileSync, mkdirSync, existsSync } from "node:fs";
import { basename, join, resolve } from "node:path";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { HtmlValidate, StaticConfigLoader } from "html-validate";
import puppeteer from "puppeteer-core";

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const BROWSERS = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const WIDTHS = [390, 1280];
const THEMES = ["light", "dark"];

const words = process.argv.slice(2);
const at = words.indexOf("--shots");
const shots = at < 0 ? null : words.splice(at, 2)[1];
if (shots) mkdirSync(shots, { recursive: true });
const executablePath = BROWSERS.find((path) => path && existsSync(path));
if (!executablePath || !words.length) {
  console.error("needs Chromium (or CHROMIUM=path) and the pages to check");
  process.exit(2);
}

let faults = 0;
function fault(page, text) {
  faults += 1;
  console.log(`  ${basename(page)}: ${text}`);
}

const validator = new HtmlValidate(new StaticConfigLoader({
  extends: ["html-validate:standard", "html-validate:document"],
}));

async function validate(path) {
  const report = await validator.validateString(readFileSync(path, "utf8"), path);
  const found = report.results.flatMap((result) => result.messages);
  for (const m of found) fault(path, `validator, line ${m.line}: ${m.message} (${m.ruleId})`);
  return found.length;
}

async function look(browser, path, width, theme) {
  const page = await browser.newPage();
  const where = `${width} px, ${theme}`;
  const url = pathToFileURL(resolve(path)).href;
  page.on("console", (message) => fault(path, `console, ${where}: ${message.text()}`));
  page.on("pageerror", (error) => fault(path, `error, ${where}: ${error.message}`));
  page.on("request", (request) => {
    if (request.url() !== url && !request.url().startsWith("data:")) fault(path, `request: ${request.url()}`);
  });
  page.on("requestfailed", (request) => fault(path, `cannot be shown, ${where}: ${request.url().slice(0, 60)}`));
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: theme }]);
  await page.setViewport({ width, height: 900, deviceScaleFactor: 1, isMobile: width < 500 });
  await page.goto(url, { waitUntil: "load" });
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  if (wide > width) fault(path, `${wide} px wide on ${width} px`);
  const silent = await page.evaluate(() => Promise.all([...document.querySelectorAll("audio")].map((audio) =>
    audio.readyState > 0 ? 0 : new Promise((done) => {
      audio.addEventListener("loadedmetadata", () => done(0));
      setTimeout(() => done(1), 3000);
    }))).then((all) => all.reduce((a, b) => a + b, 0)));
  if (silent) fault(path, `${silent} clips cannot be played`);
  if (shots) await page.screenshot({ path: join(shots, `${basename(path, ".html")}-${width}-${theme}.png`), fullPage: true });
  if (shots && width > 500 && theme === "light") {
    await page.pdf({ path: join(shots, `${basename(path, ".html")}.pdf`), format: "A4", printBackground: false });
  }
  // The page allows no script; the checker comes in beside it.
  const session = await page.createCDPSession();
  await session.send("Page.setBypassCSP", { enabled: true });
  await page.reload({ waitUntil: "load" });
  await page.evaluate(AXE);
  const found = await page.evaluate(async () => (await window.axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  })).violations.map((v) => ({ id: v.id, impact: v.impact, help: v.help, nodes: v.nodes.slice(0, 3).map((n) => n.html.slice(0, 140)) })));
  for (const v of found) fault(path, `accessibility, ${where}: ${v.impact} ${v.id}: ${v.help}\n      ${v.nodes.join("\n      ")}`);
  await page.close();
}

const browser = await puppeteer.launch({ executablePath, args: ["--no-sandbox", "--disable-gpu", "--font-render-hinting=none"] });
try {
  for (const path of words) {
    await validate(path);
    for (const width of WIDTHS) for (const theme of THEMES) await look(browser, path, width, theme);
  }
} finally {
  await browser.close();
}
console.log(`${words.length} pages, ${WIDTHS.length} widths, ${THEMES.length} themes: ${faults} findings`);
process.exit(faults ? 1 : 0);
