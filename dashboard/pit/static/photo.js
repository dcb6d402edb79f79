// A photo made small on the phone. Drawn anew, it carries no place, no device and no time of its own.

const LONGEST_SIDE = 1600;
const QUALITY = 0.8;

export async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return new Promise((done, failed) => {
    canvas.toBlob((made) => (made ? done(made) : failed(new Error("it cannot be drawn"))), "image/jpeg", QUALITY);
  });
}
