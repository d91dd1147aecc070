"use strict";
// Everything works without this file: it adds a read-out and zoom to the charts and keeps Today's figures fresh.
(() => {
  const $ = (s, e = document) => e.querySelector(s);
  const $$ = (s, e = document) => [...e.querySelectorAll(s)];
  const zone = document.body.dataset.zone, lang = document.documentElement.lang;

  // ---- Today: live figures ----
  const live = () => {
    let feed = null, timer = 0;
    const stale = on => { const s = $("#stale"); if (s) s.hidden = !on; };
    const take = news => {
      for (const [key, text] of Object.entries(news)) {
        if (key === "stamp") {
          const n = $("#news");
          if (n && n.dataset.stamp !== text) {
            const a = document.createElement("a");
            a.href = location.pathname;
            a.textContent = "The alerts have changed: show them";
            n.replaceChildren(a);
          }
          continue;
        }
        if (key === "sentence") document.title = text;
        const at = key.indexOf("."), name = CSS.escape(key);
        for (const e of $$(`[data-live="${name}"]`)) e.textContent = text;
        if (key.startsWith("water.")) for (const e of $$(`[data-water="${name}"]`)) e.setAttribute("d", text);
        if (key.startsWith("state.") && at > 0) for (const e of $$(`[data-state="${name}"]`)) e.className = "pot " + text;
      }
    };
    const open = () => {
      clearTimeout(timer);
      if (document.hidden || feed) return;
      feed = new EventSource("/live");
      feed.onopen = () => stale(false);
      feed.onmessage = e => take(JSON.parse(e.data));
      feed.onerror = () => { // a closed feed never comes back by itself
        stale(true);
        if (feed && feed.readyState === EventSource.CLOSED) { shut(); timer = setTimeout(open, 10000); }
      };
    };
    const shut = () => { if (feed) feed.close(); feed = null; };
    document.addEventListener("visibilitychange", () => document.hidden ? shut() : open());
    addEventListener("pagehide", shut);
    addEventListener("pageshow", open);
    open();
    const legend = $(".verbs legend");
    $("#benches").addEventListener("change", () => {
      const n = $$(".pot :checked").length;
      if (legend) legend.textContent = n === 1 ? "Note for 1 ticked pot" : n ? `Note for ${n} ticked pots` : "Note for the ticked pots";
    });
  };

  // ---- Winter: read-out and zoom ----
  const winter = () => {
    const sheet = $("#sheet"), bar = $("#reading"), moment = $("#moment"), said = $("#said");
    let charts = [], from = 0, until = 1, busy = 0;
    const clock = new Intl.DateTimeFormat(lang, { timeZone: zone, day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" });
    const local = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit" });
    const points = d => { // the drawn path itself: the read-out cannot differ from the drawing
      const out = [];
      let x = 0, y = 0;
      for (const [, c, rest] of d.matchAll(/([Ml])([^MlZ]*)/g)) {
        const n = (rest.match(/-?\d+/g) || []).map(Number);
        for (let i = 0; i + 1 < n.length; i += 2) {
          if (c === "M") { x = n[i]; y = n[i + 1]; } else { x += n[i]; y += n[i + 1]; }
          out.push([x, y]);
        }
      }
      return out;
    };
    const read = () => {
      charts = $$("svg.chart", sheet).map(svg => {
        const d = svg.dataset, inner = $("svg.curves", svg);
        return { svg, low: +d.low, high: +d.high, digits: +d.digits, unit: d.unit, wide: inner.viewBox.baseVal.width, hair: $(".hair", svg),
          lines: $$("path[data-name]", svg).map(p => ({ name: p.dataset.name, at: points(p.getAttribute("d")) })) };
      });
      if (!charts.length) return;
      from = +charts[0].svg.dataset.from;
      until = +charts[0].svg.dataset.until;
      if (bar.hidden && sheet.dataset.now) moment.value = Math.round(1000 * Math.min(Math.max((sheet.dataset.now - from) / (until - from), 0), 1));
      bar.hidden = false;
      show();
    };
    const nearest = (at, x) => {
      let lo = 0, hi = at.length - 1;
      while (lo < hi) { const m = (lo + hi) >> 1; if (at[m][0] < x) lo = m + 1; else hi = m; }
      return lo > 0 && x - at[lo - 1][0] < at[lo][0] - x ? at[lo - 1] : at[lo];
    };
    const show = () => {
      const part = moment.value / 1000, words = [];
      for (const c of charts) {
        c.hair.setAttribute("x1", part * 100 + "%");
        c.hair.setAttribute("x2", part * 100 + "%");
        for (const l of c.lines) {
          const p = l.at.length && nearest(l.at, part * c.wide);
          if (!p || Math.abs(p[0] - part * c.wide) > c.wide / 60) continue;
          const v = c.high - (c.high - c.low) * p[1] / 2000;
          words.push(l.name + "\u00a0" + (+v.toFixed(c.digits) || 0).toLocaleString(lang, { minimumFractionDigits: c.digits, maximumFractionDigits: c.digits }).replace("-", "−") + "\u00a0" + c.unit);
        }
      }
      const text = clock.format((from + (until - from) * part) * 1000) + ": " + (words.join(" · ") || "nothing was read");
      said.textContent = text;
      moment.setAttribute("aria-valuetext", text);
      sheet.classList.add("read");
    };
    const fetchSheet = async url => {
      const mine = ++busy, ask = new URLSearchParams(url.search);
      ask.set("cols", Math.round(sheet.clientWidth) || 360);
      try {
        const res = await fetch("/winter/sheet?" + ask);
        if (mine !== busy) return;
        if (!res.ok || res.redirected) { location.assign(url); return; }
        sheet.innerHTML = await res.text();
        read();
      } catch { if (mine === busy) location.assign(url); }
    };
    const go = (a, b) => {
      if (b - a < 6 * 3600) { const m = (a + b) / 2; a = m - 3 * 3600; b = m + 3 * 3600; }
      if (b - a > 11 * 366 * 86400) return;
      const url = new URL(location), write = t => local.format(t * 1000).replace(" ", "T");
      url.searchParams.set("from", write(a));
      url.searchParams.set("to", write(b));
      url.hash = "";
      history.pushState(null, "", url);
      fetchSheet(url);
    };
    const about = size => { // zoom about the moment read, which stays under the hair line
      const part = moment.value / 1000, at = from + (until - from) * part, span = (until - from) * size;
      go(at - span * part, at + span * (1 - part));
    };
    moment.addEventListener("input", show);
    $("#closer").addEventListener("click", () => about(0.5));
    $("#wider").addEventListener("click", () => about(2));
    document.addEventListener("keydown", e => {
      if (e.ctrlKey || e.metaKey || e.altKey || e.target.matches("select, input:not([type=range])")) return;
      if (e.key === "+" || e.key === "=") about(0.5);
      else if (e.key === "-") about(2);
      else if (e.key === "Escape" && sheet.dataset.whole) { const u = new URL(sheet.dataset.whole, location); u.hash = ""; history.pushState(null, "", u); fetchSheet(u); }
      else return;
      e.preventDefault();
    });
    addEventListener("popstate", () => fetchSheet(location));

    let drag = null;
    const part = e => { const r = drag.plot.getBoundingClientRect(); return Math.min(Math.max((e.clientX - r.left) / r.width, 0), 1); };
    sheet.addEventListener("pointerdown", e => {
      const plot = e.target.closest(".plot");
      if (!plot || e.button) return;
      drag = { plot, mark: document.createElement("div") };
      drag.from = part(e);
      drag.mark.className = "drag";
      plot.append(drag.mark);
      plot.setPointerCapture(e.pointerId);
    });
    sheet.addEventListener("pointermove", e => {
      if (!drag) return;
      const p = part(e), s = drag.mark.style;
      s.left = Math.min(p, drag.from) * 100 + "%";
      s.width = Math.abs(p - drag.from) * 100 + "%";
    });
    const drop = (e, done) => {
      if (!drag) return;
      const d = drag, p = part(e);
      drag = null;
      d.mark.remove();
      if (!done) return;
      if (Math.abs(p - d.from) * d.plot.clientWidth > 12) {
        const [a, b] = [Math.min(p, d.from), Math.max(p, d.from)];
        go(from + (until - from) * a, from + (until - from) * b);
      } else { moment.value = Math.round(p * 1000); show(); }
    };
    sheet.addEventListener("pointerup", e => drop(e, true));
    sheet.addEventListener("pointercancel", e => drop(e, false));
    read();
  };

  if ($("#benches")) live();
  if ($("#sheet")) winter();
})();
