// The view of the bar: orbit, zoom, and what lies under the pointer. A parallel projection drawn back to front on a
// two-dimensional canvas: some four thousand patches need no graphics processor and no library, it works on every
// phone and in print, and the page stays a tenth of the size that a general plotting library would make it.
//
// The report and the live page share it: `barView(data)` draws into the elements that stand there by their ids, and
// returns `update(data)`, which keeps the view as it is turned. A page that holds a scene starts by itself.
"use strict";
globalThis.barView = (first) => {
  const element = (id) => document.getElementById(id);
  const canvas = element("bar3d");
  const pen = canvas && canvas.getContext("2d");
  if (!pen) return null; // the still picture stays
  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  let data, skin, stress, worth, sections, around, strips;

  function take(scene) {
    data = scene;
    skin = new Int16Array(bytes(data.skin));
    stress = new Uint16Array(bytes(data.stress));
    worth = { margin: new Uint16Array(bytes(data.margin)), safety: new Uint16Array(bytes(data.safety)) };
    sections = data.stations.length;
    around = data.around;
    strips = sections - 1;
  }

  take(first);
  const view = { setting: data.start.setting, scale: data.start.scale, azimuth: 0, elevation: 0, zoom: 1, x: 0, y: 0 };
  const tip = element("tip"), said = element("said");
  let drawn = [], chosen = null, frame = 0, colors = {};

  const home = () => Object.assign(view, {
    azimuth: data.start.azimuth, elevation: data.start.elevation, zoom: 1, x: 0, y: 0,
  });

  const value = (key, at) => worth[key][at] * data.margin_step - 1;

  const band = (scale, number) => {
    let i = 0;
    while (i < scale.edges.length && number >= scale.edges[i]) i += 1;
    return i;
  };

  const rgb = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16));

  // Right, up and towards the eye, as unit vectors in the car's axes.
  const eye = () => {
    const ca = Math.cos(view.azimuth), sa = Math.sin(view.azimuth);
    const ce = Math.cos(view.elevation), se = Math.sin(view.elevation);
    return [[-sa, ca, 0], [-se * ca, -se * sa, ce], [ce * ca, ce * sa, se]];
  };
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

  const vertex = (setting, section, point) => {
    const at = 3 * ((setting * sections + section) * around + (point % around));
    return [skin[at] * data.skin_mm, skin[at + 1] * data.skin_mm, skin[at + 2] * data.skin_mm];
  };

  // Pixels a millimetre and the middle of the picture, so that the bar fills the canvas from this side.
  const fit = (axes) => {
    let low = [Infinity, Infinity], high = [-Infinity, -Infinity];
    const take = (p) => {
      for (const k of [0, 1]) {
        const v = dot(axes[k], p);
        low[k] = Math.min(low[k], v);
        high[k] = Math.max(high[k], v);
      }
    };
    for (let s = 0; s < sections; s += 4) take(vertex(view.setting, s, 0));
    data.links[view.setting].forEach((link) => link.forEach(take));
    const box = canvas.getBoundingClientRect();
    const pad = Math.min(70, 0.14 * box.width);
    const scale = Math.min((box.width - pad) / (high[0] - low[0] + 1), (box.height - 70) / (high[1] - low[1] + 1));
    return { scale: scale * view.zoom, middle: [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])], box };
  };

  function draw() {
    frame = 0;
    const axes = eye(), { scale, middle, box } = fit(axes);
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(box.width * ratio);
    canvas.height = Math.round(box.height * ratio);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, box.width, box.height);
    const place = (p) => [
      0.5 * box.width + view.x + scale * (dot(axes[0], p) - middle[0]),
      0.5 * box.height + view.y - scale * (dot(axes[1], p) - middle[1]),
    ];
    const shown = data.scales[view.scale];
    const paints = shown.colors.map(rgb);
    const faces = [];
    const add = (corners, paint, alpha, at, strip) => {
      const flat = corners.map(place);
      const turn = (flat[2][0] - flat[0][0]) * (flat[3][1] - flat[1][1]) - (flat[2][1] - flat[0][1]) * (flat[3][0] - flat[1][0]);
      if (turn >= 0) return; // seen from within
      const u = corners[2].map((v, k) => v - corners[0][k]), w = corners[3].map((v, k) => v - corners[1][k]);
      const normal = [u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]];
      const size = Math.hypot(...normal) || 1;
      const lit = (-0.35 * dot(axes[0], normal) + 0.55 * dot(axes[1], normal) + 0.76 * dot(axes[2], normal)) / size;
      const shade = 0.62 + 0.38 * Math.max(0, Math.min(1, lit));
      const depth = corners.reduce((sum, p) => sum + dot(axes[2], p), 0);
      faces.push({ flat, depth, alpha, at, strip, paint: `rgb(${paint.map((v) => Math.round(v * shade)).join(" ")})` });
    };
    for (let s = 0; s < strips; s += 1) {
      if (!data.joined[s]) continue;
      for (let p = 0; p < around; p += 1) {
        const at = (view.setting * strips + s) * around + p;
        const corners = [
          vertex(view.setting, s, p), vertex(view.setting, s, p + 1),
          vertex(view.setting, s + 1, p + 1), vertex(view.setting, s + 1, p),
        ];
        add(corners, paints[band(shown, value(shown.key, at))], 1, at, s);
      }
    }
    for (let i = 0; i < around / 2 - 1; i += 1) { // the cut ends
      for (const section of [0, sections - 1]) {
        const ring = [i, i + 1, around - 2 - i, around - 1 - i].map((p) => vertex(view.setting, section, p));
        add(section ? ring : ring.reverse(), [135, 147, 160], 1, -1, -1);
      }
    }
    for (const [near, far] of data.mounts) {
      for (let p = 0; p < near.length; p += 1) {
        const q = (p + 1) % near.length;
        add([near[p], near[q], far[q], far[p]], [125, 136, 148], 0.4, -1, -1);
      }
    }
    faces.sort((a, b) => a.depth - b.depth);
    const path = (points) => {
      pen.beginPath();
      points.forEach((p, i) => (i ? pen.lineTo(p[0], p[1]) : pen.moveTo(p[0], p[1])));
    };
    pen.lineWidth = 1.2;
    pen.strokeStyle = colors.muted;
    pen.setLineDash([5, 4]);
    path(data.rest.map(place));
    pen.stroke();
    pen.setLineDash([]);
    pen.lineWidth = 2;
    pen.font = `12px ${colors.font}`;
    pen.textAlign = "center";
    data.links[view.setting].forEach((link, side) => {
      const [joint, pickup] = link.map(place);
      path([joint, pickup]);
      pen.stroke();
      pen.fillStyle = colors.muted;
      const text = side ? "left pickup" : "right pickup", half = 0.5 * pen.measureText(text).width + 4;
      pen.fillText(text, Math.min(Math.max(pickup[0], half), box.width - half), pickup[1] + 15);
    });
    for (const face of faces) {
      path(face.flat);
      pen.closePath();
      pen.globalAlpha = face.alpha;
      pen.fillStyle = pen.strokeStyle = face.paint;
      pen.fill();
      if (face.alpha === 1) {
        pen.lineWidth = 0.6; // closes the seams between patches
        pen.stroke();
      }
    }
    pen.globalAlpha = 1;
    for (const rims of data.holes[view.setting]) { // the rim that faces the eye
      const depth = (rim) => rim.reduce((sum, p) => sum + dot(axes[2], p), 0);
      path((depth(rims[0]) > depth(rims[1]) ? rims[0] : rims[1]).map(place));
      pen.closePath();
      pen.fillStyle = colors.ink;
      pen.fill();
    }
    const mark = place(shown.marks[view.setting]);
    pen.strokeStyle = colors.ink;
    pen.lineWidth = 1.6;
    pen.beginPath();
    pen.arc(mark[0], mark[1], 7, 0, 2 * Math.PI);
    pen.stroke();
    path([[mark[0], mark[1] - 7], [mark[0], mark[1] - 22]]);
    pen.stroke();
    pen.font = `600 13px ${colors.font}`;
    const label = shown.labels[view.setting], half = 0.5 * pen.measureText(label).width + 6;
    const x = Math.min(Math.max(mark[0], half), box.width - half);
    pen.lineWidth = 4;
    pen.strokeStyle = colors.wash;
    pen.fillStyle = colors.ink;
    const y = Math.max(mark[1] - 27, 16);
    pen.strokeText(label, x, y);
    pen.fillText(label, x, y);
    cross(axes);
    drawn = faces;
    canvas.dataset.view = [view.azimuth, view.elevation, view.zoom].map((v) => v.toFixed(3)).join(" ");
    canvas.dataset.mark = mark.map((v) => v.toFixed(1)).join(" ");
  }

  function cross(axes) {
    pen.font = `12px ${colors.font}`;
    pen.lineWidth = 1.4;
    pen.strokeStyle = pen.fillStyle = colors.muted;
    ["x", "y", "z"].forEach((name, k) => {
      const end = [34 + 22 * axes[0][k], 38 - 22 * axes[1][k]];
      pen.beginPath();
      pen.moveTo(34, 38);
      pen.lineTo(...end);
      pen.stroke();
      pen.fillText(name, 34 + 31 * axes[0][k], 42 - 31 * axes[1][k]);
    });
  }

  const redraw = () => { if (!frame) frame = requestAnimationFrame(draw); };

  const inside = (quad, x, y) => {
    let within = false;
    for (let i = 0, j = 3; i < 4; j = i, i += 1) {
      const [xi, yi] = quad[i], [xj, yj] = quad[j];
      if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) within = !within;
    }
    return within;
  };

  function words(face) {
    const station = 0.5 * (data.stations[face.strip] + data.stations[face.strip + 1]);
    const off = station - data.middle;
    const side = Math.abs(off) < 0.5 ? "mid-length" : `${Math.abs(off).toFixed(0)} mm ${off > 0 ? "left" : "right"} of the middle`;
    const number = (key) => { const v = value(key, face.at); return v > 90 ? "over 90" : v.toFixed(2); };
    return `${data.places[data.place[face.strip]]}\nstation ${station.toFixed(0)} mm, ${side}\n` +
      `von Mises stress ${(stress[face.at] * data.stress_step).toFixed(0)} MPa\n` +
      `yield margin ${number("margin")}\nsafety factor ${number("safety")}`;
  }

  function point(event) {
    const box = canvas.getBoundingClientRect();
    const x = event.clientX - box.left, y = event.clientY - box.top;
    let face = null;
    for (let i = drawn.length - 1; i >= 0 && !face; i -= 1) {
      if (drawn[i].strip >= 0 && inside(drawn[i].flat, x, y)) face = drawn[i];
    }
    tip.hidden = !face;
    if (!face) return;
    tip.textContent = words(face);
    if (chosen !== face.at) said.textContent = tip.textContent;
    chosen = face.at;
    const left = canvas.offsetLeft + x + 14, room = canvas.offsetWidth - tip.offsetWidth - 4;
    tip.style.left = `${Math.max(4, left > room ? canvas.offsetLeft + x - tip.offsetWidth - 14 : left)}px`;
    tip.style.top = `${canvas.offsetTop + Math.max(0, Math.min(y + 14, canvas.offsetHeight - tip.offsetHeight - 4))}px`;
  }

  const turn = (dx, dy) => {
    view.azimuth -= dx;
    view.elevation = Math.max(-1.55, Math.min(1.55, view.elevation + dy));
    tip.hidden = true;
    redraw();
  };
  const zoom = (factor) => {
    view.zoom = Math.max(0.4, Math.min(40, view.zoom * factor));
    tip.hidden = true;
    redraw();
  };

  const held = new Map();
  let apart = 0, middle = null;
  canvas.addEventListener("pointerdown", (event) => {
    held.set(event.pointerId, event);
    canvas.setPointerCapture(event.pointerId);
    apart = 0;
    point(event);
  });
  const release = (event) => { held.delete(event.pointerId); apart = 0; };
  canvas.addEventListener("pointerup", release);
  canvas.addEventListener("pointercancel", release);
  canvas.addEventListener("pointerleave", () => { if (!held.size) tip.hidden = true; });
  canvas.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) { point(event); return; }
    const dx = event.clientX - before.clientX, dy = event.clientY - before.clientY;
    held.set(event.pointerId, event);
    if (held.size > 1) {
      const [a, b] = [...held.values()];
      const now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
      const center = [0.5 * (a.clientX + b.clientX), 0.5 * (a.clientY + b.clientY)];
      if (apart) {
        view.x += center[0] - middle[0];
        view.y += center[1] - middle[1];
        zoom(now / apart);
      }
      apart = now;
      middle = center;
    } else if (event.shiftKey || event.buttons === 2) {
      view.x += dx;
      view.y += dy;
      redraw();
    } else if (dx || dy) {
      turn(0.009 * dx, event.pointerType === "touch" ? 0 : 0.009 * dy);
    }
  });
  // The page scrolls on as usual unless the view has the keyboard, or Control is held.
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas && !event.ctrlKey) return;
    event.preventDefault();
    zoom(Math.exp(-0.0015 * event.deltaY));
  }, { passive: false });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("keydown", (event) => {
    const step = 0.12;
    const does = {
      ArrowLeft: () => turn(step, 0), ArrowRight: () => turn(-step, 0), ArrowUp: () => turn(0, -step),
      ArrowDown: () => turn(0, step), "+": () => zoom(1.25), "=": () => zoom(1.25), "-": () => zoom(0.8),
      0: () => { home(); redraw(); },
    }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  });
  element("closer").addEventListener("click", () => zoom(1.4));
  element("farther").addEventListener("click", () => zoom(1 / 1.4));
  element("home").addEventListener("click", () => { home(); redraw(); });

  const option = (select, texts, current) => texts.forEach((text, i) => select.add(new Option(text, i, false, i === current)));
  const settings = element("setting"), scales = element("scale");
  option(settings, data.settings, view.setting);
  option(scales, data.scales.map((scale) => scale.short), view.scale);
  settings.addEventListener("change", () => { view.setting = Number(settings.value); tip.hidden = true; redraw(); });
  scales.addEventListener("change", () => { view.scale = Number(scales.value); tip.hidden = true; key(); redraw(); });

  function key() {
    const scale = data.scales[view.scale];
    element("key").replaceChildren(...scale.colors.map((color, i) => {
      const step = document.createElement("span"), swatch = document.createElement("i");
      swatch.style.background = color;
      step.append(swatch, scale.words[i]);
      return step;
    }));
    element("keyname").textContent = scale.name;
  }

  function theme() {
    const style = getComputedStyle(document.documentElement);
    const named = (name) => style.getPropertyValue(`--${name}`).trim();
    colors = { ink: named("ink"), muted: named("muted"), wash: named("wash"), font: getComputedStyle(document.body).fontFamily };
    redraw();
  }

  document.documentElement.classList.add("live");
  home();
  key();
  theme();
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", theme);
  new ResizeObserver(redraw).observe(canvas);
  return {
    update(scene) {
      take(scene);
      view.setting = Math.min(view.setting, data.settings.length - 1);
      tip.hidden = true;
      key();
      redraw();
    },
  };
};
if (document.getElementById("scene")) globalThis.barView(JSON.parse(document.getElementById("scene").textContent));
