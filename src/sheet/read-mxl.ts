/** Compressed MusicXML (.mxl) → the text of its score. In: bytes of a ZIP. Out: text.
 * Sizes that the ZIP declares are not believed: entries are inflated piece by piece and stopped at a bound.
 * Source: W3C MusicXML 4.0, "Compressed .mxl files" (META-INF/container.xml names the root file). */
import { Unzip, UnzipInflate } from "fflate";
import { PulgarError } from "../base/errors.js";
import { decodeText } from "./decode-text.js";
import { child, childrenOf, readXml } from "./xml-tree.js";

const MXL_BOUNDS = Object.freeze({ totalBytes: 64 * 1024 * 1024, entries: 1000, chunkLen: 65_536 });

/** @throws PulgarError "bad-xml" for a ZIP that is none or has no score, "too-large" for one that inflates beyond the bound */
export function scoreTextFromMxl(bytes: Uint8Array): string {
  const container = entryOf(bytes, "META-INF/container.xml");
  const path = container && rootFile(decodeText(container));
  if (container && !path)
    throw new PulgarError("bad-xml", "META-INF/container.xml names no root file", "Save the score again.");
  const score = path ? entryOf(bytes, path) : firstScore(bytes);
  if (!score)
    throw new PulgarError(
      "bad-xml",
      path ? `the .mxl file has no ${path.slice(0, 100)}` : "the ZIP holds no MusicXML score",
      "Is this a compressed MusicXML file? Save the score again.",
    );
  return decodeText(score);
}

function rootFile(xml: string): string | undefined {
  const files = childrenOf(child(readXml(xml), "rootfiles"), "rootfile");
  const isScore = (type: string | undefined): boolean =>
    type === undefined || type === "application/vnd.recordare.musicxml+xml";
  return files.find((f) => isScore(f.attributes["media-type"]))?.attributes["full-path"];
}

const firstScore = (bytes: Uint8Array): Uint8Array | undefined =>
  entryOf(bytes, (name) => /\.(musicxml|xml)$/i.test(name) && !name.startsWith("META-INF/"));

/** One entry, inflated; all others are skipped without being inflated. */
function entryOf(bytes: Uint8Array, wanted: string | ((name: string) => boolean)): Uint8Array | undefined {
  const isWanted = typeof wanted === "string" ? (name: string) => name === wanted : wanted;
  const parts: Uint8Array[] = [];
  let totalLen = 0;
  let entryCount = 0;
  let isFound = false;
  let failure: unknown;
  const unzip = new Unzip((file) => {
    if (++entryCount > MXL_BOUNDS.entries)
      throw new PulgarError(
        "too-large",
        `more than ${MXL_BOUNDS.entries} files in the ZIP`,
        "A score needs two.",
      );
    if (isFound || !isWanted(file.name)) return;
    isFound = true;
    file.ondata = (error, data) => {
      if (error) failure ??= error;
      totalLen += data?.length ?? 0;
      if (totalLen > MXL_BOUNDS.totalBytes)
        throw new PulgarError(
          "too-large",
          `the score inflates to more than ${MXL_BOUNDS.totalBytes / 1024 / 1024} MiB`,
          "No score is that large; the file may be made to fill the memory.",
        );
      if (data) parts.push(data.slice());
    };
    file.start();
  });
  unzip.register(UnzipInflate);
  try {
    for (let at = 0; at < bytes.length; at += MXL_BOUNDS.chunkLen)
      unzip.push(bytes.subarray(at, at + MXL_BOUNDS.chunkLen), at + MXL_BOUNDS.chunkLen >= bytes.length);
  } catch (e) {
    if (e instanceof PulgarError) throw e;
    failure ??= e;
  }
  if (failure !== undefined)
    throw new PulgarError(
      "bad-xml",
      "the ZIP is damaged",
      "Is the file complete? Save the score again.",
      failure,
    );
  if (!isFound) return undefined;
  const whole = new Uint8Array(totalLen);
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
