/** Codes that callers and tests may rely on; one for each way of not being able to go on. */
export type ErrorCode =
  | "bad-usage"
  | "bad-shape"
  | "not-found"
  | "not-readable"
  | "is-folder"
  | "empty-file"
  | "not-audio"
  | "not-wav"
  | "truncated"
  | "no-sound"
  | "silent"
  | "too-short"
  | "too-large"
  | "bad-samples"
  | "bad-rate"
  | "bad-channels"
  | "bad-tempo"
  | "bad-meter"
  | "bad-tuning"
  | "bad-capo"
  | "bad-sheet"
  | "bad-tab"
  | "bad-xml"
  | "bad-midi"
  | "bad-json"
  | "bad-model"
  | "no-runtime"
  | "no-notes"
  | "no-recording"
  | "other-music"
  | "unplayable"
  | "exists"
  | "not-writable"
  | "no-encoder"
  | "interrupted";

/** Trouble that stops the work and that the user can mend: what was found and what is accepted in
 * `message`, the next step in `hint`. A bug of ours is a plain Error and is never caught to be hushed. */
export class PulgarError extends Error {
  override readonly name = "PulgarError";
  constructor(
    readonly code: ErrorCode,
    message: string,
    readonly hint: string,
    cause?: unknown,
  ) {
    super(message, { cause });
  }
}
