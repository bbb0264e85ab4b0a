/* What script adds to figures that are likely slips: asked under the field on leaving it, from
   small tables that came with the page, so that it works without network. The rule is that of
   `calc/balance/usual_figures.py` and its limits those of `typed_limits.py`: a test compares them.
   The server asks again. */
(() => {
  "use strict";
  const MOST = 2;
  const MINUTES = 60e3;
  let known = null;

  function density(log, past) {
    const near = past.logs.reduce((sum, one) => sum + 0.375 * (1 + ((log - one) / past.width) ** 2 / 4) ** -2.5, 0);
    return (near / past.width + known.rule.broad) / (past.logs.length + 1);
  }
  function swaps(value) {
    const text = String(Math.round(value)).replace(/0+$/, "");
    const zeros = 10 ** (String(Math.round(value)).length - text.length);
    const found = [];
    for (let i = 0; i + 1 < text.length; i += 1) {
      if (text[i] !== text[i + 1]) found.push(Number(text.slice(0, i) + text[i + 1] + text[i] + text.slice(i + 2)) * zeros);
    }
    return found;
  }
  function others(value) {
    const { slips, swapped, least_swap: least } = known.rule;
    const found = slips.flatMap(([factor, prior]) => [[value / factor, prior / 2], [value * factor, prior / 2]]);
    const real = swaps(value).filter((one) => one > 0 && Math.abs(Math.log(one / value)) > least);
    return [...found, ...real.map((one) => [one, swapped / real.length])];
  }
  /* What a typed figure more likely is; empty where nothing is to be asked. */
  function likelySlips(value, past, of, tare) {
    if (past.logs.length < known.rule.least_known) return [];
    const dense = (typed) => (typed > tare ? density(Math.log(typed - tare) - Math.log(of), past) : 0);
    const typed = dense(value) || known.rule.broad / (past.logs.length + 1);
    const weighed = others(value).map(([one, prior]) => [known.rule.share * prior * dense(one) / typed, one]);
    if (weighed.reduce((sum, [odds]) => sum + odds, 0) <= known.rule.asked_from) return [];
    weighed.sort((a, b) => b[0] - a[0]);
    return weighed.slice(0, 2).filter(([odds]) => odds > weighed[0][0] / 5).map(([, one]) => one);
  }
  self.likelySlips = (rule, ...given) => { known = { ...known, rule }; return likelySlips(...given); };

  const field = (name) => document.getElementById(`id_${name}`);
  const valueOf = (name) => {
    const chosen = document.querySelector(`[name="${name}"]:checked, select[name="${name}"]`);
    return chosen ? chosen.value : "";
  };
  const massOf = (name) => { const at = field(name); return at && at.value.trim() ? readMass(at.value, "g") : null; };
  function typedText(mg) {
    const [size, unit] = mg >= 1e6 ? [1e6, "kg"] : [1e3, "g"];
    return `${Number((Math.round(mg) / size).toFixed(6))} ${unit}`;
  }
  function rounded(mg) {
    const step = 10 ** Math.max(Math.floor(Math.log10(Math.max(mg, 1))) - 1, 0);
    return Math.round(mg / step) * step;
  }
  const put = (text, values) => text.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);

  function rowMass(row) {
    const gross = massOf(`${row}-gross`);
    const tare = massOf(`${row}-tare`) || 0;
    if (gross !== null) return { typed: gross, tare, name: `${row}-gross` };
    const net = massOf(`${row}-net`);
    return net === null ? null : { typed: net, tare: 0, name: `${row}-net` };
  }
  function drawn() {
    const whole = [...document.querySelectorAll('[name="whole-lots"]:checked')].map((one) => known.lots[one.value] || 0);
    const parts = [...document.querySelectorAll('[id^=id_inputs-][id$=-mass]')].map((one) => {
      const row = one.id.slice(3, -5);
      const all = field(`${row}-all`);
      return all && all.checked ? known.lots[valueOf(`${row}-lot`)] || 0 : massOf(`${row}-mass`) || 0;
    });
    return [...whole, ...parts].reduce((sum, one) => sum + one, 0);
  }

  function ofMass(row) {
    const what = known.rows[row];
    const mass = what === undefined ? null : rowMass(row);
    if (!mass || mass.typed <= mass.tare) return null;
    const form = what || valueOf(`${row}-form`);
    const said = known.words[form] || form;
    const net = mass.typed - mass.tare;
    const ask = (text, values, more) => ({ name: mass.name, text: put(text, { what: said, mass: massText(net), ...more }), values: values.map(typedText) });
    const fits = (most) => others(mass.typed).sort((a, b) => b[1] - a[1]).map(([one]) => one).filter((one) => one < mass.typed && one > mass.tare && one - mass.tare <= most).slice(0, 2);
    if (known.largest && mass.typed > known.largest) return ask(known.texts.above, fits(known.largest), { mass: massText(mass.typed) });
    const went = drawn();
    if (went && known.gains === false) {
      const out = Object.keys(known.rows).map(rowMass).reduce((sum, one) => sum + (one ? Math.max(one.typed - one.tare, 0) : 0), 0);
      if (out > known.over * went) return ask(known.texts.out, fits(went - out + net), {});
    }
    const past = known.pasts[`${form}|${valueOf("source")}`] || known.pasts[form];
    const of = past && past.shares ? went : 1;
    if (!past || !of) return null;
    const slips = likelySlips(mass.typed, past, of, mass.tare);
    const [low, high] = [Math.min(...past.logs), Math.max(...past.logs)].map((one) => massText(rounded(Math.exp(one) * of)));
    return slips.length ? ask(known.texts.far, slips, { low, high }) : null;
  }
  function ofDraw(row) {
    const mass = massOf(`${row}-mass`);
    const there = known.lots[valueOf(`${row}-lot`)];
    if (mass === null || there === undefined || mass <= there) return null;
    const values = others(mass).map(([one]) => one).filter((one) => one <= there && one * 20 > there).slice(0, 2);
    return { name: `${row}-mass`, text: put(known.texts.more, { mass: massText(there) }), values: values.map(typedText) };
  }
  function ofTime(name) {
    const text = field(name).value;
    const at = text ? new Date(text).getTime() : NaN;
    const now = Date.now();
    const ask = (said) => {
      const other = `${new Date().getFullYear()}${text.slice(4)}`;
      return { name, text: said, values: other !== text && new Date(other).getTime() <= now ? [other] : [] };
    };
    if (at > now + 5 * MINUTES) return ask(known.texts.later);
    if (known.first && at < known.first - known.before) return ask(known.texts.before);
    return new Date(at).getUTCFullYear() < known.year ? ask(known.texts.early) : null;
  }

  function show(at, doubt) {
    const box = at.closest(".field");
    const old = box.querySelector("[data-doubt]");
    if (old) old.remove();
    const right = [...document.querySelectorAll("input[name=right]")].some((one) => doubt && one.value === `${doubt.name}=${at.value.trim()}`);
    if (!doubt || right || document.querySelectorAll("[data-doubt]").length >= MOST) return;
    const made = document.getElementById("doubt-shape").content.firstElementChild.cloneNode(true);
    made.querySelector("p").textContent = doubt.text[0].toUpperCase() + doubt.text.slice(1);
    const [taps, sure] = [made.querySelector(".taps"), made.querySelector("[data-right]")];
    sure.dataset.right = `${doubt.name}=${at.value.trim()}`;
    sure.textContent = put(sure.textContent, { typed: at.value.trim().replace("T", " ") });
    for (const value of doubt.values) {
      const button = sure.cloneNode(false);
      delete button.dataset.right;
      Object.assign(button.dataset, { fill: at.id, value });
      button.textContent = value.replace("T", " ");
      taps.insertBefore(button, sure);
    }
    box.append(made);
  }
  function look(at) {
    const match = /^id_((?:bags|outputs|inputs)-\d+)-(gross|net|tare|mass)$/.exec(at.id);
    if (at.type === "datetime-local" && !at.name.includes("-")) show(at, ofTime(at.name));
    else if (match && match[2] === "mass") show(at, ofDraw(match[1]));
    else if (match) {
      const doubt = ofMass(match[1]);
      const typed = field(doubt ? doubt.name : `${match[1]}-${match[2] === "tare" ? "gross" : match[2]}`);
      if (typed) show(typed, doubt);
    }
  }
  function press(event) {
    const sure = event.target.closest("[data-right]");
    if (sure) {
      const kept = Object.assign(document.createElement("input"), { type: "hidden", name: "right", value: sure.dataset.right });
      sure.closest("form").append(kept);
    }
    const doubt = event.target.closest("[data-doubt]");
    if (doubt && event.target.closest("button")) {
      const at = doubt.closest(".field").querySelector("input");
      doubt.remove();
      if (sure) at.focus();
    }
  }

  document.addEventListener("DOMContentLoaded", () => {
    const data = document.getElementById("usual-figures");
    if (!data) return;
    known = JSON.parse(data.textContent);
    document.addEventListener("focusout", (event) => { if (event.target.matches("form[data-once] input")) look(event.target); });
    document.addEventListener("click", press);
  });
})();
