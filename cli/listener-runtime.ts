/** Opens the listener's weights in a runtime: native first, wasm where there is no native binary. */
import { createHash } from "node:crypto";
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { PulgarError } from "../src/base/errors.js";
import { type ListenerCard, parseCard } from "../src/notes/card.js";
import type { RunNet } from "../src/notes/played-note.js";
import { packageRoot } from "./version.js";

export type OpenListener = {
  run: RunNet;
  card: ListenerCard;
  runtime: "native" | "wasm";
  close: () => Promise<void>;
};

const THREADS = 2; // on more cores the small layers gain nothing: measured in tests/bench/listen.bench.ts

/** The parts of onnxruntime's two packages that are used; they share one interface. */
type Runtime = {
  Tensor: new (type: "float32", data: Float32Array, dims: readonly number[]) => { data: unknown };
  InferenceSession: {
    create: (bytes: Uint8Array, options: Record<string, unknown>) => Promise<Session>;
  };
};
type Session = {
  inputNames: readonly string[];
  run: (feeds: Record<string, unknown>) => Promise<Record<string, { data: unknown }>>;
  release: () => Promise<void>;
};

/** @throws PulgarError "bad-model" when weights and card do not belong together, "no-runtime" when none can be opened */
export async function openListener(
  options: { folder?: string; runtime?: "auto" | "native" | "wasm" } = {},
): Promise<OpenListener> {
  const folder = options.folder ?? join(packageRoot(), "models", "listener");
  const { card, bytes } = await readModel(folder);
  const wanted = options.runtime ?? "auto";
  let trouble: unknown;
  for (const runtime of wanted === "auto" ? (["native", "wasm"] as const) : [wanted]) {
    try {
      const session = await openSession(runtime, bytes);
      return {
        run: runner(session.session, session.Tensor, card),
        card,
        runtime,
        close: () => session.session.release(),
      };
    } catch (e) {
      trouble = e;
    }
  }
  throw new PulgarError(
    "no-runtime",
    `the listener cannot run here (${trouble instanceof Error ? trouble.message : String(trouble)})`,
    "Install pulgar again with npm; onnxruntime-node or onnxruntime-web must be there.",
    trouble,
  );
}

async function readModel(folder: string): Promise<{ card: ListenerCard; bytes: Uint8Array }> {
  try {
    const card = parseCard(JSON.parse(await readFile(join(folder, "card.json"), "utf8")));
    const bytes = new Uint8Array(await readFile(join(folder, card.file)));
    const found = createHash("sha256").update(bytes).digest("hex");
    if (found !== card.sha256)
      throw new PulgarError(
        "bad-model",
        `${card.file}: sha256 ${found.slice(0, 12)}…; the card wants ${card.sha256.slice(0, 12)}…`,
        "Install pulgar again: the weights are damaged.",
      );
    return { card, bytes };
  } catch (e) {
    if (e instanceof PulgarError) throw e;
    throw new PulgarError(
      "bad-model",
      `the listener's files cannot be read (${e instanceof Error ? e.message : String(e)})`,
      "Install pulgar again.",
      e,
    );
  }
}

async function openSession(
  runtime: "native" | "wasm",
  bytes: Uint8Array,
): Promise<{ session: Session; Tensor: Runtime["Tensor"] }> {
  if (runtime === "native") {
    const ort = (await import("onnxruntime-node")) as unknown as Runtime;
    const session = await ort.InferenceSession.create(bytes, {
      intraOpNumThreads: THREADS,
      interOpNumThreads: 1,
      executionProviders: ["cpu"],
      logSeverityLevel: 3,
    });
    return { session, Tensor: ort.Tensor };
  }
  const ort = (await import("onnxruntime-web")) as unknown as Runtime & {
    env: { wasm: { numThreads: number } };
  };
  ort.env.wasm.numThreads = 1; // threads need a page's isolation; one is what can be promised
  const session = await ort.InferenceSession.create(bytes, {
    executionProviders: ["wasm"],
    logSeverityLevel: 3,
  });
  return { session, Tensor: ort.Tensor };
}

function runner(session: Session, Tensor: Runtime["Tensor"], card: ListenerCard): RunNet {
  return async (features, frameCount) => {
    const input = new Tensor("float32", features, [frameCount, card.frameLen]);
    const out = await session.run({ [session.inputNames[0] ?? "features"]: input });
    const data = (name: string): Float32Array => {
      const tensor = out[name]?.data;
      if (!(tensor instanceof Float32Array))
        throw new PulgarError("bad-model", `the listener gives no output ${name}`, "Install pulgar again.");
      return tensor;
    };
    return {
      onset: data("onset"),
      sounding: data("sounding"),
      ...(out.strings ? { strings: data("strings") } : {}),
    };
  };
}
