import { defineConfig } from "vite";

// What is built goes into the Python package; files carry their digest, so that they may be kept for ever.
export default defineConfig({
  base: "/",
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    outDir: "../src/pappus/web/static",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0, // the content security policy lets no font or script come from a data address
    modulePreload: { polyfill: false },
    reportCompressedSize: false,
    chunkSizeWarningLimit: 1200,
  },
});
