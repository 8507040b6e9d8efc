import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vitest/config";
import { precacheList } from "./build/precache.ts";

export default defineConfig({
  base: "/app/",
  plugins: [svelte(), precacheList()],
  build: {
    outDir: process.env["CREEKLEDGER_APP_FOLDER"] ?? "../api/routes/built",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0, // the content policy lets no data: font or script in, and a file is cached by itself
    modulePreload: { polyfill: false },
    rolldownOptions: {
      input: { app: "index.html", sw: "src/worker/sw.ts" },
      // The worker keeps its name: a browser asks for a new one by its address.
      output: { entryFileNames: (chunk) => (chunk.name === "sw" ? "sw.js" : "assets/[name]-[hash].js") },
    },
  },
  test: {
    // Worlds that the core has judged are laid beside it only where somebody wrote some (tests/frontend).
    include: [process.env["CREEKLEDGER_WORLDS"] ? "src/**/*.worlds.ts" : "src/**/*.test.ts"],
    environment: "node",
    testTimeout: 20_000,
  },
});
