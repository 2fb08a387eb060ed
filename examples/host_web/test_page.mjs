// SPDX-License-Identifier: MIT
// Opens the built page in a headless Chromium: node test_page.mjs --dist FOLDER --chromium PATH [--screenshot FILE.png]
// It must draw, follow with the sliders, keep the trims rigid, write nothing to the console and ask nobody else for anything.
import { createServer } from "node:http";
import { readFile } from "node:fs/promises";
import { extname, join, normalize } from "node:path";
import { chromium } from "playwright-core";

const options = Object.fromEntries(process.argv.slice(2).join(" ").split("--").filter(Boolean).map((pair) => pair.trim().split(/ (.*)/)));
const types = { ".html": "text/html", ".mjs": "text/javascript", ".js": "text/javascript", ".json": "application/json", ".wasm": "application/wasm" };
const server = createServer(async (request, response) => {
  const path = normalize(new URL(request.url, "http://localhost").pathname).replace(/^\/$/, "/index.html");
  try {
    const bytes = await readFile(join(options.dist, path));
    response.writeHead(200, { "content-type": types[extname(path)] ?? "application/octet-stream" }).end(bytes);
  } catch {
    response.writeHead(404).end();
  }
});
await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
const origin = `http://127.0.0.1:${server.address().port}`;

const faults = [];
const demand = (holds, what) => { if (!holds) faults.push(what); };
const browser = await chromium.launch({
  executablePath: options.chromium,
  args: ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"],
});
try {
  const page = await browser.newPage({ viewport: { width: 1200, height: 800 } });
  page.setDefaultTimeout(90000);
  page.on("console", (message) => { if (["error", "warning"].includes(message.type()) && !/GL Driver Message/.test(message.text())) faults.push(`console: ${message.text()}`); });
  page.on("pageerror", (error) => faults.push(`page: ${error.message}`));
  page.on("request", (request) => { if (!request.url().startsWith(origin) && !request.url().startsWith("data:")) faults.push(`asked ${request.url()}`); });
  page.on("response", (response) => { if (response.status() >= 400) faults.push(`${response.status()} for ${response.url()}`); });
  await page.goto(origin);
  const state = async (sliders, soft = false) => {
    const key = await page.evaluate(([values, checked]) => {
      for (const [id, value] of Object.entries(values)) document.getElementById(id).value = value;
      document.getElementById("soft").checked = checked;
      return JSON.stringify([values, checked]);
    }, [sliders, soft]);
    await page.waitForFunction((wanted) => window.trimtackState?.key === wanted, key);
    return page.evaluate(() => window.trimtackState);
  };
  const rest = await state({ bend: 0, twist: 0, ripple: 0 });
  demand(rest.bindings > 5, `only ${rest.bindings} bindings`);
  demand(rest.rigid < 1e-4 && rest.flagged === 0, `rest: ${JSON.stringify(rest)}`);
  const bent = await state({ bend: 70, twist: 30, ripple: 0 });
  demand(bent.rigid < 3e-4, `bent: an edge of a trim changed by ${bent.rigid}`);
  demand(bent.flagged === 0, `bent: ${bent.flagged} poses flagged`);
  const image = await page.screenshot(options.screenshot ? { path: options.screenshot } : {});
  demand(image.length > 30000, "the screenshot is nearly empty");
  const rippled = await state({ bend: -60, twist: -80, ripple: 50 });
  demand(rippled.rigid < 3e-4, `rippled: an edge of a trim changed by ${rippled.rigid}`);
  const soft = await state({ bend: 70, twist: 30, ripple: 50 }, true);
  demand(soft.rigid > 0.01, "bending the trims with the cloth must show");
  demand((await page.textContent("#fault")) === "", "the page shows a fault");
  console.log(JSON.stringify({ rest, bent, rippled, soft }));
} finally {
  await browser.close();
  server.close();
}
for (const fault of faults) console.error(fault);
process.exit(faults.length === 0 ? 0 : 1);
