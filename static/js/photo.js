// @ts-check
/** Makes a picture small on the tablet before it is sent: upright, no place, any format it can show. */

import { gather, putBack } from "./keep.js";

const LONGEST = 1600, QUALITY = 0.85;

/** How large a picture is drawn. @param {number} width @param {number} height */
export function fitted(width, height) {
  const scale = Math.min(1, LONGEST / Math.max(width, height));
  return [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
}

/**
 * The picture as JPEG; the file itself where this tablet cannot read it, so that the server says what is wrong.
 * @param {File} file @returns {Promise<Blob>}
 */
export async function shrunk(file) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const [width, height] = fitted(picture.width, picture.height);
    const canvas = document.createElement("canvas");
    canvas.width = width;
    canvas.height = height;
    canvas.getContext("2d")?.drawImage(picture, 0, 0, width, height);
    picture.close();
    const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", QUALITY); });
    return blob instanceof Blob ? blob : file;
  } catch {
    return file;
  }
}

const draftName = () => `before picture|${location.pathname}`;

/** The camera may make the browser load the page anew: what was typed is kept before it opens. @param {Document} page */
export function watchPhotos(page) {
  const kept = sessionStorage.getItem(draftName());
  if (kept) {
    sessionStorage.removeItem(draftName());
    const { typed, open } = JSON.parse(kept);
    const forms = /** @type {[string, [string, string][]][]} */ (typed);
    putBack(page, { typed: new Map(forms.map(([name, held]) => [name, new Map(held)])), open: new Set(open) });
  }
  page.addEventListener("click", (event) => {
    if (!(event.target instanceof HTMLInputElement) || event.target.type !== "file") return;
    const { typed, open } = gather(page, null);
    sessionStorage.setItem(draftName(), JSON.stringify({ typed: [...typed].map(([name, held]) => [name, [...held]]), open: [...open] }));
  });
  page.addEventListener("change", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.type === "file") sessionStorage.removeItem(draftName());
  });
}
