// The mock daemon: serves the panel and speaks the contract over HTTP and WebSocket, on top of `mock_machine.mjs`.
// By hand: node mock.mjs [PORT]

import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { fileURLToPath } from "node:url";
import { WebSocketServer } from "ws";
import { Machine, Refused } from "./mock_machine.mjs";

const PANEL = new URL("../../web-panel/", import.meta.url);
const KINDS = { html: "text/html; charset=utf-8", js: "text/javascript; charset=utf-8", css: "text/css; charset=utf-8", svg: "image/svg+xml" };
/** What the panel must be able to live with: nothing from elsewhere, nothing inline. */
export const POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
const STEP_S = 0.02;

export class Mock {
  constructor(options = {}) {
    this.options = options;
    this.port = options.port ?? 0;
    this.calls = [];
    this.stops = [];
    this.frozen = false;
    this.refuse = new Map();
    /** Whom it lets in: `{ TOKEN: { role, name } }`. Everybody, as an operator, if there is none. */
    this.tokens = options.tokens ?? null;
  }

  get url() {
    return `http://127.0.0.1:${this.port}`;
  }

  async start() {
    this.machine = new Machine(this.options);
    this.clients = new Map();
    this.http = createServer((request, response) => this.serve(request, response));
    this.sockets = new WebSocketServer({ server: this.http, path: "/rpc" });
    this.sockets.on("connection", (socket) => this.meet(socket));
    this.machine.onEvent = (event) => this.tell(() => ({ method: "event", params: event }));
    this.timer = setInterval(() => this.tick(), STEP_S * 1000);
    await new Promise((resolve) => this.http.listen(this.port, "127.0.0.1", resolve));
    this.port = this.http.address().port;
    return this;
  }

  /** As kill -9 would: every connection is cut. */
  async kill() {
    clearInterval(this.timer);
    for (const socket of this.clients.keys()) socket.terminate();
    this.http.closeAllConnections();
    await new Promise((resolve) => this.http.close(resolve));
  }

  tick() {
    if (this.frozen) return;
    this.machine.step(STEP_S);
    this.count = (this.count ?? 0) + 1;
    if (this.count % 2 === 0) this.tell((client) => client.hz > 0 && { method: "status", params: this.machine.status(client.stage) });
  }

  tell(messageFor) {
    if (this.frozen) return;
    for (const [socket, client] of this.clients) {
      const message = messageFor(client);
      if (message) socket.send(JSON.stringify({ jsonrpc: "2.0", ...message }));
    }
  }

  meet(socket) {
    const client = { hz: 0, stage: false };
    this.clients.set(socket, client);
    socket.on("close", () => this.clients.delete(socket));
    socket.on("message", (text) => {
      if (this.frozen) return;
      const { id, method, params } = JSON.parse(text);
      if (method !== "subscribe") this.calls.push({ method, params });
      socket.send(JSON.stringify({ jsonrpc: "2.0", id, ...this.answer(client, method, params) }));
    });
  }

  answer(client, method, params) {
    if (method === "subscribe") {
      client.hz = params.hz;
      client.stage = params.stage === true;
      return { result: { hz: params.hz, client: "panel" } };
    }
    try {
      if (this.refuse.has(method)) throw new Refused(...this.refuse.get(method));
      return { result: this.machine.take(method, params) };
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.machine.event("refused", `${method} was refused: ${error.message}`);
      return { error: { code: -32000, message: "refused", data: { reasons: error.reasons } } };
    }
  }

  async serve(request, response) {
    const path = new URL(request.url, this.url).pathname;
    const json = (value) => response.writeHead(200, { "content-type": "application/json" }).end(JSON.stringify(value));
    if (request.method === "POST" && path === "/stop") {
      this.stops.push(performance.now());
      if (!this.frozen) json(this.machine.stop("HTTP"));
      return;
    }
    const access = this.access(request);
    if (path === "/access") return json(access);
    if (request.method === "POST" && path === "/enter") return this.enter(request, response);
    if (access.role === null && /^\/(show|status|cue\/)/.test(path)) return response.writeHead(401).end("{}");
    if (path === "/show") return json(this.machine.show());
    if (path === "/status") return json(this.machine.status(false));
    if (path.startsWith("/cue/")) return json(this.machine.trace(decodeURIComponent(path.slice(5))));
    await this.file(path === "/" ? "index.html" : path.slice(1), response);
  }

  /** What the daemon says of whoever shows this cookie. */
  access(request) {
    if (this.tokens === null) return { role: "operator", name: null, why: null };
    const token = /mock=([0-9a-f]+)/.exec(request.headers.cookie ?? "")?.[1];
    return { role: null, name: null, why: "no token", ...this.tokens[token] };
  }

  enter(request, response) {
    const token = request.headers.authorization?.slice("Bearer ".length) ?? "";
    if (!this.tokens?.[token]) {
      return response.writeHead(401).end(JSON.stringify({ error: "this token lets nobody in, other than to stop" }));
    }
    response.writeHead(200, { "set-cookie": `mock=${token}; Path=/; HttpOnly; SameSite=Strict` }).end("{}");
  }

  /** Lets nobody in any more who came by this token. */
  revoke(token) {
    delete this.tokens[token];
    for (const socket of this.clients.keys()) socket.close(1008, "access has changed");
  }

  async file(name, response) {
    if (!/^[a-z_]+\.(html|js|css|svg)$/.test(name)) return response.writeHead(404).end();
    const type = KINDS[name.split(".").at(-1)];
    try {
      const bytes = await readFile(new URL(name, PANEL));
      response.writeHead(200, { "content-type": type, "content-security-policy": POLICY, "cache-control": "no-cache" }).end(bytes);
    } catch {
      response.writeHead(404).end();
    }
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const mock = await new Mock({ port: Number(process.argv[2] ?? 7117) }).start();
  console.log(`The mock daemon serves the panel at ${mock.url}/`);
}
