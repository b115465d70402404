/* Shows the overrun and the weight of a gallon while a cup is typed. It only improves: what is kept and judged is
   computed by the server from the same weights. */
(function () {
  "use strict";
  var told = document.querySelector("[data-overrun]");
  if (!told) { return; }
  var mark = told.dataset.mark || ".";

  function number(name) {
    var field = document.querySelector("[name=" + name + "]");
    var text = field ? field.value.trim().replace(mark, ".") : "";
    return (/^\d+(\.\d+)?$/).test(text) ? Number(text) : NaN;
  }

  function show() {
    var mix = number("cup_mix") - number("cup_empty");
    var product = number("cup_product") - number("cup_empty");
    var overrun = 100 * (mix - product) / product;
    told.hidden = !(product > 0 && overrun >= 0 && overrun <= 300);
    if (told.hidden) { return; }
    var gallon = number("mix_lb_gal");
    var weight = gallon > 0 ? (Math.floor(gallon * product / mix * 1000 + 1e-6) / 1000).toFixed(3).replace(".", mark) : "—";
    told.textContent = told.dataset.words
      .replace("[overrun]", (Math.ceil(overrun * 100 - 1e-6) / 100).toFixed(2).replace(".", mark)).replace("[weight]", weight);
  }

  document.addEventListener("input", show);
  show();
}());
