declare module "fft.js" {
  /** Radix-4 FFT over interleaved complex arrays. `realTransform` fills the first half of the spectrum only. */
  export default class FFT {
    constructor(size: number);
    createComplexArray(): number[];
    realTransform(out: number[], input: ArrayLike<number>): void;
    completeSpectrum(spectrum: number[]): void;
    transform(out: number[], input: ArrayLike<number>): void;
    inverseTransform(out: number[], input: ArrayLike<number>): void;
  }
}
