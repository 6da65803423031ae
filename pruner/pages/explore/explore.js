"use strict";
// What would be kept with other orders of the rules, another limit, without some countries.
//
// Receives the facts (JSON) and the numbers (arrays) that stand in the page, shows what a fit would do. A cell is what contacts
// have in common: the rules that they meet, and their country. A line holds the cells in the order of a rule, as runs of
// contacts of one cell, with the calls of each band of the line. How it can be exact: pruner/ask/tally.py.

const facts = JSON.parse(document.getElementById("facts").textContent);
const rules = facts.rules;
const format = new Intl.NumberFormat("en");
const percent = new Intl.NumberFormat("en", { minimumFractionDigits: 1, maximumFractionDigits: 1 });
const element = (id) => document.getElementById(id);
const state = { order: [], limit: 0, excluded: new Set() };
let cells, lines, first;
const rows = { rules: [], countries: [], account: {} };

// ---- numbers -------------------------------------------------------------------------------------------------------

async function unpack() {
  const text = atob(element("numbers").textContent);
  const packed = Uint8Array.from(text, (sign) => sign.charCodeAt(0));
  const opened = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = await new Response(opened).arrayBuffer();
  const types = { 1: Uint8Array, 2: Uint16Array, 4: Uint32Array, 8: Float64Array };
  const arrays = {};
  let at = 0;
  for (const [name, width, count] of facts.arrays) {
    arrays[name] = new types[width](bytes.slice(at, at + width * count));
    at += width * count;
  }
  return arrays;
}

function makeCells(arrays) {
  const { combination, country, contacts, calls_all, calls_mine } = arrays;
  return { count: contacts.length, combination, country, contacts, calls: [calls_all, calls_mine] };
}

function makeLine(arrays, index) {
  const part = (name) => arrays[`${index}.${name}`];
  return {
    cell: part("cell"),
    length: part("length"),
    bandEnd: runningSum(part("band_runs")),
    rowBand: runningSum(part("row_step")),
    rowCell: part("row_cell"),
    rowCalls: [part("row_all"), part("row_mine")],
  };
}

function runningSum(steps) {
  const sums = new Uint32Array(steps.length);
  let sum = 0;
  for (let place = 0; place < steps.length; place++) sums[place] = sum += steps[place];
  return sums;
}

// ---- what a fit would do -------------------------------------------------------------------------------------------

function reckon(order, limit, excluded) {
  const owner = ownersOfCells(order, excluded);
  const owned = new Float64Array(rules.length);
  let noRule = 0, leftOut = facts.left_out;
  for (let cell = 0; cell < cells.count; cell++) {
    if (owner[cell] >= 0) owned[owner[cell]] += cells.contacts[cell];
    else if (owner[cell] === NO_RULE) noRule += cells.contacts[cell];
    else leftOut += cells.contacts[cell];
  }
  const filled = fill(order, owned, limit);
  const { keptOfCell, calls } = take(owner, owned, filled.kept, filled.carried);
  const ruleFull = sum(owned) - sum(filled.taken);
  const overLimit = sum(filled.taken) - sum(filled.kept);
  return { ...filled, owned, keptOfCell, calls, noRule, leftOut, ruleFull, overLimit };
}

const NO_RULE = -1, EXCLUDED = -2;

function ownersOfCells(order, excluded) {
  const place = new Int32Array(rules.length);
  order.forEach((rule, index) => { place[rule] = index; });
  const ownerOfCombination = facts.combinations.map((met) =>
    met.length ? met.reduce((best, rule) => (place[rule] < place[best] ? rule : best)) : NO_RULE);
  const owner = new Int16Array(cells.count);
  for (let cell = 0; cell < cells.count; cell++) {
    owner[cell] = excluded.has(cells.country[cell]) ? EXCLUDED : ownerOfCombination[cells.combination[cell]];
  }
  return owner;
}

// How many each rule takes and keeps, and where the limit falls: carried entries first, then the rules in their order.
function fill(order, owned, limit) {
  const taken = new Float64Array(rules.length), kept = new Float64Array(rules.length);
  let room = Math.max(limit - facts.keep_free, 0);
  const carried = Math.min(room, facts.carried);
  room -= carried;
  const cutRank = room + facts.carried + 1;
  let left = room, cut = null;
  for (const rule of order) {
    taken[rule] = Math.min(owned[rule], rules[rule].at_most ?? Infinity);
    kept[rule] = Math.min(taken[rule], left);
    left -= kept[rule];
    if (kept[rule] < taken[rule] && cut === null) cut = { rule, rank: cutRank };
  }
  return { taken, kept, carried, cut, total: carried + sum(kept) };
}

// Contacts kept per cell and calls of all who are kept, carried entries included.
function take(owner, owned, kept, carried) {
  const keptOfCell = new Uint32Array(cells.count);
  const calls = facts.carried_calls.map((summed) => summed[Math.min(carried, summed.length - 1)]);
  const left = new Float64Array(rules.length);
  for (let rule = 0; rule < rules.length; rule++) left[rule] = kept[rule] < owned[rule] ? kept[rule] : 0;
  for (let cell = 0; cell < cells.count; cell++) {
    const rule = owner[cell];
    if (rule < 0 || kept[rule] < owned[rule]) continue;
    keptOfCell[cell] = cells.contacts[cell];
    calls[0] += cells.calls[0][cell];
    calls[1] += cells.calls[1][cell];
  }
  lines.forEach((line, index) => {
    const ending = rules.map((rule, number) => rule.line === index && left[number] > 0);
    if (ending.some(Boolean)) walk(line, ending, owner, left, keptOfCell, calls);
  });
  return { keptOfCell, calls };
}

// Walks a line until all rules that end in it have what they may keep.
function walk(line, ending, owner, left, keptOfCell, calls) {
  const ends = new Map();
  let open = ending.filter(Boolean).length;
  for (let run = 0, band = 0; open > 0 && run < line.cell.length; run++) {
    while (run >= line.bandEnd[band]) band++;
    const cell = line.cell[run], rule = owner[cell];
    if (rule < 0 || !ending[rule] || left[rule] === 0) continue;
    const some = Math.min(left[rule], line.length[run]);
    keptOfCell[cell] += some;
    left[rule] -= some;
    if (left[rule] > 0) continue;
    ends.set(rule, { band, shares: sharesOfBand(line, band, run, some, owner, rule) });
    open--;
  }
  addCalls(line, ends, owner, calls);
}

// The share of each cell that a rule keeps of the band in which it ends, at `some` contacts of a run.
function sharesOfBand(line, band, lastRun, some, owner, rule) {
  const present = new Map(), kept = new Map();
  for (let run = band ? line.bandEnd[band - 1] : 0; run < line.bandEnd[band]; run++) {
    const cell = line.cell[run];
    if (owner[cell] !== rule) continue;
    const taken = run < lastRun ? line.length[run] : run === lastRun ? some : 0;
    present.set(cell, (present.get(cell) ?? 0) + line.length[run]);
    kept.set(cell, (kept.get(cell) ?? 0) + taken);
  }
  return new Map([...present].map(([cell, count]) => [cell, kept.get(cell) / count]));
}

function addCalls(line, ends, owner, calls) {
  for (let row = 0; row < line.rowCell.length; row++) {
    const cell = line.rowCell[row], end = ends.get(owner[cell]);
    if (!end || line.rowBand[row] > end.band) continue;
    const share = line.rowBand[row] < end.band ? 1 : end.shares.get(cell);
    calls[0] += line.rowCalls[0][row] * share;
    calls[1] += line.rowCalls[1][row] * share;
  }
}

function sum(numbers) {
  return numbers.reduce((total, number) => total + number, 0);
}

// ---- what is shown -------------------------------------------------------------------------------------------------

function answer() {
  performance.clearMeasures("answer");
  const begin = performance.now();
  const outcome = reckon(state.order, state.limit, state.excluded);
  first ??= outcome;
  showResult(outcome);
  showRules(outcome);
  showAccount(outcome);
  showCountries(outcome);
  element("settings").value = settingsText();
  tellSoon(outcome);
  performance.measure("answer", { start: begin, end: performance.now() });
}

function showResult(outcome) {
  setText(element("kept"), format.format(outcome.total));
  setText(element("kept-of"), `of ${format.format(state.limit)}`);
  setText(element("cut"), cutSentence(outcome));
  showAhead();
  if (!facts.calls) return;
  showShare("all", outcome, 0);
  if (facts.calls.has_mine) showShare("mine", outcome, 1);
}

function showShare(name, outcome, part) {
  const total = facts.calls[name];
  setText(element(`share-${name}`), total ? `${percent.format((100 * outcome.calls[part]) / total)} %` : "no calls");
  const change = total ? (100 * (outcome.calls[part] - first.calls[part])) / total : 0;
  setText(element(`change-${name}`), Math.abs(change) < 0.05 ? "" : `${change > 0 ? "+" : "−"}${percent.format(Math.abs(change))} points`);
}

// A forecast is known for the rules as the file has them, at some limits; the nearest of these below the limit counts.
function showAhead() {
  if (!facts.to_come) return;
  const { share, note } = ahead();
  setText(element("share-ahead"), share);
  setText(element("note-ahead"), note);
}

function ahead() {
  const known = facts.to_come.by_limit, room = Math.max(state.limit - facts.keep_free, 0);
  const inPercent = (part) => percent.format(100 * part);
  if (!known.length) return { share: "no figure", note: facts.to_come.why ?? "" };
  if (isMoved() || state.excluded.size) return { share: "not known", note: "for other rules; pruner fit tells" };
  const found = known.filter((one) => one.contacts <= room).at(-1);
  const counted = (number) => `${format.format(number)} ${number === 1 ? "contact" : "contacts"}`;
  if (!found) return { share: "not known", note: `below ${counted(known[0].contacts)}` };
  const at = `at ${counted(found.contacts)}`;
  if (found.low === null) return { share: "no figure", note: `the logs tell too little, ${at}` };
  if (found.share === null) return { share: `at least ${inPercent(found.low)} %`, note: at };
  return { share: `${inPercent(found.share)} %`, note: `${inPercent(found.low)} to ${inPercent(found.high)}, ${at}` };
}

function isMoved() {
  return state.order.some((rule, place) => rule !== place);
}

function cutSentence(outcome) {
  if (outcome.cut === null) return "Everything that a rule takes goes in.";
  const { rule } = outcome.cut;
  const taken = format.format(outcome.taken[rule]);
  return `The limit falls inside “${rules[rule].name}”: ${format.format(outcome.kept[rule])} of ${taken}.`;
}

function showRules(outcome) {
  state.order.forEach((rule, place) => {
    const row = rows.rules[rule], owned = outcome.owned[rule], kept = outcome.kept[rule];
    setText(row.figures, `${format.format(kept)} of ${format.format(owned)} kept`);
    setText(row.here, outcome.cut?.rule === rule ? "the limit falls here" : "");
    setText(row.place, `${place + 1}. `);
    setBar(row, kept, owned);
    row.up.setAttribute("aria-disabled", String(place === 0));
    row.down.setAttribute("aria-disabled", String(place === rules.length - 1));
  });
}

// The whole bar is what the rule owns; kept is filled, what is not kept has the other colour.
function setBar(row, kept, owned) {
  const share = owned ? (100 * kept) / owned : 0;
  row.keptBar.setAttribute("width", share);
  row.droppedBar.setAttribute("x", share);
  row.droppedBar.setAttribute("width", owned ? 100 - share : 0);
}

function showAccount(outcome) {
  const counts = {
    kept: outcome.total, "over limit": outcome.overLimit, "rule full": outcome.ruleFull,
    "no rule": outcome.noRule, "left out": outcome.leftOut,
  };
  for (const [word, count] of Object.entries(counts)) setText(rows.account[word], format.format(count));
}

function showCountries(outcome) {
  const kept = new Float64Array(facts.countries.length);
  for (let cell = 0; cell < cells.count; cell++) kept[cells.country[cell]] += outcome.keptOfCell[cell];
  rows.countries.forEach((row, country) => {
    setText(row.kept, format.format(kept[country]));
    row.box.checked = state.excluded.has(country);
    row.line.classList.toggle("out-row", row.box.checked);
  });
  const out = state.excluded.size;
  setText(element("countries-note"), out ? `${out === 1 ? "1 country is" : `${out} countries are`} left out.` : "");
}

function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

let telling;
function tellSoon(outcome) {
  clearTimeout(telling);
  telling = setTimeout(() => {
    const shares = facts.to_come ? ` Calls to come named: ${element("share-ahead").textContent}.` : "";
    element("told").textContent = `${format.format(outcome.total)} kept. ${cutSentence(outcome)}${shares}`;
  }, 500);
}

// ---- the settings that the page stands for -------------------------------------------------------------------------

function settingsText() {
  const parts = [];
  const moved = isMoved();
  if (state.excluded.size) {
    parts.push(`# Before all other [[drop]] tables.\n[[drop]]\nname = ${facts.drop_name}\ncountries = [${excludedCodes()}]`);
  }
  if (moved && !facts.order_by_name) {
    parts.push(`# In place of all [[keep]] tables.\n${state.order.map((rule) => rules[rule].table).join("\n\n")}`);
  }
  if ((moved && facts.order_by_name) || state.limit !== facts.contacts) {
    parts.push(`# In place of the [[radio]] table with this name.\n${radioTable(moved && facts.order_by_name)}`);
  }
  return parts.length ? `${parts.join("\n\n")}\n` : "# Nothing is different from the settings of the file.\n";
}

function excludedCodes() {
  return [...state.excluded].map((country) => `"${facts.countries[country][0]}"`).sort().join(", ");
}

function radioTable(byName) {
  const table = new Map(facts.table);
  table.set("contacts", String(state.limit));
  if (byName) table.set("rules", `[${state.order.map((rule) => rules[rule].quoted).join(", ")}]`);
  return ["[[radio]]", ...[...table].map(([key, value]) => `${key} = ${value}`)].join("\n");
}

async function copySettings() {
  const box = element("settings");
  try {
    await navigator.clipboard.writeText(box.value);
  } catch {
    box.select();
    if (!document.execCommand("copy")) {
      setText(element("copied"), "The text is selected; copy it with your keyboard.");
      return;
    }
  }
  setText(element("copied"), "Copied.");
}

// ---- moving rules --------------------------------------------------------------------------------------------------

function moveRule(rule, to) {
  const order = state.order.filter((other) => other !== rule);
  if (to < 0 || to > order.length) return;
  order.splice(to, 0, rule);
  setOrder(order, rule);
  answer();
}

// The row that moves stays where it is in the document and the others are put around it: it keeps focus and pointer.
function setOrder(order, fixed) {
  state.order = order;
  const list = element("rules"), place = order.indexOf(fixed);
  order.forEach((rule, index) => {
    if (index < place) list.insertBefore(rows.rules[rule].line, rows.rules[fixed].line);
    else if (index > place) list.append(rows.rules[rule].line);
  });
}

function startDrag(event, rule) {
  if (event.button !== 0) return;
  event.preventDefault();
  const before = state.order.slice(), line = rows.rules[rule].line, stop = new AbortController();
  const listen = (name, act) => window.addEventListener(name, act, { signal: stop.signal });
  const end = () => { stop.abort(); line.classList.remove("dragged"); };
  line.classList.add("dragged");
  listen("pointermove", (move) => {
    const to = placeAt(move.clientY, rule);
    if (to !== state.order.indexOf(rule)) moveRule(rule, to);
  });
  listen("pointerup", end);
  listen("pointercancel", end);
  listen("keydown", (key) => {
    if (key.key !== "Escape") return;
    end();
    setOrder(before, rule);
    answer();
  });
}

// How many of the other rules have their middle above a height on the screen.
function placeAt(height, rule) {
  return state.order.filter((other) => {
    const box = rows.rules[other].line.getBoundingClientRect();
    return other !== rule && box.top + box.height / 2 < height;
  }).length;
}

// ---- making the rows -----------------------------------------------------------------------------------------------

function make(tag, { text, name, ...attributes } = {}, ...children) {
  const node = document.createElement(tag);
  if (text !== undefined) node.textContent = text;
  if (name) node.className = name;
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}

function makeRule(rule) {
  const { name, order, at_most: most } = rules[rule];
  const button = (sign, word, step) => {
    const made = make("button", { type: "button", text: sign, "aria-label": `Move ${name} ${word}`, title: `Move ${word}` });
    made.addEventListener("click", () => moveRule(rule, state.order.indexOf(rule) + step));
    return made;
  };
  const up = button("↑", "up", -1), down = button("↓", "down", 1);
  const grip = make("span", { name: "grip", text: "⠿", "aria-hidden": "true", title: "Drag" });
  grip.addEventListener("pointerdown", (event) => startDrag(event, rule));
  const place = make("span"), here = make("span", { name: "cut-here" }), figures = make("span");
  const note = `order ${order}${most === null ? "" : `, ${format.format(most)} at most`} · `;
  const bar = makeBar();
  const words = make("div", {},
    make("div", { name: "rule-name" }, place, make("bdi", { text: name })),
    make("div", { name: "rule-note" }, note, figures, " ", here), bar.picture);
  const line = make("li", {}, grip, words, make("div", { name: "moves" }, up, down));
  element("rules").append(line);
  return { line, place, figures, here, up, down, ...bar };
}

function makeBar() {
  const space = "http://www.w3.org/2000/svg";
  const picture = document.createElementNS(space, "svg");
  const [back, keptBar, droppedBar] = ["back", "kept", "dropped"].map((name) => {
    const part = document.createElementNS(space, "rect");
    part.setAttribute("class", name);
    part.setAttribute("height", "8");
    picture.append(part);
    return part;
  });
  back.setAttribute("width", "100");
  for (const [key, value] of [["class", "bar"], ["viewBox", "0 0 100 8"], ["preserveAspectRatio", "none"], ["aria-hidden", "true"]]) {
    picture.setAttribute(key, value);
  }
  return { picture, keptBar, droppedBar };
}

function makeCountry(country) {
  const [code, name] = facts.countries[country];
  const label = code ? `${name} (${code})` : "unknown country";
  const box = make("input", { type: "checkbox", "aria-label": `Leave out ${label}` });
  box.disabled = !code;
  box.addEventListener("change", () => {
    if (box.checked) state.excluded.add(country);
    else state.excluded.delete(country);
    answer();
  });
  const kept = make("td");
  const line = make("tr", {},
    make("td", {}, box), make("th", { scope: "row" }, make("bdi", { text: label })), make("td"), kept);
  return { line, box, kept, label };
}

function makeCountries() {
  const contacts = new Float64Array(facts.countries.length);
  for (let cell = 0; cell < cells.count; cell++) contacts[cells.country[cell]] += cells.contacts[cell];
  rows.countries = facts.countries.map((_, country) => makeCountry(country));
  rows.countries.forEach((row, country) => { row.line.children[2].textContent = format.format(contacts[country]); });
  const byContacts = [...rows.countries.keys()].sort((one, other) => contacts[other] - contacts[one] || one - other);
  element("countries").append(...byContacts.map((country) => rows.countries[country].line));
}

function makeAccount() {
  for (const word of ["kept", "over limit", "rule full", "no rule", "left out"]) {
    rows.account[word] = make("td");
    element("account").append(make("tr", {}, make("th", { scope: "row", text: word }), rows.account[word]));
  }
}

function findCountry() {
  const wanted = element("find").value.trim().toLocaleLowerCase("en");
  for (const row of rows.countries) row.line.hidden = !row.label.toLocaleLowerCase("en").includes(wanted);
}

// ---- begin ---------------------------------------------------------------------------------------------------------

function setLimit(value) {
  state.limit = Math.min(Math.max(Math.round(value) || 0, 0), 2147483647);
  answer();
}

function makeLimit() {
  const box = element("limit"), slider = element("slider");
  const most = Math.max(sum(cells.contacts) + facts.carried + facts.keep_free, facts.contacts);
  slider.max = most;
  box.addEventListener("input", () => { setLimit(box.valueAsNumber); slider.value = state.limit; });
  box.addEventListener("change", () => { box.value = state.limit; });
  slider.addEventListener("input", () => { setLimit(roundStep(slider.valueAsNumber, most)); box.value = state.limit; });
  const free = facts.keep_free ? ` ${format.format(facts.keep_free)} of them are kept free.` : "";
  const carried = facts.carried ? ` ${format.format(facts.carried)} entries that the radio carries come first.` : "";
  setText(element("limit-note"), `Contacts that the radio holds; ${format.format(facts.contacts)} in the file.${free}${carried}`);
}

// On the scale the limit moves in round steps, its end is exact.
function roundStep(value, most) {
  const step = 10 ** Math.max(Math.floor(Math.log10(most)) - 2, 0);
  return value >= most ? most : Math.round(value / step) * step;
}

function reset() {
  state.excluded.clear();
  state.limit = facts.contacts;
  element("limit").value = element("slider").value = facts.contacts;
  if (rules.length) setOrder(rules.map((_, rule) => rule), 0);
  setText(element("copied"), "");
  answer();
}

function settingsNote() {
  const kept = facts.order_by_name ? "The order of the rules is told by their names, in the table of the radio." : "";
  const others = facts.several_radios ? "A country that is left out is left out of the other radios of the file as well." : "";
  return ["What is different, to be put into the settings file; comments are not taken along.", kept, others].filter(Boolean).join(" ");
}

async function begin() {
  const arrays = await unpack();
  cells = makeCells(arrays);
  const count = Math.max(...rules.map((rule) => rule.line)) + 1;
  lines = Array.from({ length: count }, (_, index) => makeLine(arrays, index));
  rows.rules = rules.map((_, rule) => makeRule(rule));
  makeAccount();
  makeCountries();
  makeLimit();
  setText(element("settings-note"), settingsNote());
  element("find").addEventListener("input", findCountry);
  element("copy").addEventListener("click", copySettings);
  element("reset").addEventListener("click", reset);
  reset();
  element("all").hidden = false;
}

begin().catch((problem) => {
  element("trouble").textContent = `This page could not count: ${problem.message}. A current browser is needed.`;
  element("trouble").hidden = false;
});
