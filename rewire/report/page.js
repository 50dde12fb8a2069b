// Turns the switches of the page, lights what belongs together, and keeps the ticks.
// Everything it knows stands in the element "data"; it fetches nothing.
"use strict";

const data = JSON.parse(document.getElementById("data").textContent);
const every = (query, within = document) => [...within.querySelectorAll(query)];
const position = data.controls.map(() => 0);
let chosen = data.first;
const wiringOf = (element) => Number(element.closest("[data-wiring]")?.dataset.wiring ?? -1);
const NOTHING = { names: [], sides: [] };
const MOST_NAMED = 12;
let pinned = NOTHING;
let still = null; // where the hand rests while the page moves under it to a finding

// ---- drawn and named here, for without the script nothing of it is seen

const NAME = /[A-Za-z][A-Za-z0-9_-]*(?:\.[A-Za-z0-9_+-]+)?/g;
const MOST_SEARCHED = 400;

// Rows say what lights up with them: a wire alone if its name comes first, else all they name.
function nameRows() {
  const names = (wirings) => new Map(wirings.flatMap(({ terminals }) => terminals.flatMap((one) => [
    [one, `t:${one}`], ...(one.includes(".") ? [[one.split(".")[0], `p:${one.split(".")[0]}`]] : []),
  ])));
  const everywhere = names(data.wirings);
  for (const part of every(".chapter")) {
    const alone = data.wirings[part.dataset.wiring];
    const known = alone ? names([alone]) : everywhere;
    for (const wire of alone?.wires ?? []) known.set(wire.id, `w:${wire.id}`);
    for (const row of every("tbody tr", part)) {
      const said = [...row.cells].map((cell) => cell.textContent.slice(0, MOST_SEARCHED)).join(" ");
      const found = new Set((said.match(NAME) ?? []).map((name) => known.get(name)).filter(Boolean));
      const [first] = found;
      if (!first) continue;
      row.dataset.about = first[0] === "w" ? first : [...found].join(" ");
      row.setAttribute("tabindex", "-1");
    }
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
  lug: element.closest(".lugs") !== null,
}));
const mine = (thing) => thing.wiring < 0 || thing.wiring === chosen;
const within = (element) => [-1, chosen].includes(wiringOf(element));

function show() {
  if (!document.getElementById("desk")) return;
  const wiring = data.wirings[chosen];
  for (const element of every("[data-wiring]")) {
    element.classList.toggle("aside", Number(element.dataset.wiring) !== chosen);
  }
  const section = document.querySelector(`.wiring[data-wiring="${chosen}"]`);
  const live = carried(wiring);
  for (const { element, names } of things.filter((one) => one.lug && one.wiring === chosen)) {
    element.classList.toggle("live", names.some((name) => live.names.has(name)));
  }
  const bars = showBars(wiring, section, live);
  const dials = every(".dial", section);
  for (const dial of dials) dial.classList.toggle("aside", !matches(JSON.parse(dial.dataset.when)));
  const taken = dials.filter((dial) => !dial.classList.contains("aside"));
  const none = section.querySelector(".none");
  if (none) none.hidden = taken.length > 0;
  for (const figure of every(".circuit", section)) {
    figure.classList.toggle("aside", !matches(JSON.parse(figure.dataset.when)));
  }
  showChoice();
  document.getElementById("status").textContent = statusOf(wiring, taken, bars);
  light(pinned);
}

function showBars(wiring, section, live) {
  const closed = closedGroups(wiring);
  const told = { live: [], closed: [] };
  for (const bar of every(".bar", section)) {
    const { contact, a, b } = bar.dataset;
    const ends = [a, b].map((name) => wiring.terminals.indexOf(name));
    const on = closed[contact].some((group) => ends.every((end) => group.includes(end)));
    const lit = on && ends.every((end) => live.contacts.has(`${contact} ${wiring.nets[end]}`));
    bar.classList.toggle("closed", on);
    bar.classList.toggle("live", lit);
    if (on) told[lit ? "live" : "closed"].push(`${a}–${b}`);
  }
  return { live: [...new Set(told.live)], closed: [...new Set(told.closed)] };
}

function showChoice() {
  for (const input of every('input[name="wiring"]')) input.checked = Number(input.value) === chosen;
  position.forEach((at, control) => {
    for (const input of every(`input[name="control-${control}"]`)) {
      input.checked = Number(input.value) === at;
    }
  });
}

function statusOf(wiring, dials, bars) {
  const shownAs = (element) => element.textContent.trim();
  const at = every(".control").map((control, n) =>
    `${shownAs(control.querySelector("legend"))} at ${shownAs(every("label", control)[position[n]])}`);
  if (data.never.some((state) => stands(state))) {
    return `${at.join(", ")}: an interlock prevents this, it cannot occur.`;
  }
  const shown = dials.map((dial) => {
    const name = dial.querySelector("h4 bdi").textContent;
    return `${name} ${dial.querySelector(".number").textContent}`;
  });
  const where = at.length ? `${at.join(", ")}: ` : "";
  const none = wiring.computed ? "no reading is taken" : "readings are not computed";
  const said = [`${where}${shown.join(", ") || none}.`];
  if (bars.live.length) said.push(`Carried by ${bars.live.join(", ")}.`);
  if (bars.closed.length) said.push(`Also closed: ${bars.closed.join(", ")}.`);
  return said.join(" ");
}

// ---- pointing: a wire, a lug, a part or a row, and its partners

// Names: "t:" a terminal, "w:" a wire, "p:" a part.
function partners(names) {
  const wiring = data.wirings[chosen];
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

// Lights what bears the names and their partners, and all that is joined with each side: what is
// pointed at is one side, the places that a finding tells apart are several.
function light({ names, sides }) {
  const wiring = data.wirings[chosen];
  const lit = partners(names);
  const groups = groupsOfNets(wiring);
  const sideOf = new Map();
  sides.forEach((side, number) => {
    for (const end of endsOf(wiring, side)) {
      if (!sideOf.has(groups[end])) sideOf.set(groups[end], number);
    }
  });
  const groupOfNet = new Map(wiring.nets.map((net, n) => [net, groups[n]]));
  const pointed = new Set(names);
  for (const thing of things) {
    const named = thing.row ? pointed : lit;
    const side = mine(thing) ? sideOf.get(groupOfNet.get(thing.net)) : undefined;
    const { classList } = thing.element;
    classList.toggle("lit", mine(thing) && thing.names.some((name) => named.has(name)));
    classList.toggle("tied", side !== undefined);
    classList.toggle("other", side > 0);
  }
  const said = document.getElementById("pointed");
  if (said) said.textContent = sides.map((side) => joinedOf(wiring, side, groups)).join(" ");
}

// Terminals named, and the ends of wires named, by number.
function endsOf(wiring, names) {
  const wires = names.filter((name) => name[0] === "w");
  const ends = new Set([...names, ...partners(wires)]);
  return wiring.terminals.flatMap((terminal, n) => (ends.has(`t:${terminal}`) ? [n] : []));
}

function listed(names) {
  const more = names.length - MOST_NAMED;
  return more > 1 ? `${names.slice(0, MOST_NAMED).join(", ")} and ${more} more` : names.join(", ");
}

function joinedOf(wiring, side, groups) {
  const ends = endsOf(wiring, side);
  const [first] = ends;
  if (first === undefined) return side.length === 1 ? side[0].slice(2) : "";
  const all = wiring.terminals.filter((_, n) => groups[n] === groups[first] && !ends.includes(n));
  const named = ends.map((n) => wiring.terminals[n]);
  const wire = side[0][0] === "w" ? `${side[0].slice(2)}, ${named.join(" to ")}` : named.join(", ");
  return `${wire}: joined here with ${listed(all) || "nothing else"}.`;
}

const onSide = (names) => ({ names, sides: [names] });

const pointable = (target) => target.closest?.("[data-name], [data-about]");

function pin(element) {
  const names = namesOf(element);
  setPinned(pinned.names.join(" ") === names.join(" ") ? NOTHING : onSide(names));
}

function setPinned(what) {
  pinned = what;
  const told = what.names.join(" ");
  for (const { element, names } of things.filter((one) => one.element.role === "button")) {
    element.ariaPressed = String(told !== "" && names.join(" ") === told);
  }
  light(pinned);
}

function wirePointing() {
  document.addEventListener("pointermove", ({ clientX, clientY }) => {
    if (still && (still[0] !== clientX || still[1] !== clientY)) still = null;
  });
  document.addEventListener("pointerover", (event) => {
    if (still) return;
    const element = pointable(event.target);
    light(element && within(element) ? onSide(namesOf(element)) : pinned);
  });
  document.addEventListener("focusin", (event) => {
    const element = pointable(event.target);
    if (element && within(element)) light(onSide(namesOf(element)));
  });
  document.addEventListener("focusout", () => light(pinned));
  document.addEventListener("click", (event) => {
    const element = event.target.closest("[data-name]");
    if (element && within(element)) pin(element);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") setPinned(NOTHING);
    const element = event.target.closest?.(".thing, [data-about][tabindex]");
    if (element === event.target && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      pin(element);
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

// ---- controls, findings

function turn(control, step) {
  const { positions, wraps } = data.controls[control];
  const next = position[control] + step;
  position[control] = wraps
    ? (next + positions.length) % positions.length
    : Math.min(Math.max(next, 0), positions.length - 1);
  show();
}

function wireControls() {
  document.getElementById("desk")?.addEventListener("change", (event) => {
    const { name, value } = event.target;
    if (name === "wiring") chosen = Number(value);
    if (name === "wiring") requestAnimationFrame(centre);
    if (name.startsWith("control-")) position[Number(name.slice(8))] = Number(value);
    show();
  });
  for (const button of every(".turn")) {
    const control = Number(button.closest("[data-control]").dataset.control);
    button.addEventListener("click", () => turn(control, Number(button.dataset.turn)));
  }
  for (const button of every(".jump")) {
    const finding = data.findings[button.dataset.finding];
    button.hidden = false;
    if (!finding || !document.getElementById("desk")) button.remove();
    button.addEventListener("click", ({ clientX, clientY }) => {
      still = [clientX, clientY];
      jump(finding);
    });
  }
}

// A drawing wider than its frame begins in its middle, where the switch is.
function centre() {
  for (const frame of every(".picture.lugs")) {
    frame.scrollLeft = (frame.scrollWidth - frame.clientWidth) / 2;
  }
}

function jump({ wiring, state, sides }) {
  chosen = Math.max(data.wirings.findIndex((one) => one.name === wiring), 0);
  for (const [name, at] of Object.entries(state)) {
    position[numbers.get(name)] = data.controls[numbers.get(name)].positions.indexOf(at);
  }
  setPinned({ names: [], sides: sides.map((side) => side.map((terminal) => `t:${terminal}`)) });
  show();
  centre();
  const section = document.querySelector(`.wiring[data-wiring="${chosen}"]`);
  const lit = section.querySelector(".thing.tied");
  const frame = lit?.closest(".picture") ?? section;
  // The knobs stay in sight above what is shown: nothing may hide behind them.
  const knobs = document.querySelector(".knobs.few");
  document.documentElement.style.scrollPaddingTop = `${(knobs?.offsetHeight ?? 0) + 8}px`;
  frame.scrollIntoView({ block: "start" });
  if (lit) {
    const [box, room] = [lit.getBoundingClientRect(), frame.getBoundingClientRect()];
    const hidden = box.left < room.left || box.right > room.right;
    if (hidden) frame.scrollLeft += box.left - room.left - room.width / 2;
  }
  (lit ?? section.querySelector(".picture"))?.focus({ preventScroll: true });
  light(pinned); // the focus alone would light but one of them
}

// ---- ticks and blanks, kept in this browser for this very spec

const KEY = `rewire ${data.digest}`;
const kept = { ticks: {}, blanks: {} };
const inputs = every(".chapter td input");
const isTick = (input) => input.type === "checkbox";

// Each box and blank is known by its section, table, row and column, and called by what they say.
function nameInputs() {
  for (const part of every(".chapter")) {
    every("table", part).forEach((table, t) => {
      const heads = every("thead th, thead td", table).map((head) => head.textContent);
      every("tbody tr", table).forEach((row, r) => {
        const said = [...row.cells].map((cell) => cell.textContent.trim()).filter(Boolean).join(", ");
        for (const input of every("input", row)) {
          const column = input.closest("td").cellIndex;
          input.dataset.key = [part.id, t, r, column].join(".");
          const label = [heads[column], said].filter(Boolean).join(": ").slice(0, 160);
          input.setAttribute("aria-label", label || `line ${r + 1}, column ${column + 1}`);
        }
      });
    });
  }
}

function tellUnkept() {
  document.getElementById("unkept").hidden = false;
}

function keep() {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    tellUnkept();
  }
  count();
}

function recall() {
  let found = null;
  try {
    found = localStorage.getItem(KEY);
  } catch {
    tellUnkept();
  }
  const was = parsed(found);
  for (const input of inputs) {
    const { key } = input.dataset;
    if (isTick(input) && was.ticks?.[key] === true) kept.ticks[key] = input.checked = true;
    const value = was.blanks?.[key];
    if (!isTick(input) && typeof value === "string") kept.blanks[key] = input.value = value;
  }
  count();
}

// What somebody else wrote under our key is as good as nothing.
function parsed(text) {
  try {
    return JSON.parse(text) ?? {};
  } catch {
    return {};
  }
}

function count() {
  for (const part of every(".chapter")) {
    const boxes = inputs.filter((input) => isTick(input) && part.contains(input));
    const said = part.querySelector(".done");
    said.hidden = boxes.length === 0;
    said.textContent = `${boxes.filter((box) => box.checked).length} of ${boxes.length} done`;
  }
}

function wireTicks() {
  document.addEventListener("change", ({ target }) => {
    const { key } = target.dataset;
    if (!key) return;
    if (!isTick(target)) kept.blanks[key] = target.value;
    else if (target.checked) kept.ticks[key] = true;
    else delete kept.ticks[key];
    keep();
  });
  document.getElementById("forget").addEventListener("click", () => {
    kept.ticks = {};
    for (const box of inputs.filter(isTick)) box.checked = false;
    keep();
  });
}

function offerSpec() {
  const link = document.getElementById("download");
  link.href = URL.createObjectURL(new Blob([data.source], { type: "application/yaml" }));
  link.download = data.file;
}

document.documentElement.classList.add("scripted");
for (const element of every(".needs-script")) element.hidden = false;
for (const drawing of every(".drawing")) rove(drawing, ".thing");
for (const table of every("[data-roving]")) rove(table, "tr[data-about]");
wireControls();
wirePointing();
wireTicks();
nameInputs();
recall();
offerSpec();
show();
centre();
