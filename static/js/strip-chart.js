/* A strip chart that is dragged, pinched, turned and stepped through. Without this script its links and its form do.

   While something moves, the picture that is there is moved: its line is drawn anew from the columns that the server
   reduced (each with its least and greatest value), every other thing goes to the moment it carries (data-at, or
   data-from and data-until). When it rests, the page itself is asked for the new window and its parts are put in place,
   so that picture, words, links and table are the server's own, and the address can be kept. */
(function () {
  "use strict";
  var figure = document.getElementById("strip");
  if (!figure || !figure.querySelector("svg") || !window.fetch || !window.DOMParser || !window.PointerEvent) { return; }

  var REST_MS = 220, STEP_MS = 170, QUARTER = 0.25, TWICE = 2;
  var PARTS = ["strip-when", "strip-moves", "strip-said", "strip-form", "strip-readings", "strip-found", "strip-table"];
  var SHORTEST = Number(figure.getAttribute("data-shortest")), LONGEST = Number(figure.getAttribute("data-longest"));
  var still = window.matchMedia("(prefers-reduced-motion: reduce)");

  var drawn;          // the window of the server's picture, and where its plot stands
  var view;           // the window that is wanted: from, until [ms]
  var columns = null; // reduced columns around it, as the server sent them
  var goal = null;    // where a step leads: a key pressed while it still runs goes on from there
  var asking = false, painting = 0, resting = 0, stepping = 0, turn = 0;

  // --- the picture that is there

  function numbers(node, names, into) {
    names.forEach(function (name) { into[name] = Number(node.getAttribute("data-" + name)); });
    return into;
  }

  function every(selector, names) {
    return Array.prototype.map.call(drawn.svg.querySelectorAll(selector), function (node) {
      return numbers(node, names, { node: node });
    });
  }

  function read() {
    var svg = figure.querySelector("svg");
    drawn = { svg: svg, width: svg.viewBox.baseVal.width };
    numbers(svg.querySelector(".strip-body"), ["from", "until", "left", "right"], drawn);
    drawn.moments = every("[data-at]", ["at"]);
    drawn.spans = every("rect[data-from]", ["from", "until"]);
    drawn.panels = every(".strip-panel", ["top", "floor", "low", "high"]);
    drawn.panels.forEach(function (one) {
      one.trace = one.node.querySelector(".strip-trace");
      one.beside = one.node.querySelector(".strip-beside");
      one.paths = { trace: one.trace.getAttribute("d"), beside: one.beside && one.beside.getAttribute("d") };
    });
  }

  function place(at) {
    return drawn.left + (at - view.from) / (view.until - view.from) * (drawn.right - drawn.left);
  }

  function held(at) { return Math.min(drawn.right, Math.max(drawn.left, place(at))); }

  function paint() {
    painting = 0;
    drawn.moments.forEach(function (one) {
      var x = place(one.at), out = x < drawn.left - 0.5 || x > drawn.right + 0.5;
      one.node.setAttribute("transform", "translate(" + x.toFixed(2) + " 0)");
      one.node.setAttribute("visibility", out ? "hidden" : "visible");
    });
    drawn.spans.forEach(function (one) {
      var left = held(one.from), right = held(one.until), out = one.until < view.from || one.from > view.until;
      one.node.setAttribute("x", left.toFixed(2));
      one.node.setAttribute("width", Math.max(1.5, right - left).toFixed(2));
      one.node.setAttribute("visibility", out ? "hidden" : "visible");
    });
    // The sentences stand where there was room for them: they come back when the picture rests.
    var sentences = drawn.svg.querySelector(".strip-sentences");
    if (sentences) { sentences.setAttribute("visibility", moved() ? "hidden" : "visible"); }
    drawn.panels.forEach(function (panel) {
      line(panel, panel.trace, panel.paths.trace, columns && columns.trace);
      if (panel.beside) { line(panel, panel.beside, panel.paths.beside, columns && columns.beside); }
    });
  }

  function moved() { return view.from !== drawn.from || view.until !== drawn.until; }

  function line(panel, node, path, data) {
    if (moved() && data && fits(0)) {
      node.removeAttribute("transform");
      node.setAttribute("d", drawnLine(panel, data));
      return;
    }
    // No columns of this window yet: the line that is there, moved and stretched.
    var wide = (drawn.until - drawn.from) / (view.until - view.from);
    var shift = place(drawn.from) - drawn.left * wide;
    node.setAttribute("d", path);
    node.setAttribute("vector-effect", "non-scaling-stroke");
    node.setAttribute("transform", "matrix(" + [wide, 0, 0, 1, shift, 0].join(" ") + ")");
  }

  function drawnLine(panel, data) {
    var each = (columns.until - columns.from) / columns.width, d = [], begun = false;
    function at(x, value) {
      var share = (value - panel.low) / (panel.high - panel.low);
      d.push((begun ? "L" : "M") + x.toFixed(1) + " " + (panel.floor - share * (panel.floor - panel.top)).toFixed(2));
      begun = true;
    }
    var first = Math.max(0, Math.floor((view.from - columns.from) / each) - 1);
    var last = Math.min(columns.width, Math.ceil((view.until - columns.from) / each) + 1);
    if (data.lead && !first) { at(place(data.lead[0]), data.lead[1]); }
    for (var i = first; i < last; i += 1) {
      if (!data.count[i]) { continue; }
      if (!data.joined[i]) { begun = false; }
      var x = place(columns.from + (i + 0.5) * each);
      if (!begun) { at(x - 0.6, data.first[i]); }
      at(x, data.first[i]);
      at(x, data.low[i]);
      at(x, data.high[i]);
      at(x, data.last[i]);
    }
    if (data.trail && last === columns.width) { at(place(data.trail[0]), data.trail[1]); }
    return d.join("");
  }

  // --- columns from the server: three windows wide, so that there is something to drag into sight

  // Whether the columns reach over the view and so much more on both sides, and are fine enough for it.
  function fits(margin) {
    if (!columns || columns.from > view.from - margin || columns.until < view.until + margin) { return false; }
    var each = (columns.until - columns.from) / columns.width;
    return each < 1.7 * (view.until - view.from) / (drawn.right - drawn.left);
  }

  function ask() {
    var length = view.until - view.from, more = Math.min(length, (LONGEST - length) / 2);
    var margin = Math.min(length * QUARTER, more);
    if (asking || fits(margin)) { return; }
    var from = Math.floor(view.from - more), until = Math.ceil(view.until + more);
    if (until - from > LONGEST) { until = from + LONGEST; }
    var width = Math.min(4000, Math.round((drawn.right - drawn.left) * (until - from) / length));
    asking = true;
    fetch(figure.getAttribute("data-window") + "?" + query(from, until, width), { credentials: "same-origin" })
      .then(function (answer) { return answer.ok && !answer.redirected ? answer.json() : null; })
      .then(function (data) {
        asking = false;
        if (!data) { return; }
        columns = data;
        columns.from = Date.parse(data.from);
        columns.until = Date.parse(data.until);
        if (moved()) { repaint(); ask(); }
      })
      .catch(function () { asking = false; });
  }

  function query(from, until, width) {
    var asked = new URLSearchParams();
    asked.set("from", new Date(from).toISOString());
    asked.set("until", new Date(until).toISOString());
    if (figure.getAttribute("data-unit")) { asked.set("unit", figure.getAttribute("data-unit")); }
    if (width) { asked.set("width", String(width)); }
    return asked.toString();
  }

  // --- moving

  function repaint() { if (!painting) { painting = window.requestAnimationFrame(paint); } }

  function show(from, until) {
    var length = Math.min(LONGEST, Math.max(SHORTEST, until - from)), middle = (from + until) / 2;
    view = { from: Math.round(middle - length / 2), until: Math.round(middle + length / 2) };
    turn += 1;
    repaint();
    ask();
    window.clearTimeout(resting);
    resting = window.setTimeout(rest, REST_MS);
  }

  function step(from, until) {
    window.cancelAnimationFrame(stepping);
    if (still.matches) { show(from, until); return; }
    var begun = null, before = view;
    function frame(now) {
      if (begun === null) { begun = now; }
      var share = Math.min(1, (now - begun) / STEP_MS), eased = share * (2 - share);
      show(before.from + (from - before.from) * eased, before.until + (until - before.until) * eased);
      if (share < 1) { stepping = window.requestAnimationFrame(frame); }
    }
    goal = { from: from, until: until };
    stepping = window.requestAnimationFrame(frame);
  }

  function aim() { return goal || view; }

  function pan(share) {
    var now = aim(), by = (now.until - now.from) * share;
    step(now.from + by, now.until + by);
  }

  function zoom(factor) {
    var now = aim(), length = Math.min(LONGEST, Math.max(SHORTEST, (now.until - now.from) * factor));
    var middle = (now.from + now.until) / 2;
    step(middle - length / 2, middle + length / 2);
  }

  // --- at rest: the page of the new window

  function width() { return Math.min(1600, Math.max(480, Math.round(figure.clientWidth))); }

  function rest() {
    if (fingers.size) { resting = window.setTimeout(rest, REST_MS); return; }
    goal = null;
    // Whole seconds, so that the form can say them.
    var from = Math.round(view.from / 1000) * 1000;
    var until = from + Math.max(SHORTEST, Math.round((view.until - view.from) / 1000) * 1000);
    var address = location.pathname + "?" + query(from, until, 0), mine = turn += 1;
    fetch(address + "&width=" + width(), { credentials: "same-origin", headers: { Accept: "text/html" } })
      .then(function (answer) { return answer.ok && !answer.redirected ? answer.text() : ""; })
      .then(function (html) {
        if (mine !== turn || fingers.size) { return; }  // it moved on in the meantime
        var page = new DOMParser().parseFromString(html, "text/html");
        // Locked, signed out, or refused: the server's own page says so.
        if (!page.querySelector("#strip svg")) { location.assign(address); return; }
        put(page);
        window.history.replaceState(null, "", address);
      })
      .catch(function () { /* the server is away: what is shown stays, and its links lead on */ });
  }

  function put(page) {
    var focused = document.activeElement && document.activeElement.id;
    figure.replaceChildren(document.importNode(page.querySelector("#strip svg"), true));
    PARTS.forEach(function (id) {
      var here = document.getElementById(id), there = page.getElementById(id);
      if (here && there) {
        here.replaceChildren.apply(here, Array.prototype.map.call(there.childNodes, function (node) {
          return document.importNode(node, true);
        }));
      }
    });
    if (focused && document.activeElement.id !== focused) {
      var again = document.getElementById(focused);
      (again && again.tabIndex >= 0 ? again : figure).focus({ preventScroll: true });
    }
    read();
    view = { from: drawn.from, until: drawn.until };
    figure.setAttribute("data-rests", query(drawn.from, drawn.until, 0));
    ask();
  }

  // --- fingers, wheel, keys, links

  var fingers = new Map(), grip = null;

  function perUnit() { return drawn.width / drawn.svg.getBoundingClientRect().width; }

  function across(clientX) { return (clientX - drawn.svg.getBoundingClientRect().left) * perUnit(); }

  function take() {
    var xs = Array.from(fingers.values());
    var low = Math.min.apply(null, xs), high = Math.max.apply(null, xs);
    grip = { view: view, middle: (low + high) / 2, apart: high - low };
  }

  figure.addEventListener("pointerdown", function (event) {
    if (event.button !== 0) { return; }
    window.cancelAnimationFrame(stepping);
    goal = null;
    fingers.set(event.pointerId, across(event.clientX));
    figure.setPointerCapture(event.pointerId);
    figure.classList.add("is-dragged");
    take();
    ask();
  });

  figure.addEventListener("pointermove", function (event) {
    if (!fingers.has(event.pointerId)) { return; }
    fingers.set(event.pointerId, across(event.clientX));
    var xs = Array.from(fingers.values()), low = Math.min.apply(null, xs), high = Math.max.apply(null, xs);
    var length = grip.view.until - grip.view.from, wide = drawn.right - drawn.left;
    var longer = length;
    if (fingers.size > 1 && grip.apart > 8) {
      longer = Math.min(LONGEST, Math.max(SHORTEST, length * grip.apart / Math.max(8, high - low)));
    }
    // The moment that was under the fingers stays under them.
    var at = grip.view.from + (grip.middle - drawn.left) / wide * length;
    var from = at - ((low + high) / 2 - drawn.left) / wide * longer;
    show(from, from + longer);
  });

  function release(event) {
    if (!fingers.delete(event.pointerId)) { return; }
    if (fingers.size) { take(); } else { grip = null; figure.classList.remove("is-dragged"); }
  }
  figure.addEventListener("pointerup", release);
  figure.addEventListener("pointercancel", release);

  figure.addEventListener("wheel", function (event) {
    var turned = event.deltaY * (event.deltaMode ? 16 : 1), aside = event.deltaX * (event.deltaMode ? 16 : 1);
    if (event.shiftKey && !aside) { aside = turned; turned = 0; }
    var length = view.until - view.from;
    window.cancelAnimationFrame(stepping);
    goal = null;
    if (Math.abs(aside) > Math.abs(turned)) {
      event.preventDefault();
      show(view.from + length * aside / 1000, view.until + length * aside / 1000);
      return;
    }
    var longer = Math.min(LONGEST, Math.max(SHORTEST, length * Math.exp(turned * 0.0016)));
    if (longer === length) { return; }  // at the end of what can be shown the page scrolls on
    event.preventDefault();
    var share = (across(event.clientX) - drawn.left) / (drawn.right - drawn.left);
    share = Math.min(1, Math.max(0, share));
    var from = view.from + (length - longer) * share;
    show(from, from + longer);
  }, { passive: false });

  function follow(link) {
    var asked = new URL(link.href).searchParams;
    step(Date.parse(asked.get("from")), Date.parse(asked.get("until")));
  }

  figure.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    if (event.key === "ArrowLeft") { pan(-QUARTER); }
    else if (event.key === "ArrowRight") { pan(QUARTER); }
    else if (event.key === "+" || event.key === "=") { zoom(1 / TWICE); }
    else if (event.key === "-" || event.key === "\u2212") { zoom(TWICE); }
    else if (event.key === "Home") {
      var day = document.querySelector("a#strip-to-day");
      if (day) { follow(day); }
    } else { return; }
    event.preventDefault();
  });

  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[data-strip-move]");
    if (!link || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) { return; }
    event.preventDefault();
    follow(link);
  });

  // --- begin

  read();
  view = { from: drawn.from, until: drawn.until };
  figure.classList.add("is-live");
  document.getElementById("strip-hint").hidden = false;
  figure.setAttribute("data-rests", query(drawn.from, drawn.until, 0));

  var fitting = 0;
  function fit() {
    if (Math.abs(width() - drawn.width) > drawn.width * 0.06) { rest(); }
  }
  window.addEventListener("resize", function () {
    window.clearTimeout(fitting);
    fitting = window.setTimeout(fit, 300);
  });
  fit();
})();
