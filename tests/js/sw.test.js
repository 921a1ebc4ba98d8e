// @ts-check
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";
import { runInNewContext } from "node:vm";

const JOB = "/jobs/0b1c6e0a-9f4e-4c3f-8a51-000000000001/";
const TOLD = { release: "r1", shell: [["/static/js/app.js", "sha256-x"]], steps: ["intake", "seal_test"], static: "/static/", notReachable: "/not-reachable/" };
const source = await readFile(new URL("../../static/js/sw.js", import.meta.url), "utf8");

/** A worker in a browser of its own: a map for each cache, and a network that a test sets. */
async function worker() {
  /** @type {Map<string, Map<string, Response>>} */
  const stores = new Map();
  /** @type {Record<string, Function>} */
  const hears = {};
  const pathOf = (/** @type {any} */ asked) => (typeof asked === "string" ? asked : new URL(asked.url).pathname);
  const network = { /** @type {(asked: any, how?: any) => Promise<Response>} */ answer: async () => { throw new TypeError("no network"); }, /** @type {any[]} */ asked: [] };
  const open = async (/** @type {string} */ name) => {
    const store = stores.get(name) ?? new Map();
    stores.set(name, store);
    return {
      match: async (/** @type {any} */ asked) => store.get(pathOf(asked))?.clone(),
      put: async (/** @type {any} */ asked, /** @type {Response} */ answer) => { store.set(pathOf(asked), answer); },
    };
  };
  const caches = {
    open, keys: async () => [...stores.keys()], delete: async (/** @type {string} */ name) => stores.delete(name),
    match: async (/** @type {any} */ asked) => [...stores.values()].map((store) => store.get(pathOf(asked))).find(Boolean)?.clone(),
  };
  const self = { COLDBUS: TOLD, location: new URL("http://shop.example/"), clients: { claim: async () => undefined }, addEventListener: (/** @type {string} */ name, /** @type {Function} */ heard) => { hears[name] = heard; } };
  const fetch = (/** @type {any} */ asked, /** @type {any} */ how) => {
    network.asked.push({ path: pathOf(asked), how });
    return network.answer(asked, how);
  };
  runInNewContext(source, { self, caches, fetch, Response, Headers, URL, RegExp, setTimeout: (/** @type {Function} */ go) => setTimeout(go, 5) });
  /** @param {string} path @param {Record<string, any>} [more] @returns {Promise<Response | undefined>} */
  const ask = async (path, { method = "GET", mode = "navigate", headers = {} } = {}) => {
    /** @type {Promise<Response> | undefined} */
    let given;
    const request = { method, mode, url: `http://shop.example${path}`, headers: new Headers(headers) };
    hears.fetch({ request, waitUntil: () => undefined, respondWith: (/** @type {Promise<Response>} */ answer) => { given = answer; } });
    return given;
  };
  const begin = async () => {
    let work;
    hears.install({ waitUntil: (/** @type {Promise<void>} */ each) => { work = each; } });
    return work;
  };
  return { ask, begin, network, stores };
}

/** @param {string} words @param {Record<string, string>} [headers] */
const html = (words, headers = { "X-Coldbus": "1" }) => new Response(`<!DOCTYPE html><html lang="en"><title>${words}</title>${words}`, { headers: { "Content-Type": "text/html", ...headers } });

test("a step page that was seen opens without the network, with the time of keeping", async () => {
  const { ask, network } = await worker();
  network.answer = async () => html("J-1 Intake");
  await ask(`${JOB}intake/`);
  network.answer = async () => { throw new TypeError("no network"); };
  const text = await (await ask(`${JOB}intake/`))?.text();
  assert.match(text ?? "", /<html data-kept-at="\d{4}-\d\d-\d\dT[^"]+Z" lang="en">.*J-1 Intake/);
});
test("a page of a captive portal is never kept, and never shown in place of what is kept", async () => {
  const { ask, network } = await worker();
  network.answer = async () => html("J-1 Intake");
  await ask(`${JOB}intake/`);
  network.answer = async () => html("Pay for your network", {});
  assert.match(await (await ask(`${JOB}intake/`))?.text() ?? "", /J-1 Intake/);
  await ask(`${JOB}seal_test/`);
  network.answer = async () => { throw new TypeError("no network"); };
  assert.equal((await ask(`${JOB}seal_test/`))?.type, "error");
});
test("a network that hangs gives way to the copy", async () => {
  const { ask, network } = await worker();
  network.answer = async () => html("J-1 Intake");
  await ask(`${JOB}intake/`);
  network.answer = () => new Promise(() => undefined);
  assert.match(await (await ask(`${JOB}intake/`))?.text() ?? "", /data-kept-at/);
});
for (const path of ["/shop/sign-on/", "/shop/people/", `${JOB}record/`, `${JOB}report.pdf`, "/jobs/?step=intake", "/packs/"]) {
  test(`${path} is never kept`, async () => {
    const { ask, network, stores } = await worker();
    network.answer = async () => html("Something");
    await ask(path);
    assert.equal(stores.get("coldbus-pages")?.size ?? 0, 0);
  });
}
test("a page of ours that says no is shown and not kept", async () => {
  const { ask, network, stores } = await worker();
  network.answer = async () => new Response("no", { status: 500, headers: { "X-Coldbus": "1", "Content-Type": "text/html" } });
  assert.equal((await ask(`${JOB}intake/`))?.status, 500);
  assert.equal(stores.get("coldbus-pages")?.size ?? 0, 0);
});
test("entries, fragments and the state go straight through", async () => {
  const { ask } = await worker();
  assert.equal(await ask("/entries/", { method: "POST", mode: "cors" }), undefined);
  assert.equal(await ask(`${JOB}intake/`, { mode: "cors", headers: { "HX-Request": "true" } }), undefined);
  assert.equal(await ask("/tablet/state/?jobs=", { mode: "cors" }), undefined);
});
test("a copy that is still right is asked for by its tag, and is fresh again", async () => {
  const { ask, network, stores } = await worker();
  network.answer = async () => html("J-1 Intake", { "X-Coldbus": "1", ETag: '"7"' });
  await ask(`${JOB}intake/`, { mode: "cors", headers: { "X-Keep": "1" } });
  const before = stores.get("coldbus-pages")?.get(`${JOB}intake/`)?.headers.get("X-Kept-At") ?? "";
  network.answer = async () => new Response(null, { status: 304 });
  await new Promise((go) => { setTimeout(go, 3); });
  const again = await ask(`${JOB}intake/`, { mode: "cors", headers: { "X-Keep": "1" } });
  assert.equal(network.asked[1].how.headers.get("If-None-Match"), '"7"');
  assert.equal(again?.status, 204);
  const after = stores.get("coldbus-pages")?.get(`${JOB}intake/`);
  assert.ok((after?.headers.get("X-Kept-At") ?? "") > before);
  assert.match(await after?.clone().text() ?? "", /J-1 Intake/);
});
test("the shell is asked for by digest, and a portal's page for what is not reachable fails the worker", async () => {
  const { begin, network, stores } = await worker();
  network.answer = async (asked) => (asked === "/static/js/app.js" ? new Response("ok") : html("Pay", {}));
  await assert.rejects(begin);
  assert.equal(network.asked[0].how.integrity, "sha256-x");
  assert.equal(stores.get("coldbus-shell-r1")?.has("/not-reachable/"), false);
  network.answer = async (asked) => (asked === "/static/js/app.js" ? new Response("ok") : html("Not reachable"));
  await begin();
  network.answer = async () => { throw new TypeError("no network"); };
});
test("without the network and without a copy the page says so", async () => {
  const { ask, begin, network } = await worker();
  network.answer = async (asked) => (asked === "/static/js/app.js" ? new Response("ok") : html("Not reachable"));
  await begin();
  network.answer = async () => { throw new TypeError("no network"); };
  const page = await ask("/packs/");
  assert.equal(page?.status, 503);
  assert.match(await page?.text() ?? "", /Not reachable/);
});
