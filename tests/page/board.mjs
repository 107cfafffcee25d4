// A board for the tests: the program itself with two virtual pots on their recordings.

import { spawn, execFileSync } from "node:child_process";
import { createServer } from "node:net";
import { mkdtempSync, readFileSync, rmSync, writeFileSync, appendFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

/** A name that would be markup anywhere but in text. */
export const HOSTILE = `<img src=x onerror="window.hurt=1"> '&" =1+1`;

/** Pots' seconds in a second. */
const SPEED = "60";
/** How long a recording goes on after its end: longer than the slowest machine takes for the tests. */
const LONGER_S = 60_000;
const TAIL_S = 240;

/** The recording, and then its last minutes again and again while a little water leaves. */
function prolonged(csv) {
  const rows = csv.trimEnd().split("\n");
  const tail = rows.slice(-TAIL_S).map((row) => row.split(","));
  const end_s = Number(tail[TAIL_S - 1][0]);
  for (let s = 1; s <= LONGER_S; s += 1) {
    const [, probe, load, ...rest] = tail[(s - 1) % TAIL_S];
    rows.push([(end_s + s).toFixed(1), probe, load && (Number(load) - s * 2e-5).toFixed(3), ...rest].join(","));
  }
  return rows.join("\n") + "\n";
}

/** A port that was free a moment ago. */
function freePort() {
  return new Promise((resolve) => {
    const server = createServer().listen(0, "127.0.0.1", () => {
      const { port } = server.address();
      server.close(() => resolve(port));
    });
  });
}

export class Board {
  constructor(program) {
    this.program = program;
    this.place = mkdtempSync(join(tmpdir(), "dekchi-page-"));
    this.log = join(this.place, "log");
    this.process = null;
  }

  path(name) {
    return join(this.place, name);
  }

  dekchi(...args) {
    return execFileSync(this.program, args, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
  }

  /** Cooks the recordings and lays out the kitchen. */
  async set() {
    this.port = await freePort();
    this.base = `http://127.0.0.1:${this.port}`;
    let kitchen = `[site]\nname = "Harbour Lane Kitchen"\naltitude_m = 40.0\n\n`;
    kitchen += `[page]\nlisten = "127.0.0.1:${this.port}"\nreading = "open"\n\n`;
    const pots = [["neglect", "big", "Tuesday base"], ["reduce", "small", HOSTILE]];
    for (const [kind, name, batch] of pots) {
      this.dekchi("practise", "--kind", kind, "--seed", "1", "--load-hz", "1", "--no-faults", "-o", this.place);
      const recording = this.path(`${kind}-1.csv`);
      writeFileSync(recording, prolonged(readFileSync(recording, "utf8")));
      const own = readFileSync(this.path(`${kind}-1.kitchen.toml`), "utf8");
      const pot = own.slice(own.indexOf("[[pot]]")).replace(/^name = .*/m, `name = "${name}"`);
      kitchen += `${pot.trim()}\n[pot.sensors]\nrecording = "${kind}-1.csv"\n\n`;
      const plan = readFileSync(this.path(`${kind}-1.batch.toml`), "utf8")
        .replace(/^name = .*/m, `name = '''${batch}'''`)
        .replace(/^pot = .*/m, `pot = "${name}"`);
      writeFileSync(this.path(`${name}.toml`), plan);
    }
    writeFileSync(this.path("kitchen.toml"), kitchen);
  }

  /** Starts the board and waits until it answers. */
  async start(pots = ["big", "small"]) {
    const batches = pots.flatMap((name) => ["--batch", this.path(`${name}.toml`)]);
    const args = ["run", "--kitchen", this.path("kitchen.toml"), ...batches, "--speed", SPEED,
      "--store", this.path("dekchi.sqlite")];
    this.process = spawn(this.program, args, { stdio: ["ignore", "pipe", "pipe"] });
    for (const stream of [this.process.stdout, this.process.stderr]) {
      stream.on("data", (bytes) => appendFileSync(this.log, bytes));
    }
    this.ended = new Promise((resolve) => this.process.on("exit", resolve));
    for (;;) {
      const answer = await fetch(`${this.base}/health`).catch(() => null);
      if (answer?.ok) return;
      if (this.process.exitCode !== null) throw new Error(`the board ended: ${readFileSync(this.log, "utf8")}`);
      await new Promise((resolve) => setTimeout(resolve, 200));
    }
  }

  /** Asks the board to end and waits for that; its exit code. */
  async stop() {
    this.process.kill("SIGTERM");
    return this.ended;
  }

  /** A one-time code. */
  code() {
    const offered = this.dekchi("pair", "--json", "--kitchen", this.path("kitchen.toml"), "--store", this.path("dekchi.sqlite"));
    return JSON.parse(offered);
  }

  /** Everything that the store knows of a batch, as text. */
  kept(number) {
    return this.dekchi("batches", "show", String(number), "--store", this.path("dekchi.sqlite"));
  }

  clear() {
    if (this.process?.exitCode === null) this.process.kill("SIGKILL");
    rmSync(this.place, { recursive: true, force: true });
  }
}
