/** The part of essentia.js 0.1.3 that is used; the package has no types that resolve under ESM. */
declare module "essentia.js" {
  export type EssentiaVector = { delete(): void };
  export type EssentiaCore = {
    arrayToVector(samples: Float32Array): EssentiaVector;
    KeyExtractor(
      audio: EssentiaVector,
      ...options: (boolean | number | string)[]
    ): { key: string; scale: string; strength: number };
    TuningFrequencyExtractor(
      audio: EssentiaVector,
      frameSize?: number,
      hopSize?: number,
    ): { tuningFrequency: EssentiaVector & { size(): number; get(idx: number): number } };
    shutdown(): void;
    delete(): void;
  };
  const essentia: { Essentia: new (wasm: unknown) => EssentiaCore; EssentiaWASM: unknown };
  export default essentia;
}
