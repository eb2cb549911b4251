"use strict";
/* What a screen adds to the run sheet: drawings that can be moved, and a slider along each file.
   The page is complete without it. How a track is written: `track.py`. */
(() => {
  const STILL = 0, CUT = 2, PROBE = 3, IDLE = [0, 5, 6, 7];
  const NOW = ["No motion", "Rapid move", "Cut", "Touch", "Homing", "Pause", "Wait", "End"];
  const TRAIL = ["", "hr-went", "hr-did", "hr-went", "hr-went", "", "", ""];
  const PACES = { 1: "true pace", 10: "10 times as fast", 60: "60 times as fast" };
  const NEAREST = 24, TAP = 6, TWICE = 350, DEEPEST = 60;
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const SVG = "http://www.w3.org/2000/svg";

  /* ---- small things ---- */

  function made(name, attributes, ...children) {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.append(...children);
    return element;
  }

  function drawn(name, attributes) {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  }

  function button(text, action) {
    const element = made("button", { type: "button" }, text);
    element.addEventListener("click", action);
    return element;
  }

  /* The last of `count` ascending values that is at most `value`; -1 where there is none. */
  function lastUpTo(values, value) {
    let low = 0, high = values.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (values[middle] <= value) low = middle + 1; else high = middle;
    }
    return low - 1;
  }

  function clamped(value, low, high) {
    return Math.min(Math.max(value, low), high);
  }

  function timeText(seconds) {
    const whole = Math.round(seconds);
    if (seconds > 0 && whole < 1) return "under 1 s";
    if (whole < 60) return `${whole} s`;
    const two = number => String(number).padStart(2, "0");
    if (whole < 3600) return `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
    const minutes = Math.round(seconds / 60);
    return `${Math.floor(minutes / 60)} h ${two(minutes % 60)} min`;
  }

  /* ---- the track ---- */

  function columnsOf(bytes) {
    let at = 8;
    const bit = () => {
      if (at >= bytes.length * 8) throw new RangeError("the track is cut short");
      const found = (bytes[at >> 3] >> (7 - (at & 7))) & 1;
      at += 1;
      return found;
    };
    const number = order => {
      let more = order;
      while (!bit()) more += 1;
      let value = 1;
      for (; more > 0; more -= 1) value = value * 2 + bit();
      return value - 2 ** order;
    };
    return () => {
      const count = number(8), order = number(2), column = new Float64Array(count);
      for (let index = 0; index < count; index += 1) column[index] = number(order);
      return column;
    };
  }

  function rows(column, width) {
    const found = [];
    for (let at = 0; at < column.length; at += width) found.push(column.subarray(at, at + width));
    return found;
  }

  function trackOf(text) {
    const bytes = Uint8Array.from(atob(text.trim()), letter => letter.charCodeAt(0));
    if (bytes[0] !== 1) return null;
    const next = columnsOf(bytes);
    const [lines, within, unit, kept, crooked, ...trends] = next(), table = rows(next(), 8), runs = next(), lasts = next(), steps = next();
    const count = steps.length, line = new Float64Array(count);
    steps.forEach((step, index) => { line[index] = step + (index ? line[index - 1] : 0); });
    const column = trended => {
      const left = next(), values = new Float64Array(count);
      let last = 0, before = 0, further = 0;
      for (let index = 0; index < count; index += 1) {
        let step = left[index] % 2 ? -(left[index] + 1) / 2 : left[index] / 2;
        if (trended && further) step += Math.floor(steps[index] * before / further + 0.5);
        before = step;
        further = steps[index];
        last += step;
        values[index] = last * unit;
      }
      return values;
    };
    const [x, y, z, time] = trends.map(column);
    const state = new Array(count);
    let at = 0;
    runs.forEach((which, index) => {
      const [kind, known, spindle, speed, bit, feed, inverse, spread] = table[which];
      state.fill({ kind, known, spindle, speed, bit, feed, inverse, spread }, at, at += 1 + lasts[index]);
    });
    const pauses = rows(next(), 3), said = Uint8Array.from(next()), letters = new TextDecoder();
    let where = 0, begun = 0;
    return {
      lines, within: within / 1000, kept, crooked,
      line, x, y, z, time, state,
      pauses: pauses.map(([further, optional, length], index) => ({
        at: where += further, number: index + 1, optional,
        text: letters.decode(said.subarray(begun, begun += length)),
      })),
    };
  }

  /* Where the bit goes into the sheet: as the drawing numbers them. */
  function entriesOf(track) {
    const { x, y, z, state } = track, found = [];
    let inside = false, last = -1;
    for (let at = 1; at < state.length; at += 1) {
      const placed = state[at].known & state[at - 1].known & 3;
      const high = (state[at].known & 4) && z[at] >= 0 && (!(state[at - 1].known & 4) || z[at - 1] >= 0);
      const cuts = state[at].kind === CUT && placed === 3 && !high;
      if (cuts && !inside) {
        const from = at - 1, again = last >= 0 && state[last + 1].bit === state[at].bit
          && Math.hypot(x[from] - x[last], y[from] - y[last]) <= 5;
        if (!again) found.push(at);
        last = from;
      }
      inside = cuts;
    }
    return found;
  }

  /* ---- a drawing that can be moved ---- */

  function paneOf(figure) {
    const svg = figure.querySelector("svg");
    if (!svg || !svg.viewBox.baseVal.width) return null;
    const { x: left, y: top, width, height } = svg.viewBox.baseVal, whole = { x: left, y: top, width, height };
    const now = { ...whole }, changed = [], taps = [], down = new Map();
    let tip = null;
    const name = { top: "Top view", side: "Side view" }[figure.dataset.view] || "Drawing";
    const keys = "Keys: plus and minus for size, arrows to move, 0 for all of it.";
    const frame = made("div", { class: "hr-pane", tabindex: "0", role: "group", "aria-label": `${name}. ${keys}` });
    svg.replaceWith(frame);
    frame.append(svg);

    const all = () => now.width >= whole.width * 0.999;
    const pixels = () => svg.getBoundingClientRect().width / now.width || 1;

    function set(x, y, width) {
      now.width = clamped(width, whole.width / DEEPEST, whole.width);
      now.height = now.width * whole.height / whole.width;
      now.x = clamped(x, whole.x, whole.x + whole.width - now.width);
      now.y = clamped(y, whole.y, whole.y + whole.height - now.height);
      svg.setAttribute("viewBox", [now.x, now.y, now.width, now.height].map(n => n.toFixed(4)).join(" "));
      frame.classList.toggle("hr-near", !all());
      smaller.disabled = fit.disabled = all();
      changed.forEach(tell => tell());
    }

    const seen = ({ x, y }, margin) => Math.abs(x - now.x - now.width / 2) <= now.width * margin
      && Math.abs(y - now.y - now.height / 2) <= now.height * margin;

    /* `times` as large; one place of the paper stays where it is: if none is told, the tip. */
    function grow(times, place) {
      const { x, y } = place || (tip && seen(tip, 0.5) ? tip : { x: now.x + now.width / 2, y: now.y + now.height / 2 });
      const width = clamped(now.width / times, whole.width / DEEPEST, whole.width);
      const share = width / now.width;
      set(x - (x - now.x) * share, y - (y - now.y) * share, width);
    }

    const move = (right, low) => set(now.x + right * now.width, now.y + low * now.height, now.width);
    const drag = (from, to) => set(now.x + from.x - to.x, now.y + from.y - to.y, now.width);
    const showAll = () => set(whole.x, whole.y, whole.width);

    function paper(event) {
      const rect = svg.getBoundingClientRect();
      return {
        x: now.x + (event.clientX - rect.left) / rect.width * now.width,
        y: now.y + (event.clientY - rect.top) / rect.height * now.height,
      };
    }

    const larger = button("Larger", () => grow(1.6));
    const smaller = button("Smaller", () => grow(1 / 1.6));
    const fit = button("All of it", showAll);
    for (const one of [larger, smaller, fit]) one.setAttribute("aria-label", `${name}: ${one.textContent.toLowerCase()}`);
    frame.after(made("div", { class: "hr-sizes" }, larger, smaller, fit));
    smaller.disabled = fit.disabled = true;

    frame.addEventListener("keydown", event => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const ways = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, -0.15], ArrowDown: [0, 0.15] };
      if (event.key === "+" || event.key === "=") grow(1.6);
      else if (event.key === "-") grow(1 / 1.6);
      else if (event.key === "0") showAll();
      else if (ways[event.key] && !all()) move(...ways[event.key]);
      else return;
      event.preventDefault();
    });

    frame.addEventListener("wheel", event => {
      const meant = event.ctrlKey || event.metaKey || document.activeElement === frame;
      if (!meant || (all() && event.deltaY > 0)) return;
      event.preventDefault();
      const lines = event.deltaMode === 1 ? 16 : 1;
      grow(Math.exp(clamped(-event.deltaY * lines, -120, 120) / 400), paper(event));
    }, { passive: false });

    let moved = 0, tapped = 0, several = false;
    frame.addEventListener("pointerdown", event => {
      if (event.pointerType === "mouse" && event.button !== 0) return;
      if (!down.size) { moved = 0; several = false; }
      down.set(event.pointerId, event);
      several ||= down.size > 1;
      frame.setPointerCapture(event.pointerId);
    });
    frame.addEventListener("pointermove", event => {
      const last = down.get(event.pointerId);
      if (!last) return;
      const other = [...down.values()].find(one => one.pointerId !== event.pointerId);
      if (other && down.size === 2) {
        const far = one => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
        const middle = one => paper({ clientX: (one.clientX + other.clientX) / 2, clientY: (one.clientY + other.clientY) / 2 });
        drag(middle(last), middle(event));
        if (far(last) > 10) grow(far(event) / far(last), middle(event));
      } else if (down.size === 1) {
        moved += Math.hypot(event.clientX - last.clientX, event.clientY - last.clientY);
        if (moved > TAP) drag(paper(last), paper(event));
      }
      down.set(event.pointerId, event);
    });
    const gone = event => down.delete(event.pointerId);
    frame.addEventListener("pointercancel", gone);
    frame.addEventListener("pointerup", event => {
      if (!gone(event) || several || moved > TAP) return;
      if (event.timeStamp - tapped < TWICE) {
        tapped = 0;
        showAll();
      } else {
        tapped = event.timeStamp;
        taps.forEach(tell => tell(paper(event), pixels()));
      }
    });
    addEventListener("resize", () => changed.forEach(tell => tell()));
    return {
      svg, side: figure.dataset.view === "side", pixels, changed, taps,
      /* The tip has come to a place on paper: keep it in sight. */
      keep(place) {
        tip = place;
        if (tip && !all() && !seen(tip, 0.4)) set(tip.x - now.width / 2, tip.y - now.height / 2, now.width);
      },
    };
  }

  /* ---- the way so far, over a drawing ---- */

  function overlayOf(pane, track) {
    const plane = pane.svg.querySelector(".hr-plane");
    const list = plane && plane.transform.baseVal.consolidate();
    if (!list) return null;
    const { a, d, e, f } = list.matrix;
    const up = pane.side ? track.z : track.y, needed = pane.side ? 5 : 3;
    const right = place => a * place / 100 + e, down = place => d * place / 100 + f;
    const layer = drawn("g", { class: "hr-over", "aria-hidden": "true" });
    const [went, did, last, unsure] = ["hr-went", "hr-did", "hr-did", "hr-unsure"].map(name => drawn("path", { class: name }));
    const paths = { "hr-went": went, "hr-did": did };
    const tip = drawn("g", { class: "hr-tip" });
    tip.append(drawn("circle", { r: "9", class: "hr-halo" }), drawn("circle", { r: "9" }), drawn("path", { d: "M-15 0H-4M4 0H15M0-15V-4M0 4V15" }));
    const cut = plane.closest("[clip-path]"), way = drawn("g", cut ? { "clip-path": cut.getAttribute("clip-path") } : {});
    way.append(went, did, last, unsure);
    layer.append(way, tip);
    pane.svg.append(layer);

    /* For each point the piece of line that leads to it. */
    const point = at => `${right(track.x[at]).toFixed(3)} ${down(up[at]).toFixed(3)}`;
    const placed = at => (track.state[at].known & needed) === needed;
    const pieces = { "hr-went": [], "hr-did": [] };
    track.state.forEach((state, at) => {
      const kind = at && placed(at) && placed(at - 1) ? TRAIL[state.kind] : "";
      const goesOn = kind && at > 1 && pieces[kind][at - 1] !== "";
      for (const name of Object.keys(pieces)) {
        pieces[name].push(name === kind ? (goesOn ? `L${point(at)}` : `M${point(at - 1)}L${point(at)}`) : "");
      }
    });

    let place = null;
    function size() {
      if (place) tip.setAttribute("transform", `translate(${place.x} ${place.y}) scale(${1 / pane.pixels()})`);
    }
    pane.changed.push(size);

    return {
      show(at, here) {
        for (const name of Object.keys(pieces)) paths[name].setAttribute("d", pieces[name].slice(0, at + 1).join(""));
        const known = (here.state.known & needed) === needed;
        const height = pane.side ? here.z : here.y;
        place = known ? { x: right(here.x), y: down(height) } : null;
        tip.style.display = known ? "" : "none";
        const kind = here.share > 0 && known && placed(at) ? TRAIL[here.state.kind] : "";
        last.setAttribute("class", kind || "hr-did");
        last.setAttribute("d", kind ? `M${point(at)}L${place.x} ${place.y}` : "");
        const spread = pane.side && known && here.state.spread;
        unsure.setAttribute("d", spread ? `M${place.x} ${place.y}V${down(height + spread)}` : "");
        pane.keep(place);
        size();
      },
      /* The point of the way that lies nearest to a place on paper, the next one from `from` on
         where several do; -1 where none is near. */
      nearest({ x, y }, pixels, from) {
        let best = -1, least = NEAREST / pixels;
        const count = track.state.length;
        for (let step = 1; step <= count; step += 1) {
          const at = (from + step) % count;
          if (!placed(at) || !TRAIL[track.state[at].kind]) continue;
          const far = Math.hypot(right(track.x[at]) - x, down(up[at]) - y);
          if (far < least - 1e-6) { best = at; least = far; }
        }
        return best;
      },
    };
  }

  /* ---- what is told of a place on the way ---- */

  function tellerOf(track) {
    const coarse = track.within > 0.051, mm = steps => (steps / 100).toFixed(coarse ? 1 : 2).replace("-", "−");
    const about = here => (coarse && here.share > 0 ? "about " : "");
    const thousandths = count => String(Math.round(count - 1) / 1000);

    function height(here) {
      if (!(here.state.known & 4)) return "not known";
      const { spread } = here.state;
      return `${about(here)}${mm(here.z)}${spread ? ` to ${mm(here.z + spread)}` : ""} mm`;
    }
    function feed({ kind, feed: stated, inverse }) {
      if (kind !== CUT && kind !== PROBE) return "none";
      if (!stated) return "not stated";
      return inverse ? `${thousandths(stated)} moves a minute` : `${thousandths(stated)} mm/min`;
    }
    function spindle({ spindle: how, speed }) {
      if (how === 0) return "not known";
      if (how === 1) return "off";
      if (how === 5) return "off, as asked at a pause";
      const fast = speed ? `${thousandths(speed)} rev/min` : "speed not stated";
      return `on${how === 3 ? " the other way" : ""}, ${fast}${how === 4 ? ", as asked at a pause" : ""}`;
    }
    function now(here) {
      if (here.pause) {
        const { number, text, optional } = here.pause;
        const shows = text ? `the display shows ${text}` : "the display shows nothing";
        return `Pause ${number} of ${track.pauses.length}: ${shows}${optional ? ". It may not wait" : ""}`;
      }
      return NOW[here.state.kind];
    }
    function ahead(here) {
      const next = track.pauses.find(pause => pause.at > here.at);
      return next ? `pause ${next.number}, in ${timeText((track.time[next.at] - here.time) / 100)}` : "none";
    }
    return {
      facts(here) {
        const { known, bit } = here.state;
        return {
          Line: `${here.line} of ${track.lines}`,
          Now: now(here),
          "X from the corner": known & 1 ? `${about(here)}${mm(here.x)} mm` : "not known",
          "Y from the corner": known & 2 ? `${about(here)}${mm(here.y)} mm` : "not known",
          "Z from the top": height(here),
          Feed: feed(here.state),
          Spindle: spindle(here.state),
          Bit: bit ? `T${bit - 1}` : "the one in the collet",
          "Time so far": timeText(here.time / 100),
          "Next pause": ahead(here),
        };
      },
      note() {
        const said = ["X and Y count from the sheet's corner, Z from its top, upwards. Times are planned; pauses are not in them."];
        if (track.state.some(state => state.spread)) said.push("Before the touch the height lies between two numbers.");
        if (track.within > 0.01) said.push(`Places are right to ${track.within} mm.`);
        if (track.kept === 1) said.push("Feeds change too often to tell all: between points they may differ.");
        if (track.kept === 0) said.push("This file changes too often to tell all: only pauses and bits are.");
        if (track.crooked) said.push("On rapid moves the machine may leave the straight line that is drawn.");
        return said.join(" ");
      },
    };
  }

  /* ---- the controls of a file ---- */

  function follow(section, panes, number) {
    const source = document.getElementById(section.dataset.trackId);
    const controls = section.querySelector(".hr-controls");
    const track = source && controls ? trackOf(source.textContent) : null;
    if (!track) return;
    const teller = tellerOf(track), entries = entriesOf(track);
    const overlays = panes.map(pane => overlayOf(pane, track));
    const pauseAt = new Map(track.pauses.map(pause => [pause.at, pause]));
    const count = track.state.length, last = Math.max(track.lines, track.line[count - 1]);
    let here = null, running = 0, saying = 0;

    const id = name => `hr-${number}-${name}`;
    const slider = made("input", { type: "range", id: id("along"), min: "1", max: String(last), step: "1", value: "1" });
    const values = {}, state = made("dl", { class: "hr-state" });
    function write(name, value) {
      if (!values[name]) {
        const [first, ...more] = name.split(" "), term = made("dt", {}, first, made("span", {}, ` ${more.join(" ")}`));
        state.append(made("div", { class: `hr-is-${first.toLowerCase()}` }, term, values[name] = made("dd", {})));
      }
      values[name].textContent = value;
    }
    const said = made("p", { class: "hr-said", role: "status" });
    const wanted = made("input", { type: "text", id: id("line"), inputmode: "numeric", autocomplete: "off", size: "7" });
    const pace = made("select", { id: id("pace") });
    for (const [times, text] of Object.entries(PACES)) pace.append(made("option", { value: times }, text));
    pace.value = "10";
    const play = button("Show it moving", () => (running ? stop() : start()));
    function jump(text, points, way) {
      const one = button(text, () => { stop(); leap(points, way); });
      one.disabled = !points.length;
      return one;
    }
    const pausePoints = track.pauses.map(pause => pause.at);

    /* `at` is the last point that is reached, `share` how much of the way to the next is done. */
    function show(at, share, line) {
      const next = Math.min(at + 1, count - 1), mixed = name => track[name][at] + (track[name][next] - track[name][at]) * share;
      const was = track.state[at], will = track.state[next], exact = share === 0 && line === track.line[at];
      const between = () => ({ ...will, known: was.known & will.known, spread: Math.round(was.spread + (will.spread - was.spread) * share) });
      here = {
        at, share, line, x: mixed("x"), y: mixed("y"), z: mixed("z"), time: mixed("time"),
        state: share > 0 ? between() : exact ? was : { ...was, kind: STILL },
        pause: exact ? pauseAt.get(at) : undefined,
      };
      const facts = teller.facts(here);
      for (const [name, value] of Object.entries(facts)) write(name, value);
      slider.value = String(line);
      slider.setAttribute("aria-valuetext", `line ${line} of ${track.lines}: ${facts.Now}`);
      overlays.forEach(overlay => overlay && overlay.show(at, here));
      state.classList.toggle("hr-waits", Boolean(here.pause));
      clearTimeout(saying);
      if (!running) saying = setTimeout(() => {
        said.textContent = Object.entries(facts).slice(0, 7).map(one => `${one.join(": ")}.`).join(" ");
      }, 800);
    }

    function showLine(line) {
      const at = Math.max(lastUpTo(track.line, line), 0), next = at + 1;
      const from = track.line[at];
      const moves = next < count && from < line && !IDLE.includes(track.state[next].kind);
      show(at, moves ? (line - from) / (track.line[next] - from) : 0, line);
    }
    const showPoint = at => show(at, 0, track.line[at]);

    function leap(points, way) {
      const at = here.at + (here.share > 0 && way < 0 ? 1 : 0);
      const found = way > 0 ? points.find(point => point > at) : points.findLast(point => point < at);
      if (found !== undefined) showPoint(found);
    }

    function start() {
      let at = here.at >= count - 1 ? 0 : here.at;
      let time = at === here.at ? here.time : 0, clock = performance.now();
      play.textContent = "Stop showing";
      const tick = stamp => {
        if (!running) return;
        const passed = (stamp - clock) / 10 * Number(pace.value);
        if (passed > 0 && (!calm.matches || stamp - clock > 500)) {
          clock = stamp;
          time += passed;
          let to = Math.max(lastUpTo(track.time, time), at);
          const waits = pausePoints.find(point => point > at);
          if (waits !== undefined && waits <= to) { stop(); showPoint(waits); return; }
          if (to >= count - 1) { stop(); showPoint(count - 1); return; }
          at = to;
          const whole = track.time[at + 1] - track.time[at], share = clamped((time - track.time[at]) / whole, 0, 0.9999) || 0;
          const from = track.line[at];
          show(at, share, from + Math.ceil((track.line[at + 1] - from) * share));
        }
        running = requestAnimationFrame(tick);
      };
      running = requestAnimationFrame(tick);
    }
    function stop() {
      cancelAnimationFrame(running);
      running = 0;
      play.textContent = "Show it moving";
    }

    function goTo() {
      const line = Number.parseInt(wanted.value, 10);
      const good = line >= 1 && line <= last;
      wanted.setAttribute("aria-invalid", String(!good));
      if (!good) { clearTimeout(saying); said.textContent = `Lines go from 1 to ${last}.`; return; }
      stop();
      showLine(line);
    }
    slider.addEventListener("input", () => { stop(); showLine(Number(slider.value)); });
    wanted.addEventListener("keydown", event => { if (event.key === "Enter") { event.preventDefault(); goTo(); } });
    panes.forEach((pane, index) => pane.taps.push((place, pixels) => {
      const found = overlays[index] ? overlays[index].nearest(place, pixels, here.at) : -1;
      if (found >= 0) { stop(); showPoint(found); }
    }));

    const held = button("Keep in sight", () => hold(!controls.classList.contains("hr-held")));
    function hold(holds) {
      controls.classList.toggle("hr-held", holds);
      held.setAttribute("aria-pressed", String(holds));
    }
    hold(false);
    slider.addEventListener("input", () => hold(true), { once: true });

    controls.append(
      made("div", { class: "hr-along" }, made("label", { for: slider.id }, "Along the file"), held, slider),
      state,
      made("div", { class: "hr-leaps" },
        jump("Pause before", pausePoints, -1), jump("Next pause", pausePoints, 1),
        jump("Entry before", entries, -1), jump("Next entry", entries, 1)),
      made("div", { class: "hr-goes" },
        made("label", { for: wanted.id }, "Go to line"), wanted, button("Go", goTo),
        play, made("label", { for: pace.id }, "Pace"), pace),
      made("p", { class: "hr-note" }, teller.note()),
      said,
    );
    controls.setAttribute("role", "group");
    controls.setAttribute("aria-label", "Along the file");
    controls.hidden = false;
    showLine(1);
  }

  /* ---- the page ---- */

  const panes = new Map();
  for (const figure of document.querySelectorAll(".hr-figure")) {
    const pane = paneOf(figure);
    if (pane) panes.set(figure, pane);
  }
  document.querySelectorAll(".hr-file").forEach((section, index) => {
    const mine = [...section.querySelectorAll(".hr-figure")].map(figure => panes.get(figure));
    follow(section, mine.filter(Boolean), index + 1);
  });
})();
