// Two drawings: the plan, north up, and the arch of the flight. Text goes in as text nodes.

const SVG = "http://www.w3.org/2000/svg";
const DEGREE = 111_195; // m per degree of latitude on the mean sphere: a sketch, not a map

function draw(parent, tag, attributes, text) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (text !== undefined) node.textContent = text;
  parent.append(node);
  return node;
}

const rings = (region) =>
  region.type === "Polygon" ? region.coordinates.slice(0, 1) : region.coordinates.map((p) => p[0]);

const numbers = (pairs) => pairs.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");

// 1, 2 or 5 times a power of ten, the largest that is not longer than this.
function roundLength(m) {
  const ten = 10 ** Math.floor(Math.log10(m));
  return [5, 2, 1].find((n) => n * ten <= m) * ten;
}

export function drawPlan(svg, payload, base, words, landingOnly) {
  const [width, height, margin] = [340, 260, 40];
  svg.replaceChildren();
  const { last, landing } = payload;
  const r50 = landing ? rings(landing.region_50) : [];
  const r90 = landing ? rings(landing.region_90) : [];
  const shown = landing && landingOnly
    ? [[landing.lon, landing.lat]]
    : [base, last, landing].filter((p) => p).map((p) => [p.lon, p.lat]);
  const all = [...shown, ...r90.flat(), ...r50.flat()];
  if (all.length === 0) {
    draw(svg, "text", { x: width / 2, y: height / 2, "text-anchor": "middle" }, "Nothing to draw yet");
    return;
  }
  const middle = (k) => (Math.min(...all.map((p) => p[k])) + Math.max(...all.map((p) => p[k]))) / 2;
  const [lon0, lat0] = [middle(0), middle(1)];
  const east = Math.cos(lat0 * Math.PI / 180) * DEGREE;
  const plane = ([lon, lat]) => [(lon - lon0) * east, (lat - lat0) * DEGREE];
  const reach = all.map(plane);
  const half = (k) => Math.max(100, ...reach.map((p) => Math.abs(p[k])));
  const scale = Math.min((width / 2 - margin) / half(0), (height / 2 - margin) / half(1));
  const at = (p) => {
    const [x, y] = plane(p);
    return [width / 2 + x * scale, height / 2 - y * scale];
  };

  for (const ring of r90) draw(svg, "polygon", { class: "r90", points: numbers(ring.map(at)) });
  for (const ring of r50) draw(svg, "polygon", { class: "r50", points: numbers(ring.map(at)) });
  const marks = [];
  if (last && landing) {
    draw(svg, "polyline", { class: "way", points: numbers([at([last.lon, last.lat]), at([landing.lon, landing.lat])]) });
  }
  if (base) marks.push(["base", at([base.lon, base.lat]), "path", { class: "mark-base", d: "M-7 7V-1L0-8 7-1V7Z" }]);
  if (landing) marks.push(["landing", at([landing.lon, landing.lat]), "path", { class: "mark-landing", d: "M-7-7 7 7M7-7-7 7" }]);
  if (last) marks.push(["last fix", at([last.lon, last.lat]), "circle", { class: "mark-now", r: 7 }]);
  const inside = marks.filter(([, [x, y]]) => x > -8 && x < width + 8 && y > -8 && y < height + 8);
  for (const [, [x, y], tag, look] of inside) draw(svg, tag, { ...look, transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` });
  label(svg, inside, width, height);

  const bar = roundLength(110 / scale * (words.feet ? 1 / 1609.344 : 1)) * (words.feet ? 1609.344 : 1);
  const length = bar * scale;
  draw(svg, "path", { class: "rule", d: `M12 ${height - 18}v7h${length.toFixed(1)}v-7` });
  draw(svg, "text", { class: "halo small", x: 18, y: height - 17 }, scaleText(bar, words));
  draw(svg, "path", { class: "rule", d: `M${width - 18} 36V12m-6 8 6-8 6 8` });
  draw(svg, "text", { class: "halo", x: width - 18, y: 50, "text-anchor": "middle" }, "N");
}

function scaleText(m, words) {
  if (words.feet) return `${Number((m / 1609.344).toPrecision(1))} mi`;
  return m >= 1000 ? `${m / 1000} km` : `${m} m`;
}

// Each label takes the first side of its mark where it hits nothing drawn before.
function label(svg, marks, width, height) {
  const taken = marks.map(([, [x, y]]) => [x - 9, y - 9, x + 9, y + 9]);
  taken.push([0, height - 36, 130, height], [width - 34, 0, width, 56]);
  for (const [name, [x, y]] of marks) {
    const long = name.length * 8.4;
    const sides = [[x + 12, y + 4, "start"], [x - 12, y + 4, "end"], [x, y - 13, "middle"], [x, y + 22, "middle"],
      [x + 12, y + 20, "start"], [x - 12, y - 12, "end"]];
    const box = ([tx, ty, anchor]) => {
      const left = anchor === "start" ? tx : anchor === "end" ? tx - long : tx - long / 2;
      return [left, ty - 12, left + long, ty + 4];
    };
    const free = ([a, b, c, d]) => a > 2 && c < width - 2 && b > 2 && d < height - 2
      && taken.every(([e, f, g, h]) => c < e || a > g || d < f || b > h);
    const side = sides.find((s) => free(box(s))) ?? sides[0];
    taken.push(box(side));
    draw(svg, "text", { class: "halo", x: side[0].toFixed(1), y: side[1].toFixed(1), "text-anchor": side[2] }, name);
  }
}

// The flight as one arch: left leg up, right leg down, what is flown drawn thick.
export function drawArch(svg, payload, words) {
  const [left, top, right, foot, peak] = [28, 24, 312, 84, 165];
  svg.replaceChildren();
  const { phase, last, burst, launch, landing } = payload;
  const ground = launch?.altitude_m ?? landing?.ground_m ?? 0;
  const altitude = last?.altitude_m ?? null;
  const summit = burst?.altitude_m ?? Math.max(payload.expected_burst_m ?? 0, (altitude ?? 0) * 1.1);
  const share = altitude === null || summit <= ground ? 0 : Math.min(1, Math.max(0, (altitude - ground) / (summit - ground)));
  const y = foot - share * (foot - top);
  const up = [left + share * (peak - left), y];
  const down = [right - share * (right - peak), y];
  draw(svg, "path", { class: "faint", d: `M8 ${foot}H332` });
  draw(svg, "path", { class: "coming", d: `M${left} ${foot}L${peak} ${top} ${right} ${foot}` });
  const falling = phase === "descent" || phase === "landed";
  const flown = phase === "landed" ? [[left, foot], [peak, top], [right, foot]]
    : falling ? [[left, foot], [peak, top], down] : [[left, foot], up];
  if (phase !== "prelaunch") draw(svg, "polyline", { class: "flown", points: numbers(flown) });
  const [x, height] = flown.at(-1);
  draw(svg, "circle", { class: "mark-now", r: 8, cx: x.toFixed(1), cy: height.toFixed(1) });
  const text = (tx, ty, anchor, say) => draw(svg, "text", { class: "small", x: tx, y: ty, "text-anchor": anchor }, say);
  if (burst) text(peak, 15, "middle", `burst ${words.height(burst.altitude_m)}`);
  else if (payload.expected_burst_m !== null) text(peak, 15, "middle", `burst planned ${words.height(payload.expected_burst_m)}`);
  text(8, 101, "start", launch ? `launch ${words.time(launch.time)}` : "launch");
  text(332, 101, "end", landing ? `landing ${words.time(landing.eta)}` : "landing");
}
