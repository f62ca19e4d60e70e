"use strict";
(() => {
  const D = JSON.parse(document.getElementById("numbers").textContent);
  const $ = (id) => document.getElementById(id);
  const LAST = D.days.length - 1;
  const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
  const BANDS = D.bands.map((band, i) => (i === 0 ? "unharmed" : band.words));
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
  const state = { day: 0, units: D.units, playing: false, asked: new Set(), stopAt: null, pending: null };
  const sides = ["A", "B"].map((letter) => ({ letter, box: $("roof" + letter), key: null, shown: null }));

  // ---- words and numbers ------------------------------------------------------------------------------------
  function say(value, kind) {
    const one = D.scales[kind][state.units];
    return (value * one.factor + one.offset).toFixed(one.digits).replace(/^-(0(\.0+)?)$/, "$1") + "\u00a0" + one.unit;
  }
  function dateWords(i) {
    const [y, m, d] = D.days[i].split("-").map(Number);
    return d + " " + MONTHS[m - 1] + " " + y;
  }
  const daysWords = (n) => (n === 1 ? "1 day" : n + " days");
  const fallWords = (fall) => (fall === 0 ? "level" : 100 * fall + " %");
  const sum = (values, end) => { let s = 0; for (let i = 0; i <= end; i++) s += values[i]; return s; };
  const count = (digits, end) => { let n = 0; for (let i = 0; i <= end; i++) n += digits[i] === "1"; return n; };
  function spell(digits, end) { let n = 0; while (end - n >= 0 && digits[end - n] === "1") n++; return n; }
  const runOf = (side) => D.runs[side.key];
  const partsOf = (key) => { const [below, medium, fall, outlet] = key.split("|"); return { below, medium, fall, outlet }; };
  const shapeOf = (side) => D.built[side.key.slice(0, side.key.lastIndexOf("|"))];
  const fateOf = (side) => D.outlets.find((one) => one.key === partsOf(side.key).outlet);
  function blockedOn(side, day) {
    const fate = fateOf(side);
    return fate.clogs !== null && day >= fate.clogs && (fate.clears === null || day < fate.clears) ? fate.blocked : 0;
  }
  const kept = (side, day) => { const rain = sum(D.rain, day); return rain > 0 ? 100 * (1 - sum(runOf(side).left, day) / rain) : null; };

  function rootsWords(side, day) {
    const run = runOf(side), third = (a, b) => Math.max(...run.hurt.slice(a, b).map((one) => +one[day]));
    const n = D.places, low = third(0, Math.ceil(n / 3)), mid = third(Math.ceil(n / 3), Math.ceil((2 * n) / 3)), high = third(Math.ceil((2 * n) / 3), n);
    const now = run.share[day] >= 99 ? "no air anywhere today" : run.share[day] > 0 ? "no air today in the lowest " + Math.max(1, Math.round(run.share[day])) + " %" : run.dry[day] === "1" ? "dry" : "air at all roots today";
    const words = low === mid && mid === high ? "all plants: " + BANDS[low] : "low end: " + BANDS[low] + "; middle: " + BANDS[mid] + "; high end: " + BANDS[high];
    return { text: words + " (" + now + ")", worst: Math.max(low, mid, high) };
  }

  function sentence(side, day) {
    const run = runOf(side), blocked = blockedOn(side, day);
    const outlet = blocked === 1 ? "outlet covered by leaves" : blocked > 0 ? "outlet half covered by leaves" : "outlet open";
    return "Roof " + side.letter + " on " + dateWords(day) + ", " + outlet + ": rain " + say(D.rain[day], "depth") + ", overflow " + say(run.left[day], "depth") +
      ", water at the outlet " + say(run.level[day], "level") + " deep, air left " + run.air[day].toFixed(0) + " % of the medium, " + rootsWords(side, day).text + ".";
  }

  // ---- the picture ------------------------------------------------------------------------------------------
  const NS = "http://www.w3.org/2000/svg";
  function svg(tag, attributes, parent) {
    const made = document.createElementNS(NS, tag);
    for (const name in attributes) made.setAttribute(name, attributes[name]);
    if (parent) parent.append(made);
    return made;
  }
  const path = (points) => "M" + points.map((p) => p[0].toFixed(1) + " " + p[1].toFixed(1)).join("L") + "Z";
  const between = (a, b, t) => a + (b - a) * t;
  function dice(seed) { let s = seed; return () => ((s = (s * 16807) % 2147483647) / 2147483647); }

  function layOut(side) {
    const cut = side.box.querySelector(".cut"), shape = shapeOf(side);
    const wide = cut.clientWidth || 600, phone = window.innerWidth < 900;
    const rest = phone ? 0.19 : window.innerHeight < 820 ? 0.35 : 0.43;
    const tall = Math.round(Math.min(wide * 0.475, window.innerHeight * rest));
    cut.setAttribute("viewBox", "0 0 " + wide + " " + tall);
    cut.style.height = tall + "px";
    const foot = 30, left = 10, right = wide - 52, top = 8;
    const most = Math.max(...Object.values(D.built).map((one) => Math.max(one.edge, one.drop + one.below + one.medium + one.mulch + 75)));
    const scale = (tall - foot - top) / most;
    const zero = tall - foot;
    const geometry = { wide, tall, left, right, scale, zero, shape, deck: (x) => zero - shape.drop * scale * ((right - x) / (right - left)), up: (mm) => mm * scale };
    cut.replaceChildren();
    ground(cut, side, geometry);
    side.g = geometry;
    side.move = moving(cut, side, geometry);
    side.hurtShown = "";
  }

  function band(g, from, to) {
    return path([[g.left, g.deck(g.left) - g.up(to)], [g.right, g.zero - g.up(to)], [g.right, g.zero - g.up(from)], [g.left, g.deck(g.left) - g.up(from)]]);
  }

  function ground(cut, side, g) {
    const id = side.letter, s = g.shape, defs = svg("defs", {}, cut);
    const waves = svg("pattern", { id: "waves" + id, width: 14, height: 7, patternUnits: "userSpaceOnUse" }, defs);
    svg("rect", { width: 14, height: 7, fill: "#7db4d8" }, waves);
    svg("path", { d: "M0 4 Q3.5 1 7 4 T14 4", fill: "none", stroke: "#1f6f9f", "stroke-width": 1.1 }, waves);
    const roll = dice(7), top = s.below + s.medium;
    svg("path", { d: path([[g.left, g.deck(g.left)], [g.right + 14, g.zero], [g.right + 14, g.zero + 13], [g.left, g.deck(g.left) + 13]]), fill: "#8f8a82" }, cut);
    svg("path", { d: band(g, 0, s.below), fill: "#fff", stroke: "#23201c" }, cut);
    side.soil = svg("path", { d: band(g, s.below, top), fill: "#d8bf99", stroke: "#23201c" }, cut);
    const garden = partsOf(side.key).medium === "garden soil", grains = svg("g", { fill: garden ? "#5c4126" : "#8a6238", opacity: 0.75 }, cut);
    const many = Math.round(((g.right - g.left) * g.up(s.medium)) / (garden ? 55 : 190));
    for (let i = 0; i < many; i++) {
      const x = between(g.left + 4, g.right - 4, roll()), r = (garden ? 1.1 : 2.7) * (0.6 + roll() * 0.7);
      svg("ellipse", { cx: x.toFixed(1), cy: (g.deck(x) - g.up(s.below) - r - roll() * (g.up(s.medium) - 2 * r)).toFixed(1), rx: (r * 1.3).toFixed(1), ry: r.toFixed(1) }, grains);
    }
    if (s.mulch) svg("path", { d: band(g, top, top + s.mulch), fill: "#6f5130", stroke: "#23201c", "stroke-dasharray": "5 2" }, cut);
    // the edge, and the pipe from the outlet
    svg("path", { d: path([[g.right + 14, g.zero - g.up(s.edge)], [g.right + 24, g.zero - g.up(s.edge)], [g.right + 24, g.zero + 13], [g.right + 14, g.zero + 13]]), fill: "#8f8a82", stroke: "#23201c" }, cut);
    svg("rect", { x: g.right - 3, y: g.zero, width: 16, height: g.tall - g.zero, fill: "#fff", stroke: "#23201c" }, cut);
  }

  function moving(cut, side, g) {
    const m = {}, s = g.shape;
    m.cups = svg("path", { fill: "#3f86b5" }, cut);
    if (s.below > 8) { // a board: cups drawn as bowls, open to where they point
      const up = partsOf(side.key).below === "cups up", n = Math.max(8, Math.round((g.right - g.left) / 26)), step = (g.right - g.left) / n;
      let d = "";
      m.bowls = [];
      for (let i = 0; i < n; i++) {
        const x = g.left + (i + 0.5) * step, y = g.deck(x), h = g.up(s.below), mouth = y - (up ? h : 0), floor = y - (up ? 0.12 * h : 0.88 * h), w = 0.4 * step, f = 0.24 * step;
        d += "M" + (x - w) + " " + mouth + "L" + (x - f) + " " + floor + "L" + (x + f) + " " + floor + "L" + (x + w) + " " + mouth;
        if (up) m.bowls.push({ x, floor, mouth, w, f });
      }
      svg("path", { d, fill: "none", stroke: "#23201c", "stroke-width": 1.6 }, cut);
    }
    m.water = svg("path", { fill: "url(#waves" + side.letter + ")", opacity: 0.72 }, cut);
    m.plants = svg("g", {}, cut);
    m.line = svg("line", { stroke: "#0d3f5f", "stroke-width": 2.5 }, cut);
    m.stream = svg("rect", { fill: "url(#waves" + side.letter + ")" }, cut);
    m.spill = svg("path", { fill: "none", stroke: "#1f6f9f" }, cut);
    m.leaves = svg("g", {}, cut);
    m.rain = svg("path", { stroke: "#1f6f9f", "stroke-width": 1.8, fill: "none" }, cut);
    m.mark = svg("text", { "text-anchor": "end" }, cut);
    m.out = svg("text", { "text-anchor": "end" }, cut);
    m.sky = svg("text", { x: g.wide * 0.45, y: 20 }, cut);
    const roll = dice(11);
    for (let i = 0; i < 9; i++) {
      const x = g.right - 14 + roll() * 30, y = g.zero - 2 - roll() * 9, turn = roll() * 180;
      svg("path", { d: "M-8 0 Q0 -6 8 0 Q0 6 -8 0 M-8 0 L8 0", fill: i % 2 ? "#b5651d" : "#d9a13b", stroke: "#23201c", transform: "translate(" + x.toFixed(1) + " " + y.toFixed(1) + ") rotate(" + turn.toFixed(0) + ")" }, m.leaves);
    }
    return m;
  }

  function plant(parent, g, place, hurt) {
    // the low end stands at the right, at the outlet
    const x = g.right - ((place + 0.5) / D.places) * (g.right - g.left), s = g.shape, foot = g.deck(x) - g.up(s.below + s.medium + s.mulch);
    const soilTop = g.deck(x) - g.up(s.below + s.medium), tall = Math.max(22, g.up(62)), deep = g.up(s.medium) * [0.92, 0.85, 0.6, 0.42, 0.25][hurt];
    const green = ["#3f7d3a", "#7a8a35", "#a08a3c", "#9a7350", "#8d8478"][hurt];
    const made = svg("g", {}, parent);
    let roots = "";
    for (const lean of [-0.8, -0.35, 0, 0.35, 0.8]) roots += "M" + x + " " + soilTop + "q" + lean * 10 + " " + deep * 0.5 + " " + lean * 20 + " " + deep * (1 - 0.3 * Math.abs(lean));
    svg("path", { d: roots, fill: "none", stroke: hurt ? "#5a1f10" : "#f7f1df", "stroke-width": hurt ? 1.6 : 2.2, "stroke-dasharray": hurt > 1 ? "4 3" : "none" }, made);
    if (hurt) { // a cross at every dead tip
      let dead = "";
      for (const lean of [-0.8, 0, 0.8]) { const a = x + lean * 20, b = soilTop + deep * (1 - 0.3 * Math.abs(lean)); dead += "M" + (a - 3) + " " + (b - 3) + "l6 6m0 -6l-6 6"; }
      svg("path", { d: dead, stroke: "#5a1f10", "stroke-width": 1.8, fill: "none" }, made);
    }
    for (const lean of hurt === 4 ? [-0.7, 0.1, 0.6] : [-0.8, -0.25, 0.25, 0.8]) {
      const droop = [0, 0.35, 0.75, 1.05, 1.2][hurt], endX = x + lean * tall * (0.45 + 0.25 * droop), endY = foot - tall * (1 - 0.28 * Math.abs(lean)) * Math.max(0.05, 1 - 0.68 * droop), midY = foot - tall * Math.max(0.25, 0.75 - 0.3 * droop);
      svg("path", { d: "M" + x + " " + foot + "Q" + between(x, endX, 0.5) + " " + midY + " " + endX + " " + endY, fill: "none", stroke: "#23201c", "stroke-width": 1.3 }, made);
      const leaves = [5, 4, 3, 1, 0][hurt];
      for (let i = 0; i < leaves; i++) {
        const t = 1 - i * 0.17, lx = (1 - t) * (1 - t) * x + 2 * t * (1 - t) * between(x, endX, 0.5) + t * t * endX, ly = (1 - t) * (1 - t) * foot + 2 * t * (1 - t) * midY + t * t * endY;
        svg("ellipse", { cx: lx.toFixed(1), cy: ly.toFixed(1), rx: 6.2 - hurt, ry: 4.2 - 0.7 * hurt, fill: green, stroke: "#23201c", "stroke-width": 0.8, transform: "rotate(" + (lean * 40 + (i % 2 ? 35 : -35) + 60 * droop) + " " + lx.toFixed(1) + " " + ly.toFixed(1) + ")" }, made);
      }
    }
    if (hurt >= 3) for (const off of hurt === 4 ? [-19, -10, 9, 18] : [-14, 12]) // dropped leaves
      svg("ellipse", { cx: x + off, cy: g.deck(x + off) - g.up(s.below + s.medium + s.mulch) - 2, rx: 4, ry: 2, fill: green, stroke: "#23201c", "stroke-width": 0.8 }, made);
  }

  function drawRoof(side, day, level, phase) {
    const run = runOf(side), g = side.g, m = side.move, s = g.shape;
    // soak: from pale to dark between the wilting point and field capacity
    const soak = Math.min(1, Math.max(0, (run.held[day] - s.wilting) / (s.field - s.wilting)));
    side.soil.setAttribute("fill", "rgb(" + [between(226, 150, soak), between(206, 112, soak), between(170, 70, soak)].map(Math.round).join(",") + ")");
    const y = g.zero - g.up(level), ridge = g.deck(g.left), out = g.right + 14;
    if (level > 0.5) {
      const end = s.drop > 0 ? Math.max(g.left, g.right - (level / s.drop) * (g.right - g.left)) : g.left;
      const points = [[end, y], [out, y], [out, g.zero], [g.right, g.zero]];
      points.push(end > g.left ? [end, g.deck(end)] : [g.left, ridge]);
      m.water.setAttribute("d", path(points));
      for (const [name, value] of [["x1", end], ["x2", out], ["y1", y], ["y2", y]]) m.line.setAttribute(name, value);
    } else m.water.setAttribute("d", "");
    m.line.setAttribute("visibility", level > 0.5 ? "visible" : "hidden");
    m.mark.textContent = level > 0.5 ? "\u25bd " + say(run.level[day], "level") : "";
    m.mark.setAttribute("x", g.wide - 4);
    m.mark.setAttribute("y", Math.max(20, y - 5));
    if (m.bowls) {
      const full = s.cups > 0 ? Math.min(1, run.cups[day] / s.cups) : 0;
      m.cups.setAttribute("d", full > 0.02 ? m.bowls.map((b) => { const f = 0.85 * full, w = between(b.f, b.w, f), t = between(b.floor, b.mouth, f); return path([[b.x - w, t], [b.x + w, t], [b.x + b.f, b.floor], [b.x - b.f, b.floor]]); }).join("") : "");
    }
    const blocked = blockedOn(side, day);
    m.leaves.setAttribute("visibility", blocked > 0 ? "visible" : "hidden");
    [...m.leaves.children].forEach((leaf, i) => leaf.setAttribute("opacity", blocked >= 1 || i < 4 ? 1 : 0));
    const through = Math.max(0, run.left[day] - run.over_edge[day]), width = through > 0.05 ? Math.min(13, 2 + 2.2 * Math.sqrt(through)) : 0;
    for (const [name, value] of [["x", g.right + 5 - width / 2], ["y", g.zero - 2], ["width", width], ["height", g.tall - g.zero + 2]]) m.stream.setAttribute(name, value);
    const over = run.over_edge[day];
    m.spill.setAttribute("d", over > 0.05 ? "M" + out + " " + (g.zero - g.up(s.edge) - 1) + "q16 -2 20 14L" + (out + 20) + " " + g.tall : "");
    m.spill.setAttribute("stroke-width", Math.min(10, 2 + Math.sqrt(over)));
    m.out.setAttribute("x", g.right - 10);
    m.out.setAttribute("y", g.tall - 5);
    m.out.textContent = (over > 0.05 ? "over the edge " : blocked >= 1 ? "covered, overflow " : blocked > 0 ? "half covered, overflow " : "overflow ") + say(run.left[day], "depth");
    let drops = "";
    const rain = D.rain[day], cold = D.tmean && D.tmean[day] <= 1, many = rain > 0 ? Math.min(40, 3 + Math.round(rain * 1.2)) : 0, roll = dice(day + 3);
    for (let i = 0; i < many; i++) {
      const x = between(g.left, g.right, roll()), lowest = g.deck(x) - g.up(s.below + s.medium + s.mulch + 45), at = 26 + ((roll() + phase) % 1) * Math.max(8, lowest - 34);
      drops += cold ? "M" + (x - 3) + " " + at + "h6m-3 -3v6" : "M" + x.toFixed(1) + " " + at.toFixed(1) + "v" + (rain > 15 ? 13 : 8);
    }
    m.rain.setAttribute("d", drops);
    m.sky.textContent = rain > 0 ? (cold ? "snow " : "rain ") + say(rain, "depth") : "no rain";
    const hurt = run.hurt.map((one) => one[day]).join("");
    if (hurt !== side.hurtShown) {
      m.plants.replaceChildren();
      for (let place = 0; place < D.places; place++) plant(m.plants, g, place, +hurt[place]);
      side.hurtShown = hurt;
    }
  }

  function drawWords(side, day) {
    const run = runOf(side), box = side.box, put = (name, words) => { box.querySelector(name).textContent = words; };
    const roots = rootsWords(side, day), share = kept(side, day);
    put(".airwords", "Air left " + run.air[day].toFixed(0) + " %");
    const bar = box.querySelector(".bar");
    bar.setAttribute("aria-valuenow", run.air[day].toFixed(0));
    bar.setAttribute("aria-valuetext", run.air[day].toFixed(0) + " % of the medium is air; roots need about 10 %");
    bar.firstElementChild.style.width = Math.min(100, run.air[day] * 2) + "%";
    bar.lastElementChild.style.left = "20%";
    put(".roots", "Roots: " + roots.text);
    box.querySelector(".roots").classList.toggle("hurt", roots.worst > 0);
    put(".left", say(run.left[day], "depth"));
    put(".level", say(run.level[day], "level"));
    put(".kept", share === null ? "-" : share.toFixed(0) + " %");
    put(".days", String(count(run.wet, day)));
    put(".weight", say(run.weight[day], "whole load"));
    box.querySelector(".cut").setAttribute("aria-label", sentence(side, day));
  }

  function drawStrip() {
    const strip = $("strip"), wide = strip.clientWidth, tall = strip.clientHeight, step = wide / D.days.length, type = parseFloat(getComputedStyle(document.documentElement).fontSize);
    strip.setAttribute("viewBox", "0 0 " + wide + " " + tall);
    const lane = Math.min(type * 0.8, tall * 0.16), rainTall = tall - 2 * lane - type - 6, most = Math.max(10, ...D.rain);
    strip.replaceChildren();
    let months = "";
    D.days.forEach((stamp, i) => {
      if (!stamp.endsWith("-01")) return;
      months += "M" + i * step + " 0V" + tall;
      const name = MONTHS[+stamp.slice(5, 7) - 1];
      svg("text", { x: i * step + 3, y: rainTall + type }, strip).textContent = wide / 12 > type * 5.6 ? name : wide / 12 > type * 2.4 ? name.slice(0, 3) : name[0];
    });
    svg("path", { d: months, stroke: "#b9b1a3" }, strip);
    let rain = "", ahead = "";
    D.rain.forEach((mm, i) => { if (mm > 0) { const one = "M" + ((i + 0.5) * step).toFixed(1) + " 0v" + ((mm / most) * rainTall).toFixed(1); if (i <= state.day) rain += one; else ahead += one; } });
    svg("path", { d: ahead, stroke: "#c9d6de", "stroke-width": Math.max(1, step * 0.8) }, strip);
    svg("path", { d: rain, stroke: "#1f6f9f", "stroke-width": Math.max(1, step * 0.8) }, strip);
    sides.forEach((side, i) => {
      const y = tall - (2 - i) * lane, run = runOf(side);
      let wet = "";
      for (let day = 0; day <= state.day; day++) if (run.wet[day] === "1") wet += "M" + (day * step).toFixed(1) + " " + (y + lane / 2) + "h" + step.toFixed(2);
      svg("path", { d: wet, stroke: i ? "#9c2f12" : "#23201c", "stroke-width": lane * 0.7 }, strip);
      const fate = fateOf(side);
      if (fate.clogs !== null && fate.clogs <= state.day) svg("path", { d: "M" + fate.clogs * step + " " + y + "v" + lane + "l6 " + -lane / 2 + "z", fill: "#b5651d", stroke: "#23201c" }, strip);
      if (fate.clears !== null && fate.clears <= state.day) svg("circle", { cx: fate.clears * step, cy: y + lane / 2, r: lane * 0.36, fill: "#fff", stroke: "#23201c", "stroke-width": 2 }, strip);
    });
    svg("path", { d: "M" + (state.day + 0.5) * step + " 0V" + tall, stroke: "#23201c", "stroke-width": 2.5 }, strip);
  }

  function draw(from) {
    const day = state.day, begin = performance.now(), span = state.playing ? Math.min(240, 800 / +$("speed").value) : 260;
    for (const side of sides) drawWords(side, day);
    drawStrip();
    $("day").value = day;
    const temperature = D.tmean ? ", " + say(D.tmean[day], "temperature") + (D.tmean[day] < D.warm ? " (too cold for rot)" : "") : "";
    const now = dateWords(day) + temperature + ". Rain so far " + say(sum(D.rain, day), "yearly depth") + ".";
    $("now").setAttribute("aria-live", state.playing ? "off" : "polite");
    $("now").textContent = now;
    $("day").setAttribute("aria-valuetext", now);
    const levels = sides.map((side) => [from === undefined ? runOf(side).level[day] : runOf(side).level[from], runOf(side).level[day]]);
    const ticket = (state.ticket = (state.ticket || 0) + 1);
    const frame = (time) => {
      if (ticket !== state.ticket) return;
      const t = calm.matches || from === undefined ? 1 : Math.min(1, (time - begin) / span);
      sides.forEach((side, i) => drawRoof(side, day, between(levels[i][0], levels[i][1], t), t));
      if (t < 1) requestAnimationFrame(frame);
    };
    frame(begin);
  }

  // ---- going through the year -------------------------------------------------------------------------------
  function events() {
    const found = new Set([LAST]);
    for (const side of sides) {
      const run = runOf(side), fate = fateOf(side);
      for (const step of [fate.clogs, fate.clears]) if (step !== null) found.add(step);
      for (let i = 1; i <= LAST; i++) {
        const reaches = (run.share[i] > 0) !== (run.share[i - 1] > 0) && spell(run.wet, i - 1) !== 1;
        const whole = (run.share[i] >= 99) !== (run.share[i - 1] >= 99);
        if (reaches || whole || run.hurt.some((one) => one[i] !== one[i - 1]) || (run.over_edge[i] > 0.05 && !sum(run.over_edge.slice(Math.max(0, i - 14), i), Math.min(13, i - 1)))) found.add(i);
      }
    }
    D.rain.forEach((mm, i) => { if (mm >= 20) found.add(i); });
    return [...found].sort((a, b) => a - b);
  }

  function questions() {
    const asked = [];
    const pair = sides[0].key === sides[1].key ? [sides[0]] : [sides[1], sides[0]];
    for (const side of pair) {
      const run = runOf(side), fate = fateOf(side), name = "roof " + side.letter;
      if (fate.clogs !== null) {
        const until = Math.min(LAST, fate.clears === null ? fate.clogs + 60 : Math.min(fate.clogs + 60, fate.clears - 1)), most = Math.max(...run.share.slice(fate.clogs, until + 1));
        asked.push({ day: fate.clogs, until, text: "Today leaves cover " + (fate.blocked < 1 ? "half of " : "") + "the outlet of " + name + ". How far does water reach within " + daysWords(until - fate.clogs) + "?", options: ["it stays below the roots", "to the roots at the low end", "to all roots"], right: most === 0 ? 0 : most < 99 ? 1 : 2,
          tells: () => "The water at the outlet rose to " + say(Math.max(...run.level.slice(fate.clogs, until + 1)), "level") + "; roots in the lowest " + most.toFixed(0) + " % of the roof came to lack air." });
      }
      const first = run.wet.indexOf("1");
      if (first > 0 && first < LAST - 14) {
        const until = Math.min(LAST, first + 28), worst = Math.max(...run.hurt.map((one) => +one[until]));
        asked.push({ day: first, until, text: "The first roots of " + name + " have no air. How are the worst plants " + daysWords(until - first) + " from now?", options: ["no harm to speak of", "stress likely", "losses likely"], right: worst <= 1 ? 0 : worst === 2 ? 1 : 2,
          tells: () => { const warm = D.tmean ? D.tmean.slice(first, until + 1).filter((t) => t >= D.warm).length : until - first; return "Damage: " + BANDS[worst] + ". On " + warm + " of these days it was warm enough for rot, and roots lacked air on " + (count(run.wet, until) - count(run.wet, first - 1)) + "."; } });
      }
      if (fate.clears !== null) {
        const until = Math.min(LAST, fate.clears + 14), before = Math.max(...run.hurt.map((one) => +one[fate.clears - 1])), after = Math.max(...run.hurt.map((one) => +one[until]));
        asked.push({ day: fate.clears, until, text: "Today the outlet of " + name + " is cleared. How are its plants in two weeks?", options: ["recovered", "hurt as before", "there was no harm"], right: before === 0 && after === 0 ? 2 : after >= before ? 1 : 0,
          tells: () => "The water at the outlet went from " + say(run.level[fate.clears - 1], "level") + " to " + say(run.level[until], "level") + ". Damage before: " + BANDS[before] + "; two weeks later: " + BANDS[after] + "." });
      }
    }
    const wetDay = D.rain.findIndex((mm, i) => i > 7 && mm >= 12 && !(D.tmean && D.tmean[i] <= 1));
    if (wetDay > 0) {
      const run = runOf(sides[0]), part = run.left[wetDay] / D.rain[wetDay];
      asked.push({ day: wetDay - 1, until: wetDay, text: "Tomorrow " + say(D.rain[wetDay], "depth") + " of rain will fall. How much of it leaves roof A on the same day?", options: ["less than a third", "about half", "more than two thirds"], right: part < 1 / 3 ? 0 : part <= 2 / 3 ? 1 : 2,
        tells: () => say(run.left[wetDay], "depth") + " left, " + (100 * part).toFixed(0) + " % of the day's rain. The medium had taken up what it had room for." });
    }
    return asked;
  }

  function go(day) {
    const from = state.day;
    state.day = Math.min(LAST, Math.max(0, day));
    draw(Math.abs(state.day - from) > 0 ? from : undefined);
  }

  function stop() {
    state.playing = false;
    clearTimeout(state.timer);
    $("play").textContent = "Play";
  }

  function play() {
    if (state.day >= LAST) go(0);
    state.playing = true;
    $("play").textContent = "Pause";
    state.due = performance.now();
    tick();
  }

  function tick() {
    if (!state.playing) return;
    if (state.stopAt === null && ask()) return;
    if (state.day >= LAST || (state.stopAt !== null && state.day >= state.stopAt)) {
      stop();
      if (state.stopAt !== null) tell(); else draw();
      return;
    }
    go(state.day + 1);
    // late steps are made up for in time, never left out
    state.due += 1000 / +$("speed").value;
    state.timer = setTimeout(tick, Math.max(0, state.due - performance.now()));
  }

  function nextEvent() {
    stop();
    const ahead = events().find((day) => day > state.day);
    const question = $("ask").checked ? questions().map((one) => one.day).filter((day) => day > state.day && !state.asked.has(key(day))).sort((a, b) => a - b)[0] : undefined;
    go(Math.min(ahead === undefined ? LAST : ahead, question === undefined ? LAST : question));
    ask();
  }

  // ---- the class votes --------------------------------------------------------------------------------------
  const key = (day) => sides.map((side) => side.key).join("/") + "@" + day;
  function ask() {
    if (!$("ask").checked || state.asked.has(key(state.day))) return false;
    const one = questions().find((question) => question.day === state.day);
    if (!one) return false;
    stop();
    state.asked.add(key(state.day));
    state.pending = { ...one, votes: one.options.map(() => 0), told: false };
    showQuestion();
    return true;
  }

  function showQuestion() {
    const one = state.pending, told = one.told;
    $("asked").textContent = told ? dateWords(state.day) + ": " + one.options[one.right] + ". " + one.tells() : dateWords(state.day) + ". What happens next? " + one.text;
    $("options").replaceChildren(...one.options.map((words, i) => {
      const button = document.createElement("button"), count = document.createElement("span");
      button.type = "button";
      button.append((told && i === one.right ? "\u2713 " : "") + words, count);
      count.textContent = one.votes[i] === 1 ? "1 vote" : one.votes[i] + " votes";
      button.classList.toggle("right", told && i === one.right);
      button.disabled = told;
      button.addEventListener("click", () => { one.votes[i]++; count.textContent = one.votes[i] === 1 ? "1 vote" : one.votes[i] + " votes"; });
      return button;
    }));
    $("clear").hidden = $("reveal").hidden = told;
    $("goon").textContent = told ? "Go on" : "Skip";
    const dialog = $("question");
    if (!dialog.open) dialog.showModal();
    if (told) $("goon").focus();
  }

  function tell() {
    state.stopAt = null;
    state.pending.told = true;
    showQuestion();
  }

  // ---- controls ---------------------------------------------------------------------------------------------
  function fill(select, entries) {
    select.replaceChildren(...entries.map(([value, words]) => { const one = document.createElement("option"); one.value = value; one.textContent = words; return one; }));
  }

  function name(side) {
    const parts = partsOf(side.key);
    const other = partsOf(sides.find((one) => one !== side).key), outlet = D.outlets.find((one) => one.key === parts.outlet).words;
    const words = { below: parts.below, medium: parts.medium, fall: parts.fall === "0" ? "level" : fallWords(+parts.fall) + " fall" };
    side.box.querySelector(".what").textContent = [outlet, ...Object.keys(words).filter((one) => parts[one] !== other[one]).map((one) => words[one])].join(", ");
    for (const [cls, value] of [["outlet", parts.outlet], ["below", parts.below], ["medium", parts.medium], ["fall", parts.fall]]) side.box.querySelector("." + cls).value = value;
  }

  function differ() {
    const a = partsOf(sides[0].key), b = partsOf(sides[1].key), words = { outlet: "outlet", below: "layer below", medium: "medium", fall: "fall" };
    const found = Object.keys(words).filter((one) => a[one] !== b[one]);
    $("differ").textContent = found.length > 1 ? "Two things or more differ (" + found.map((one) => words[one]).join(", ") + "): what you see may come from any of them." : "";
  }

  function choose() {
    for (const side of sides) { name(side); layOut(side); }
    differ();
    const known = D.comparisons.findIndex((one) => one.first === sides[0].key && one.second === sides[1].key);
    $("compare").value = String(known);
    const comparison = D.comparisons[known];
    $("predict").textContent = comparison ? comparison.predict : "Write down what you expect before you press Play.";
    $("shows").textContent = comparison ? comparison.shows : "";
    $("result").textContent = "In this year: " + sides.map((side) => { const run = runOf(side), worst = Math.max(...run.hurt.flatMap((one) => [...one].map(Number))); return "roof " + side.letter + " kept " + kept(side, LAST).toFixed(0) + " % of the rain, lacked air at its low end on " + daysWords(count(run.wet, LAST)) + " (mean over the roof " + daysWords(Math.round(sum(run.share, LAST) / 100)) + "); worst damage: " + BANDS[worst]; }).join(". ") + ".";
    draw();
  }

  function start() {
    fill($("compare"), [...D.comparisons.map((one, i) => [String(i), one.title]), ["-1", "Your own choice"]]);
    for (const side of sides) {
      const set = () => { const pick = (cls) => side.box.querySelector("." + cls).value; side.key = [pick("below"), pick("medium"), pick("fall"), pick("outlet")].join("|"); choose(); };
      for (const [cls, entries] of [["outlet", D.outlets.map((one) => [one.key, one.words])], ["below", D.below.map((one) => [one, one])], ["medium", D.media.map((one) => [one, one])], ["fall", D.falls.map((one) => [String(one), fallWords(one)])]]) {
        const select = side.box.querySelector("." + cls);
        fill(select, entries);
        select.addEventListener("change", set);
      }
    }
    $("compare").addEventListener("change", () => {
      const one = D.comparisons[+$("compare").value];
      if (!one) return;
      stop();
      [sides[0].key, sides[1].key] = [one.first, one.second];
      state.day = 0;
      choose();
    });
    $("day").max = LAST;
    $("day").addEventListener("input", () => { stop(); go(+$("day").value); });
    $("play").addEventListener("click", () => (state.playing ? (stop(), draw()) : play()));
    $("step").addEventListener("click", () => { stop(); go(state.day + 1); ask(); });
    $("back").addEventListener("click", () => { stop(); go(state.day - 1); });
    $("event").addEventListener("click", nextEvent);
    $("units").addEventListener("click", () => { state.units = state.units === "si" ? "us" : "si"; unitWords(); choose(); });
    $("full").addEventListener("click", () => (document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen && document.documentElement.requestFullscreen()));
    $("clear").addEventListener("click", () => { state.pending.votes.fill(0); showQuestion(); });
    $("reveal").addEventListener("click", () => { $("question").close("reveal"); state.stopAt = state.pending.until; play(); });
    $("goon").addEventListener("click", () => $("question").close());
    $("question").addEventListener("close", () => { if ($("question").returnValue !== "reveal") state.stopAt = null; $("question").returnValue = ""; $("play").focus(); });
    let resizing;
    const unfold = () => sides.forEach((side) => { side.box.querySelector(".change").open = window.innerWidth >= 900; });
    let wide = window.innerWidth;
    window.addEventListener("resize", () => { clearTimeout(resizing); resizing = setTimeout(() => { if (window.innerWidth !== wide) unfold(); wide = window.innerWidth; choose(); }, 80); });
    unfold();
    const unitWords = () => { $("units").textContent = state.units === "si" ? "Show inches" : "Show millimetres"; };
    unitWords();
    [sides[0].key, sides[1].key] = [D.comparisons[0].first, D.comparisons[0].second];
    choose();
  }
  start();
})();
