// Turns the switches of the page and lights what belongs together.
// Everything it knows stands in the element "data"; it fetches nothing.
"use strict";

const data = JSON.parse(document.getElementById("data").textContent);
const every = (query, within = document) => [...within.querySelectorAll(query)];
// It opens where the first reading is taken, so that its path is seen.
const start = data.wirings[data.first].paths[0]?.carried[0]?.at ?? {};
const position = data.controls.map(({ name, positions }) => Math.max(positions.indexOf(start[name]), 0));
let chosen = data.first;
const wiringOf = (element) => Number(element.closest("[data-wiring]")?.dataset.wiring ?? data.first);
const original = data.wirings.findIndex(({ name }) => name === "original");
// The chosen wiring stands beside the original, on a screen with room for two; that beside a plan.
const beside = () => (chosen === original ? data.first : original);
const shown = () => [chosen, beside()];
const MOST_NAMED = 12;
let pinned = null;

// ---- drawn and named here, for without the script nothing of it is seen

const NAME = /[A-Za-z][A-Za-z0-9_-]*(?:\.[A-Za-z0-9_+-]+)?/g;
const MOST_SEARCHED = 400;

// Rows say what lights up with them: a wire alone if its name comes first, else all they name.
function nameRows() {
  const known = new Map(data.wirings.flatMap(({ terminals }) => terminals.flatMap((one) => [
    [one, `t:${one}`], ...(one.includes(".") ? [[one.split(".")[0], `p:${one.split(".")[0]}`]] : []),
  ])));
  for (const { id } of data.wirings[data.first].wires) known.set(id, `w:${id}`);
  for (const row of every(".chapter tbody tr")) {
    const said = [...row.cells].map((cell) => cell.textContent.slice(0, MOST_SEARCHED)).join(" ");
    const found = new Set((said.match(NAME) ?? []).map((name) => known.get(name)).filter(Boolean));
    const [first] = found;
    if (!first) continue;
    row.dataset.about = first[0] === "w" ? first : [...found].join(" ");
    row.setAttribute("tabindex", "-1");
  }
}

const BULGES = [0, 0.18, -0.18, 0.35, -0.35, 0.6, -0.6];
const STEPS = 32;

// From one lug to another, bent out by a part of its length.
function course([ax, ay], [bx, by], bulge) {
  const [mx, my] = [(ax + bx) / 2 - 2 * bulge * (by - ay), (ay + by) / 2 + 2 * bulge * (bx - ax)];
  return Array.from({ length: STEPS + 1 }, (_, n) => {
    const t = n / STEPS;
    const [p, q, r] = [(1 - t) ** 2, 2 * t * (1 - t), t * t];
    return [p * ax + q * mx + r * bx, p * ay + q * my + r * by];
  });
}

const enters = (points, { x, y, width, height }) =>
  points.some(([px, py]) => px > x - 0.4 && px < x + width + 0.4 && py > y - 0.4 && py < y + height + 0.4);

// Every contact that any position closes as a bar between its lugs, past the lugs that lie between.
function drawBars() {
  for (const drawing of every(".wiring .lugs .drawing")) {
    const wiring = data.wirings[wiringOf(drawing)];
    const boxes = new Map(every('.thing[data-name^="t:"]', drawing).map((lug) =>
      [wiring.terminals.indexOf(lug.dataset.name.slice(2)), lug.querySelector("path").getBBox()]));
    const middle = ({ x, y, width, height }) => [x + width / 2, y + height / 2];
    wiring.contacts.forEach((contact, number) => {
      const pairs = contact.closed.flat().flatMap(([one, ...others]) => others.map((other) => [one, other]));
      for (const pair of new Map(pairs.map((each) => [each.join(), each])).values()) {
        if (!pair.every((end) => boxes.has(end))) continue;
        const others = [...boxes].filter(([end]) => !pair.includes(end)).map(([, box]) => box);
        const ways = BULGES.map((bulge) => course(...pair.map((end) => middle(boxes.get(end))), bulge));
        const way = ways.find((one) => !others.some((box) => enters(one, box))) ?? ways[0];
        drawing.insertBefore(bar(way, number, pair.map((end) => wiring.terminals[end])),
          drawing.querySelector(":scope > .thing, :scope > .mark"));
      }
    });
  }
}

function bar(points, contact, [a, b]) {
  const made = (kind, from = {}) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", kind);
    for (const [key, value] of Object.entries(from)) element.setAttribute(key, value);
    return element;
  };
  const d = `M${points.map((point) => point.map((one) => one.toFixed(2)).join(" ")).join("L")}`;
  const group = made("g", { class: "bar", "data-contact": contact, "data-a": a, "data-b": b });
  group.append(made("path", { class: "edge", d }), made("path", { d }));
  return group;
}

// ---- what is joined with what, in the wiring chosen and the positions set

function closedGroups(wiring) {
  return wiring.contacts.map((contact) => contact.closed[position[contact.control]]);
}

// For every net the number of its group: nets joined by closed contacts share one.
function groupsOfNets(wiring) {
  const parent = [];
  const root = (net) => {
    while ((parent[net] ?? net) !== net) net = parent[net];
    return net;
  };
  for (const groups of closedGroups(wiring)) {
    for (const [first, ...others] of groups) {
      for (const other of others) parent[root(wiring.nets[other])] = root(wiring.nets[first]);
    }
  }
  return wiring.nets.map((net) => root(net));
}

const numbers = new Map(data.controls.map(({ name }, number) => [name, number]));
const placeOf = (name) => data.controls[numbers.get(name)].positions[position[numbers.get(name)]];
const matches = (when) => Object.entries(when).every(([name, at]) => at.includes(placeOf(name)));
const stands = (state) => Object.entries(state).every(([name, at]) => placeOf(name) === at);

// What carries the readings taken here: names of lugs and wires, "section net" of contacts.
function carried(wiring) {
  const names = new Set();
  const contacts = new Set();
  for (const path of wiring.paths.filter((one) => matches(one.when))) {
    const here = path.carried.find((one) => stands(one.at));
    for (const terminal of here?.terminals ?? []) names.add(`t:${wiring.terminals[terminal]}`);
    for (const wire of here?.wires ?? []) names.add(`w:${wiring.wires[wire].id}`);
    for (const [section, net] of here?.contacts ?? []) contacts.add(`${section} ${net}`);
  }
  return { names, contacts };
}

// ---- showing it

const namesOf = (element) =>
  (element.dataset.about ?? element.dataset.name ?? "").split(" ").filter(Boolean);

nameRows();
drawBars();

// Everything that can light up: read from the page once.
const things = every("[data-name], [data-net], [data-about]").map((element) => ({
  element,
  row: "about" in element.dataset,
  names: namesOf(element),
  net: "net" in element.dataset ? Number(element.dataset.net.replace("net ", "")) : -1,
  wiring: wiringOf(element),
}));

function show() {
  if (!document.getElementById("desk")) return;
  for (const board of every(".wiring")) {
    const number = Number(board.dataset.wiring);
    board.classList.toggle("aside", !shown().includes(number));
    board.classList.toggle("beside", number === beside() && number !== chosen);
  }
  const boards = shown().map((number) => [number, showBoard(number)]);
  showChoice();
  document.getElementById("status").textContent = statusOf(...boards[0]);
  light(pinned);
}

function showBoard(number) {
  const wiring = data.wirings[number];
  const section = document.querySelector(`.wiring[data-wiring="${number}"]`);
  const live = carried(wiring);
  for (const { element, names } of things.filter((one) => !one.row && one.wiring === number)) {
    element.classList.toggle("live", names.some((name) => live.names.has(name)));
  }
  for (const one of every("[data-when]", section)) {
    one.classList.toggle("aside", !matches(JSON.parse(one.dataset.when)));
  }
  const taken = every(".dial:not(.aside)", section);
  return { taken, bars: showBars(wiring, section, live) };
}

function showBars(wiring, section, live) {
  const closed = closedGroups(wiring);
  const told = { live: new Set(), closed: new Set() };
  for (const bar of every(".bar", section)) {
    const { contact, a, b } = bar.dataset;
    const ends = [a, b].map((name) => wiring.terminals.indexOf(name));
    const on = closed[contact].some((group) => ends.every((end) => group.includes(end)));
    const lit = on && ends.every((end) => live.contacts.has(`${contact} ${wiring.nets[end]}`));
    bar.classList.toggle("closed", on);
    bar.classList.toggle("live", lit);
    if (on) told[lit ? "live" : "closed"].add(`${a}–${b}`);
  }
  return told;
}

function showChoice() {
  for (const input of every('input[name="wiring"]')) input.checked = Number(input.value) === chosen;
  position.forEach((at, control) => {
    for (const input of every(`input[name="control-${control}"]`)) {
      input.checked = Number(input.value) === at;
    }
  });
}

function statusOf(number, { taken, bars }) {
  const shownAs = (element) => element.textContent.trim();
  const at = every(".control").map((control, n) =>
    `${shownAs(control.querySelector("legend"))} at ${shownAs(every("label", control)[position[n]])}`);
  if (data.never.some((state) => stands(state))) {
    return `${at.join(", ")}: an interlock prevents this, it cannot occur.`;
  }
  const dials = taken.map((dial) =>
    `${dial.querySelector("h4 bdi").textContent} ${dial.querySelector(".number").textContent}`);
  const where = at.length ? `${at.join(", ")}: ` : "";
  const none = data.wirings[number].computed ? "no reading is taken" : "readings are not computed";
  const said = [`${where}${dials.join(", ") || none}.`];
  if (bars.live.size) said.push(`Carried by ${[...bars.live].join(", ")}.`);
  if (bars.closed.size) said.push(`Also closed: ${[...bars.closed].join(", ")}.`);
  return said.join(" ");
}

// ---- pointing: a wire, a lug, a part or a row, and its partners

// Names: "t:" a terminal, "w:" a wire, "p:" a part.
function partners(wiring, names) {
  const found = new Set(names);
  for (const name of names) {
    const [kind, rest] = [name[0], name.slice(2)];
    if (kind === "w") {
      const wire = wiring.wires.find((one) => one.id === rest);
      for (const end of wire?.ends ?? []) found.add(`t:${wiring.terminals[end]}`);
    }
    const here = wiring.terminals.map((terminal, n) => [terminal, n]).filter(([terminal]) =>
      kind === "t" ? terminal === rest : kind === "p" && terminal.startsWith(`${rest}.`));
    for (const [terminal, number] of here) {
      found.add(`t:${terminal}`);
      for (const wire of wiring.wires) if (wire.ends.includes(number)) found.add(`w:${wire.id}`);
      if (kind === "t" && terminal.includes(".")) found.add(`p:${terminal.split(".")[0]}`);
    }
  }
  return found;
}

// Lights what is pointed at, its partners, and all that is connected with it in its own wiring.
function light(what) {
  const wiring = data.wirings[what?.wiring ?? chosen];
  const names = what?.names ?? [];
  const [lit, pointed] = [partners(wiring, names), new Set(names)];
  const groups = groupsOfNets(wiring);
  const ends = endsOf(wiring, names);
  const touched = new Set(ends.map((end) => groups[end]));
  const tiedNets = new Set(wiring.nets.filter((_, n) => touched.has(groups[n])));
  for (const { element, row, names: own, net, wiring: where } of things) {
    const mine = row || where === what?.wiring;
    element.classList.toggle("lit", mine && own.some((name) => (row ? pointed : lit).has(name)));
    element.classList.toggle("tied", mine && tiedNets.has(net));
  }
  const said = document.getElementById("pointed");
  if (said) said.textContent = names.length ? joinedOf(wiring, names, ends, groups) : "";
}

// Terminals named, and the ends of wires named, by number.
function endsOf(wiring, names) {
  const ends = new Set([...names, ...partners(wiring, names.filter((name) => name[0] === "w"))]);
  return wiring.terminals.flatMap((terminal, n) => (ends.has(`t:${terminal}`) ? [n] : []));
}

function listed(names) {
  const more = names.length - MOST_NAMED;
  return more > 1 ? `${names.slice(0, MOST_NAMED).join(", ")} and ${more} more` : names.join(", ");
}

function joinedOf(wiring, names, ends, groups) {
  const [first] = ends;
  if (first === undefined) return names.length === 1 ? names[0].slice(2) : "";
  const all = wiring.terminals.filter((_, n) => groups[n] === groups[first] && !ends.includes(n));
  const named = ends.map((n) => wiring.terminals[n]);
  const wire = names[0][0] === "w" ? `${names[0].slice(2)}, ${named.join(" to ")}` : named.join(", ");
  return `${wire}: connected here with ${listed(all) || "nothing else"}.`;
}

// A row is about the wiring that is chosen.
function pointedAt(target) {
  const element = target.closest?.("[data-name], [data-about]");
  if (!element) return null;
  return { names: namesOf(element), wiring: "about" in element.dataset ? chosen : wiringOf(element) };
}

const same = (one, other) =>
  one && other && one.wiring === other.wiring && one.names.join(" ") === other.names.join(" ");

function pin(what) {
  pinned = same(what, pinned) ? null : what;
  for (const { element } of things.filter((one) => one.element.role === "button")) {
    element.ariaPressed = String(Boolean(same(pointedAt(element), pinned)));
  }
  light(pinned);
}

function wirePointing() {
  document.addEventListener("pointerover", ({ target }) => light(pointedAt(target) ?? pinned));
  document.addEventListener("focusin", ({ target }) => {
    const what = pointedAt(target);
    if (what) light(what);
  });
  document.addEventListener("focusout", () => light(pinned));
  document.addEventListener("click", ({ target }) => {
    if (target.closest("[data-name]")) pin(pointedAt(target));
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") pin(null);
    const element = event.target.closest?.(".thing, [data-about][tabindex]");
    if (element === event.target && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      pin(pointedAt(element));
    }
  });
}

// One stop for the Tab key in each drawing and table; arrow keys go on from there.
function rove(holder, query) {
  const items = every(query, holder);
  if (!items.length) return;
  items[0].setAttribute("tabindex", "0");
  holder.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const now = items.indexOf(event.target);
    if (!step || now < 0) return;
    event.preventDefault();
    const next = items[Math.min(Math.max(now + step, 0), items.length - 1)];
    items[now].setAttribute("tabindex", "-1");
    next.setAttribute("tabindex", "0");
    next.focus();
  });
}

// ---- controls

function turn(control, step) {
  const { positions, wraps } = data.controls[control];
  const next = position[control] + step;
  position[control] = wraps
    ? (next + positions.length) % positions.length
    : Math.min(Math.max(next, 0), positions.length - 1);
  show();
}

function wireControls() {
  document.getElementById("desk")?.addEventListener("change", ({ target: { name, value } }) => {
    if (name === "wiring") chosen = Number(value);
    if (name.startsWith("control-")) position[Number(name.slice(8))] = Number(value);
    show();
  });
  for (const button of every(".turn")) {
    const control = Number(button.closest("[data-control]").dataset.control);
    button.addEventListener("click", () => turn(control, Number(button.dataset.turn)));
  }
}

document.documentElement.classList.add("scripted");
for (const element of every(".needs-script")) element.hidden = false;
for (const drawing of every(".drawing")) rove(drawing, ".thing");
for (const table of every("[data-roving]")) rove(table, "tr[data-about]");
wireControls();
wirePointing();
show();
