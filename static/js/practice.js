// @ts-check
/** Practice: the instrument beside each card, its leads and its display; what is shown is typed by hand. */
import { newKey, token } from "./door.js";
import { refresh } from "./refresh.js";

/** @type {Record<string, string>} */
let ways = {};
/** Runs of displays, so that a new look ends the one before. @type {WeakMap<Element, number>} */
const running = new WeakMap();

/** @returns {DOMStringMap | null} */
const tools = () => /** @type {HTMLElement | null} */ (document.querySelector("[data-practice]"))?.dataset ?? null;

/** @param {string} address @param {object} body */
async function ask(address, body) {
  const headers = { "Content-Type": "application/json", "X-CSRFToken": token(document) };
  const answer = await fetch(address, { method: "POST", headers, body: JSON.stringify(body) });
  return { taken: answer.ok, told: await answer.json() };
}

/** The card of something inside it: its form, item and qualifier. @param {Element} inside */
function cardOf(inside) {
  const form = inside.closest(".card")?.querySelector("form[data-item]");
  if (!(form instanceof HTMLFormElement)) return null;
  return { form, item: form.dataset.item ?? "", qualifier: form.dataset.qualifier ?? "" };
}

/** @param {Element} card @param {string} text */
const tell = (card, text) => card.querySelector("[data-practice-said]")?.replaceChildren(text);

/** @param {string} act @param {string} words */
function button(act, words) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button-outline";
  made.dataset.practiceAct = act;
  made.textContent = words;
  return made;
}

/** Puts the way to a reading beside each open card. */
function furnish() {
  const said = tools();
  if (!said) return;
  for (const form of document.querySelectorAll("#step form[data-item]")) {
    const way = ways[form instanceof HTMLElement ? (form.dataset.item ?? "") : ""];
    if (!way || form.parentElement?.querySelector(":scope > .practice-acts")) continue;
    const acts = document.createElement("div"), told = document.createElement("p");
    acts.className = "practice-acts";
    told.dataset.practiceSaid = "";
    told.setAttribute("role", "status");
    const made = { leads: ["bench", said.wordsInstrument], look: ["bench", said.wordsLook], take: ["read", said.wordsRead], tool: ["bench", said.wordsInstrument] }[way];
    if (made) acts.append(button(made[0] ?? "", made[1] ?? ""));
    if (way === "take" || way === "tool") acts.append(button("take", said.wordsTake ?? ""));
    acts.append(told);
    form.after(acts);
  }
}

/** Shows the figures one after another, as a display does. @param {Element} bench @param {any} shown */
function play(bench, shown) {
  const display = bench.querySelector("[data-display]"), began = performance.now();
  const run = (running.get(bench) ?? 0) + 1;
  running.set(bench, run);
  bench.querySelector("[data-battery]")?.toggleAttribute("hidden", !shown.battery);
  for (const [name, text] of [["[data-said]", shown.said], ["[data-unit]", shown.unit]]) {
    const place = bench.querySelector(name);
    if (place) place.textContent = text;
  }
  const step = () => {
    if (running.get(bench) !== run || !display?.isConnected) return;
    const now = (performance.now() - began) / 1000;
    const passed = shown.frames.filter((/** @type {[number, string]} */ frame) => frame[0] <= now);
    display.textContent = passed.length ? passed[passed.length - 1][1] : "– – –";
    if (passed.length < shown.frames.length) window.setTimeout(step, 120);
  };
  step();
}

/** @param {HTMLElement} bench */
async function look(bench) {
  const { red, black } = bench.dataset;
  if (!red || !black) return;
  const shunt = bench.querySelector("[data-shunt]")?.getAttribute("aria-pressed") === "true";
  const part = bench.querySelector("[data-unplugged]");
  const unplugged = part instanceof HTMLSelectElement ? part.value : "nothing";
  const wanted = { item: bench.dataset.benchOf, qualifier: bench.dataset.qualifier, red, black, shunt, unplugged };
  const { told } = await ask(tools()?.look ?? "", wanted);
  play(bench, { frames: [], unit: "", battery: false, said: "", ...told });
}

/** @param {HTMLElement} bench @param {HTMLElement} tapped */
function tap(bench, tapped) {
  const { lead, place } = tapped.dataset;
  const leads = [...bench.querySelectorAll("[data-lead]")];
  if (lead) leads.forEach((each) => each.setAttribute("aria-pressed", String(each === tapped)));
  if ("shunt" in tapped.dataset) tapped.setAttribute("aria-pressed", String(tapped.getAttribute("aria-pressed") !== "true"));
  if ("away" in tapped.dataset) return bench.remove();
  if (place) {
    const chosen = leads.find((each) => each.getAttribute("aria-pressed") === "true");
    const which = chosen instanceof HTMLElement ? (chosen.dataset.lead ?? "red") : "red";
    bench.dataset[which] = place;
    const at = bench.querySelector(`[data-at="${which}"]`);
    if (at) at.textContent = tapped.textContent;
    const other = leads.find((each) => each !== chosen);
    if (other instanceof HTMLElement && !bench.dataset[other.dataset.lead ?? ""]) tap(bench, other);
  }
  return lead ? undefined : look(bench);
}

/** @param {HTMLElement} pressed */
async function act(pressed) {
  const card = pressed.closest(".card"), of = card && cardOf(card), said = tools();
  if (!card || !of || !said) return;
  const { item, qualifier } = of;
  if (pressed.dataset.practiceAct === "bench") {
    card.querySelector(".bench")?.remove();
    const answer = await fetch(`${said.bench}?${new URLSearchParams({ item, qualifier })}`);
    if (answer.ok) pressed.closest(".practice-acts")?.insertAdjacentHTML("beforeend", await answer.text());
    return;
  }
  const takes = pressed.dataset.practiceAct === "take";
  const { taken, told } = await ask((takes ? said.take : said.read) ?? "", { item, qualifier, key: newKey() });
  if (takes && taken) await refresh(of.form);
  else tell(card, [...(told.lines ?? []), told.said ?? ""].filter(Boolean).join(" · "));
}

/** @param {Event} event */
function pressed(event) {
  const at = event.target instanceof Element ? event.target.closest("[data-practice-act], .bench button, .bench select") : null;
  if (!(at instanceof HTMLElement) || (at instanceof HTMLSelectElement) !== (event.type === "change")) return;
  const bench = at.closest(".bench"), card = at.closest(".card");
  const doing = bench instanceof HTMLElement ? Promise.resolve(tap(bench, at)) : act(at);
  doing.catch(() => { if (card) tell(card, tools()?.wordsLost ?? ""); });
}

async function furnishAnew() {
  const said = tools();
  if (!said?.cards) return;
  furnish();
  const answer = await fetch(said.cards, { headers: { "X-By-Itself": "1" } });
  if (answer.ok) ways = (await answer.json()).cards;
  furnish();
}

document.addEventListener("click", pressed);
document.addEventListener("change", pressed);
document.addEventListener("htmx:afterSettle", () => { furnishAnew().catch(() => {}); });
furnishAnew().catch(() => {});
