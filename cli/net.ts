/** The listener's network in one of onnxruntime's two packages, which share an interface. One thread for each session: blocks are worked on
 * side by side instead, and the sums come out the same whatever the number of threads. */
import { PulgarError } from "../src/base/errors.js";
import type { NetOut } from "../src/notes/played-note.js";
import { unhalted } from "./halt.js";

export type Runtime = "native" | "wasm";

/** @property run features row-major, shape `dims` (frames, values of a frame) */
export type OpenNet = {
  run: (features: Float32Array, dims: readonly [number, number]) => Promise<NetOut>;
  close: () => Promise<void>;
};

/** The parts of the packages that are used. */
type Ort = {
  Tensor: new (type: "float32", data: Float32Array, dims: readonly number[]) => { data: unknown };
  InferenceSession: { create: (bytes: Uint8Array, options: Record<string, unknown>) => Promise<Session> };
};
type Session = {
  inputNames: readonly string[];
  run: (feeds: Record<string, unknown>) => Promise<Record<string, { data: unknown }>>;
  release: () => Promise<void>;
};

/** @throws what the package throws where it cannot be loaded or does not take the weights */
export async function openNet(runtime: Runtime, bytes: Uint8Array): Promise<OpenNet> {
  const { session, Tensor } = await unhalted(() =>
    runtime === "native" ? openNative(bytes) : openWasm(bytes),
  );
  const inputName = session.inputNames[0] ?? "features";
  return {
    async run(features, dims) {
      const feeds = { [inputName]: new Tensor("float32", features, dims) };
      const out = await unhalted(() => session.run(feeds));
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
    },
    close: () => unhalted(() => session.release()),
  };
}

async function openNative(bytes: Uint8Array): Promise<{ session: Session; Tensor: Ort["Tensor"] }> {
  const ort = (await import("onnxruntime-node")) as unknown as Ort;
  const session = await ort.InferenceSession.create(bytes, {
    intraOpNumThreads: 1,
    interOpNumThreads: 1,
    enableMemPattern: false, // a plan of the memory saves no time here and holds 45 MB
    executionProviders: ["cpu"],
    logSeverityLevel: 3,
  });
  return { session, Tensor: ort.Tensor };
}

async function openWasm(bytes: Uint8Array): Promise<{ session: Session; Tensor: Ort["Tensor"] }> {
  const ort = (await import("onnxruntime-web")) as unknown as Ort & { env: { wasm: { numThreads: number } } };
  ort.env.wasm.numThreads = 1;
  const session = await ort.InferenceSession.create(bytes, {
    executionProviders: ["wasm"],
    logSeverityLevel: 3,
  });
  return { session, Tensor: ort.Tensor };
}
