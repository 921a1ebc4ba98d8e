// @ts-check
/** The worker: opens this tablet's pages without the network, and says how old they are. The server puts release and shell before it. */

/** @type {{release: string, shell: [string, string][], steps: string[], static: string, notReachable: string}} */
// @ts-ignore
const COLDBUS_TOLD = self.COLDBUS;
const SHELLS = "coldbus-shell-", SHELL = SHELLS + COLDBUS_TOLD.release, PAGES = "coldbus-pages";
const PATIENCE_MS = 4000, OURS = "X-Coldbus";
const LISTS = ["/", "/jobs/", "/tablet/"];
const STEP = new RegExp(`^/jobs/[0-9a-f-]{36}/(?:${COLDBUS_TOLD.steps.join("|")})/$`);

/** Whether a page of this address may be kept: never sign-on, registers or files. @param {URL} url */
function mayKeep(url) {
  return !url.search && (LISTS.includes(url.pathname) || STEP.test(url.pathname));
}

/** Whether an answer is a page of ours: a captive portal's is not, nor the sign-on to which one is led. @param {Response} answer */
function isPage(answer) {
  const html = (answer.headers.get("Content-Type") ?? "").startsWith("text/html");
  return answer.status === 200 && !answer.redirected && html && answer.headers.has(OURS);
}

/** @param {string} path @param {Response} answer */
async function keep(path, answer) {
  const headers = new Headers(answer.headers), text = await answer.text();
  for (const name of ["Content-Encoding", "Content-Length", "Vary"]) headers.delete(name);
  headers.set("X-Kept-At", new Date().toISOString());
  headers.set("X-Kept-Title", encodeURIComponent((text.match(/<title>([^<]*)/)?.[1] ?? path).trim()));
  await (await caches.open(PAGES)).put(path, new Response(text, { headers }));
}

/** @param {string} path */
async function keptOf(path) {
  return (await caches.open(PAGES)).match(path);
}

/** A kept page as it is shown: it says when it was kept. @param {Response} kept */
async function shown(kept) {
  const at = kept.headers.get("X-Kept-At") ?? "", text = await kept.text();
  return new Response(text.replace("<html ", `<html data-kept-at="${at}" `), { headers: kept.headers });
}

/** Stands for a page that is neither reachable nor kept. */
async function notReachable() {
  const page = await caches.match(COLDBUS_TOLD.notReachable);
  if (!page) return Response.error();
  return new Response(await page.text(), { status: 503, headers: page.headers });
}

/** Whether an answer may be shown in place of what is kept; a redirect of a page has no headers to see. @param {Response | null} answer */
function speaksForUs(answer) {
  return answer !== null && (answer.type === "opaqueredirect" || answer.headers.has(OURS));
}

/** Asks the network first and keeps what it says; after a while, or without it, the last known copy. @param {any} event @param {URL} url */
async function page(event, url) {
  const path = url.pathname, kept = mayKeep(url) ? await keptOf(path) : undefined;
  const asked = fetch(event.request).then(async (answer) => {
    if (mayKeep(url) && isPage(answer)) await keep(path, answer.clone());
    return answer;
  });
  const heard = asked.catch(() => null);
  event.waitUntil(heard);
  if (!kept) return (await heard) ?? notReachable();
  const late = new Promise((go) => { setTimeout(() => go(null), PATIENCE_MS); });
  const first = await Promise.race([heard, late]);
  return speaksForUs(first) ? first : shown(kept);
}

/** The page asks for a copy to be kept: cheap where nothing changed. @param {Request} request @param {URL} url */
async function copy(request, url) {
  const path = url.pathname, kept = await keptOf(path), headers = new Headers(request.headers);
  const tag = kept?.headers.get("ETag");
  if (tag) headers.set("If-None-Match", tag);
  const answer = await fetch(path, { headers, cache: "no-store", credentials: "same-origin" });
  if (answer.status === 304 && kept) {
    await keep(path, kept);
    return new Response(null, { status: 204, headers: { [OURS]: "1" } });
  }
  if (isPage(answer)) await keep(path, answer.clone());
  return answer;
}

/** @param {Request} request */
async function fromShell(request) {
  const mine = await (await caches.open(SHELL)).match(request, { ignoreVary: true });
  return mine ?? (await caches.match(request, { ignoreVary: true })) ?? fetch(request);
}

/** Each file is held against its digest: what somebody else puts in its place makes the worker fail, not the page. */
async function install() {
  const shell = await caches.open(SHELL);
  for (const [address, integrity] of COLDBUS_TOLD.shell) {
    if (await shell.match(address)) continue;
    await shell.put(address, await fetch(address, { integrity }));
  }
  const answer = await fetch(COLDBUS_TOLD.notReachable, { credentials: "omit", cache: "no-store" });
  if (!isPage(answer)) throw new Error("no page for what is not reachable");
  await shell.put(COLDBUS_TOLD.notReachable, answer);
}

/** The shell before this one stays, for pages that were kept with it. */
async function activate() {
  const old = (await caches.keys()).filter((name) => name.startsWith(SHELLS) && name !== SHELL);
  for (const name of old.slice(0, -1)) await caches.delete(name);
  // @ts-ignore
  await self.clients.claim();
}

self.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(install()));
self.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(activate()));
self.addEventListener("message", (/** @type {any} */ event) => {
  // @ts-ignore
  if (event.data === "take over") event.waitUntil(self.skipWaiting());
  // @ts-ignore
  if (event.data === "answer for me") event.waitUntil(self.clients.claim());
});
self.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || request.headers.has("HX-Request")) return;
  if (url.pathname.startsWith(COLDBUS_TOLD.static)) event.respondWith(fromShell(request));
  else if (request.headers.has("X-Keep") && mayKeep(url)) event.respondWith(copy(request, url));
  else if (request.mode === "navigate") event.respondWith(page(event, url));
});
