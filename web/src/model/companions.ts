// Which of the files given together are sources, and which say how to read them.

export type Kind = "source" | "record" | "recipe" | "sheet";

/** What a file is, by its name and head. TOML is no source; its tables tell which it is. JSON with a launch record's tables is one. */
export function kindOf(name: string, head: string): Kind {
  if (/\.json$/i.test(name)) return /"(site|release|surface|ground_check|radiosonde|balloon)"\s*:\s*\{/.test(head) ? "record" : "source";
  if (!/\.toml$/i.test(name)) return "source";
  if (/^\s*\[+\s*(columns?|preamble|capture|text|time|netcdf)\b/m.test(head)) return "recipe";
  if (/^\s*\[\s*(temperature|humidity|pressure|position|wind)\b/m.test(head)) return "sheet";
  return "record";
}

/** A file given, by where it lay: "june/flight7.txt". */
export interface Given {
  readonly path: string;
  readonly kind: Kind;
}

/** What is sent together: places in the list of files given. */
export interface Sending {
  readonly sources: readonly number[];
  readonly record?: number;
  readonly recipe?: number;
  readonly sheet?: number;
}

export interface SendingPlan {
  readonly sendings: readonly Sending[];
  readonly said: ReadonlyMap<number, string>; // what is said of a file that is no source
}

const base = (path: string): string => path.slice(path.lastIndexOf("/") + 1);

/** Folder and the part of the name before its first dot: what the files of one flight share. */
function stem(path: string): string {
  const name = base(path);
  const dot = name.indexOf(".");
  return path.slice(0, path.length - name.length) + (dot > 0 ? name.slice(0, dot) : name);
}

const named = (path: string): boolean => /\.launch\.(toml|json)$/i.test(path);

/**
 * Joins files to flights. A launch record called NAME.launch.toml belongs to the sources NAME.*
 * beside it, or is a flight of its own; any other record, recipe or sheet is that of all files
 * dropped with it. In a folder, files of one stem are sources of one flight, and what is no
 * source is left alone, as on the command line.
 */
export function plan(files: readonly Given[], folder: boolean): SendingPlan {
  const said = new Map<number, string>();
  const along: { record?: number; recipe?: number; sheet?: number } = {};
  const what = { record: "the launch record", recipe: "the recipe", sheet: "the instrument sheet" };
  const records = new Map<string, number>(); // by stem
  const flights = new Map<string, number[]>();
  for (const [i, f] of files.entries()) {
    const name = base(f.path);
    if (folder && (name.startsWith(".") || /\.md$/i.test(name))) {
      said.set(i, "left alone: no source");
      continue;
    }
    if (f.kind === "source") {
      const key = folder ? stem(f.path) : `${i}`;
      flights.set(key, [...(flights.get(key) ?? []), i]);
    } else if (f.kind === "record" && named(f.path)) records.set(stem(f.path), i);
    else if (folder) said.set(i, `left alone: ${what[f.kind].replace("the ", "a ")} in a folder; drop it together with its files`.replace("a instrument", "an instrument"));
    else if (along[f.kind] === undefined) {
      along[f.kind] = i;
      said.set(i, `taken as ${what[f.kind]} of the files dropped with it`);
    } else said.set(i, `left out: ${base(files[along[f.kind] as number]?.path ?? "")} is already ${what[f.kind]}`);
  }
  const sendings: Sending[] = [];
  const used = new Set<number>();
  for (const sources of flights.values()) {
    const own = records.get(stem(files[sources[0] as number]?.path ?? ""));
    const record = own ?? along.record;
    if (own !== undefined) {
      used.add(own);
      said.set(own, `the launch record of ${sources.map((i) => base(files[i]?.path ?? "")).join(" and ")}`);
    }
    sendings.push({ sources, ...(record === undefined ? {} : { record }), ...(along.recipe === undefined ? {} : { recipe: along.recipe }), ...(along.sheet === undefined ? {} : { sheet: along.sheet }) });
  }
  for (const i of records.values()) if (!used.has(i)) sendings.push({ sources: [], record: i });
  if (sendings.length === 0 && along.record !== undefined) {
    sendings.push({ sources: [], record: along.record });
    said.delete(along.record);
  }
  return { sendings, said };
}
