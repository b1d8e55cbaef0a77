/** Opens signalsmith-stretch (MIT, wasm) outside an audio worklet: its module registers a processor where it finds the worklet's globals,
 * so they are lent to it for the time of the import, and the processor's wasm instance is used directly. */
import type { OpenStretch, StretchBlock, StretchEngine } from "../src/play/stretch.js";

/** The exports of the wasm that are used here. */
type StretchWasm = {
  HEAP8?: Int8Array;
  exports?: { memory: WebAssembly.Memory };
  _configure: (channels: number, blockLen: number, intervalLen: number, split: boolean) => void;
  _reset: () => void;
  _inputLatency: () => number;
  _outputLatency: () => number;
  _setBuffers: (channels: number, len: number) => number;
  _setTransposeSemitones: (semitones: number, tonality: number) => void;
  _seek: (inLen: number, rate: number) => void;
  _process: (inLen: number, outLen: number) => void;
};
type Processor = { wasmModule?: StretchWasm; wasmReady?: boolean };

let opened: Promise<StretchWasm> | undefined;

/** The stretcher; opened once a run. One stream at a time: opening a new one ends the one before. */
export async function openStretcher(): Promise<OpenStretch> {
  opened ??= loadWasm();
  const wasm = await opened;
  return (channelCount, sampleRateHz, block) => engineOf(wasm, channelCount, sampleRateHz, block);
}

async function loadWasm(): Promise<StretchWasm> {
  let made: (new (options: object) => Processor) | undefined;
  const lent: Record<string, unknown> = {
    AudioWorkletProcessor: class {
      port = { onmessage: null, postMessage: () => undefined };
    },
    registerProcessor: (_name: string, processor: new (options: object) => Processor) => {
      made = processor;
    },
    sampleRate: 48000,
    currentTime: 0,
  };
  const scope = globalThis as Record<string, unknown>;
  const before = new Map(Object.keys(lent).map((key) => [key, Object.getOwnPropertyDescriptor(scope, key)]));
  Object.assign(scope, lent);
  try {
    await import("signalsmith-stretch");
    if (!made) throw new Error("signalsmith-stretch registered no processor");
    const processor = new made({
      numberOfInputs: 0,
      numberOfOutputs: 1,
      outputChannelCount: [1],
      processorOptions: {},
    });
    for (let waited = 0; waited < 200 && !processor.wasmReady; waited++)
      await new Promise((done) => setTimeout(done, 10));
    if (!processor.wasmModule) throw new Error("signalsmith-stretch did not start");
    return processor.wasmModule;
  } finally {
    for (const [key, descriptor] of before) {
      if (descriptor) Object.defineProperty(scope, key, descriptor);
      else delete scope[key];
    }
  }
}

/** Samples of the buffers shared with the wasm; holds a block of output and its input at up to four times the tempo, and the priming. */
const BUFFER_LEN = 32768;

function engineOf(
  wasm: StretchWasm,
  channelCount: number,
  sampleRateHz: number,
  block: StretchBlock,
): StretchEngine {
  const blockLen = Math.round(block.sec * sampleRateHz);
  wasm._configure(channelCount, blockLen, Math.round(blockLen / block.overlap), false);
  wasm._reset();
  wasm._setTransposeSemitones(0, 0.5);
  const base = wasm._setBuffers(channelCount, BUFFER_LEN);
  const view = (slot: number): Float32Array => {
    const memory = wasm.exports ? wasm.exports.memory.buffer : wasm.HEAP8?.buffer;
    return new Float32Array(memory as ArrayBuffer, base + slot * BUFFER_LEN * 4, BUFFER_LEN);
  };
  const feed = (input: readonly Float32Array[]): void => {
    for (const [channel, samples] of input.entries()) view(channel).set(samples);
  };
  return {
    inputDelayLen: wasm._inputLatency(),
    outputDelayLen: wasm._outputLatency(),
    seek: (input, share) => {
      feed(input);
      wasm._seek(input[0]?.length ?? 0, share);
    },
    process: (input, outLen) => {
      feed(input);
      wasm._process(input[0]?.length ?? 0, outLen);
      return input.map((_, channel) => view(channelCount + channel).slice(0, outLen));
    },
  };
}
