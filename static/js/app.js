// @ts-check
/** Starts what a page needs: entries, places, unit buttons, the word that says whether it is connected. */
import { watchOthers } from "./behind.js";
import { watchConnection } from "./connection.js";
import { watchEntries } from "./entry.js";
import { watchMore } from "./more.js";
import { watchPads } from "./pad.js";
import { watchPrint } from "./paper.js";
import { watchPins } from "./pin.js";
import { settle, watchPlaces } from "./places.js";
import { watchPrefixes } from "./prefixes.js";
import { openQuotations, watchQuotations } from "./quotation.js";
import { watchLists } from "./renew.js";
import { watchSeries } from "./series.js";
import { watchRows } from "./torque.js";
import { watchSearch } from "./search.js";
import { watchUnlock } from "./unlock.js";

settle(document);
watchEntries(document);
watchUnlock(document);
watchPrefixes(document);
watchRows(document);
watchSeries(document, window);
watchQuotations(document);
openQuotations(document);
watchPlaces(document, window);
watchPrint(document, window);
watchPads(document);
watchConnection(document, window);
watchOthers(document, window);
watchSearch(document);
watchMore(document);
watchPins(document);
watchLists(document, window);
window.addEventListener("resize", () => settle(document));
