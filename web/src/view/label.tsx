// The finder's label: its text, and printing nothing but it.

/** Prints the label alone: the style sheet hides the rest while the page says so. */
function printLabel(): void {
  const root = document.documentElement;
  root.dataset["print"] = "label";
  const done = (): void => {
    delete root.dataset["print"];
    window.removeEventListener("afterprint", done);
  };
  window.addEventListener("afterprint", done);
  window.print();
}

export function Label({ text }: { readonly text: string }) {
  return (
    <div class="label-box">
      <pre class="text label-text" tabIndex={0} aria-label="Text of the label">{text}</pre>
      <div class="buttons"><button type="button" onClick={printLabel} disabled={text === ""}>Print the label</button></div>
    </div>
  );
}
