// The daemon under test: the mock by default; with BELLWIRE_BIN the real one, started, killed and started again here;
// with BELLWIRE_HTTP one that runs already, reached through a wire that can be cut.

import { spawn } from "node:child_process";
import { connect, createServer } from "node:net";
import { fileURLToPath } from "node:url";
import { Mock } from "./mock.mjs";

const READY_MS = 15000;
const DEMO = fileURLToPath(new URL("../../demo-show", import.meta.url));

/** `{ name, url, lose(), regain(), end() }`. */
export async function daemonUnderTest() {
  if (process.env.BELLWIRE_BIN) return started(process.env.BELLWIRE_BIN, process.env.BELLWIRE_SHOW ?? DEMO);
  if (process.env.BELLWIRE_HTTP) return wired(new URL(process.env.BELLWIRE_HTTP));
  const mock = await new Mock().start();
  const { url } = mock;
  return { name: "mock", url, lose: () => mock.kill(), regain: () => mock.start(), end: () => mock.kill() };
}

/** Where the program is; without it, a test of the program fails. */
export function program() {
  if (!process.env.BELLWIRE_BIN) throw new Error("BELLWIRE_BIN does not say where the program is: build it, then name it");
  return process.env.BELLWIRE_BIN;
}

/** The real daemon on a show of the caller's, armed by the time it is given. */
export async function daemonOn(show, ...options) {
  const daemon = await started(program(), show, "--arm", ...options);
  // It arms once it has heard of every rig. Pressed by hand in that moment, the panel's question would be the other one.
  const armed = async () => (await (await fetch(`${daemon.url}/status`)).json()).armed;
  await until(armed, `The daemon at ${daemon.url} is not armed within ${READY_MS / 1000} s.`);
  return daemon;
}

async function started(binary, show, ...options) {
  const port = await freePort();
  const url = `http://127.0.0.1:${port}`;
  let process = null;
  const start = async () => {
    const at = ["--http", `127.0.0.1:${port}`, "--osc", "127.0.0.1:0", "--stop-port", "127.0.0.1:0", "--no-journal"];
    process = spawn(binary, ["run", show, ...at, ...options], { stdio: ["ignore", "ignore", "inherit"] });
    await answers(url);
  };
  const kill = async () => {
    if (process.exitCode !== null || process.signalCode !== null) return;
    const gone = new Promise((resolve) => process.once("exit", resolve));
    process.kill("SIGKILL");
    await gone;
  };
  await start();
  return { name: "started", url, lose: kill, regain: start, end: kill };
}

async function wired(target) {
  const sockets = new Set();
  const open = () => {
    const server = createServer((near) => {
      const far = connect(Number(target.port), target.hostname);
      for (const socket of [near, far]) {
        sockets.add(socket);
        socket.on("error", () => {});
        socket.on("close", () => sockets.delete(socket));
      }
      near.pipe(far).pipe(near);
    });
    return server;
  };
  const listen = (server, port) => new Promise((resolve) => server.listen(port, "127.0.0.1", () => resolve(server.address().port)));
  await answers(target.origin);
  let server = open();
  const port = await listen(server, 0);
  const cut = async () => {
    const closed = new Promise((resolve) => server.close(resolve));
    for (const socket of sockets) socket.destroy();
    await closed;
  };
  const mend = async () => {
    server = open();
    await listen(server, port);
  };
  return { name: "wired", url: `http://127.0.0.1:${port}`, lose: cut, regain: mend, end: cut };
}

function answers(url) {
  // Not there yet, it refuses the connection.
  const healthy = () => fetch(`${url}/health`).then((answer) => answer.ok, () => false);
  return until(healthy, `No daemon answers at ${url}/health within ${READY_MS / 1000} s.`);
}

async function until(holds, otherwise) {
  const end = Date.now() + READY_MS;
  while (!(await holds())) {
    if (Date.now() > end) throw new Error(otherwise);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

async function freePort() {
  const server = createServer();
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address();
  await new Promise((resolve) => server.close(resolve));
  return port;
}
