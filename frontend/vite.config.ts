import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vitest/config";
import { precacheList } from "./build/precache.ts";

// What the core has judged or reckoned is laid beside the phone only where somebody wrote it down (tests/frontend).
const beside = { agreement: process.env["CREEKLEDGER_WORLDS"], numbers: process.env["CREEKLEDGER_NUMBERS"] };
const tests = beside.agreement ? "**/agreement.worlds.ts" : beside.numbers ? "**/numbers.worlds.ts" : "src/**/*.test.ts";

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
    include: [tests],
    environment: "node",
    testTimeout: 20_000,
  },
});
