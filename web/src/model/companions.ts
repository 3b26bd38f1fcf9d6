// Which of the files dropped together are sources, and which say how to read them.

export type Kind = "source" | "record" | "recipe" | "sheet";

/** What a file is, by its name and head. TOML is no source; its tables tell which it is. JSON with a launch record's tables is one. */
export function kindOf(name: string, head: string): Kind {
  if (/\.json$/i.test(name)) return /"(site|release|surface|ground_check|radiosonde|balloon)"\s*:\s*\{/.test(head) ? "record" : "source";
  if (!/\.toml$/i.test(name)) return "source";
  if (/^\s*\[+\s*(columns?|preamble|capture|text|time|netcdf)\b/m.test(head)) return "recipe";
  if (/^\s*\[\s*(temperature|humidity|pressure|position|wind)\b/m.test(head)) return "sheet";
  return "record";
}
