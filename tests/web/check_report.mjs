// SPDX-License-Identifier: MIT
// Opens report pages in headless Chromium: no message on the console, no request but the page itself, drawn (the time
// is printed, not judged: it is the machine's). Usage: check_report.mjs CHROMIUM WRITE_REPORT FOLDER. Exit code 77: there is no Chromium.
import { execFileSync, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const [chromium, writeReport, folder] = process.argv.slice(2);
if (!existsSync(chromium)) {
  console.log("Chromium is not installed (Debian: chromium): SKIPPED");
  process.exit(77);
}
mkdirSync(folder, { recursive: true });
let faults = 0;
const expect = (what, good) => {
  console.log((good ? "ok   " : "FAIL ") + what);
  if (!good) faults++;
};

// Every request in the net log that a page started, as its address. Those of the browser itself have no origin.
function requests(file) {
  const log = JSON.parse(readFileSync(file, "utf8"));
  const kind = log.constants.logEventTypes.URL_REQUEST_START_JOB;
  return log.events.filter((e) => e.type === kind && e.params?.url && e.params.initiator !== "not an origin").map((e) => e.params.url);
}

const isDrawn = (dom) => /class="[^"]*drawn/.test(/<html[^>]*>/.exec(dom)[0]);

function open(page, width, height, ...more) {
  const log = page + ".net.json";
  const start = () => spawnSync(chromium, ["--headless=new", "--no-sandbox", "--disable-gpu-sandbox", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--disable-background-networking", "--disable-component-update", "--no-first-run",
    "--user-data-dir=" + join(folder, "profile"), "--enable-logging=stderr", "--log-net-log=" + log,
    "--virtual-time-budget=60000", "--window-size=" + width + "," + height, ...more, "file://" + page],
    { encoding: "utf8", maxBuffer: 1 << 28, timeout: 420000 });
  let run = start();
  const died = run.status !== 0 || !/<html/.test(run.stdout);  // a page that fails would be there
  // On a busy machine the budget of virtual time may run out before the first frame: a page that cannot draw fails twice.
  const late = !died && /data-ready="\d/.test(run.stdout) && !isDrawn(run.stdout);
  if (died || late) {
    console.log(died ? "the browser ended with " + (run.signal ?? run.status) + ", once more: " + run.stderr.slice(-600) : "not drawn in time, once more");
    run = start();
  }
  const said = run.stderr.split("\n").filter((l) => /CONSOLE/.test(l) && !/GL Driver Message/.test(l));
  return { dom: run.stdout, said, asked: requests(log).filter((u) => !/^(file|data|chrome|devtools|about):/.test(u)) };
}

for (const [kind, width, height] of [["faults", 1280, 900], ["faults", 390, 844], ["large", 1280, 900]]) {
  const page = join(folder, kind + ".html"), name = kind + " at " + width;
  execFileSync(writeReport, [page, kind], { stdio: "ignore" });
  const { dom, said, asked } = open(page, width, height, "--dump-dom");
  const ready = /data-ready="(\d+)"/.exec(dom);
  expect(name + ": ready" + (ready ? " after " + ready[1] + " ms" : ""), ready !== null);
  expect(name + ": drawn", isDrawn(dom));
  expect(name + ": console is silent " + said.slice(0, 3).join(" | "), said.length === 0);
  expect(name + ": no request " + asked.join(" "), asked.length === 0);
  expect(name + ": below 10 MB (" + statSync(page).size + ")", statSync(page).size < 10e6);
  expect(name + ": garment is shown", /id="view"/.test(dom) && !/no WebGL/.test(dom.replace(/<script[\s\S]*?<\/script>/g, "")));
  if (kind === "faults") {
    const list = /<ol id="list"[\s\S]*?<\/ol>/.exec(dom)[0];
    expect(name + ": four faults are listed", (list.match(/<li/g) || []).length === 4);
    expect(name + ": close-ups are drawn", (dom.match(/class="cut"/g) || []).length >= 4);
    expect(name + ": four plots", (dom.match(/over the frames"/g) || []).length >= 4);
  }
}
// The page used: sorted by a column, searched, a trim picked, the map of the mesh's spacing switched on.
{
  const page = join(folder, "used.html");
  const use = `<script>const wait = setInterval(() => {
    if (!document.documentElement.classList.contains("drawn")) return;
    clearInterval(wait);
    const $ = (id) => document.getElementById(id), cells = (k) => [...document.querySelectorAll("#table tbody tr")].map((r) => r.cells[k].textContent);
    const heads = () => [...document.querySelectorAll("#table thead button")], at = (name) => heads().findIndex((b) => b.textContent.startsWith(name));
    const out = { wide: document.documentElement.scrollWidth, picked: [] };
    heads()[at("Lift")].click(); out.falling = cells(at("Lift")).map(Number);
    heads()[at("Lift")].click(); out.rising = cells(at("Lift")).map(Number);
    $("find").value = "elbow"; $("find").oninput(); out.found = cells(at("Trim"));
    document.querySelectorAll("#list li")[2].click();
    out.picked = [$("picked-name").textContent, document.querySelectorAll("#plots path[stroke='#1f5fae']").length, $("shot").selectedOptions[0].textContent];
    $("show-spacing").click(); out.spacing = $("legend").textContent;
    out.parts = document.querySelectorAll("#part-table tbody tr").length;
    out.settings = document.querySelectorAll("#settings dt").length;
    document.documentElement.dataset.used = JSON.stringify(out);
  }, 50);</script></body>`;
  writeFileSync(page, readFileSync(join(folder, "faults.html"), "utf8").replace(/<\/body>\s*<\/html>\s*$/, use + "</html>"));
  const { dom, said } = open(page, 390, 844, "--dump-dom");
  const written = /data-used="([^"]*)"/.exec(dom);
  const used = JSON.parse(written[1].replaceAll("&quot;", '"'));
  const sorted = (values, sign) => values.length > 50 && values.every((v, i) => i === 0 || sign * (v - values[i - 1]) >= 0);
  expect("used: sorts falling and rising", sorted(used.falling, -1) && sorted(used.rising, 1) && used.falling[0] > 1);
  expect("used: finds " + used.found.join(), used.found.length === 1 && used.found[0].includes("elbow"));
  expect("used: a pick is followed by plots and view " + used.picked.join(), used.picked[0].includes("elbow") && used.picked[1] === 4 && /^frame/.test(used.picked[2]));
  expect("used: the map says " + used.spacing, /mm.*mm between vertices/.test(used.spacing));
  expect("used: parts and settings", used.parts >= 8 && used.settings >= 1);
  expect("used: no wider than the narrowest window (" + used.wide + ")", used.wide <= 500);
  expect("used: console is silent " + said.slice(0, 3).join(" | "), said.length === 0);
}

// A page that asks for something is caught.
const asking = join(folder, "asking.html");
writeFileSync(asking, '<img src="http://127.0.0.1:9/picture.png">');
expect("a request is noticed", open(asking, 600, 400, "--dump-dom").asked.join() === "http://127.0.0.1:9/picture.png");

// Without a still picture (built without cairo) front and back are drawn by the page itself.
{
  const page = join(folder, "no_still.html");
  const use = `<script>const wait = setInterval(() => {
    if (!document.documentElement.classList.contains("drawn")) return;
    clearInterval(wait);
    const inked = (id) => {
      const c = document.getElementById(id), data = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
      return data.reduce((n, v, i) => n + (i % 4 === 3 && v > 0), 0) / (c.width * c.height);
    };
    document.documentElement.dataset.inked = JSON.stringify(["front", "back"].map(inked));
  }, 50);</script></body>`;
  const text = readFileSync(join(folder, "faults.html"), "utf8").replace(/<figure id="still">[\s\S]*?<\/figure>/, "");
  writeFileSync(page, text.replace(/<\/body>\s*<\/html>\s*$/, use + "</html>"));
  const { dom, said } = open(page, 1280, 900, "--dump-dom");
  const inked = JSON.parse(/data-inked="([^"]*)"/.exec(dom)?.[1] ?? "[]");
  expect("without a still picture: front and back are drawn " + inked, inked.length === 2 && inked.every((part) => part > 0.1 && part < 0.95));
  expect("without a still picture: console is silent " + said.slice(0, 3).join(" | "), said.length === 0);
}

// Without WebGL the still picture stands in, and nothing else is lost.
{
  const { dom, said } = open(join(folder, "faults.html"), 1280, 900, "--dump-dom", "--disable-3d-apis");
  const plain = dom.replace(/<script[\s\S]*?<\/script>/g, "");
  expect("without WebGL: ready", /data-ready="/.test(plain) && !isDrawn(plain));
  expect("without WebGL: a picture", /<figure id="still"><img[^>]*data:image\/png;base64,iVBOR/.test(plain) && /no WebGL 2/.test(plain));
  expect("without WebGL: close-ups and list", (plain.match(/class="cut"/g) || []).length >= 4 && (/<ol id="list"[\s\S]*?<\/ol>/.exec(plain)[0].match(/<li/g) || []).length === 4);
  expect("without WebGL: console is silent " + said.slice(0, 3).join(" | "), said.length === 0);
}
process.exit(faults ? 1 : 0);
