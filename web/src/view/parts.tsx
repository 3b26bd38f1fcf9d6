// Small pieces that several screens share.
import type { ComponentChildren } from "preact";

/** The verdict as a shape and a word: never by colour alone. */
export function Verdict({ word }: { readonly word: string }) {
  return (
    <span class={`verdict verdict-${word}`}>
      <svg class="shape" viewBox="0 0 14 14" aria-hidden="true">
        {word === "accept" ? <circle cx="7" cy="7" r="5" /> : word === "look" ? <path d="M7 2 12.5 12H1.5Z" /> : <path d="M2.5 2.5 11.5 11.5M11.5 2.5 2.5 11.5" />}
      </svg>
      {word === "" ? "not processed" : word}
    </span>
  );
}

/** A severity as the mark it has in the lanes, and its word. */
export function Severity({ word, quiet }: { readonly word: string; readonly quiet?: boolean }) {
  return (
    <span class={`severity${quiet === true ? " quiet" : ""}`}>
      <svg class="shape" viewBox="0 0 12 12" aria-hidden="true">
        {word === "bad" ? <rect class="full" x="1" y="1" width="10" height="10" /> : word === "questionable" ? <rect x="1.75" y="1.75" width="8.5" height="8.5" /> : <path d="M6 0V12" />}
      </svg>
      {word}
    </span>
  );
}

export function Flag({ word }: { readonly word: string }) {
  return (
    <span class="flag">
      <svg class="shape" viewBox="0 0 12 12" aria-hidden="true">
        {word === "questionable" ? <circle cx="6" cy="6" r="4" /> : word === "bad" ? <path d="M2 2 10 10M10 2 2 10" /> : word === "missing" ? <path d="M2 2H10M2 10H10" /> : word === "good" ? <circle class="full" cx="6" cy="6" r="2" /> : null}
      </svg>
      {word}
    </span>
  );
}

export function Key({ children }: { readonly children: ComponentChildren }) {
  return <kbd>{children}</kbd>;
}

export function Toggle({ on, onClick, keyName, children, title }: { readonly on: boolean; readonly onClick: () => void; readonly keyName?: string; readonly children: ComponentChildren; readonly title?: string }) {
  return (
    <button type="button" class="toggle" aria-pressed={on} onClick={onClick} title={title}>
      {children}
      {keyName === undefined ? null : <Key>{keyName}</Key>}
    </button>
  );
}

/** A choice of few, as one row of buttons. */
export function Choice<T extends string>({ label, value, options, onChoose, keyName }: {
  readonly label: string; readonly value: T; readonly options: readonly (readonly [T, string])[]; readonly onChoose: (v: T) => void; readonly keyName?: string;
}) {
  return (
    <span class="choice" role="group" aria-label={label}>
      <span class="choice-label">{label}{keyName === undefined ? null : <Key>{keyName}</Key>}</span>
      {options.map(([v, text]) => (
        <button type="button" key={v} aria-pressed={v === value} onClick={() => onChoose(v)}>{text}</button>
      ))}
    </span>
  );
}

export function Tabs<T extends string>({ label, value, options, onChoose }: {
  readonly label: string; readonly value: T; readonly options: readonly (readonly [T, string])[]; readonly onChoose: (v: T) => void;
}) {
  const move = (e: KeyboardEvent, i: number): void => {
    const by = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
    if (by === 0) return;
    e.preventDefault();
    e.stopPropagation();
    const next = options[(i + by + options.length) % options.length];
    if (next === undefined) return;
    onChoose(next[0]);
    const tab = (e.currentTarget as HTMLElement).parentElement?.children[(i + by + options.length) % options.length];
    if (tab instanceof HTMLElement) tab.focus();
  };
  return (
    <div class="tabs" role="tablist" aria-label={label}>
      {options.map(([v, text], i) => (
        <button type="button" role="tab" id={`tab-${v}`} key={v} aria-selected={v === value} aria-controls={`pane-${v}`} tabIndex={v === value ? 0 : -1}
          onClick={() => onChoose(v)} onKeyDown={(e) => move(e, i)}>{text}</button>
      ))}
    </div>
  );
}

export function Pane({ name, children }: { readonly name: string; readonly children: ComponentChildren }) {
  return <div class="pane" role="tabpanel" id={`pane-${name}`} aria-labelledby={`tab-${name}`} tabIndex={0}>{children}</div>;
}
