// One listener for the whole page. The screen registered last is asked first.
import { useLayoutEffect } from "preact/hooks";

export type KeyMap = { readonly [key: string]: (e: KeyboardEvent) => void };

const stack: KeyMap[] = [];
let prefix = "";
let prefixUntil = 0;

const typing = (t: EventTarget | null): boolean =>
  t instanceof HTMLElement && (t.isContentEditable || t instanceof HTMLTextAreaElement || t instanceof HTMLSelectElement ||
    (t instanceof HTMLInputElement && t.type !== "checkbox" && t.type !== "radio" && t.type !== "button"));

/** "Shift+ArrowUp", "a", "?", "g l" for two keys in a row. */
function nameOf(e: KeyboardEvent): string {
  const key = e.key === " " ? "Space" : e.key;
  return e.shiftKey && key.length > 1 ? `Shift+${key}` : key;
}

function onKey(e: KeyboardEvent): void {
  if (e.ctrlKey || e.metaKey || e.altKey || e.isComposing) return;
  if (document.querySelector("dialog[open]") !== null) return; // it has keys of its own
  const name = nameOf(e);
  if (typing(e.target)) {
    if (name !== "Escape") return;
    (e.target as HTMLElement).blur(); // the keys of the screen work again
  }
  if ((name === "Space" || name === "Enter") && e.target instanceof HTMLElement && e.target.closest("button, a, summary, input, [data-own-keys]") !== null) return;
  const now = e.timeStamp;
  const full = prefix !== "" && now < prefixUntil ? `${prefix} ${name}` : name;
  prefix = "";
  for (let i = stack.length - 1; i >= 0; i--) {
    const run = stack[i]?.[full];
    if (run !== undefined) {
      e.preventDefault();
      run(e);
      return;
    }
  }
  if (stack.some((m) => Object.keys(m).some((k) => k.startsWith(`${full} `)))) {
    prefix = full;
    prefixUntil = now + 1500;
  }
}

let listening = false;

/** Takes effect with the drawing itself: the next key of a quick hand meets what is on the screen. */
export function useKeys(map: KeyMap): void {
  useLayoutEffect(() => {
    if (!listening) {
      document.addEventListener("keydown", onKey);
      listening = true;
    }
    stack.push(map);
    return () => {
      stack.splice(stack.lastIndexOf(map), 1);
    };
  });
}
