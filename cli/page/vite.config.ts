import { join } from "node:path";
import { defineConfig } from "vite";

/** The page's browser side, built to dist/page: relative addresses, since the token is part of the path. */
export default defineConfig({
  root: join(import.meta.dirname, "browser"),
  base: "./",
  build: {
    outDir: join(import.meta.dirname, "../../dist/page"),
    emptyOutDir: true,
    target: "es2023",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
});
