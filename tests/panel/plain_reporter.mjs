// One line a test: "ok NAME" or "FAIL NAME" and why. The exit code is node's own.

export default async function* plain(source) {
  for await (const { type, data } of source) {
    if (type === "test:pass" && isTest(data)) yield `${data.skip !== undefined ? "skipped" : "ok"} ${data.name}\n`;
    if (type === "test:fail" && isTest(data)) yield `FAIL ${data.name}\n${explain(data.details.error)}\n`;
    if (type === "test:stderr") yield data.message;
  }
}

/** A file is reported as a test of its own too; only the tests in it count. */
function isTest(data) {
  return !/\.mjs$/.test(data.name);
}

function explain(error) {
  const cause = error.cause ?? error;
  return String(cause.stack ?? cause.message ?? cause).replace(/^/gm, "    ");
}
