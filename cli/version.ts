/** Version, and which of the optional parts are in use on this machine. */
import { existsSync } from "node:fs";
import { readFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { findFfmpeg } from "./ffmpeg.js";

/** The folder that holds package.json, models and samples, from source and from dist alike. */
export function packageRoot(): string {
  let folder = import.meta.dirname;
  while (!existsSync(join(folder, "package.json")) && dirname(folder) !== folder) folder = dirname(folder);
  return folder;
}

export async function packageVersion(): Promise<string> {
  const text = await readFile(join(packageRoot(), "package.json"), "utf8");
  return String((JSON.parse(text) as { version?: unknown }).version ?? "unknown");
}

/** Lines for `--version`: pulgar, Node, the listener's runtime, ffmpeg. */
export async function versionText(): Promise<string> {
  const [version, ffmpegPath, runtime] = await Promise.all([
    packageVersion(),
    findFfmpeg(),
    listenerRuntime(),
  ]);
  return [
    `pulgar ${version}`,
    `node ${process.versions.node} on ${process.platform}-${process.arch}`,
    `listener: ${runtime}`,
    `ffmpeg: ${ffmpegPath ?? "not found (rare formats are refused, practice tracks stay WAV)"}`,
    "",
  ].join("\n");
}

async function listenerRuntime(): Promise<string> {
  try {
    const { openListener } = await import("./listener-runtime.js");
    const listener = await openListener({ threads: 0 });
    await listener.close();
    return listener.runtime === "native"
      ? "onnxruntime-node (native)"
      : "onnxruntime-web (wasm: about 5 times slower; the native runtime is missing)";
  } catch (e) {
    return `not usable (${e instanceof Error ? e.message : String(e)})`;
  }
}
