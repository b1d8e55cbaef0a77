/** Elements in one line each. */
type Props = Record<string, string | number | boolean | ((event: Event) => void) | undefined>;

/** An element with attributes (`onClick: …` listens), and children. No HTML from text is ever parsed. */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Props = {},
  ...children: (Node | string | null | undefined | false)[]
): HTMLElementTagNameMap[K] {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === false) continue;
    if (typeof value === "function") node.addEventListener(name.slice(2).toLowerCase(), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) if (child) node.append(child);
  return node;
}

export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const node = document.getElementById(id);
  if (!node) throw new Error(`no #${id} in the page`);
  return node as T;
}

/** A canvas as large as its box, sharp on dense screens. @returns its context, in CSS pixels */
export function fit(canvas: HTMLCanvasElement, width: number, height: number): CanvasRenderingContext2D {
  const dense = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(width * dense), Math.round(height * dense)];
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
  }
  const ink = canvas.getContext("2d", { alpha: false });
  if (!ink) throw new Error("no canvas");
  ink.setTransform(dense, 0, 0, dense, 0, 0);
  return ink;
}

/** Items by key, in order. */
export function groupBy<T, K>(items: readonly T[], keyOf: (item: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const list = groups.get(key);
    if (list) list.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}
