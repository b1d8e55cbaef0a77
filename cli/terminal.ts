/** Streams, colour, progress: what the user sees while and after a command runs.
 * stdout carries the result and nothing else; everything else goes to stderr. */
import { PulgarError } from "../src/base/errors.js";
import type { Finding } from "../src/base/finding.js";
import type { OnProgress } from "../src/base/progress.js";

export type Io = {
  out: (text: string) => void;
  err: (text: string) => void;
  outBytes: (bytes: Uint8Array) => void;
  isErrTerminal: boolean;
  isQuiet: boolean;
  hasColor: boolean;
  isJson: boolean;
};

/** @param colorFlag "auto", "always" or "never" */
export function openIo(options: { isQuiet: boolean; isJson: boolean; colorFlag: string }): Io {
  const isErrTerminal = process.stderr.isTTY === true;
  const noColor = process.env.NO_COLOR;
  const hasColor =
    options.colorFlag === "always" ||
    (options.colorFlag !== "never" &&
      process.stdout.isTTY === true &&
      (noColor === undefined || noColor === ""));
  return {
    out: (text) => void process.stdout.write(text),
    err: (text) => void process.stderr.write(text),
    outBytes: (bytes) => void process.stdout.write(bytes),
    isErrTerminal,
    isQuiet: options.isQuiet,
    hasColor,
    isJson: options.isJson,
  };
}

/** On a terminal one rewritten line; piped, a line a stage; quiet, none. `label` names the file when several run. */
export function progressLine(io: Io, label = ""): { onProgress: OnProgress; done: () => void } {
  let lastStage = "";
  let lastText = "";
  const prefix = label ? `${label}: ` : "";
  return {
    onProgress(stage, share) {
      if (io.isQuiet) return;
      if (io.isErrTerminal) {
        const text = `${prefix}${stage} ${Math.round(share * 100)} %`;
        if (text === lastText) return;
        lastText = text;
        io.err(`\r\x1b[2K${text}`);
      } else if (stage !== lastStage) {
        io.err(`${prefix}${stage}\n`);
      }
      lastStage = stage;
    },
    done() {
      if (!io.isQuiet && io.isErrTerminal && lastText) io.err("\r\x1b[2K");
    },
  };
}

/** Findings as lines for people: level, bar, message, hint. */
export function findingLines(findings: readonly Finding[]): string {
  return findings
    .map((f) => `${f.level}${f.bar > 0 ? ` (bar ${f.bar})` : ""}: ${f.message}\n  ${f.hint}\n`)
    .join("");
}

/** Says why it could not go on, as the contract says: two lines for people, one document for programs. @returns exit code: 2, or 3 for a bug of ours */
export function sayTrouble(e: unknown, wantsStack: boolean, io: Io): number {
  if (e instanceof PulgarError) {
    printError(io, e);
    if (wantsStack) io.err(`${e.stack ?? ""}\n${e.cause instanceof Error ? (e.cause.stack ?? "") : ""}\n`);
    return 2;
  }
  const text = e instanceof Error ? e.message : String(e);
  const hint = "Please report it with the command and the file; --debug shows where.";
  if (io.isJson) io.out(`${JSON.stringify({ error: { code: "bug", message: text, hint } })}\n`);
  else io.err(`error: a bug of ours: ${text}\nhint: ${hint}\n`);
  if (wantsStack && e instanceof Error) io.err(`${e.stack}\n`);
  return 3;
}

function printError(io: Io, error: PulgarError): void {
  const oneLine = (text: string): string => text.replace(/[\r\n]+/g, " ").trim();
  if (io.isJson)
    io.out(`${JSON.stringify({ error: { code: error.code, message: error.message, hint: error.hint } })}\n`);
  else io.err(`error: ${oneLine(error.message)}\nhint: ${oneLine(error.hint)}\n`);
}
