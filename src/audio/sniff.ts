/** Recognises an audio or video container by its first bytes, and reads the length it declares where that is cheap.
 *
 * In: the head of a file (a few KiB) and its size. Out: a container name, and declared bytes or seconds, so that a file cut
 * short can be told from a short file. Method: magic bytes and fixed header fields; nothing is decoded here.
 * Sources: RIFF/WAVE (Microsoft & IBM 1991; RFC 2361), FLAC (RFC 9639), Ogg (RFC 3533), ISO base media (ISO/IEC 14496-12),
 * Matroska (RFC 9559), AIFF 1.3, CAF. Cannot: tell a damaged middle, or the length of Ogg, Matroska and raw MP3. */

/** Names by which the decoder is asked. "text" and "unknown" are not sound. */
type Container =
  | "wav"
  | "flac"
  | "oga"
  | "opus"
  | "mp3"
  | "m4a"
  | "aac"
  | "webm"
  | "aiff"
  | "caf"
  | "amr"
  | "wma"
  | "qoa"
  | "text"
  | "unknown";

/** @property declaredSec seconds that the header promises, when it does
 * @property bits bits a sample by the header, WAV only @property channelCount, sampleRateHz by the header, WAV and FLAC only */
export type Sniffed = {
  container: Container;
  declaredSec?: number;
  bits?: number;
  channelCount?: number;
  sampleRateHz?: number;
};

const ascii = (bytes: Uint8Array, startIdx: number, len: number): string =>
  String.fromCharCode(...bytes.subarray(startIdx, startIdx + len));

/** @param head first bytes of the file, 64 suffice for the name; 64 KiB for lengths */
export function sniffContainer(head: Uint8Array): Sniffed {
  const view = new DataView(head.buffer, head.byteOffset, head.byteLength);
  const four = ascii(head, 0, 4);
  if ((four === "RIFF" || four === "RF64") && ascii(head, 8, 4) === "WAVE") return sniffWav(head, view);
  if (four === "fLaC") return sniffFlac(head, view);
  if (four === "OggS") return { container: ascii(head, 28, 8) === "OpusHead" ? "opus" : "oga" };
  if (["ftyp", "moov", "mdat", "wide", "free", "skip"].includes(ascii(head, 4, 4)))
    return { container: "m4a" };
  if (four === "FORM" && ascii(head, 8, 3) === "AIF") return { container: "aiff" };
  if (four === "caff") return { container: "caf" };
  if (four === "qoaf") return { container: "qoa" };
  if (ascii(head, 0, 5) === "#!AMR") return { container: "amr" };
  if (head.length >= 4 && view.getUint32(0) === 0x1a45dfa3) return { container: "webm" };
  if (head.length >= 4 && view.getUint32(0) === 0x3026b275) return { container: "wma" };
  if (ascii(head, 0, 3) === "ID3") return { container: "mp3" };
  if (head.length >= 2 && head[0] === 0xff) {
    const second = head[1] ?? 0;
    if ((second & 0xf6) === 0xf0) return { container: "aac" };
    if ((second & 0xe0) === 0xe0 && (second & 0x06) !== 0) return { container: "mp3" };
  }
  return { container: looksLikeText(head) ? "text" : "unknown" };
}

function looksLikeText(head: Uint8Array): boolean {
  const part = head.subarray(0, 2048);
  let printable = 0;
  for (const b of part) if (b === 9 || b === 10 || b === 13 || (b >= 32 && b !== 127)) printable++;
  return part.length > 0 && printable / part.length > 0.97;
}

function sniffWav(head: Uint8Array, view: DataView): Sniffed {
  const found: Sniffed = { container: "wav" };
  let blockLen = 0;
  let idx = 12;
  while (idx + 8 <= head.length) {
    const name = ascii(head, idx, 4);
    const size = view.getUint32(idx + 4, true);
    if (name === "fmt " && idx + 24 <= head.length) {
      found.channelCount = view.getUint16(idx + 10, true);
      found.sampleRateHz = view.getUint32(idx + 12, true);
      blockLen = view.getUint16(idx + 20, true);
      found.bits = view.getUint16(idx + 22, true);
      const isPlainPcm = [1, 3, 0xfffe].includes(view.getUint16(idx + 8, true));
      if (!isPlainPcm) blockLen = 0;
    }
    if (name === "data") {
      // 0 and 0xffffffff are what a recorder writes before it knows: no promise
      if (blockLen > 0 && found.sampleRateHz && size > 0 && size < 0xffffff00)
        found.declaredSec = size / blockLen / found.sampleRateHz; // byte ÷ byte/frame ÷ frame/s = s
      break;
    }
    idx += 8 + size + (size % 2);
  }
  return found;
}

function sniffFlac(head: Uint8Array, view: DataView): Sniffed {
  if (head.length < 26) return { container: "flac" };
  const sampleRateHz = (view.getUint16(18) << 4) | ((head[20] ?? 0) >> 4);
  const channelCount = (((head[20] ?? 0) >> 1) & 7) + 1;
  const totalLen = ((head[21] ?? 0) & 15) * 2 ** 32 + view.getUint32(22);
  const found: Sniffed = { container: "flac", sampleRateHz, channelCount };
  if (totalLen > 0 && sampleRateHz > 0) found.declaredSec = totalLen / sampleRateHz;
  return found;
}

/** Is an ISO media file (mp4, m4a, mov) cut short: does a box reach past the end of the file, or is the movie box missing?
 * Its declared length is that of the longest track, often the picture, so it says nothing of the sound.
 * @param readAt returns up to `len` bytes at a place of the file @param fileLen bytes in the file
 * Source: ISO/IEC 14496-12, boxes. */
export function isIsoCut(readAt: (startIdx: number, len: number) => Uint8Array, fileLen: number): boolean {
  let idx = 0;
  let hasMovie = false;
  for (let boxCount = 0; idx + 8 <= fileLen && boxCount < 10_000; boxCount++) {
    const head = readAt(idx, 16);
    if (head.length < 8) break;
    const view = new DataView(head.buffer, head.byteOffset, head.byteLength);
    let boxLen = view.getUint32(0);
    if (boxLen === 1 && head.length >= 16) boxLen = view.getUint32(8) * 2 ** 32 + view.getUint32(12);
    if (boxLen === 0) boxLen = fileLen - idx;
    if (boxLen < 8) break;
    hasMovie ||= ascii(head, 4, 4) === "moov";
    idx += boxLen;
  }
  return idx > fileLen || !hasMovie;
}
