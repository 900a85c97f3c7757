// One line a test, "ok NAME" or "FAIL NAME" and why, and the sums at the end. The exit code is node's own.

export default async function* plain(source) {
  const sums = { pass: 0, fail: 0 };
  for await (const { type, data } of source) {
    if (type === "test:pass" && !isWrapper(data)) {
      sums.pass += 1;
      yield `ok ${data.name}\n`;
    }
    if (type === "test:fail" && !isWrapper(data)) {
      sums.fail += 1;
      yield `FAIL ${data.name}\n${explain(data.details.error)}\n`;
    }
    if (type === "test:stderr") yield data.message;
  }
  yield `# pass ${sums.pass}\n# fail ${sums.fail}\n`;
}

/** A file is reported as a test of its own too; it counts only if it failed by itself, outside its tests. */
function isWrapper(data) {
  return /\.mjs$/.test(data.name) && data.details.error?.failureType !== "testCodeFailure";
}

function explain(error) {
  const cause = error.cause ?? error;
  return String(cause.stack ?? cause.message ?? cause).replace(/^/gm, "    ");
}
