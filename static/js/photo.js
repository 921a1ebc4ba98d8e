// @ts-check
/** Makes a picture small on the tablet before it is sent: upright, no place, any format it can show. */

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
