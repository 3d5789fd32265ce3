"use strict";
// The map answers: a station is chosen by button, key, tap or address, and its marks light up.
// Everything that is shown stands in the page already: this script sets classes and copies texts
// of the table into the panel. It asks for nothing, keeps nothing and writes no markup.

const byId = (id) => document.getElementById(id);
const drawing = document.querySelector("#bed svg");
const panel = byId("chosen");
const buttons = [...document.querySelectorAll("#stations button")];
const columns = [...document.querySelectorAll("#list thead th")].map((each) => each.dataset.is);
const bodies = [...document.querySelectorAll("tbody.station")];
const names = buttons.map((button) => button.querySelector(".name").textContent);
let now = -1;

// What is chosen from

function inRun() {
  const listed = byId("run").selectedOptions[0].dataset.stations;
  return listed === undefined ? null : listed.split(" ").map(Number);
}

function shown() {
  const found = buttons.map((_, at) => at).filter((at) => !buttons[at].hidden);
  const run = inRun();
  return run === null ? found : run.filter((at) => found.includes(at));
}

function narrow() {
  const wanted = byId("search").value.trim().toLowerCase();
  const run = inRun();
  buttons.forEach((button, at) => {
    const words = button.textContent.toLowerCase() + " " + cell(at, "jig").toLowerCase();
    button.hidden = !words.includes(wanted) || (run !== null && !run.includes(at));
  });
  const count = shown().length;
  byId("count").textContent = count === 1 ? "1 station" : count + " stations";
  place();
}

// What is told of the one that is chosen

function cell(at, name) {
  const first = bodies[at].rows[0];
  const found = columns.includes(name) ? inRow(first, name) : bodies[at].querySelector("." + name);
  return found === null ? "" : found.textContent.trim();
}

// Rows of further nests lack the cells that a station's first row has for all of them.
function inRow(row, name) {
  return row.cells[row.cells.length - columns.length + columns.indexOf(name)];
}

// The one program of all nests, or that of each nest.
function programs(at) {
  const told = [...bodies[at].querySelectorAll("tr.nest")].map((row) =>
    ["nest", "program"].map((name) => inRow(row, name).textContent.trim()));
  return new Set(told.map(([, program]) => program)).size === 1
    ? told[0][1] : told.map(([nest, program]) => `${nest}: ${program}`).join("; ");
}

function place() {
  const run = inRun();
  const list = run === null ? shown() : run;
  const name = byId("run").selectedOptions[0].textContent;
  const among = run === null ? "Station" : "Run " + name + ": station";
  const at = list.indexOf(now);
  const next = at < 0 ? "" : "; next in the list: " + names[list[(at + 1) % list.length]];
  byId("place").textContent =
    now < 0 ? "" : at < 0 ? "Not in this list" : `${among} ${at + 1} of ${list.length}${next}`;
}

function tell(at) {
  const from = bodies[at];
  panel.querySelectorAll("[data-from]").forEach((each) => {
    each.textContent = each.dataset.from === "program" ? programs(at) : cell(at, each.dataset.from);
  });
  const heights = from.querySelectorAll(".zrow");
  const nests = [...from.querySelectorAll("tr.nest")].map((row, which) => {
    const made = byId("nest").content.cloneNode(true);
    const text = (name) =>
      (columns.includes(name) ? inRow(row, name) : heights[which].querySelector("." + name))
        .textContent;
    made.querySelectorAll("[data-from]").forEach((each) => {
      each.textContent = text(each.dataset.from).trim();
    });
    made.querySelectorAll("[data-key]").forEach((each) => {
      each.textContent = row.dataset[each.dataset.key] ?? each.textContent;
    });
    made.querySelector(".figures").hidden = row.classList.contains("no");
    made.querySelector(".z").hidden = text("zreads") === "";
    return made;
  });
  byId("nests").replaceChildren(...nests);
  const told = [...from.querySelectorAll(".remark, .sheet")].map((each) => each.cloneNode(true));
  byId("told").replaceChildren(...told);
}

// What lights up

// Nothing here asks where the browser has laid something out: that would make it lay out the whole
// page between a tap and its answer. Places stand in the drawing; widths are measured aside.

let lit = [];

function light(at) {
  lit.forEach((each) => each.classList.remove("on"));
  lit = [...drawing.getElementsByClassName("s" + at)];
  lit.forEach((each) => each.classList.add("on"));
  drawing.classList.add("chosen");
  const mine = lit.filter((each) => each.matches(".m"));
  mine.filter((each) => !each.matches(".grounded")).forEach(ground);
  // names that marks lie on give way
  const discs = mine.flatMap((each) => [...each.querySelectorAll("circle")]).map(boxOf);
  const marks = discs.concat(mine.flatMap((each) => [...each.querySelectorAll("text")]).map(boxOf));
  namesDrawn.forEach(([name, ground, box, isFront]) => {
    const under = (isFront ? discs : marks).some((mark) => mark.x < box.x + box.width && box.x < mark.x + mark.width
      && mark.y < box.y + box.height && box.y < mark.y + mark.height);
    if (under !== name.classList.contains("under")) {
      name.classList.toggle("under", under);
      ground.classList.toggle("under", under);
    }
  });
}

const numbers = (each, ...keys) => keys.map((key) => Number(each.getAttribute(key)));
const pen = document.createElement("canvas").getContext("2d");
const fonts = new Map();

// The box of a circle or of a word, in the drawing's own units.
function boxOf(each) {
  if (each.tagName === "circle") {
    const [x, y, r] = numbers(each, "cx", "cy", "r");
    return { x: x - r, y: y - r, width: 2 * r, height: 2 * r };
  }
  const look = each.getAttribute("class");
  if (!fonts.has(look)) {
    const { fontSize, fontWeight, fontFamily } = getComputedStyle(each);
    fonts.set(look, { size: parseFloat(fontSize), font: `${fontWeight} ${fontSize} ${fontFamily}` });
  }
  const { size, font } = fonts.get(look);
  pen.font = font;
  const [x, y] = numbers(each, "x", "y");
  const width = pen.measureText(each.textContent).width;
  return { x: x - width / 2, y: y - 0.9 * size, width, height: 1.1 * size };
}

// A name with its light ground, or the word in a jig's front edge with its dark one, which a turned
// word has along it; letters of marks keep off such a word, the discs of pins may have no other room.
const namesDrawn = [...drawing.querySelectorAll(".n text, .a text")].map((name) => {
  const ground = name.previousElementSibling;
  if (ground.tagName === "rect") {
    const [x, y, width, height] = numbers(ground, "x", "y", "width", "height");
    return [name, ground, { x, y, width, height }, false];
  }
  const box = boxOf(name), turned = name.getAttribute("transform");
  const tight = { ...box, y: box.y + 0.15 * box.height, height: 0.7 * box.height };
  if (turned === null) { return [name, ground, tight, true]; }
  const [, x, y] = turned.match(/-?[\d.]+/g).map(Number);
  const [width, height] = [tight.height, tight.width];
  return [name, ground, { x: x - width / 2, y: y - height / 2, width, height }, true];
});

// Light ground below the words of a station's marks; an outline would print them twice.
function ground(group) {
  group.classList.add("grounded");
  group.querySelectorAll(":scope > text").forEach((each) => {
    const box = boxOf(each);
    const made = document.createElementNS(drawing.namespaceURI, "rect");
    const size = {
      x: box.x, y: box.y + 0.12 * box.height, width: box.width, height: 0.76 * box.height,
    };
    Object.entries(size).forEach(([name, value]) => made.setAttribute(name, value));
    made.setAttribute("class", "ground");
    each.before(made);
  });
}

function show(at) {
  if (now >= 0) { buttons[now].setAttribute("aria-pressed", "false"); }
  buttons[at].setAttribute("aria-pressed", "true");
  now = at;
  light(at);
  tell(at);
  place();
  panel.hidden = false;
  document.documentElement.classList.add("picked");
  byId("none").hidden = true;
  document.title = `${names[at]} - ${byId("title").textContent}`;
  history.replaceState(null, "", "#" + encodeURIComponent(names[at]));
  buttons[at].scrollIntoView({ block: "nearest" });
}

function step(by) {
  const list = inRun() === null ? shown() : inRun();
  const at = list.indexOf(now);
  if (list.length > 0) {
    show(list[at < 0 ? (by > 0 ? 0 : list.length - 1) : (at + by + list.length) % list.length]);
  }
}

function fromAddress() {
  let name = location.hash.slice(1);
  try { name = decodeURIComponent(name); } catch { return; }
  const at = names.findIndex((each) => each.toLowerCase() === name.toLowerCase());
  if (at >= 0 && at !== now) { show(at); }
}

// Who asks: buttons, taps, keys, the address

buttons.forEach((button, at) => button.addEventListener("click", () => show(at)));
byId("back").addEventListener("click", () => step(-1));
byId("next").addEventListener("click", () => step(1));
byId("search").addEventListener("input", narrow);
byId("run").addEventListener("change", narrow);
byId("table").addEventListener("click", () => {
  const open = document.documentElement.classList.toggle("listed");
  byId("table").setAttribute("aria-expanded", String(open));
});
drawing.addEventListener("click", (event) => {
  const group = event.target.closest("g.s");
  if (group !== null) { show(Number(/\bs(\d+)\b/.exec(group.getAttribute("class"))[1])); }
});
addEventListener("hashchange", fromAddress);
addEventListener("keydown", (event) => {
  const writing = event.target.matches("input, select");
  if (event.altKey || event.ctrlKey || event.metaKey) { return; }
  if (event.key === "Escape" && writing) { event.target.blur(); }
  if (writing) { return; }
  if (event.key === "ArrowRight" || event.key === "ArrowLeft") {
    step(event.key === "ArrowRight" ? 1 : -1);
  } else if (event.key >= "1" && event.key <= "9" && event.key.length === 1) {
    const at = shown()[Number(event.key) - 1];
    if (at !== undefined) { show(at); }
  } else if (event.key === "/") {
    event.preventDefault();
    byId("search").focus();
  }
});

document.documentElement.classList.add("live");
narrow();
fromAddress();
