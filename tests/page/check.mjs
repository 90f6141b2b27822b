// A lesson page in headless Chromium: errors, playback, click-to-play, keyboard, printing, axe-core.
//
// node check.mjs PAGE.html LINE.json FOLDER: the page, the same line as `show --json` tells it (- for a page of many
// lines, which is held to its own notes), and a folder for pictures and PDFs to look at. CHROMIUM names the browser. Modules are found from the folder that NODE_FOLDER names.
import { createRequire } from "node:module";
import { readFileSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";

const [page, json, folder] = process.argv.slice(2);
const require = createRequire(resolve(process.env.NODE_FOLDER || folder, "package.json"));
const puppeteer = require("puppeteer-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const url = pathToFileURL(resolve(page)).href;
const line = json === "-" ? fromPage(readFileSync(page, "utf8")) : JSON.parse(readFileSync(json, "utf8"));

// Notes by their number on the page, with onsets in quarters, as a line has them.
function fromPage(html) {
  const data = JSON.parse(html.match(/id="playback">(.*?)<\/script>/s)[1]);
  const notes = [];
  for (const [number, start, , pitch] of data.notes) notes[number] = { onset: (start * data.tempo) / 60, pitch };
  return { notes };
}

let failures = 0;
function check(what, isTrue, detail = "") {
  console.log(`${isTrue ? "ok  " : "FAIL"} ${what}${detail ? `: ${detail}` : ""}`);
  if (!isTrue) failures += 1;
}

const browser = await puppeteer.launch({
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox"],
  headless: true,
});

async function opened({ width = 1280, height = 900, dark = false } = {}) {
  const tab = await browser.newPage();
  tab.troubles = [];
  tab.on("console", (message) => message.type() !== "log" && tab.troubles.push(message.text()));
  tab.on("pageerror", (error) => tab.troubles.push(error.message));
  tab.on("request", (request) => {
    if (!/^(file|data):/.test(request.url())) tab.troubles.push(`asks for ${request.url()}`);
  });
  await tab.setViewport({ width, height, deviceScaleFactor: width < 500 ? 2 : 1 });
  await tab.emulateMediaFeatures([{ name: "prefers-color-scheme", value: dark ? "dark" : "light" }]);
  await tab.evaluateOnNewDocument(() => {
    window.started = [];
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (at) {
      window.started.push([this.type, this.frequency.value, at]);
      return start.call(this, at);
    };
  });
  await tab.goto(url);
  return tab;
}

const status = (tab) => tab.$eval("#status", (element) => element.textContent);
const until = (tab, test, ...values) => tab.waitForFunction(test, { timeout: 15000, polling: 20 }, ...values);
const setTempo = (tab, bpm) =>
  tab.$eval("#tempo", (slider, value) => { slider.value = value; slider.dispatchEvent(new Event("input")); }, bpm);

// 1. Looks: nothing complains, nothing is wider than the screen, axe finds nothing.
for (const [name, how] of Object.entries({
  wide: {}, wide_dark: { dark: true }, narrow: { width: 390, height: 844 }, narrow_dark: { width: 390, height: 844, dark: true },
})) {
  const tab = await opened(how);
  await tab.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
  const overflow = await tab.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  check(`${name}: fits the screen`, overflow <= 0, `${overflow} px over`);
  // Through the protocol, since the page's policy refuses scripts of others.
  await tab.evaluate(axe);
  const found = await tab.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  check(`${name}: axe-core without violations`, found.violations.length === 0,
    found.violations.map((v) => `${v.id} (${v.nodes.length}: ${v.nodes[0].html.slice(0, 120)})`).join("; "));
  check(`${name}: no errors, no requests`, tab.troubles.length === 0, tab.troubles.join("; "));
  await tab.close();
}

// 2. Playback of bars: every oscillator starts when `show --json` says, at its pitch.
{
  const tab = await opened();
  const bpm = 300;
  await setTempo(tab, bpm);
  const data = JSON.parse(await tab.$eval("#playback", (element) => element.textContent));
  const count = Math.min(8, data.bars.length);
  await tab.select("#to", String(count - 1));
  await tab.click("#click");
  await tab.click("#play-bars");
  await until(tab, () => /^Ended/.test(document.getElementById("status").textContent));
  const started = await tab.evaluate(() => window.started);
  const end = data.bars[count - 1][2];
  const shown = data.notes.filter(([, start]) => start < end - 1e-4).map(([index]) => line.notes[index]);
  const origin = shown.length ? shown[0].onset - (data.notes[0][1] * data.tempo) / 60 : 0;
  const pitched = shown.filter((note) => note.pitch !== null);
  const heard = started.filter(([type]) => type === "triangle");
  check("bars: as many notes as the line has", heard.length === pitched.length, `${heard.length} of ${pitched.length}`);
  const first = heard[0][2] - ((pitched[0].onset - origin) * 60) / bpm;
  const late = heard.map(([, , at], i) => Math.abs(at - first - ((pitched[i].onset - origin) * 60) / bpm));
  check("bars: scheduled on time", Math.max(...late) < 0.001, `at most ${(Math.max(...late) * 1000).toFixed(3)} ms off`);
  const wrong = heard.filter(([, hertz], i) => Math.abs(hertz - 440 * 2 ** ((pitched[i].pitch - 69) / 12)) > 0.01);
  check("bars: at the sounding pitch", wrong.length === 0, `${wrong.length} wrong`);
  const clicks = started.filter(([type, hertz]) => type === "square" && hertz > 1000);
  const beats = data.clicks.filter(([start]) => start < end - 1e-4);
  check("metronome: a click a beat", clicks.length === beats.length, `${clicks.length} of ${beats.length}`);
  const off = clicks.map(([, , at], i) => Math.abs(at - first - (beats[i][0] * data.tempo) / bpm));
  check("metronome: on time", Math.max(...off) < 0.001, `at most ${(Math.max(...off) * 1000).toFixed(3)} ms off`);
  check("bars: no note stays lit", (await tab.$$(".lit")).length === 0);
  await tab.close();
}

// 3. A change of tempo while playing: what follows goes at the new one, without a jump.
{
  const tab = await opened();
  await setTempo(tab, 200);
  await tab.click("#play-line");
  await new Promise((done) => setTimeout(done, 1000));
  await setTempo(tab, 320);
  await new Promise((done) => setTimeout(done, 1000));
  await tab.click("#stop");
  check("stop: said, and silent", (await status(tab)) === "Stopped" && (await tab.$$(".lit")).length === 0);
  const times = (await tab.evaluate(() => window.started)).filter(([type]) => type === "triangle").map(([, , at]) => at);
  check("tempo: times only rise", times.every((at, i) => i === 0 || at >= times[i - 1]), `${times.length} notes`);
  await tab.close();
}

// 4. Click to play, in both widths: bracket, note of a figure, other bar, map.
for (const [name, how] of Object.entries({ wide: {}, narrow: { width: 390, height: 844 } })) {
  const tab = await opened(how);
  const data = JSON.parse(await tab.$eval("#playback", (element) => element.textContent));
  if (!data.marks.length) continue;
  const mark = data.marks[0];
  const click = async (selector) => {
    const element = await tab.$(selector);
    await element.evaluate((one) => one.scrollIntoView({ block: "center" }));
    await element.click();
  };
  const where = (await tab.$(`.${name}`)) ? `.${name}` : ".passages";
  await click(`${where} [data-mark="0"] .markLabel`);
  await until(tab, (words) => document.getElementById("status").textContent === words, `Playing ${mark.label}, ${mark.where}`);
  check(`${name}: a click on a bracket plays its figure`, true, await status(tab));
  await until(tab, () => document.querySelector(".lit"));
  const lit = await tab.$$eval(".lit", (all) => all.map((one) => Number(one.dataset.note)));
  check(`${name}: its notes are lit`, lit.every((note) => note >= mark.first && note <= mark.last), String(lit));
  await until(tab, () => document.getElementById("status").textContent === "Ended");
  const heard = (await tab.evaluate(() => window.started)).filter(([type]) => type === "triangle").length;
  const inside = line.notes.slice(mark.first, mark.last + 1).filter((note) => note.pitch !== null).length;
  check(`${name}: all of its notes, and no others`, heard === inside, `${heard} of ${inside}`);
  await click(`${where} [data-note="${mark.last}"] .notehead`);
  await until(tab, () => /^Playing/.test(document.getElementById("status").textContent));
  check(`${name}: a click on a note plays its figure`, true, await status(tab));
  if (await tab.$(".map [data-play]")) {
    await click(".map [data-play]");
    check(`${name}: a click on the map plays`, /^Playing/.test(await status(tab)));
  }
  const free = data.notes.find(([index]) => data.marks.every(({ first, last }) => index < first || index > last));
  if (free) {
    await click(`${where} [data-note="${free[0]}"] .notehead`);
    await until(tab, (one) => document.getElementById("status").textContent.startsWith(`Playing ${one} `), data.words.one);
    check(`${name}: a click elsewhere plays the ${data.words.one}`, true, await status(tab));
  }
  check(`${name}: no errors`, tab.troubles.length === 0, tab.troubles.join("; "));
  await tab.close();
}

// 5. The keyboard alone: skip link, every control reached, played, stopped.
{
  const tab = await opened();
  await tab.keyboard.press("Tab");
  check("keyboard: the skip link comes first", await tab.evaluate(() => document.activeElement.className === "skip"));
  await tab.keyboard.press("Enter");
  check("keyboard: it leads to the notation", await tab.evaluate(() => document.activeElement.id === "line"));
  const reached = new Set();
  let outlined = true;
  for (let i = 0; i < 400; i += 1) {
    await tab.keyboard.press("Tab");
    const told = await tab.evaluate(() => {
      const one = document.activeElement;
      const style = getComputedStyle(one);
      return [one.id || one.dataset.play || one.className, style.outlineStyle !== "none" && style.outlineWidth !== "0px", one === document.body];
    });
    if (told[2]) break;
    outlined &&= told[1];
    reached.add(told[0]);
  }
  const wanted = ["play-line", "tempo", "click", "again", "volume", "from", "to", "play-bars"];
  check("keyboard: every control is reached", wanted.every((id) => reached.has(id)), wanted.filter((id) => !reached.has(id)).join(" "));
  const buttons = await tab.$$eval("button[data-play]", (all) => all.length);
  check("keyboard: every place of a figure is reached", [...reached].filter((id) => /^\d+$/.test(id)).length === buttons, `${buttons} places`);
  check("keyboard: the focus is always seen", outlined);
  await tab.focus("#play-line");
  await tab.keyboard.press("Enter");
  await until(tab, () => /^Playing/.test(document.getElementById("status").textContent));
  await tab.keyboard.press("Escape");
  check("keyboard: Enter plays, Escape stops", (await status(tab)) === "Stopped");
  await tab.focus("#tempo");
  const before = await tab.$eval("#tempo", (slider) => Number(slider.value));
  await tab.keyboard.press("ArrowRight");
  check("keyboard: arrows set the tempo", (await tab.$eval("#tempo", (slider) => Number(slider.value))) === before + 1);
  await tab.focus("#play-line");
  await tab.keyboard.press("Space");
  await until(tab, () => !document.getElementById("stop").disabled);
  await tab.focus("#stop");
  await tab.keyboard.press("Enter");
  check("keyboard: the focus is not lost on Stop", await tab.evaluate(() => document.activeElement.id === "play-line"));
  await tab.close();
}

// 6. On paper: controls are hidden, no line of music is wider than the page.
for (const [format, width] of [["A4", 210 - 30], ["Letter", 215.9 - 30]]) {
  const tab = await opened({ width: Math.round((width / 25.4) * 96) });
  writeFileSync(`${folder}/${format}.pdf`, await tab.pdf({ format, preferCSSPageSize: false }));
  await tab.emulateMediaType("print");
  const told = await tab.evaluate(() => ({
    bar: getComputedStyle(document.querySelector(".player-bar")).display,
    wide: getComputedStyle(document.querySelector(".wide, .passages")).display,
    narrow: document.querySelector(".narrow") ? getComputedStyle(document.querySelector(".narrow")).display : "none",
    over: document.documentElement.scrollWidth - innerWidth,
  }));
  check(`${format}: controls hidden, wide notation, nothing cut`,
    told.bar === "none" && told.wide !== "none" && told.narrow === "none" && told.over <= 0, JSON.stringify(told));
  await tab.close();
}

await browser.close();
console.log(failures ? `${failures} checks failed` : "all checks hold");
process.exit(failures ? 1 : 0);
