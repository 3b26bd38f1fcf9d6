import { render } from "preact";
import { App } from "./view/app";
import { applyTheme } from "./view/remember";

applyTheme();
const root = document.getElementById("app");
if (root !== null) render(<App />, root);
