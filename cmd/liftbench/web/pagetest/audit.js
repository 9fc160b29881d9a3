// What hinders people who do not see, or not well, or have no fine pointer:
// computed from the page as it is drawn. The last expression is the list of
// faults, one a line. Numbers are those of WCAG 2.2.

(() => {
  const faults = new Set();
  const shown = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && e.getClientRects().length > 0;
  const what = (e) => {
    const cls = typeof e.className === "string" && e.className ? "." + e.className.trim().replaceAll(/\s+/g, ".") : "";
    const host = e.closest("[id]");
    return `${host && host !== e ? `#${host.id} ` : ""}${e.tagName.toLowerCase()}${e.id ? `#${e.id}` : ""}${cls}${e.tagName === "text" ? ` "${e.textContent}"` : ""}`;
  };
  /** Whether it is there for assistive programs alone. */
  const unseen = (e) => {
    for (let at = e; at; at = at.parentElement) if (getComputedStyle(at).clipPath === "inset(50%)") return true;
    return e.matches(".skip:not(:focus)");
  };

  // 1.4.3, 1.4.11: contrast of text 4.5 (large 3), of the edges of controls 3.
  const channel = (c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
  const contrast = (a, b) => {
    const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p);
    return (x + 0.05) / (y + 0.05);
  };
  const colour = (s) => {
    const m = /^rgba?\(([\d.]+), ([\d.]+), ([\d.]+)(?:, ([\d.]+))?\)$/.exec(s);
    return m && [Number(m[1]), Number(m[2]), Number(m[3]), m[4] === undefined ? 1 : Number(m[4])];
  };
  const over = (top, alpha, below) => [0, 1, 2].map((i) => top[i] * alpha + below[i] * (1 - alpha));
  const canvas = colour(getComputedStyle(document.documentElement).backgroundColor)?.[3] ? getComputedStyle(document.documentElement).backgroundColor
    : matchMedia("(prefers-color-scheme: dark)").matches ? "rgb(18, 18, 18)" : "rgb(255, 255, 255)";
  /** The colour behind an element: of the boxes around it, from the outermost in. */
  const groundOf = (e) => {
    const stack = [];
    for (let at = e; at; at = at.parentElement) stack.unshift(at);
    return stack.reduce((below, at) => {
      const c = colour(getComputedStyle(at).backgroundColor);
      return c && c[3] > 0 ? over(c, c[3], below) : below;
    }, colour(canvas).slice(0, 3));
  };
  /** The colours behind a text of a drawing: of the shapes that are painted before it, at its middle and near its ends; a hatch is of its lines and of what is between. */
  const groundsOfDrawn = (e) => {
    const svg = e.ownerSVGElement;
    const before = [...svg.querySelectorAll("rect, path, circle, polygon, ellipse")]
      .filter((s) => s.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING && !s.closest("defs, clipPath, pattern"));
    const box = e.getBoundingClientRect();
    return [0.05, 0.5, 0.95].flatMap((f) => {
      const point = new DOMPoint(box.left + box.width * f, box.top + box.height / 2);
      return before.reduce((grounds, s) => {
        const style = getComputedStyle(s);
        if (style.fill === "none" || !s.isPointInFill(point.matrixTransform(s.getScreenCTM().inverse())) || cut(s, point)) return grounds;
        const hatch = /url\("?#([^")]+)/.exec(style.fill)?.[1];
        if (hatch) return [...grounds, ...[...document.getElementById(hatch).querySelectorAll("*")].map((l) => colour(getComputedStyle(l).stroke)).filter(Boolean)];
        const c = colour(style.fill);
        return grounds.map((below) => over(c, c[3] * Number(style.fillOpacity), below));
      }, [groundOf(svg)]);
    });
  };
  /** Whether a clip path that is a rectangle keeps a shape from being painted at a point. */
  const cut = (s, point) => {
    for (let at = s; at && at.tagName !== "svg"; at = at.parentElement) {
      const id = /url\("?#([^")]+)/.exec(getComputedStyle(at).clipPath)?.[1];
      const rect = id && document.getElementById(id)?.firstElementChild;
      if (rect?.tagName !== "rect") continue; // the worst is taken to be seen
      const p = point.matrixTransform(at.getScreenCTM().inverse());
      const [x, y, w, h] = ["x", "y", "width", "height"].map((n) => Number(rect.getAttribute(n)));
      if (p.x < x || p.y < y || p.x > x + w || p.y > y + h) return true;
    }
    return false;
  };
  const least = (style) => {
    const size = parseFloat(style.fontSize);
    return size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700) ? 3 : 4.5;
  };
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const e = texts.currentNode.parentElement;
    if (!texts.currentNode.textContent.trim() || !shown(e) || unseen(e) || e.closest("noscript, option, script, style, title, desc") || e.closest(":disabled")) continue;
    const style = getComputedStyle(e);
    const drawn = e.closest("svg");
    const ink = colour(drawn ? style.fill : style.color);
    for (const ground of drawn ? groundsOfDrawn(e.closest("text")) : [groundOf(e)]) {
      const ratio = contrast(over(ink, ink[3], ground), ground);
      if (ratio < least(style)) faults.add(`${what(e)} has a contrast of ${ratio.toFixed(2)}`);
    }
  }
  for (const e of document.querySelectorAll("button:not(.quiet), select, input[type=number]")) {
    const edge = colour(getComputedStyle(e).borderTopColor);
    if (shown(e) && !e.disabled && contrast(over(edge, edge[3], groundOf(e)), groundOf(e.parentElement)) < 3) faults.add(`${what(e)} has a faint edge`);
  }

  // 2.5.8: targets of 24 by 24 px, or so far from others that a circle of 24 px fits.
  const targets = [...document.querySelectorAll("button, input, select, summary, a[href], [tabindex='0'][role=slider]")].filter((e) => shown(e) && !e.disabled && !unseen(e))
    .map((e) => ({ e, box: [e, ...(e.labels ?? [])].map((x) => x.getBoundingClientRect()).reduce((a, b) => (b.width * b.height > a.width * a.height && e.matches("[type=checkbox], [type=radio]") ? b : a)) }));
  for (const { e, box } of targets) {
    if (box.width >= 24 && box.height >= 24) continue;
    const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];
    const close = targets.some((o) => o.e !== e && Math.hypot(Math.max(o.box.x - cx, 0, cx - o.box.right), Math.max(o.box.y - cy, 0, cy - o.box.bottom)) < 12);
    if (close) faults.add(`${what(e)} is a target of ${box.width.toFixed(0)} by ${box.height.toFixed(0)} px beside another`);
  }

  // 1.3.1, 2.4.6: one h1, no level left out; landmarks with all content in them; ids and references that hold.
  let last = 0;
  for (const e of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
    if (!shown(e)) continue;
    const level = Number(e.tagName[1]);
    if (level > last + 1) faults.add(`${what(e)} "${e.textContent}" follows a heading of level ${last}`);
    last = level;
  }
  if ([...document.querySelectorAll("h1")].filter(shown).length !== 1) faults.add("not one h1");
  if (document.querySelectorAll("main").length !== 1) faults.add("not one main");
  for (const e of document.body.querySelectorAll("p, figure, table, button, input, h1, h2, h3")) {
    if (shown(e) && !e.closest("header, main, footer, form, nav, [role=alert], [aria-hidden=true]")) faults.add(`${what(e)} is outside of every landmark`);
  }
  if (!document.documentElement.lang) faults.add("no language");
  if (!document.title) faults.add("no title");
  const ids = new Set();
  for (const e of document.querySelectorAll("[id]")) {
    if (ids.has(e.id)) faults.add(`id ${e.id} comes twice`);
    ids.add(e.id);
  }
  for (const e of document.querySelectorAll("[aria-describedby], [aria-labelledby], [for]")) {
    if (e.tagName === "OUTPUT" || !shown(e)) continue;
    const names = ["aria-describedby", "aria-labelledby", "for"].flatMap((a) => (e.getAttribute(a) ?? "").split(" ").filter(Boolean));
    for (const id of names) if (!ids.has(id)) faults.add(`${what(e)} names ${id}, which is not there`);
  }
  for (const e of document.querySelectorAll("table")) {
    if (shown(e) && !e.querySelector("th")) faults.add(`${what(e)} has no headings`);
  }

  // 1.4.10, 1.4.4: nothing is wider than the window, cut off, or on top of other text.
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (wide > 0) faults.add(`the page is ${wide} px wider than the window`);
  for (const svg of document.querySelectorAll("svg")) {
    if (!shown(svg)) continue;
    const frame = svg.getBoundingClientRect();
    const list = [...svg.querySelectorAll("text")].filter((e) => e.textContent && !e.closest("[clip-path]")).map((e) => ({ e, box: e.getBoundingClientRect() }));
    list.forEach(({ e, box }, i) => {
      const spare = 0.25 * Math.min(box.width, box.height); // of a line's height no letter takes
      if (box.left < frame.left - spare || box.right > frame.right + spare || box.top < frame.top - spare || box.bottom > frame.bottom + spare) faults.add(`${what(e)} sticks out of its drawing`);
      for (const o of list.slice(i + 1)) {
        const w = Math.min(box.right, o.box.right) - Math.max(box.left, o.box.left);
        const h = Math.min(box.bottom, o.box.bottom) - Math.max(box.top, o.box.top);
        if (w > 1 && h > 3) faults.add(`${what(e)} and ${what(o.e)} are on top of each other`);
      }
    });
  }
  for (const e of document.querySelectorAll("button, label, p, h1, h2, td, th, select, output, summary")) {
    if (shown(e) && !unseen(e) && e.tagName !== "SELECT" && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline" && e.clientWidth > 0 &&
      getComputedStyle(e).overflowX !== "auto") faults.add(`${what(e)} is cut off by ${e.scrollWidth - e.clientWidth} px`);
  }
  return [...faults].join("\n");
})()
