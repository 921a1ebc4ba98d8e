// @ts-check
/** Starts what a page needs: entries, places, unit buttons, the word that says whether it is connected. */
import { watchConnection } from "./connection.js";
import { watchEntries } from "./entry.js";
import { settle, watchPlaces } from "./places.js";
import { watchPrefixes } from "./prefixes.js";
import { watchUnlock } from "./unlock.js";

settle(document);
watchEntries(document);
watchUnlock(document);
watchPrefixes(document);
watchPlaces(document, window);
watchConnection(document, window);
window.addEventListener("resize", () => settle(document));
