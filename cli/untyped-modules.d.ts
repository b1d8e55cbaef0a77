/** Types of packages that ship none; only what is used here. */
declare module "verovio/wasm" {
  const createModule: () => Promise<object>;
  export default createModule;
}
declare module "verovio/esm" {
  export class VerovioToolkit {
    constructor(module: object);
    setOptions(options: Record<string, unknown>): void;
    loadData(data: string): boolean;
    getPageCount(): number;
    renderToSVG(page: number): string;
    getLog(): string;
  }
}
declare module "svg-to-pdfkit" {
  const draw: (
    doc: PDFKit.PDFDocument,
    svg: string,
    x: number,
    y: number,
    options: {
      assumePt?: boolean;
      width?: number;
      height?: number;
      fontCallback?: (family: string) => string;
    },
  ) => void;
  export default draw;
}
declare module "signalsmith-stretch" {
  const register: unknown;
  export default register;
}
