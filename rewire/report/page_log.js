// ---- ticks and figures: kept in this browser for this very spec, judged, saved as a bench log

const KEY = `rewire ${data.digest}`;
const kept = { ticks: {}, blanks: {}, others: [] }; // others: lines of a log with no place here
for (const box of every("td input[data-entry][type=checkbox]")) {
  const read = Object.assign(document.createElement("input"), { type: "text" });
  read.dataset.entry = box.dataset.entry;
  box.closest("td").append(read);
}
const inputs = every(".chapter td input");
const isTick = (input) => input.type === "checkbox";
const entries = data.entries.map((line) => {
  if (!Array.isArray(line)) return line;
  const [wiring, state, between, expect, least, most] = line;
  return { in: "continuity", wiring, when: data.states[state], between, expect, least, most };
});
const entryOf = (input) => entries[input.dataset.entry] ?? null;

// Called by the line of a log that it fills, else by its heading, row and column; and named so.
function nameInputs() {
  const times = new Map();
  for (const row of every(".chapter tbody tr")) {
    const heads = every("thead th, thead td", row.closest("table")).map((head) => head.textContent);
    const title = row.closest(".chapter").querySelector("h2 bdi").textContent;
    const said = [...row.cells].map((cell) => cell.textContent.trim()).filter(Boolean).join(", ");
    for (const input of every("input", row)) {
      const { cellIndex: column } = input.closest("td");
      const place = [title, said, heads[column] ?? "", column].join(" | ");
      const nth = times.get(place) ?? 0;
      times.set(place, nth + (isTick(input) ? 1 : 0));
      const entry = entryOf(input);
      input.dataset.key = entry ? JSON.stringify(entry) : `${place} | ${nth}`;
      const label = [heads[column], said].filter(Boolean).join(": ").slice(0, 160);
      input.setAttribute("aria-label", (isTick(input) ? label : `${label}: found`) || "found");
    }
  }
}

const OHMS = /^([0-9]+(?:[.,][0-9]+)?)\s*([kM]?)\s*(?:ohms?|Ω|R)?$/i;
const WORDS = { open: /^(open|o\.?l|0l|∞)$/i, closed: /^(closed|beep)$/i };

// What an ohmmeter found: "open", "closed" or ohms; null where it cannot be read.
function ohmsOf(text) {
  const said = Object.keys(WORDS).find((word) => WORDS[word].test(text));
  if (said) return said;
  const [, number, prefix] = OHMS.exec(text) ?? [];
  if (number === undefined) return null;
  return Number(number.replace(",", ".")) * ({ k: 1e3, K: 1e3, m: 1e6, M: 1e6 }[prefix] ?? 1);
}

function inOhms(ohms) {
  const [by, letter] = ohms >= 1e6 ? [1e6, "M"] : ohms >= 1e3 ? [1e3, "k"] : [1, ""];
  return `${Number((ohms / by).toPrecision(3))} ${letter}Ω`;
}

function goodOf({ expect, least, most }) {
  if (most === null) return "open is good";
  if (expect === "closed") return `closed is good, under ${inOhms(most)}`;
  return `${inOhms(least)} to ${inOhms(most)} is good`;
}

// In words what is off about a reading; empty where nothing is.
function offOf(entry, text) {
  if (entry?.in !== "continuity" || !text) return "";
  const found = ohmsOf(text);
  const good = goodOf(entry);
  if (found === null) return "write ohms such as 12.3 or 4.7k, or open, or closed";
  if (found === "open") return entry.most === null ? "" : `OFF: open; ${good}`;
  if (found === "closed" && entry.least > 0 && entry.most !== null && entry.most <= data.beeps) {
    return "a beep does not tell: read the ohms";
  }
  const ohms = found === "closed" ? 0 : found;
  const most = entry.most ?? Infinity;
  return ohms < entry.least || ohms > most ? `OFF: ${text}; ${good}` : "";
}

function judge(input) {
  const said = offOf(entryOf(input), isTick(input) ? "" : input.value.trim());
  const cell = input.closest("td");
  let told = cell.querySelector("output");
  if (!told && said) {
    told = document.createElement("output");
    cell.append(told);
  }
  if (told && !isTick(input)) told.textContent = said;
}

function keep() {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    document.getElementById("unkept").hidden = false;
  }
  count();
}

// What somebody else wrote under our key is as good as nothing.
function recall() {
  try {
    const was = JSON.parse(localStorage.getItem(KEY)) ?? {};
    for (const [key, on] of Object.entries(was.ticks ?? {})) if (on === true) kept.ticks[key] = true;
    for (const [key, text] of Object.entries(was.blanks ?? {})) {
      if (typeof text === "string") kept.blanks[key] = text;
    }
    if (Array.isArray(was.others)) kept.others = was.others;
  } catch (trouble) {
    if (trouble.name === "SecurityError") document.getElementById("unkept").hidden = false;
  }
}

// The inputs as they are kept; the same line of a log may stand in two tables.
function fill() {
  for (const input of inputs) {
    const { key } = input.dataset;
    if (isTick(input)) input.checked = kept.ticks[key] === true;
    else if (input.value !== (kept.blanks[key] ?? "")) input.value = kept.blanks[key] ?? "";
    judge(input);
  }
  count();
}

function count() {
  for (const part of every(".chapter")) {
    const boxes = inputs.filter((input) => isTick(input) && part.contains(input));
    const said = part.querySelector(".done");
    said.hidden = boxes.length === 0;
    said.textContent = `${boxes.filter((box) => box.checked).length} of ${boxes.length} done`;
  }
}

function set(input) {
  const { key } = input.dataset;
  const [where, what] = isTick(input) ? [kept.ticks, input.checked] : [kept.blanks, input.value];
  if (what) where[key] = what;
  else delete where[key];
}

// ---- the bench log: YAML of which each line of a list is JSON

const LISTS = ["continuity", "calibration", "acceptance", "notes"];

// A line of the log for what stands in an input, or null; a tick says that it is as it must be.
function lineOf(entry, text, ticked) {
  if (entry.in === "continuity") {
    const found = text ? ohmsOf(text) : ticked && entry.expect !== "ohms" ? entry.expect : null;
    if (found === null) return null;
    const said = typeof found === "number" ? `${found} ohm` : found;
    return { when: entry.when, between: entry.between, found: said };
  }
  if (!text) return entry.in === "acceptance" && ticked ? { test: entry.test, found: "pass" } : null;
  const bare = /^-?[0-9.]+$/.test(text) && entry.unit ? `${text} ${entry.unit}` : text;
  if (entry.in === "acceptance") return { test: entry.test, found: bare };
  if (entry.in === "calibration") return { reading: entry.reading, applied: entry.applied, indicated: bare };
  return entry.in === "notes" ? `${entry.label}: ${text}` : text;
}

// A log per wiring of which something was measured, and how many figures could not be read.
function logs() {
  const made = new Map();
  const seen = new Set();
  let unread = 0;
  for (const input of inputs.filter((one) => one.dataset.entry)) {
    const { key } = input.dataset;
    if (seen.has(key)) continue;
    seen.add(key);
    const entry = entryOf(input);
    const [text, ticked] = [(kept.blanks[key] ?? "").trim(), kept.ticks[key] === true];
    const line = lineOf(entry, text, ticked);
    if (line === null) unread += text || ticked ? 1 : 0;
    else add(made, entry.wiring, entry.in, line);
  }
  for (const { wiring, list, line } of kept.others) add(made, wiring, list, line);
  return { made, unread };
}

function add(made, wiring, list, line) {
  if (!made.has(wiring)) made.set(wiring, {});
  const log = made.get(wiring);
  if (LISTS.includes(list)) (log[list] ??= []).push(line);
  else log[list] = line;
}

const written = (wiring, log) => [
  "rewire_bench: 1", `wiring: ${JSON.stringify(wiring)}`,
  ...Object.entries(log).flatMap(([key, held]) => Array.isArray(held)
    ? [`${key}:`, ...held.map((line) => `  - ${JSON.stringify(line)}`)]
    : [`${key}: ${JSON.stringify(held)}`]),
  "",
].join("\n");

function tell(text) {
  document.getElementById("log").textContent = text;
}

function download(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/yaml" }));
  link.download = name;
  link.click();
}

function save() {
  const { made, unread } = logs();
  const several = made.size > 1;
  for (const [wiring, log] of made) {
    download(`bench-log${several ? `-${wiring}` : ""}.yaml`, written(wiring, log));
  }
  const left = unread ? ` ${unread} without a figure that can be read are not in it.` : "";
  tell(made.size ? `Saved.${left}` : `Nothing was measured yet.${left}`);
}

// A log as this page writes it: after each key JSON, or a list with JSON on each line.
function parsed(text) {
  const log = {};
  let list = null;
  for (const line of text.split(/\r?\n/).filter(Boolean)) {
    const [, key, item] = /^(?:(\w+):|  -) ?(.*)$/.exec(line);
    if (key && !item) list = log[key] = [];
    else if (key) log[key] = JSON.parse(item);
    else list.push(JSON.parse(item));
  }
  return log;
}

const alike = (one, other) => JSON.stringify(one) === JSON.stringify(other);
const stateOf = (when) => Object.entries(when ?? {}).map(String).sort();

// Whether a line of a log is the one that an input fills; controls left out may stand anywhere.
function fits(entry, list, line) {
  if (entry.in !== list) return false;
  if (list === "acceptance") return entry.test === line.test;
  if (list === "notes") return String(line).startsWith(`${entry.label}: `);
  if (list === "calibration") return entry.reading === line.reading && entry.applied === line.applied;
  if (list !== "continuity") return true;
  const here = stateOf(entry.when);
  return alike([...entry.between].sort(), [...(line.between ?? [])].sort()) &&
    stateOf(line.when).every((at) => here.includes(at));
}

function place(wiring, list, line, taken) {
  const free = (one) => !taken.has(one.dataset.key);
  const input = inputs.find((one) => one.dataset.entry && free(one) &&
    entryOf(one).wiring === wiring && fits(entryOf(one), list, line));
  if (!input || (line.note ?? "") !== "") {
    kept.others.push({ wiring, list, line });
    return false;
  }
  const { key } = input.dataset;
  taken.add(key);
  const said = String(line.found ?? line.indicated ?? line);
  const { expect, label } = entryOf(input);
  if (said === expect || (list === "acceptance" && said === "pass")) kept.ticks[key] = true;
  else kept.blanks[key] = list === "notes" ? said.slice(label.length + 2) : said;
  return true;
}

// What somebody else wrote fills the page when it is made with it: then Python has read it.
function open(text) {
  try {
    return take(parsed(text));
  } catch {
    return tell("This is no bench log that this page saved; rewire sheet --log makes a page with any.");
  }
}

// Fills the page from a log; lines that have no place on it are kept, and saved again.
function take({ rewire_bench: mark, wiring, ...held }) {
  if (!mark || !data.wirings.some(({ name }) => name === wiring)) {
    return tell(`This is no bench log of a wiring on this page${wiring ? `: ${wiring}` : ""}.`);
  }
  const taken = new Set();
  const lines = Object.entries(held).flatMap(([list, of]) => [].concat(of).map((line) => [list, line]));
  const placed = lines.filter(([list, line]) => place(wiring, list, line, taken));
  fill();
  keep();
  const other = lines.length - placed.length;
  tell(`${placed.length} lines of the log are filled in${other ? `; ${other} have no place here, and are kept` : ""}.`);
  return undefined;
}

function wireLog() {
  document.addEventListener("input", ({ target }) => {
    if (!target.dataset.key) return;
    set(target);
    fill();
    keep();
  });
  document.getElementById("forget").addEventListener("click", () => {
    kept.ticks = {};
    fill();
    keep();
  });
  document.getElementById("save").addEventListener("click", save);
  document.getElementById("open").addEventListener("change", async ({ target }) => {
    if (target.files[0]) open(await target.files[0].text());
    target.value = "";
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", async (event) => {
    event.preventDefault();
    const [file] = event.dataTransfer.files;
    if (file) open(await file.text());
  });
  // The same page in another tab has kept something.
  window.addEventListener("storage", ({ key, newValue }) => {
    if (key !== KEY || newValue === null) return;
    [kept.ticks, kept.blanks] = [{}, {}];
    recall();
    fill();
  });
  const link = document.getElementById("download");
  link.href = URL.createObjectURL(new Blob([data.source], { type: "application/yaml" }));
  link.download = data.file;
}

nameInputs();
recall();
if (data.measured && !Object.keys(kept.blanks).length) take(data.measured);
fill();
wireLog();
