// Shows what `rewire watch` tells: faults, verdict, and the page, which is exchanged when there is a
// new one. What was typed, the place that was looked at and the positions of the switches stay.
"use strict";

const by = (id) => document.getElementById(id);
const made = (tag, text = "", className = "") =>
  Object.assign(document.createElement(tag), { textContent: text, className });
let frame = null; // the page that is seen
let next = null; // the one that is being loaded
let asked = 0; // its number

// ---- what is said

function tell(news) {
  const { faults, drawing } = news;
  const count = faults.length === 1 ? "1 fault" : `${faults.length} faults`;
  const below = news.page ? "; the page below is the last good one" : "; mend it and save, then its page is drawn";
  by("state").textContent = faults.length ? `${news.file}: ${count}${below}`
    : drawing ? `${news.file}: drawing …` : `${news.file}: drawn ${new Date().toLocaleTimeString()}`;
  by("state").classList.toggle("wrong", faults.length > 0);
  document.title = `${faults.length ? "✗ " : drawing ? "… " : ""}${news.file}`;
  by("faults").replaceChildren(...faults.map(faultLine));
  by("faults").hidden = faults.length === 0;
  const [verdict, ...rest] = news.sections.map(linesOf);
  by("verdict").replaceChildren(...(verdict ?? []));
  by("rest").replaceChildren(...rest.flat());
  by("report").hidden = !by("rest").hasChildNodes();
  const mark = verdict?.[0]?.textContent.split(" ")[0];
  if (mark !== by("report").dataset.verdict) by("report").open = mark === "BROKEN:";
  by("report").dataset.verdict = mark;
}

function faultLine({ line, column, message, source }) {
  const item = made("li", line ? `Line ${line}: ${message}` : message);
  if (!source.trim()) return item;
  const at = Math.max((column ?? 1) - 1, 0);
  const word = /^[\w.+-]+|^./u.exec(source.slice(at))?.[0] ?? "";
  const text = made("pre", source.slice(0, at));
  text.append(made("mark", word), source.slice(at + word.length));
  item.append(text);
  return item;
}

function linesOf({ title, blocks }) {
  const all = blocks.flatMap((block) => [block, ...block.under]);
  const lines = all.map(({ mark, text, tone, indent }) => {
    const line = made("p", mark ? ` ${text}` : text, `${mark ? "" : tone} ${indent > 2 ? "deeper" : ""}`);
    if (mark) line.prepend(made("b", mark, tone));
    return line;
  });
  return title && lines.length ? [made("h2", `${title}:`), ...lines] : lines;
}

// ---- the page

const LAST = "rewire watch";

// A save gives the spec another digest, under which its page looks for what was ticked and typed.
function carry(digest) {
  try {
    const before = localStorage.getItem(LAST);
    const kept = localStorage.getItem(`rewire ${before}`);
    if (kept !== null && before !== digest) {
      localStorage.setItem(`rewire ${digest}`, kept);
      localStorage.removeItem(`rewire ${before}`);
    }
    localStorage.setItem(LAST, digest);
  } catch (trouble) {
    if (trouble.name !== "SecurityError") throw trouble; // the page says that nothing is kept
  }
}

function load(news) {
  asked = news.page;
  next?.remove();
  carry(news.digest);
  const coming = made("iframe", "", "waiting");
  coming.title = "The page";
  coming.src = `page?${news.page}`;
  coming.addEventListener("load", () => exchange(coming, news));
  by("pages").append(coming);
  next = coming;
}

function exchange(coming, { whole }) {
  if (coming !== next) return;
  if (!whole && frame && !reaches(frame, coming)) return; // what is looked at is not drawn yet
  if (frame) restore(frame, coming);
  coming.classList.remove("waiting");
  if (frame) goOnTyping(frame, coming); // what is hidden takes no keys
  frame?.remove();
  [frame, next] = [coming, null];
  by("alone").hidden = false;
  offerSpots(frame.contentDocument);
}

const chapters = (page) => [...page.contentDocument.querySelectorAll("#turn, .chapter")];
const named = ({ id }) => id.replace(/-\d+$/, "");
const topOf = (element) => element.getBoundingClientRect().top;

// How far a page is scrolled where the chapter at its upper edge stands as it does on another page;
// undefined where it has no such chapter.
function scrollLike(from, to) {
  const last = chapters(from).filter((one) => topOf(one) <= 1).at(-1);
  if (!last) return from.contentWindow.scrollY;
  const there = chapters(to);
  const same = there.find(({ id }) => id === last.id) ?? there.find((one) => named(one) === named(last));
  return same && to.contentWindow.scrollY + topOf(same) - topOf(last);
}

// The input of a page in which one types on another; null where one does, and it has none.
function inputLike(from, to) {
  const { dataset, type } = from.contentDocument.activeElement ?? {};
  if (!dataset?.key) return undefined;
  const inputs = [...to.contentDocument.querySelectorAll("td input")];
  return inputs.find((one) => one.dataset.key === dataset.key && one.type === type) ?? null;
}

// Whether a page that is not whole reaches as far as one looks, and has what one types in.
function reaches(from, to) {
  const { scrollHeight, clientHeight } = to.contentDocument.documentElement;
  return scrollLike(from, to) <= scrollHeight - clientHeight && inputLike(from, to) !== null;
}

function restore(from, to) {
  const now = [...to.contentDocument.querySelectorAll("#desk input")];
  for (const { name, value } of from.contentDocument.querySelectorAll("#desk input:checked")) {
    const same = now.find((one) => one.name === name && one.value === value);
    if (same && !same.checked) same.click();
  }
  const top = scrollLike(from, to) ?? from.contentWindow.scrollY;
  to.contentWindow.scrollTo({ top, behavior: "instant" });
}

function goOnTyping(from, to) {
  const same = inputLike(from, to);
  const { selectionStart } = from.contentDocument.activeElement ?? {};
  same?.focus({ preventScroll: true });
  if (same?.type === "text") same.setSelectionRange(selectionStart, selectionStart);
}

// ---- spots for notes: a click on a scanned page gives the at: to write

function offerSpots(page) {
  for (const scan of page.querySelectorAll(".pages image")) {
    const [drawing, said] = [scan.ownerSVGElement, page.createElement("p")];
    said.textContent = "Click on the scan: the at: of a note there is told here.";
    drawing.closest(".picture").after(said);
    drawing.style.cursor = "crosshair";
    drawing.addEventListener("click", ({ clientX, clientY }) => {
      const { left, top, width, height } = scan.getBoundingClientRect();
      tellSpot(said, [(clientX - left) / width, (clientY - top) / height]);
    });
  }
}

async function tellSpot(said, spot) {
  if (spot.some((share) => share < 0 || share > 1)) return;
  const text = `at: [${spot.map((share) => Number(share.toFixed(3))).join(", ")}]`;
  said.textContent = text;
  try {
    await navigator.clipboard.writeText(text);
    said.textContent = `${text} (copied)`;
  } catch (trouble) {
    if (trouble.name !== "NotAllowedError") throw trouble; // then it is copied by hand
  }
}

// ---- news, while the page can be seen: a browser has few lines to one computer

let line = null;

function listen() {
  line?.close();
  line = null;
  if (document.hidden) return;
  line = new EventSource("news");
  line.addEventListener("message", ({ data }) => {
    const news = JSON.parse(data);
    tell(news);
    if (news.page && news.page !== asked) load(news);
  });
  line.addEventListener("error", () => {
    by("state").textContent = "rewire watch has ended: start it again, and open the address that it says.";
    by("state").classList.add("wrong");
  });
}

document.addEventListener("visibilitychange", listen);
listen();
