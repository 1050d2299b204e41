"use strict";
(function () {
  const SVG = "http://www.w3.org/2000/svg";
  const facts = JSON.parse(document.getElementById("facts").textContent);
  const detail = document.getElementById("detail");
  const body = document.querySelector("#table tbody");
  const plans = Array.from(document.querySelectorAll(".plan"), planOf);
  const rows = new Map(), marks = new Map();
  document.documentElement.classList.add("scripted");
  if (body) for (const row of body.rows) rows.set(row.dataset.id, row);
  for (const plan of plans)
    for (const mark of plan.svg.querySelectorAll(".mark")) marks.set(mark.dataset.id, { mark, plan });

  /* A circle and its row go together. */
  let lit = null, chosen = null;
  function each(id, act) {
    if (rows.has(id)) act(rows.get(id));
    if (marks.has(id)) act(marks.get(id).mark);
  }
  function light(id) {
    if (id === lit) return;
    if (lit !== null) each(lit, (part) => part.classList.remove("lit"));
    lit = id;
    if (id !== null) each(id, (part) => part.classList.add("lit"));
  }
  function choose(id) {
    if (chosen !== null) {
      each(chosen, (part) => part.classList.remove("chosen"));
      if (rows.has(chosen)) rows.get(chosen).querySelector(".pick").setAttribute("aria-pressed", "false");
    }
    chosen = id === chosen ? null : id;
    detail.classList.toggle("open", chosen !== null);
    if (chosen === null) return detail.replaceChildren(element("p", "Choose a circle to see what is known of it.", "soft"));
    each(chosen, (part) => part.classList.add("chosen"));
    rows.get(chosen).querySelector(".pick").setAttribute("aria-pressed", "true");
    if (marks.has(chosen)) marks.get(chosen).plan.show(marks.get(chosen).mark.querySelector(".rim"));
    tell(facts[chosen]);
    if (!broad()) return;
    detail.scrollIntoView({ block: "nearest" });
    if (marks.has(chosen)) marks.get(chosen).plan.svg.scrollIntoView({ block: "nearest" });
  }
  function broad() { return window.matchMedia("(min-width: 83.01rem)").matches; }
  function idAt(target) {
    const part = target.closest && target.closest("[data-id]");
    return part ? part.dataset.id : null;
  }

  /* What is known of the chosen circle. */
  function element(name, text, kind) {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  }
  function drawn(name, attributes, parent) {
    const made = document.createElementNS(SVG, name);
    for (const key in attributes) made.setAttribute(key, attributes[key]);
    if (parent) parent.append(made);
    return made;
  }
  function tell(fact) {
    const close = element("button", "Close", "close");
    close.type = "button";
    close.addEventListener("click", () => { const row = rows.get(chosen); choose(chosen); row.querySelector(".pick").focus(); });
    const list = element("dl");
    for (const [name, text] of fact.rows) list.append(element("dt", name), element("dd", text));
    detail.replaceChildren(close, element("h3", fact.head), list);
    if (!fact.spot) return;
    const [x, y, high, low] = fact.spot;
    const source = document.getElementById("curve-" + fact.curve);
    const picture = drawn("svg", { class: "curve", viewBox: source.closest("svg").getAttribute("viewBox"), role: "img", "aria-label": "Where this circle lies on the curve of its readings" });
    const curve = source.cloneNode(true);
    curve.removeAttribute("id");
    picture.append(curve);
    if (high !== null) drawn("path", { class: "reach", d: `M${x - 5} ${high}h10m-5 0V${low}m-5 0h10` }, picture);
    drawn("path", { class: "spot", d: `M${x} ${y - 8}l8 8l-8 8l-8 -8z` }, picture);
    drawn("text", { x, y: (high === null ? y - 8 : high) - 6, "text-anchor": "middle" }, picture).textContent = chosen;
    detail.append(picture);
  }

  /* The table: sorting, and going through it by keys. */
  const collator = new Intl.Collator("en", { numeric: true });
  function value(row, column) {
    const text = row.cells[column].textContent.trim();
    const number = Number(text.replace("±", ""));
    return text === "-" || text === "?" ? null : Number.isNaN(number) ? text : number;
  }
  function compare(a, b) {
    if (a === null || b === null) return (a === null) - (b === null);
    return typeof a === "number" && typeof b === "number" ? a - b : collator.compare(String(a), String(b));
  }
  function sort(head) {
    const down = head.getAttribute("aria-sort") === "ascending";
    for (const other of head.parentNode.cells) other.setAttribute("aria-sort", "none");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const column = head.cellIndex;
    const keyed = Array.from(body.rows, (row) => [value(row, column), row]);
    keyed.sort((a, b) => (a[0] === null || b[0] === null ? compare(a[0], b[0]) : (down ? -1 : 1) * compare(a[0], b[0])));
    const table = body.parentNode, below = body.nextSibling;
    body.remove(); /* out of the page it is put in order without being laid out row by row */
    body.append(...keyed.map((pair) => pair[1]));
    table.insertBefore(body, below);
  }
  function goTo(row) {
    if (!row) return;
    for (const pick of body.querySelectorAll('.pick[tabindex="0"], .pick:not([tabindex])')) pick.tabIndex = -1;
    const pick = row.querySelector(".pick");
    pick.tabIndex = 0;
    pick.focus();
    row.scrollIntoView({ block: "nearest" });
  }
  if (body) {
    document.querySelector("#table thead").addEventListener("click", (event) => {
      const head = event.target.closest("th");
      if (head) sort(head);
    });
    body.addEventListener("click", (event) => { const id = idAt(event.target); if (id) choose(id); });
    body.addEventListener("pointerover", (event) => light(idAt(event.target)));
    body.addEventListener("pointerleave", () => light(null));
    body.addEventListener("focusin", (event) => light(idAt(event.target)));
    body.addEventListener("focusout", () => light(null));
    body.addEventListener("keydown", (event) => {
      const row = event.target.closest("tr");
      const to = { ArrowDown: row.nextElementSibling, ArrowUp: row.previousElementSibling, Home: body.rows[0], End: body.rows[body.rows.length - 1] }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      goTo(to);
    });
  }

  /* The plan: zoom, pan, scale bar. */
  function planOf(svg) {
    const whole = svg.viewBox.baseVal, full = { x: 0, y: 0, w: whole.width, h: whole.height };
    const unit = Number(svg.dataset.unit), name = unit === 1 ? "mm" : "in";
    const bar = svg.querySelector(".scale path"), text = svg.querySelector(".scale text");
    const letters = Number((svg.querySelector(".mark text") || { getAttribute: () => 0 }).getAttribute("font-size"));
    const tags = Array.from(svg.querySelectorAll(".tag"), (tag) => [tag, ...tag.dataset.at.split(" ").map(Number), 1]);
    const pointers = new Map();
    let box = Object.assign({}, full), moved = 0, most = 0, printed = false;
    function pixel() {
      if (printed) return box.w / 640; /* about the width of a sheet of paper */
      return Math.max(box.w / (svg.clientWidth || 600), box.h / (svg.clientHeight || 400));
    }
    function put() {
      svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.w} ${box.h}`);
      const size = pixel();
      svg.classList.toggle("near", box.w < full.w * 0.999);
      svg.classList.toggle("far", letters > 0 && letters / size < 4);
      if (size > 1.3 * most || size < most / 1.3) {
        most = size;
        for (const tag of tags) shrink(tag, 16 * size);
      }
      const raw = (110 * size) / unit, power = 10 ** Math.floor(Math.log10(raw));
      const length = power * (raw >= 5 * power ? 5 : raw >= 2 * power ? 2 : 1), long = length * unit;
      const x = box.x + box.w - 14 * size - long, y = box.y + box.h - 8 * size; /* inside, for print too */
      bar.setAttribute("d", `M${x} ${y - 5 * size}v${5 * size}h${long}v${-5 * size}`);
      text.setAttribute("x", x + long / 2);
      text.setAttribute("y", y - 6 * size);
      text.setAttribute("font-size", 12 * size);
      text.textContent = `${Number(length.toPrecision(6))} ${name}`;
    }
    function shrink(tag, letters) { /* signs and ids stay small when the plan grows, so that zooming parts them */
      const [part, x, y, own, before] = tag, k = Math.min(1, letters / own);
      if (k === before) return;
      tag[4] = k;
      part.setAttribute("transform", `matrix(${k} 0 0 ${k} ${x * (1 - k)} ${y * (1 - k)})`);
    }
    function within(value, low, high) { return Math.min(Math.max(value, low), high); }
    function set(x, y, w) {
      w = within(w, full.w / 400, full.w);
      const h = (w * full.h) / full.w;
      box = { x: within(x, -w / 2, full.w - w / 2), y: within(y, -h / 2, full.h - h / 2), w, h };
      if (w === full.w) box = Object.assign({}, full);
      put();
    }
    function at(clientX, clientY) {
      const matrix = svg.getScreenCTM();
      return { x: (clientX - matrix.e) / matrix.a, y: (clientY - matrix.f) / matrix.d };
    }
    function chosenIn() { /* the chosen circle, where it is in sight */
      const circle = svg.querySelector(".chosen .rim");
      if (!circle) return null;
      const x = circle.cx.baseVal.value, y = circle.cy.baseVal.value;
      return x < box.x || x > box.x + box.w || y < box.y || y > box.y + box.h ? null : { x, y };
    }
    function zoom(factor, point) {
      const about = point || chosenIn() || { x: box.x + box.w / 2, y: box.y + box.h / 2 };
      const w = within(box.w / factor, full.w / 400, full.w), share = w / box.w;
      set(about.x - (about.x - box.x) * share, about.y - (about.y - box.y) * share, w);
    }
    function shift(dx, dy) { set(box.x + dx, box.y + dy, box.w); }
    const plan = {
      svg,
      step(which) { if (which === "all") set(0, 0, full.w); else zoom(which === "in" ? 1.5 : 1 / 1.5); },
      show(circle) {
        const x = circle.cx.baseVal.value, y = circle.cy.baseVal.value;
        if (x < box.x || x > box.x + box.w || y < box.y || y > box.y + box.h) set(x - box.w / 2, y - box.h / 2, box.w);
      },
    };
    svg.addEventListener("wheel", (event) => {
      if (event.deltaY > 0 && box.w >= full.w) return;
      event.preventDefault();
      zoom(Math.exp(-within(event.deltaY, -240, 240) / 400), at(event.clientX, event.clientY));
    }, { passive: false });
    svg.addEventListener("keydown", (event) => {
      const step = 0.12, act = {
        "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), _: () => zoom(1 / 1.5), 0: () => set(0, 0, full.w),
        ArrowLeft: () => shift(-box.w * step, 0), ArrowRight: () => shift(box.w * step, 0),
        ArrowUp: () => shift(0, -box.h * step), ArrowDown: () => shift(0, box.h * step),
      }[event.key];
      if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      act();
    });
    svg.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      if (pointers.size === 0) moved = 0;
      pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    });
    svg.addEventListener("pointermove", (event) => {
      const before = pointers.get(event.pointerId);
      if (!before) return light(idAt(event.target));
      const other = Array.from(pointers.entries()).find(([key]) => key !== event.pointerId);
      const now = { x: event.clientX, y: event.clientY }, size = pixel();
      moved += Math.hypot(now.x - before.x, now.y - before.y);
      pointers.set(event.pointerId, now);
      if (other) {
        const far = (p) => Math.hypot(p.x - other[1].x, p.y - other[1].y) || 1;
        zoom(far(now) / far(before), at((now.x + other[1].x) / 2, (now.y + other[1].y) / 2));
      } else if (moved > 4) {
        if (!svg.hasPointerCapture(event.pointerId)) svg.setPointerCapture(event.pointerId);
        svg.classList.add("held");
        shift((before.x - now.x) * size, (before.y - now.y) * size);
      }
    });
    function release(event) { pointers.delete(event.pointerId); if (!pointers.size) svg.classList.remove("held"); }
    svg.addEventListener("pointerup", release);
    svg.addEventListener("pointercancel", release);
    svg.addEventListener("pointerleave", (event) => { light(null); if (!svg.hasPointerCapture(event.pointerId)) release(event); });
    svg.addEventListener("click", (event) => {
      const id = idAt(event.target);
      if (!id || moved > 4) return;
      choose(id);
      if (chosen && broad()) rows.get(chosen).scrollIntoView({ block: "nearest" });
    });
    function print(now) { printed = now; put(); }
    window.addEventListener("resize", put);
    window.addEventListener("beforeprint", () => print(true));
    window.addEventListener("afterprint", () => print(false));
    put();
    return plan;
  }
  for (const button of document.querySelectorAll("[data-zoom]"))
    button.addEventListener("click", () => plans.forEach((plan) => plan.step(button.dataset.zoom)));
})();
