// Looks at the pages that people see, in Chromium: rules of accessibility, narrow screens, the keyboard alone, a dropped line.
//
//   node look.mjs CHROMIUM SEEN.json     {"pages": [{"name", "url", "token"?}], "form": "http://...", "out": "directory"}
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

const [executablePath, told] = process.argv.slice(2);
const { pages, form, out } = JSON.parse(readFileSync(told, "utf8"));
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync"];
const browser = await chromium.launch({ executablePath, args: quiet });
let passed = 0;
const faults = [];

function must(holds, what) {
  if (holds) passed += 1;
  else faults.push(what);
}

for (const { name, url, token } of pages) {
  for (const width of [360, 1000]) {
    const headers = token ? { authorization: `Bearer ${token}` } : {};
    const context = await browser.newContext({ viewport: { width, height: 800 }, extraHTTPHeaders: headers, bypassCSP: true });
    const page = await context.newPage();
    const answer = await page.goto(url);
    must(answer.status() === 200, `${name}: ${answer.status()}`);
    const overflows = await page.evaluate(() => document.documentElement.scrollWidth > document.documentElement.clientWidth);
    must(!overflows, `${name}, ${width} px: wider than the screen`);
    await page.evaluate(axe);
    const { violations, passes } = await page.evaluate(() => window.axe.run());
    must(passes.length > 10, `${name}: hardly a rule was tried`);
    for (const { id, nodes } of violations) faults.push(`${name}, ${width} px: ${id}: ${nodes[0].html.slice(0, 200)}`);
    await page.screenshot({ path: `${out}/${name}-${width}.png`, fullPage: width === 360 });
    if (width === 1000) {
      const paper = await page.pdf({ path: `${out}/${name}.pdf`, format: "A4" });
      must(paper.length > 5000, `${name}: prints nothing`);
    }
    await context.close();
  }
}

// The form, without a pointer and without its policy lifted.
const context = await browser.newContext({ viewport: { width: 360, height: 740 } });
const page = await context.newPage();
const complaints = [];
page.on("console", (message) => message.type() === "error" && complaints.push(message.text()));
page.on("pageerror", (error) => complaints.push(String(error)));
await page.goto(form);
const reached = new Set();
/// A moment by the clock of the site, so many minutes from now: month, day and year, and the hour as the browser asks for it.
function clock(minutes) {
  const told = new Date(Date.now() + minutes * 60_000).toLocaleString("sv-SE", { timeZone: "Europe/London" });
  const [year, month, day, hour, minute] = told.split(/[- :]/);
  const of12 = String(hour % 12 || 12).padStart(2, "0");
  return { date: month + day + year, time: `${of12}${minute}${hour < 12 ? "AM" : "PM"}` };
}
const filled = {};
for (let tabs = 0; tabs < 120; tabs += 1) {
  await page.keyboard.press("Tab");
  const at = await page.evaluate(() => {
    const on = document.activeElement;
    const { outlineStyle } = getComputedStyle(on);
    return { tag: on.tagName, type: on.type, name: on.name, value: on.value, outline: outlineStyle };
  });
  if (at.tag === "BODY") break;
  if (at.tag === "BUTTON") {
    reached.add("button");
    break;
  }
  if (reached.has(at.name)) continue;
  reached.add(at.name);
  must(at.outline !== "none", `${at.name}: nobody sees where the keyboard is`);
  // In the order of the browser's parts: month, day, year, hour, minute, half of the day.
  if (/_at$/.test(at.name)) {
    const hour = at.name === "started_at" ? "06" : "09";
    const { date, time } = clock(at.name === "started_at" ? 2 : 200);
    await page.keyboard.type(date);
    await page.keyboard.press("Tab");
    await page.keyboard.type(time);
  }
  if (at.name === "note") await page.keyboard.type("Done by the keyboard alone");
  if (/^hours_|^litres_/.test(at.name)) {
    await page.keyboard.press("Control+A");
    await page.keyboard.type("1.5");
  }
}
must(reached.has("button"), "the keyboard does not reach the button");
const fields = await page.locator("input:not([type=hidden]), textarea").evaluateAll((all) => all.map((field) => field.name));
for (const name of fields) must(reached.has(name), `the keyboard does not reach ${name}`);
for (const name of fields) filled[name] = await page.locator(`[name="${name}"]`).inputValue();

await context.setOffline(true);
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.querySelector("[role=status], [role=alert]")?.textContent.trim());
for (const name of fields) {
  const kept = await page.locator(`[name="${name}"]`).inputValue();
  must(kept === filled[name], `${name}: what was typed is gone with the line`);
}
await page.screenshot({ path: `${out}/form-offline.png`, fullPage: true });
await context.setOffline(false);
// The browser's own complaint about the dropped line, and none of ours.
must(complaints.every((text) => /ERR_INTERNET_DISCONNECTED/.test(text)), complaints.join("; "));
await Promise.all([page.waitForNavigation(), page.locator("button[type=submit]").press("Enter")]);
const said = await page.locator("main").innerText();
must((await page.locator("form").count()) === 0 && /by the keyboard alone/.test(said), `the form says: ${said.slice(0, 400)}`);
await page.screenshot({ path: `${out}/form-done.png`, fullPage: true });
await browser.close();

for (const fault of faults) console.log(`FAILED: ${fault}`);
console.log(`test result: ${faults.length ? "FAILED" : "ok"}. ${passed} passed; ${faults.length} failed; pages in a browser`);
process.exit(faults.length ? 1 : 0);
