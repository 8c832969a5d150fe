/** Building the page with real nodes: no markup strings, so no text can become markup. */

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Node|string|number|null|undefined|false} Child */
/** @typedef {Child|Child[]|Child[][]} Children */

/**
 * @param {Element} node @param {string} name @param {any} value
 */
function setProp(node, name, value) {
  if (value === null || value === undefined || value === false) return;
  if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
  else if (name === "class") node.setAttribute("class", value);
  else if (name === "value" && node instanceof HTMLTextAreaElement) node.value = value;
  else if (value === true) node.setAttribute(name, "");
  else node.setAttribute(name, String(value));
}

/** @param {Element} node @param {Children[]} children */
function fill(node, children) {
  for (const child of children.flat(3)) {
    if (child === null || child === undefined || child === false) continue;
    node.append(child instanceof Node ? child : String(child));
  }
}

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, any>} [props] attributes; "onclick" and the like are listeners
 * @param {...Children} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function el(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) setProp(node, name, value);
  fill(node, children);
  return node;
}

/**
 * @param {string} tag @param {Record<string, any>} [props] @param {...Children} children
 * @returns {SVGElement}
 */
export function svg(tag, props = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(props)) setProp(node, name, value);
  fill(node, children);
  return /** @type {SVGElement} */ (node);
}

let counter = 0;

/** An id that nothing else on the page has. @param {string} stem */
export function freshId(stem) {
  counter += 1;
  return `${stem}-${counter}`;
}

/** Replace what a node holds. @param {Element} node @param {...Children} children */
export function show(node, ...children) {
  node.replaceChildren();
  fill(node, children);
}

/** A code in groups of three, in type that tells 0 from O. @param {string|null} code */
export function codeText(code) {
  if (!code) return el("span", {}, "no code");
  const grouped = code.replace(/(.{3})(?=.)/g, "$1\u00a0");
  return el("span", { class: "code", "data-code": code }, grouped);
}
