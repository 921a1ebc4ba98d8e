// @ts-check
/** Starts what a page needs: entries, unit buttons, the word that says whether it is connected. */
import { watchEntries } from "./entry.js";
import { watchConnection } from "./connection.js";
import { watchPrefixes } from "./prefixes.js";

watchEntries(document);
watchPrefixes(document);
watchConnection(document, window);
