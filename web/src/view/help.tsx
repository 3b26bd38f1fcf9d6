import { useEffect, useRef } from "preact/hooks";
import { Key } from "./parts";

type Keys = readonly (readonly [string, string])[];

const everywhere: Keys = [["?", "this list"], ["g l", "logbook"], ["g f", "flight seen last"], ["g d", "launch desk"], ["g v", "the flight in progress"], ["g o", "compare"], ["g s", "settings and sheets"], ["/", "search, where there is a list"], ["Esc", "close, let go"]];
const desk: Keys = [["n  p", "next, previous part that is not done"], ["Enter", "in a field: the next one"]];
const logbook: Keys = [["j  k", "next, previous flight"], ["Enter", "open it"], ["Home  End", "first, last"],
  ["x  Space", "select the flight, or let it go"], ["Shift+↑  Shift+↓", "select a range; J and K do the same"], ["Shift+A", "select all that are shown, or none"], ["d", "decide for all selected"], ["c", "compare the flights selected"], ["u", "decisions for many flights; take one back"], ["Esc", "let the selection go"]];
const compare: Keys = [["a", "axis: height, pressure, time; of two flights the differences are taken at equal ones"], ["↑  ↓", "cursor by one sample of A"], ["PgUp  PgDn", "cursor by sixty"], ["←  →", "take another panel in hand: spans and trails by keys are about it"], ["+  −", "closer, wider"], ["0", "the whole flight"]];
const settings: Keys = [["/", "search settings and the sheet shown"]];
const parts: { readonly [screen: string]: readonly [string, Keys] } = { compare: ["Compare", compare], settings: ["Settings", settings], desk: ["Launch desk", desk], logbook: ["Logbook", logbook] };
const flight: Keys = [
  ["n  p", "next, previous finding; panels follow"], ["[  ]", "previous, next place of a finding"], ["j  k", "next, previous flight"], ["a", "axis: height, pressure, time"], ["r", "raw data on, off"],
  ["d", "descent on, off"], ["b", "before release on, off"], ["w", "wind as u and v on, off"], ["f", "fit the panels to what is visible"], ["↑  ↓", "cursor by one sample"],
  ["PgUp  PgDn", "cursor by sixty"], ["Shift+↑  Shift+↓", "span by one sample; Shift+PgUp and Shift+PgDn by sixty"], ["z", "closer, to the span"], ["+  −", "closer, wider"], ["0", "the whole flight"], ["t", "trail of the value at the cursor"],
  ["c", "compare with another flight or version"], ["Space", "accept the finding: it is so"], ["x", "dismiss it: it is not so here"], ["e", "exclude the span, or the finding's samples, place by place"], ["1 … 9", "what the action bar offers; without a span, what is suggested"], ["m", "note about the span, the finding, or the flight"], ["u", "undo: take the last decision back"],
  ["Shift+U", "redo: put it back"], ["s", "sign the flight off, or reopen it"],
];

export function Help({ screen, onClose }: { readonly screen: string; readonly onClose: () => void }) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    dialog.current?.showModal();
  }, []);
  const part = (title: string, list: Keys) => (
    <section>
      <h3>{title}</h3>
      <dl>
        {list.map(([k, what]) => (
          <div key={k}>
            <dt>{k.split("  ").map((x, i) => <>{i > 0 ? " " : null}<Key>{x}</Key></>)}</dt>
            <dd>{what}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
  return (
    <dialog ref={dialog} class="help" aria-labelledby="help-title" onClose={onClose}>
      <h2 id="help-title">Keys</h2>
      <div class="help-parts">
        {part("Everywhere", everywhere)}
        {screen === "flight" ? part("Flight", flight) : parts[screen] === undefined ? null : part(...parts[screen])}
        {screen === "flight" ? (
          <section>
            <h3>Pointer</h3>
            <dl>
              <div><dt>drag</dt><dd>select a span, on all panels</dd></div>
              <div><dt>Shift+drag</dt><dd>zoom to a box</dd></div>
              <div><dt>drag the scale</dt><dd>pan; Ctrl+drag anywhere does the same</dd></div>
              <div><dt>wheel</dt><dd>zoom at the pointer; Shift+wheel pans</dd></div>
              <div><dt>double click</dt><dd>the whole flight</dd></div>
              <div><dt>click a mark</dt><dd>go to its finding</dd></div>
            </dl>
          </section>
        ) : screen === "compare" ? (
          <section>
            <h3>Pointer</h3>
            <dl>
              <div><dt>drag</dt><dd>pan</dd></div>
              <div><dt>wheel</dt><dd>zoom at the pointer</dd></div>
              <div><dt>double click</dt><dd>the whole flight</dd></div>
            </dl>
          </section>
        ) : screen === "logbook" ? (
          <section>
            <h3>Pointer</h3>
            <dl>
              <div><dt>click</dt><dd>open the flight; in its box: select it</dd></div>
              <div><dt>Shift+click</dt><dd>select up to here</dd></div>
              <div><dt>Ctrl+click</dt><dd>select it as well</dd></div>
            </dl>
          </section>
        ) : null}
      </div>
      <form method="dialog"><button type="submit">Close</button></form>
    </dialog>
  );
}
