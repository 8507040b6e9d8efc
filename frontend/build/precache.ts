import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Plugin } from "vite";

const MARK = "__BUILT_FILES__";
const WORKER = "sw.js";

/**
 * Writes the list of everything that was built into the service worker, under a name made of the contents:
 * another build is another cache, and the same build the same one.
 */
export function precacheList(): Plugin {
  let publicFolder = "";
  return {
    name: "creekledger-precache-list",
    apply: "build",
    enforce: "post",
    configResolved(config) {
      publicFolder = config.publicDir;
    },
    generateBundle(_options, bundle) {
      const worker = bundle[WORKER];
      if (worker === undefined || worker.type !== "chunk") {
        this.error(`The service worker was not built as ${WORKER}.`);
      }
      if (worker.imports.length > 0) {
        this.error("The service worker must stand alone: it may import nothing that the app imports too.");
      }
      const contents = new Map<string, string | Uint8Array>();
      for (const name of readdirSync(publicFolder)) contents.set(name, readFileSync(join(publicFolder, name)));
      for (const [name, one] of Object.entries(bundle)) {
        if (name !== WORKER && !name.endsWith(".map")) contents.set(name, one.type === "chunk" ? one.code : one.source);
      }
      const names = [...contents.keys()].sort();
      const version = createHash("sha256").update(worker.code);
      for (const name of names) version.update(name).update(contents.get(name) ?? "");
      const list = JSON.stringify({ version: version.digest("hex").slice(0, 16), files: names });
      if (!worker.code.includes(MARK)) {
        this.error(`The service worker no longer holds ${MARK}, so it would keep nothing.`);
      }
      worker.code = worker.code.replace(MARK, () => list);
    },
  };
}
