// What this browser remembers for its user: name, reasons used lately, light or dark.
// The logbook itself never lives here.

function load(key: string): string {
  try {
    return localStorage.getItem(`leadline-${key}`) ?? "";
  } catch {
    return "";
  }
}

function keep(key: string, value: string): void {
  try {
    localStorage.setItem(`leadline-${key}`, value);
  } catch {
    // A browser that keeps nothing still works.
  }
}

export const who = (): string => load("who");
export const rememberWho = (name: string): void => keep("who", name);

/** Whom a finder should call, as last typed here. */
export function contact(): { readonly [part: string]: string } {
  try {
    const x: unknown = JSON.parse(load("contact"));
    return typeof x === "object" && x !== null ? Object.fromEntries(Object.entries(x).filter((e): e is [string, string] => typeof e[1] === "string")) : {};
  } catch {
    return {};
  }
}
export const rememberContact = (c: { readonly [part: string]: string }): void => keep("contact", JSON.stringify(c));

export function reasons(): string[] {
  try {
    const list: unknown = JSON.parse(load("reasons"));
    return Array.isArray(list) ? list.filter((x): x is string => typeof x === "string") : [];
  } catch {
    return [];
  }
}

export function rememberReason(reason: string): void {
  keep("reasons", JSON.stringify([reason, ...reasons().filter((r) => r !== reason)].slice(0, 12)));
}

export type Theme = "" | "light" | "dark";

export const theme = (): Theme => {
  const t = load("theme");
  return t === "light" || t === "dark" ? t : "";
};

export function setTheme(t: Theme): void {
  keep("theme", t);
  applyTheme();
}

export function applyTheme(): void {
  const t = theme();
  if (t === "") delete document.documentElement.dataset["theme"];
  else document.documentElement.dataset["theme"] = t;
  window.dispatchEvent(new Event("leadline-theme"));
}
