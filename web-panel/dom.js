// Writing to the page: only what has changed, and never as markup, so that no text from a show file can
// become a part of the page and a screen reader hears each change once.

const SVG = "http://www.w3.org/2000/svg";

export function byId(id) {
  const node = document.getElementById(id);
  if (!node) throw new Error(`The page has no element "${id}".`);
  return node;
}

export function el(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

export function say(node, text) {
  const next = text ?? "";
  if (node.textContent !== next) node.textContent = next;
}

export function put(node, name, value) {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

export function show(node, visible) {
  if (node.hidden === visible) node.hidden = !visible;
}

/** A button that cannot act says so to everybody: greyed, out of the tab order, named as disabled. */
export function enable(button, possible) {
  if (button.disabled === possible) button.disabled = !possible;
}

export function flag(node, name, on) {
  if (node.classList.contains(name) !== on) node.classList.toggle(name, on);
}

/** Lines of text as list items; untouched while the lines are the same. */
export function lines(list, texts) {
  const now = Array.from(list.children, (item) => item.textContent);
  if (now.length === texts.length && now.every((text, index) => text === texts[index])) return;
  list.replaceChildren(...texts.map((text) => el("li", {}, text)));
}

/** Keeps one child per key, in order, and moves only what stands in the wrong place. */
export function keyed(parent, keys, known, make) {
  for (const [key, node] of known) {
    if (!keys.includes(key)) {
      node.root.remove();
      known.delete(key);
    }
  }
  keys.forEach((key, index) => {
    if (!known.has(key)) known.set(key, make(key));
    const root = known.get(key).root;
    if (parent.children[index] !== root) parent.insertBefore(root, parent.children[index] ?? null);
  });
}
