// Moves the safe band with the limits. For a part of the samples, each with a weight, the page holds how hard
// every limit was hit at some aims; between aims that runs on as a cubic. From it follow, for any limits, the
// aims at which each sample breaks one, and from the counts of those the band, as the program finds it.
"use strict";
(() => {
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId("live-data").textContent);
  const aims = data.aims, kept = data.kept, total = data.samples;
  const first = aims[0], last = aims[aims.length - 1], step = aims[1] - aims[0];

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const reals = (text) => new Float32Array(bytes(text).buffer);
  const weights = reals(data.weights), staysBelow = reals(data.staysBelow);

  // ---- Aims at which samples break a limit ----

  // What runs smoothly, and where the limit lies on it.
  const smooth = { root: (s) => s * Math.abs(s) };
  const threshold = {
    log: (v) => Math.log(v),
    turned: (v) => -v,
    inverse: (v, limit) => -1 / (v + limit.radius),
    "lowest apoapsis": (v, limit) => 1 / (v + limit.radius),
    root: (v) => v * Math.abs(v),
  };

  // Two numbers of twelve bits in three bytes.
  function unpack(limit) {
    const packed = bytes(limit.codes), run = smooth[limit.form] || ((s) => s), count = aims.length;
    const rows = new Float64Array(kept * count);
    for (let i = 0; i < rows.length; i++) {
      const at = (i >> 1) * 3;
      const code = i & 1 ? (packed[at + 1] >> 4) | (packed[at + 2] << 4) : packed[at] | ((packed[at + 1] & 15) << 8);
      rows[i] = run(limit.lows[i % count] + code * limit.steps[i % count]);
    }
    return rows;
  }

  // Place in [0, 1] where the cubic with these ends and slopes crosses a level.
  function crossing(from, to, slope0, slope1, level) {
    const c = 3 * (to - from) - 2 * slope0 - slope1, d = slope0 + slope1 - 2 * (to - from);
    const at = (x) => from + x * (slope0 + x * (c + x * d)) - level;
    let low = 0, high = 1;
    for (let i = 0; i < 20; i++) {
      const x = (low + high) / 2;
      if ((at(x) > 0) === (to > from)) high = x; else low = x;
    }
    return (low + high) / 2;
  }

  // The stretches between two aims over which a row of severities at the aims `one` to `end` (and in a straight line
  // beyond them) is above a level; `put` is handed each.
  function above(rows, base, [one, end], [from, to], level, put) {
    if (one > end || from >= to) return;
    const at = (j) => rows[base + j];
    const straight = (x, j, k) => (j === k ? at(j) : at(j) + (x - aims[j]) * (at(k) - at(j)) / (aims[k] - aims[j]));
    let x0 = from, y0 = from < aims[one] ? straight(from, one, Math.min(one + 1, end)) : at(one);
    let begun = y0 > level ? from : null;
    const step_ = (x1, y1, slope0, slope1) => {
      if ((y0 > level) !== (y1 > level)) {
        const x = x0 + (x1 - x0) * crossing(y0, y1, slope0, slope1, level);
        if (y1 > level) begun = Math.max(from, x);
        else { if (Math.min(x, to) > begun) put(begun, Math.min(x, to)); begun = null; }
      }
      x0 = x1; y0 = y1;
    };
    if (x0 < aims[one]) step_(aims[one], at(one), at(one) - y0, at(one) - y0);
    for (let j = one + 1; j <= end; j++) {
      const before = j - 2 >= one ? at(j - 2) : 2 * at(j - 1) - at(j), after = j + 1 <= end ? at(j + 1) : 2 * at(j) - at(j - 1);
      step_(aims[j], at(j), (at(j) - before) / 2, (after - at(j - 1)) / 2);
    }
    if (to > aims[end]) {
      const y1 = straight(to, end, Math.max(end - 1, one));
      step_(to, y1, y1 - y0, y1 - y0);
    }
    if (begun !== null && to > begun) put(begun, to);
  }

  // The stretches of aims at which each sample breaks a limit, as [sample, from, to, sample, from, to, ...]. Where a
  // sample changes from coming down to leaving the air, what it feels jumps: either side has its own aims.
  function stretches(limit, value) {
    const found = [], count = aims.length;
    const level = limit.values ? threshold[limit.form](value, limit) : 0;
    for (let i = 0; i < kept; i++) {
      const edge = Math.min(Math.max(staysBelow[i], first), last), put = (a, b) => found.push(i, a, b);
      if (!limit.values) {
        const [from, to] = limit.breaksBelow ? [first, edge] : [edge, last];
        if (to > from) put(from, to);
        continue;
      }
      let leaves = 0;
      while (leaves < count && aims[leaves] < staysBelow[i]) leaves++;
      // A pass that stays in the air has no orbit that could be wrong.
      if (!limit.ofTheOrbit) above(limit.rows, i * count, [0, leaves - 1], [first, edge], level, put);
      above(limit.rows, i * count, [leaves, count - 1], [edge, last], level, put);
    }
    return found;
  }

  // ---- Counts against the aim ----

  // A function that is level between its places: `at[i]` to `at[i + 1]` it is `sum[i]`. `spread` is what the sum may
  // be off by (one standard deviation, squared), since weights above 1 stand for samples that are not here.
  function counted(list) {
    const events = [];
    for (let i = 0; i < list.length; i += 3) {
      const w = weights[list[i]];
      events.push([list[i + 1], w, w * (w - 1)]);
      if (list[i + 2] < last) events.push([list[i + 2], -w, -w * (w - 1)]);
    }
    events.sort((a, b) => a[0] - b[0]);
    const at = [first], sum = [0], spread = [0];
    let s = 0, v = 0;
    for (const [x, w, square] of events) {
      s += w; v += square;
      const end = at.length - 1;
      if (x > at[end]) { at.push(x); sum.push(s); spread.push(v); } else { sum[end] = s; spread[end] = v; }
    }
    return { at, sum, spread };
  }

  function value(steps, x, of = "sum") {
    let low = 0, high = steps.at.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (steps.at[middle] <= x) low = middle; else high = middle;
    }
    return Math.max(0, steps[of][low]);
  }

  // Stretches of all limits, joined sample by sample.
  function joined(lists) {
    const own = Array.from({ length: kept }, () => []);
    for (const list of lists) for (let i = 0; i < list.length; i += 3) own[list[i]].push([list[i + 1], list[i + 2]]);
    const all = [];
    own.forEach((parts, i) => {
      if (parts.length > 1) parts.sort((a, b) => a[0] - b[0]);
      let from = null, to = null;
      for (const [a, b] of parts) {
        if (to !== null && a <= to) { if (b > to) to = b; continue; }
        if (to !== null) all.push(i, from, to);
        from = a; to = b;
      }
      if (to !== null) all.push(i, from, to);
    });
    return all;
  }

  // ---- Chances from counts ----

  function lnGamma(x) {
    let shift = 0;
    while (x < 15) { shift += Math.log(x); x += 1; }
    const y = 1 / (x * x);
    return (x - 0.5) * Math.log(x) - x + 0.918938533204672742
      + (1 / 12 - y * (1 / 360 - y * (1 / 1260 - y / 1680))) / x - shift;
  }

  // P(at most k of n) for a chance q of each: the incomplete beta function by its continued fraction (Lentz).
  function atMost(k, n, q) {
    if (k >= n) return 1;
    if (q <= 0) return 1;
    if (q >= 1) return 0;
    return incompleteBeta(1 - q, n - k, k + 1);
  }

  function incompleteBeta(x, a, b) {
    const front = Math.exp(lnGamma(a + b) - lnGamma(a) - lnGamma(b) + a * Math.log(x) + b * Math.log1p(-x));
    if (x > (a + 1) / (a + b + 2)) return 1 - front * fraction(1 - x, b, a) / b;
    return front * fraction(x, a, b) / a;
  }

  function fraction(x, a, b) {
    const tiny = 1e-300, keep = (v) => (Math.abs(v) < tiny ? tiny : v);
    let c = 1, d = 1 / keep(1 - (a + b) * x / (a + 1)), f = d;
    for (let m = 1; m < 3000; m++) {
      let term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
      d = 1 / keep(1 + term * d); c = keep(1 + term / c); f *= d * c;
      term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
      d = 1 / keep(1 + term * d); c = keep(1 + term / c);
      const by = d * c;
      f *= by;
      if (Math.abs(by - 1) < 1e-12) break;
    }
    return f;
  }

  const side = (1 - data.confidence) / 2;

  // The most broken samples with which the lower end of the interval still reaches the probability; -1 if none do.
  function mostForLower(p) {
    if (data.certain) return 0;
    return search((k) => atMost(k, total, 1 - p) <= side);
  }

  // The most broken samples with which its upper end does.
  function mostForUpper(p) {
    if (data.certain) return 0;
    return search((k) => k === 0 || 1 - atMost(k - 1, total, 1 - p) >= side);
  }

  // The largest whole number up to all samples for which this holds, given that it holds for none beyond one that fails.
  function search(holds) {
    if (!holds(0)) return -1;
    let low = 0, high = 1;
    while (high < total && holds(high)) { low = high; high *= 2; }
    high = Math.min(high, total);
    while (high - low > 1) {
      const middle = Math.floor((low + high) / 2);
      if (holds(middle)) low = middle; else high = middle;
    }
    return low;
  }

  // The lower end of the interval of "all hold" after so many broken.
  function lowerEnd(broken) {
    if (data.certain) return broken > 0.5 ? 0 : 1;
    if (broken >= total) return 0;
    let low = 0, high = 1;
    for (let i = 0; i < 60; i++) {
      const p = (low + high) / 2;
      if (atMost(broken, total, 1 - p) <= side) low = p; else high = p;
    }
    return low;
  }

  // ---- The band ----

  // The widest stretch of aims at which at most so many are broken.
  function widest(steps, most) {
    let best = null, from = null;
    for (let i = 0; i < steps.at.length; i++) {
      const holds = steps.sum[i] <= most + 0.5;
      if (holds && from === null) from = steps.at[i];
      const end = i + 1 < steps.at.length ? steps.at[i + 1] : last;
      if (from !== null && (!holds || i + 1 === steps.at.length)) {
        const to = holds ? end : steps.at[i];
        if (!best || to - from > best[1] - best[0]) best = [from, to];
        from = null;
      }
    }
    return best && best[1] - best[0] > 1e-3 ? best : null;
  }

  // How far from an edge inside the band the count stays below a number, outwards.
  function reach(steps, edge, outward, most) {
    let x = edge;
    while (x > first && x < last && value(steps, x) <= most + 0.5) x += outward * 0.005;
    return Math.abs(x - edge);
  }

  function bestAim(steps, [from, to]) {
    let least = Infinity, run = [from, to], begun = null;
    const close = (x) => { if (begun !== null && (run.best !== least || x - begun > run[1] - run[0])) { run = [begun, x]; run.best = least; } begun = null; };
    for (let i = 0; i < steps.at.length; i++) {
      const a = Math.max(steps.at[i], from), b = Math.min(i + 1 < steps.at.length ? steps.at[i + 1] : last, to);
      if (b <= a) continue;
      if (steps.sum[i] < least - 1e-6) { begun = null; least = steps.sum[i]; begun = a; }
      else if (steps.sum[i] > least + 1e-6) close(a);
      else if (begun === null) begun = a;
    }
    close(to);
    return { at: (run[0] + run[1]) / 2, broken: Math.max(0, least) };
  }

  // ---- Words ----

  const km = (x) => x.toFixed(2);
  function digits(v) { return String(Number(Number(v).toPrecision(4))); }

  // Per cent with three digits of the distance from the nearer of 0 and 1, as the program writes it.
  // What the weights of the kept samples put beyond 0 or 1 is 0 or 1.
  function percent(of) {
    const p = Math.min(1, Math.max(0, of));
    const tail = 100 * Math.min(p, 1 - p);
    if (tail <= 0) return (100 * p).toFixed(0) + " %";
    const places = Math.min(10, Math.max(0, 2 - Math.floor(Math.log10(tail))));
    let text = (100 * p).toFixed(places);
    if (text.includes(".")) text = text.replace(/0+$/, "").replace(/\.$/, "");
    return text + " %";
  }

  // A sum of weights that is a whole number but for rounding.
  function whole(sum) {
    const near = Math.min(total, Math.round(sum));
    return Math.abs(sum - near) < 1e-3 ? near : Math.min(total, sum);
  }

  const words = (limit) => limit.broken.replace("{}", limit.values ? digits(limit.now) + " " + limit.unit : "");

  // The limit that is broken most often at an aim; of those as good as equal the first, as the program has it.
  function ruling(x) {
    const broken = data.limits.map((limit) => value(limit.steps_, x)), most = Math.max(...broken);
    return most > 0 ? data.limits[broken.findIndex((count) => count >= 0.98 * most - 0.5)] : null;
  }

  // ---- What is asked now, and what is shown of it ----

  const shown = { band: null, best: null, steps: null, probability: 0 };

  function refresh() {
    const p = shown.probability / 100, most = mostForLower(p);
    const steps = counted(joined(data.limits.map((limit) => limit.list).concat([failed])));
    // With nothing moved the band is that of the run, whatever the samples kept here make of it.
    const run = unmoved() ? data.asRun : null, own = most < 0 ? null : widest(steps, most);
    const band = !run ? own : run.low && run.high ? [run.low.at, run.high.at] : null;
    const best = run && run.best !== null ? { at: run.best } : bestAim(steps, band || [first, last]);
    Object.assign(shown, { steps, band, best, most });
    const [held, least] = run && run.held ? [run.held, run.least] : [percent(1 - whole(best.broken) / total), percent(lowerEnd(whole(best.broken)))];
    const holds = `${data.hold} in ${held} of arrivals (${least} or more)`;
    let text;
    if (most < 0) {
      text = `${total} samples cannot show a probability of ${percent(p)}, even if all hold.`
        + (samplesFor(p) ? ` The command below flies at least the ${samplesFor(p)} that can.` : "");
    } else if (band) {
      const [low, high] = band, edges = [];
      for (const [edge, side_, outward] of [[low, "below it", -1], [high, "above it", 1]]) {
        const at = outward < 0 ? edge <= first + 1e-6 : edge >= last - 1e-6;
        const limit = at || run ? null : ruling(edge + outward * 0.01);
        const said = run ? (outward < 0 ? run.low : run.high).limit : limit && words(limit);
        edges.push(said ? `${side_}: ${said}` : `${side_} the range of aims ends, not the band`);
      }
      text = `Safe band ${km(low)} to ${km(high)} km at ${percent(p)}, ${km(high - low)} km wide; ${edges.join("; ")}. `
        + `Likeliest to hold: ${km(best.at)} km, where ${holds}.`;
    } else {
      const limit = ruling(best.at);
      text = `No safe band at ${percent(p)}. The best aim is ${km(best.at)} km, where ${holds}`
        + (limit ? `; broken most often there: ${words(limit)}.` : ".");
    }
    byId("live-answer").textContent = text;
    byId("live-check").textContent = run ? apart(band, own) : doubt(band, most, p);
    byId("live-command").textContent = command(p);
    byId("live-unset").textContent = unset();
    byId("live-form").dataset.low = band ? band[0] : "";
    byId("live-form").dataset.high = band ? band[1] : "";
    draw();
  }

  // Whether everything is set as it was run.
  function unmoved() {
    return shown.probability === data.probability.values[data.probability.start]
      && data.limits.every((limit) => !limit.values || limit.now === limit.values[limit.start]);
  }

  // How far the samples kept here are from the run with nothing moved: so far a moved band may be off too. Where few
  // broken samples are allowed their count hovers about that number, and the page, which looks between the aims
  // that the run flew, may find a narrower band.
  function apart(band, own) {
    if (!band && !own) return "Now: as the run found it.";
    const words = own ? `a band from ${km(own[0])} to ${km(own[1])} km` : "no band";
    return `Now: as the run found it. From the samples kept here, at every aim and not only at those the run flew, it would be ${words}.`;
  }

  // How far the edges may lie elsewhere: in a fresh run, which closes them to 50 m and has the samples that are not
  // here (one more or less is never excluded); and with more samples than were flown.
  function doubt(band, most, p) {
    if (!band || data.certain) return "";
    const upper = mostForUpper(p), parts = [];
    for (const [name, edge, outward] of [["low", band[0], -1], ["high", band[1], 1]]) {
      if (edge <= first + 1e-6 || edge >= last - 1e-6) continue;
      const off = 1 + 2 * Math.sqrt(value(shown.steps, edge + outward * 0.005, "spread"));
      const near = reach(shown.steps, edge, outward, most + off);
      const far = reach(shown.steps, edge, outward, upper);
      parts.push(`the ${name} edge as in a fresh run to about ${10 * Math.round(125 * near + 6)} m, and with more samples up to ${km(far)} km farther out`);
    }
    return parts.length ? `Now: ${parts.join("; ")}.` : "";
  }

  // Samples that have to be asked for to show a probability; 0 where those of the run do, or where the program looks
  // for rare accidents instead.
  function samplesFor(p) {
    if (data.certain || mostForLower(p) >= 0) return 0;
    let needed = Math.ceil(Math.log(side) / Math.log(p));
    while (atMost(0, needed, 1 - p) > side) needed++;
    return needed > data.mostSamplesTold ? 0 : needed + 1;
  }

  // Two limits that the program refuses side by side.
  function contradiction() {
    const now = (key) => { const found = data.limits.find((limit) => limit.key === key); return found && found.now; };
    const low = now("limits.captured_above.apoapsis_altitude"), high = now("limits.captured_below.apoapsis_altitude");
    return low !== undefined && high !== undefined && low >= high
      ? "There is none: the apoapsis would have to be at least as high as it may be at most." : "";
  }

  function command(p) {
    if (contradiction()) return contradiction();
    const set = [];
    for (const limit of data.limits) {
      if (limit.key && limit.now !== limit.values[limit.start]) set.push(`--set '${limit.key}=${limit.now} ${limit.written}'`);
    }
    if (shown.probability !== data.probability.values[data.probability.start]) set.push(`--set ask.probability=${Number(p.toPrecision(9))}`);
    if (samplesFor(p)) set.push(`--set ask.samples=${samplesFor(p)}`);
    return [data.command].concat(set).join(" ");
  }

  // What the command cannot set.
  function unset() {
    const moved = data.limits.some((limit) => limit.values && !limit.key && limit.now !== limit.values[limit.start]);
    return moved ? " What has no key of its own (a spot with a limit of temperature) is to be written in the scenario." : "";
  }

  // ---- The figure ----

  const svg = byId("live-figure"), space = "http://www.w3.org/2000/svg";
  function part(name, attributes, text) {
    const element = document.createElementNS(space, name);
    for (const key in attributes) element.setAttribute(key, attributes[key]);
    if (text !== undefined) element.textContent = text;
    svg.appendChild(element);
    return element;
  }

  function ticks(from, to, most) {
    const raw = (to - from) / most, power = 10 ** Math.floor(Math.log10(raw));
    const by = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= raw);
    const list = [];
    for (let x = Math.ceil(from / by - 1e-9) * by; x <= to + 1e-9 * by; x += by) list.push(Number(x.toPrecision(10)));
    return list;
  }

  function draw() {
    const width = Math.max(280, svg.parentNode.clientWidth), height = width < 520 ? 250 : 330;
    const left = 58, right = width - 14, top = 40, bottom = height - 44;
    svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    svg.setAttribute("width", width); svg.setAttribute("height", height);
    svg.textContent = "";
    const allowed = 1 - shown.probability / 100;
    const floor = Math.max(-7, Math.min(-2, Math.floor(Math.log10(Math.min(allowed, 1 / total) * 1.0001 + 1e-12))));
    const x = (aim) => left + (right - left) * (aim - first) / (last - first);
    const zero = bottom - 8, lowest = bottom - 24;
    const y = (p) => (p < 10 ** floor ? zero : lowest + (top - lowest) * (1 - Math.log10(p) / floor));
    part("text", { x: 4, y: 14, fill: "#1F2328" }, "probability of breaking the limit");
    for (let e = 0; e >= floor; e -= width < 520 && floor < -4 ? 2 : 1) {
      const at = y(10 ** e);
      part("line", { x1: left, x2: right, y1: at, y2: at, stroke: "#E4E7EB" });
      part("text", { x: left - 6, y: at + 4, "text-anchor": "end", fill: "#5B6470" }, percent(10 ** e));
    }
    part("text", { x: left - 6, y: zero + 4, "text-anchor": "end", fill: "#5B6470" }, "0 %");
    if (shown.band) {
      const [a, b] = shown.band.map(x);
      part("rect", { x: a, y: top, width: Math.max(1, b - a), height: bottom - top, fill: "#009E73", "fill-opacity": 0.13 });
      part("rect", { x: a, y: top, width: Math.max(1, b - a), height: 4, fill: "#009E73" });
    }
    const run = data.asRun;
    if (run.low && run.high) {
      const a = x(run.low.at), b = x(run.high.at);
      part("path", { d: `M${a} ${bottom - 5}V${bottom}H${b}V${bottom - 5}`, fill: "none", stroke: "#5B6470", "stroke-width": 1.5 });
    }
    for (const tick of ticks(first, last, width / 80)) {
      part("line", { x1: x(tick), x2: x(tick), y1: bottom, y2: bottom + 5, stroke: "#8A929C" });
      part("text", { x: x(tick), y: bottom + 18, "text-anchor": "middle", fill: "#5B6470" }, String(tick));
    }
    part("path", { d: `M${left} ${top}V${bottom}H${right}`, fill: "none", stroke: "#8A929C" });
    part("text", { x: (left + right) / 2, y: height - 6, "text-anchor": "middle", fill: "#1F2328" }, "aim periapsis altitude, km");
    const level = y(allowed);
    part("line", { x1: left, x2: right, y1: level, y2: level, stroke: "#1F2328", "stroke-dasharray": "2 3" });
    part("text", { x: right, y: level - 5, "text-anchor": "end", fill: "#1F2328" }, `allowed: ${percent(allowed)}`);
    // Of a stretch of zeros only the ends next to other values are drawn.
    const curve = (steps, attributes) => {
      const count = Math.min(400, Math.round(right - left)), at = [];
      for (let i = 0; i <= count; i++) at.push(value(steps, first + (last - first) * i / count) / total);
      let path = "", pen = "M";
      at.forEach((p, i) => {
        if (p > 0 || at[i - 1] > 0 || at[i + 1] > 0) {
          path += `${pen}${(left + (right - left) * i / count).toFixed(1)} ${y(p).toFixed(1)}`;
          pen = "L";
        } else pen = "M";
      });
      if (path) part("path", { d: path, fill: "none", "stroke-linejoin": "round", ...attributes });
    };
    curve(shown.steps, { stroke: "#1F2328", "stroke-width": 3.4 });
    for (const limit of data.limits) {
      curve(limit.steps_, { stroke: limit.colour, "stroke-width": 1.9, "stroke-dasharray": limit.dash.join(" ") });
    }
    const label = shown.band ? `safe band ${km(shown.band[0])} to ${km(shown.band[1])} km` : "no safe band";
    const at = shown.band ? x((shown.band[0] + shown.band[1]) / 2) : (left + right) / 2;
    const half = 3.4 * label.length;
    part("text", { x: Math.min(right - half, Math.max(left + half, at)), y: top - 8, "text-anchor": "middle", fill: "#1F2328", "font-weight": 600 }, label);
    byId("live-text").textContent = "Probability of breaking each limit (lines as beside the sliders; heavy: any of them) against the aim, "
      + "with the limits set here. Shaded: the safe band now; bracket at the foot: as the program found it with the limits as run. "
      + (shown.band ? `The band now runs from ${km(shown.band[0])} to ${km(shown.band[1])} km.` : "There is no band now.");
  }

  // ---- Controls ----

  // A value typed in may lie beyond the slider's ends.
  function bind(id, values, start, unit, [least, most], changed) {
    const slider = byId(id), entry = byId(id + "-number"), wrong = byId(id + "-wrong");
    const tell = (text) => {
      entry.setCustomValidity(text);
      entry.setAttribute("aria-invalid", String(text !== ""));
      wrong.textContent = text;
    };
    let last_ = values[start];
    let waiting = false;
    const soon = (v) => {
      last_ = v;
      changed(v);
      slider.setAttribute("aria-valuetext", `${digits(v)} ${unit}`);
      if (!waiting) { waiting = true; requestAnimationFrame(() => { waiting = false; refresh(); }); }
    };
    const ends = (v) => String(Number(v.toPrecision(9)));
    const nearest = (v) => values.reduce((best, x, i) => (Math.abs(x - v) < Math.abs(values[best] - v) ? i : best), 0);
    slider.addEventListener("input", () => { const v = values[slider.valueAsNumber]; entry.value = Number(v.toPrecision(6)); tell(""); soon(v); });
    entry.addEventListener("input", () => {
      const v = entry.valueAsNumber, fits = Number.isFinite(v) && v >= least && v <= most;
      if (fits) { tell(""); slider.value = nearest(v); soon(v); return; }
      const what = Number.isFinite(v) ? `${entry.value} ${unit} is not possible` : "this is not a number";
      tell(`${what}: write one from ${ends(least)} to ${ends(most)} ${unit}. The band is still that of ${digits(last_)} ${unit}.`);
    });
    const reset = () => { slider.value = start; entry.value = Number(values[start].toPrecision(6)); tell(""); soon(values[start]); };
    slider.disabled = entry.disabled = false;
    return reset;
  }

  const failed = [];
  for (const [sample, aim] of data.failed) {
    failed.push(sample, Math.max(first, aims[aim] - step / 2), Math.min(last, aims[aim] + step / 2));
  }
  const move = (limit, v) => {
    limit.now = v;
    limit.list = stretches(limit, v);
    limit.steps_ = counted(limit.list);
  };
  const resets = [];
  data.limits.forEach((limit, i) => {
    if (!limit.values) { move(limit); return; }
    limit.rows = unpack(limit);
    move(limit, limit.values[limit.start]);
    if (limit.values.length === 1) return;
    resets.push(bind(`live-${i}`, limit.values, limit.start, limit.unit, [limit.least, limit.most], (v) => move(limit, v)));
  });
  shown.probability = data.probability.values[data.probability.start];
  resets.push(bind("live-probability", data.probability.values, data.probability.start, "%", [0.0001, 99.9999999], (v) => { shown.probability = v; }));
  byId("live-reset").addEventListener("click", () => resets.forEach((reset) => reset()));
  byId("live-reset").disabled = false;
  byId("live-form").addEventListener("submit", (event) => event.preventDefault());
  byId("live").classList.add("scripted");
  new ResizeObserver(() => draw()).observe(svg.parentNode);
  refresh();
})();
