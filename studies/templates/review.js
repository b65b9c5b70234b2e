"use strict";
/* The page that a reviewer keeps open: one candidate's map and section, and how it stands among all others. */
const data = JSON.parse(document.getElementById("data").textContent);
const $ = (id) => document.getElementById(id);
const INK = "#1c2529", QUIET = "#5d6a70", HUE = "#0f5a63";
const TINTS = ["#ffffff", "#dceaea", "#b2d0d2", "#7fb0b4"];
const plain = (text) => String(text).replace(/[<>&]/g, (sign) => ({ "<": "&lt;", ">": "&gt;", "&": "&amp;" })[sign]);
const QUANTITIES = {
  margin: { title: "margin [dB], worst of all states and leans", scale: (dB) => dB, text: (dB) => dB.toFixed(1) + " dB" },
  k: { title: "coupling coefficient, 20 log |k| [dB]", scale: (dB) => dB, text: (dB) => (100 * 10 ** (dB / 20)).toPrecision(3) + " %" },
  volts: { title: "chip voltage before the clamp [V peak]", scale: (dB) => 10 ** (dB / 20), text: (dB) => (10 ** (dB / 20)).toPrecision(3) + " V" },
};
const now = { design: data.first, tilt: 0, quantity: "margin", offset: 0, sort: null, down: true };
const unpacked = new Map();

async function mapOf(design) {
  if (design.map === null) return null;
  if (unpacked.has(design.name)) return unpacked.get(design.name);
  const bytes = Uint8Array.from(atob(design.map), (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const steps = new Int16Array(await new Response(stream).arrayBuffer());
  let sum = 0;
  for (let i = 0; i < steps.length; i++) { sum = (sum + steps[i]) << 16 >> 16; steps[i] = sum; }
  const [nT, nZ, nX] = [data.tilts.length, design.heights.length, design.offsets.length];
  const layer = (n, tilt) => Array.from({ length: nZ }, (_, z) =>
    Array.from({ length: nX }, (_, x) => steps[((n * nT + tilt) * nZ + z) * nX + x] / 100));
  const found = { margin: (t) => layer(0, t), k: (t) => layer(1, t), volts: (t) => layer(2, t) };
  unpacked.set(design.name, found);
  return found;
}

const valueText = (design, axis) => data.axes[axis].texts[design.places[axis]];
const valuesText = (design) => data.axes.map((axis, i) => axis.title.replace(/ \[.*\]$/, "") + " " + valueText(design, i)).join(", ");

function near(list, value) {
  let best = 0;
  list.forEach((one, i) => { if (Math.abs(one - value) < Math.abs(list[best] - value)) best = i; });
  return best;
}

/* -- the map with the section under it ---------------------------------------------------------------------------- */

const both = (row, sign) => [...row.slice(1).reverse().map((v) => (sign ? -v : v)), ...row];

async function drawMap() {
  const design = data.designs[now.design], found = await mapOf(design);
  const bodies = design.bodies.map((number) => data.bodies[number].split("|"));
  const shapes = bodies.map(([, colour, path]) => {
    return { type: "path", path, fillcolor: colour, line: { color: INK, width: 0.6 }, layer: "above" };
  });
  const traces = [], told = [];
  if (found !== null) {
    const greatest = Math.max(...found.margin(now.tilt).map((row) => Math.max(...row)));
    if (now.quantity === "margin" && greatest < 0) told.push(note(greatest));
    const dB = found[now.quantity](now.tilt), all = { margin: found.margin(now.tilt), k: found.k(now.tilt), volts: found.volts(now.tilt) };
    const words = design.heights.map((height, z) => design.offsets.map((offset, x) =>
      `${height.toFixed(1)} mm up, ${offset.toFixed(1)} mm off the axis<br>margin ${QUANTITIES.margin.text(all.margin[z][x])}` +
      `<br>k ${QUANTITIES.k.text(all.k[z][x])}<br>chip ${QUANTITIES.volts.text(all.volts[z][x])}`));
    const quantity = QUANTITIES[now.quantity], z = dB.map((row) => both(row.map(quantity.scale)));
    traces.push({ type: "heatmap", x: both(design.offsets, true), y: design.heights, z, text: words.map((row) => both(row)),
      hovertemplate: "%{text}<extra></extra>", zsmooth: false, ...colours(z), colorbar: bar() });
    if (now.quantity === "margin") {
      for (const [level, width, dash] of [[0, 2.4, "solid"], [3, 1.3, "dash"], [6, 1.3, "dot"]]) {
        traces.push({ type: "contour", x: both(design.offsets, true), y: design.heights, z, hoverinfo: "skip", showscale: false, showlegend: false,
          autocontour: false, contours: { start: level, end: level, size: 1, coloring: "none", showlabels: true,
            labelfont: { size: 11, color: INK } }, line: { color: HUE, width, dash } });
      }
    }
  }
  for (const [name, colour] of bodies) {
    traces.push({ type: "scatter", mode: "markers", name: plain(name), x: [null], y: [null], hoverinfo: "skip",
      marker: { symbol: "square", size: 10, color: colour, line: { width: 0.6, color: INK } } });
  }
  traces.push({ type: "scatter", mode: "markers", name: "required places", x: data.required.map((p) => p.x), y: data.required.map((p) => p.z),
    marker: { symbol: "cross-thin", size: 11, line: { width: 2, color: INK } }, hoverinfo: "skip" });
  const layout = { margin: { l: 56, r: 12, t: 34, b: 100 }, shapes, annotations: told, legend: { orientation: "h", y: -0.16, font: { size: 11 } }, dragmode: "pan", hovermode: "closest", paper_bgcolor: "#fff",
    plot_bgcolor: "#fff", font: { color: INK, size: 12 },
    xaxis: { title: { text: "distance from the axis [mm]" }, zeroline: true, zerolinecolor: QUIET, showgrid: false },
    yaxis: { title: { text: "height above the plate [mm]" }, scaleanchor: "x", zeroline: true, zerolinecolor: QUIET, showgrid: false } };
  await Plotly.react("map", traces, layout, CONFIG);
}

/* A map or a cut on which nothing is read says so. */
function note(greatest) {
  const most = greatest > -250 ? `the greatest margin is ${greatest.toFixed(1)} dB` : "nothing is induced";
  return { text: `not read anywhere at this tilt: ${most}`, xref: "paper", yref: "paper", x: 0.5, y: 1, showarrow: false,
    bgcolor: "rgba(255,255,255,.85)" };
}

function colours(z) {
  if (now.quantity === "margin") {
    const scale = [];
    TINTS.forEach((tint, i) => { scale.push([i / 4, tint], [(i + 1) / 4, tint]); });
    return { colorscale: scale, zmin: -3, zmax: 9 };
  }
  return { colorscale: [[0, "#f2f8f7"], [0.2, "#c9dfdf"], [0.4, "#93bfc3"], [0.6, "#5a98a0"], [0.8, "#2c6f7a"], [1, "#06262d"]] };
}

function bar() {
  const common = { thickness: 12, len: 0.6, outlinewidth: 0.5, title: { text: QUANTITIES[now.quantity].title, side: "right" } };
  return now.quantity === "margin" ? { ...common, tickvals: [0, 3, 6], ticktext: ["0", "3", "6"] } : common;
}

/* -- cut and scatter ---------------------------------------------------------------------------------------------- */

async function drawCut() {
  const design = data.designs[now.design], found = await mapOf(design);
  const traces = [], told = [];
  if (found !== null) {
    const x = near(design.offsets, now.offset), margin = found.margin(now.tilt).map((row) => row[x]);
    const greatest = Math.max(...margin);
    if (greatest < -20) told.push(note(greatest));
    traces.push({ type: "scatter", mode: "lines", x: design.heights, y: margin, line: { color: HUE, width: 2 },
      hovertemplate: "%{x:.1f} mm up: %{y:.1f} dB<extra></extra>" });
  }
  const layout = { margin: { l: 50, r: 12, t: 34, b: 44 }, annotations: told, font: { color: INK, size: 12 }, showlegend: false, dragmode: "pan",
    xaxis: { title: { text: "height [mm]" }, showgrid: false },
    yaxis: { title: { text: "margin [dB]" }, zeroline: true, zerolinecolor: INK, range: [-20, 25] } };
  await Plotly.react("cut", traces, layout, CONFIG);
}

const columns = () => [
  ...data.axes.map((axis, i) => ({ title: axis.title, of: (d) => (axis.numbers ? axis.numbers[d.places[i]] : d.places[i]), text: (d) => axis.texts[d.places[i]], number: Boolean(axis.numbers) })),
  ...data.figures.map((figure, i) => ({ title: figure.title, of: (d) => d.figures[i], text: (d) => (d.figures[i] === null ? "" : d.figures[i].toFixed(figure.digits)), number: true })),
];

async function drawScatter() {
  const all = columns(), x = all[$("across").value], y = all[$("up").value], chosen = data.designs[now.design];
  const traces = [["meets", HUE, HUE], ["misses", "#fff", HUE]].map(([state, face, edge]) => {
    const some = data.designs.filter((d) => d.state === state && x.of(d) !== null && y.of(d) !== null);
    return { type: "scatter", mode: "markers", name: state === "meets" ? "meets all requirements" : "misses one", x: some.map(x.of), y: some.map(y.of),
      customdata: some.map((d) => data.designs.indexOf(d)), text: some.map((d) => plain(d.name + ": " + valuesText(d))),
      hovertemplate: "%{text}<br>%{x:.4g}, %{y:.4g}<extra></extra>", marker: { size: 8, color: face, line: { width: 1.4, color: edge } } };
  });
  if (x.of(chosen) !== null && y.of(chosen) !== null) {
    traces.push({ type: "scatter", mode: "markers", x: [x.of(chosen)], y: [y.of(chosen)], hoverinfo: "skip", showlegend: false,
      marker: { size: 17, color: "rgba(0,0,0,0)", line: { width: 2, color: INK } } });
  }
  const words = (i) => (i < data.axes.length && !data.axes[i].numbers ? { tickvals: data.axes[i].texts.map((_, n) => n), ticktext: data.axes[i].texts.map(plain) } : {});
  const layout = { margin: { l: 56, r: 12, t: 34, b: 84 }, font: { color: INK, size: 12 }, hovermode: "closest", dragmode: "pan",
    legend: { orientation: "h", y: -0.35 }, xaxis: { title: { text: plain(x.title) }, ...words(Number($("across").value)) },
    yaxis: { title: { text: plain(y.title) }, ...words(Number($("up").value)) } };
  await Plotly.react("scatter", traces, layout, CONFIG);
}

/* -- the table ---------------------------------------------------------------------------------------------------- */

function shown() {
  const wanted = $("filter").value.trim().toLowerCase(), passing = $("passing").checked, all = columns();
  const rows = data.designs.map((design, index) => ({ design, index })).filter(({ design }) => {
    const words = [design.name, valuesText(design), design.state, ...design.misses].join(" ").toLowerCase();
    return (!passing || design.state === "meets") && wanted.split(",").every((part) => words.includes(part.trim()));
  });
  if (now.sort !== null) {
    const of = now.sort < 0 ? (d) => d.name : all[now.sort].of;
    rows.sort((a, b) => {
      const [p, q] = [of(a.design), of(b.design)];
      if (p === null || q === null) return (p === null) - (q === null);
      return (p < q ? -1 : p > q ? 1 : 0) * (now.down ? -1 : 1);
    });
  }
  return rows;
}

function cell(row, text, kind) {
  const made = document.createElement("td");
  made.textContent = text;
  if (kind) made.className = kind;
  row.append(made);
  return made;
}

function drawTable() {
  const all = columns(), body = $("rows"), rows = shown();
  body.replaceChildren(...rows.map(({ design, index }) => {
    const row = document.createElement("tr"), name = document.createElement("th"), button = document.createElement("button");
    name.scope = "row"; button.type = "button"; button.className = "pick"; button.textContent = design.name;
    button.addEventListener("click", () => choose(index));
    name.append(button); row.append(name);
    all.forEach((column) => cell(row, column.text(design), column.number ? "number" : ""));
    cell(row, design.state === "meets" ? "meets all" : design.state + (design.misses.length ? ": " + design.misses.join("; ") : ""), design.state);
    if (index === now.design) { row.className = "chosen"; row.setAttribute("aria-current", "true"); }
    return row;
  }));
  $("counted").textContent = `${rows.length} of ${data.designs.length} candidates`;
  document.querySelectorAll("#heads th").forEach((head, i) => {
    const is = i - 1 === now.sort;
    head.setAttribute("aria-sort", is ? (now.down ? "descending" : "ascending") : "none");
  });
}

function drawHeads() {
  const titles = [{ title: "candidate" }, ...columns(), { title: "verdict" }];
  $("heads").replaceChildren(...titles.map((column, i) => {
    const head = document.createElement("th"); head.scope = "col";
    if (i === titles.length - 1) { head.textContent = column.title; return head; }
    const button = document.createElement("button");
    button.type = "button"; button.textContent = column.title;
    button.addEventListener("click", () => { now.down = now.sort === i - 1 ? !now.down : i > data.axes.length; now.sort = i - 1; drawTable(); });
    head.append(button);
    return head;
  }));
}

/* -- what is chosen ----------------------------------------------------------------------------------------------- */

function drawWords() {
  const design = data.designs[now.design];
  $("who").textContent = data.axes.length ? `${design.name}: ${valuesText(design)}` : design.name;
  const figures = data.figures.map((figure, i) => (design.figures[i] === null ? null : `${figure.title.replace(/ \[(.*)\]$/, "")} ${design.figures[i].toFixed(figure.digits)} ${figure.title.match(/\[(.*)\]$/)[1]}`)).filter(Boolean);
  $("verdict").textContent = design.state === "meets" ? "Meets all requirements." : design.state === "misses" ? "Misses: " + design.misses.join("; ") + "." : "Not computed: " + design.misses.join("; ");
  $("verdict").className = design.state;
  $("inshort").textContent = figures.join(", ") + (design.worst ? `. Worst: ${design.worst}.` : "");
  $("tiltis").textContent = `${data.tilts[now.tilt]}°`;
  $("offsetis").textContent = `${now.offset.toFixed(1)} mm`;
  $("candidateis").textContent = design.name;
  $("candidate").value = now.design;
  document.querySelectorAll("[data-axis]").forEach((slider) => {
    const axis = Number(slider.dataset.axis);
    slider.value = design.places[axis];
    $("axisis" + axis).textContent = valueText(design, axis);
  });
  history.replaceState(null, "", "#" + new URLSearchParams({ candidate: design.name, tilt: data.tilts[now.tilt], show: now.quantity }));
}

async function draw() {
  drawWords(); drawTable();
  await Promise.all([drawMap(), drawCut(), drawScatter()]);
}

function choose(index) { now.design = index; return draw(); }

/* Along one axis, all else as it is; where there is no such candidate, the one whose other values are nearest. */
function along(axis, place) {
  const own = data.designs[now.design].places;
  let best = now.design, least = Infinity;
  data.designs.forEach((design, index) => {
    if (design.places[axis] !== place) return;
    const apart = design.places.reduce((sum, one, i) => sum + (i === axis ? 0 : Math.abs(one - own[i])), 0);
    if (apart < least) { least = apart; best = index; }
  });
  return choose(best);
}

function setUp() {
  const asked = new URLSearchParams(location.hash.slice(1));
  const named = data.designs.findIndex((design) => design.name === asked.get("candidate"));
  if (named >= 0) now.design = named;
  if (asked.has("tilt")) now.tilt = near(data.tilts, Number(asked.get("tilt")));
  if (asked.get("show") in QUANTITIES) now.quantity = asked.get("show");
  $("candidate").max = data.designs.length - 1;
  $("candidate").addEventListener("input", (event) => choose(Number(event.target.value)));
  $("tilt").max = data.tilts.length - 1; $("tilt").value = now.tilt;
  $("tilt").addEventListener("input", (event) => { now.tilt = Number(event.target.value); return draw(); });
  const reach = Math.max(0, ...data.designs.filter((d) => d.map !== null).map((d) => d.offsets[d.offsets.length - 1]));
  $("offset").max = reach; $("offset").addEventListener("input", (event) => { now.offset = Number(event.target.value); drawWords(); return drawCut(); });
  data.axes.forEach((axis, i) => {
    if (axis.texts.length < 2) return;
    const label = document.createElement("label"), slider = document.createElement("input"), said = document.createElement("output");
    label.append(axis.title.replace(/ \[.*\]$/, "") + " ", said, slider);
    Object.assign(slider, { type: "range", min: 0, max: axis.texts.length - 1, step: 1 });
    slider.dataset.axis = i; said.id = "axisis" + i;
    slider.addEventListener("input", (event) => along(i, Number(event.target.value)));
    $("axes").append(label);
  });
  const all = columns();
  for (const [id, first] of [["across", data.axes.length ? 0 : 4], ["up", data.axes.length]]) {
    all.forEach((column, i) => $(id).append(new Option(column.title, i, false, i === first)));
    $(id).addEventListener("change", drawScatter);
  }
  $("show").value = now.quantity;
  $("show").addEventListener("change", (event) => { now.quantity = event.target.value; return draw(); });
  for (const id of ["filter", "passing"]) $(id).addEventListener("input", drawTable);
  drawHeads();
}

const CONFIG = { responsive: true, displaylogo: false, scrollZoom: true, modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"] };
/* Words and table first: the plotting library, which comes last in the page, takes a second to load. */
setUp();
drawWords(); drawTable();
document.documentElement.dataset.shown = Math.round(performance.now());
document.addEventListener("DOMContentLoaded", () => draw().then(() => {
  const watcher = new ResizeObserver((seen) => seen.forEach((one) => Plotly.Plots.resize(one.target)));
  ["map", "cut", "scatter"].forEach((id) => watcher.observe($(id)));
  $("scatter").on("plotly_click", (event) => { const at = event.points[0].customdata; if (at !== undefined) choose(at); });
  document.documentElement.dataset.ready = Math.round(performance.now());
}));
