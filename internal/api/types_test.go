package api

import (
	"encoding"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"leadline/internal/comparison"
	"leadline/internal/indices"
	"leadline/internal/levels"
	"leadline/internal/prelaunch"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/suggest"
	"leadline/internal/workbench"
)

var writeTypes = flag.Bool("write", false, "write the TypeScript types anew")

// wire lists what travels as JSON; whatever they refer to follows from them.
var wire = []any{
	Logbook{}, Flight{}, ColumnsHeader{}, workbench.Trail{}, DecisionRequest{}, RevokeRequest{}, SignRequest{}, Decided{}, Preview{},
	Problem{}, Change{}, workbench.Setting{}, SheetText{}, AddedFile{}, Diagram{}, Indices{}, Product{}, suggest.Suggestion{},
	Live{}, FinishRequest{}, Desk{}, DeskStart{}, DeskRequest{}, DeskPlan{}, CameDown{}, RecoveryRequest{}, RecoveryList{},
	GroupEffectsRequest{}, GroupStoreRequest{}, GroupRevokeRequest{}, GroupLine{}, GroupChoices{},
	VersionRequest{}, CompareRequest{}, TodayRequest{}, workbench.VersionComparison{}, SettingsFile{}, SettingsInForce{},
}

const typesFile = "../../web/src/api/types.ts"

// The screens' types are generated from the structs above, so that a change here breaks
// the build of the screens and not the screens.
func TestTypes(t *testing.T) {
	want := typeScript(wire)
	if *writeTypes {
		if err := os.MkdirAll(filepath.Dir(typesFile), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(typesFile, []byte(want), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(typesFile)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != want {
		t.Errorf("%s differs from the Go structs: run go generate ./internal/api", typesFile)
	}
}

func TestTypeScriptOfFields(t *testing.T) {
	type inner struct {
		V sounding.Variable `json:"v"`
	}
	type sample struct {
		inner
		A string          `json:"a"`
		B []inner         `json:"b"`
		C *inner          `json:"c,omitempty"`
		D sounding.Number `json:"d"`
		E time.Time       `json:"e,omitzero"`
		F map[string]int  `json:"f"`
		G func()          `json:"-"`
		H [2]string       `json:"h"`
	}
	got := typeScript([]any{sample{}})
	for _, line := range []string{
		"readonly v: VariableName;", "readonly a: string;", "readonly b: readonly inner[] | null;", "readonly c?: inner;",
		"readonly d: number | null;", "readonly e?: string;", "readonly f: { readonly [key: string]: number };",
		"readonly h: readonly [string, string];",
	} {
		if !strings.Contains(got, line) {
			t.Errorf("missing %q in:\n%s", line, got)
		}
	}
	if strings.Contains(got, "readonly G") {
		t.Error("a field that does not travel was written")
	}
}

// words are the Go types that travel as one of a fixed set of words.
func words(t reflect.Type) (name string, values []string) {
	switch t {
	case reflect.TypeFor[sounding.Variable]():
		name, values = "VariableName", []string{sounding.NoVariable.String()}
		for _, v := range sounding.Variables() {
			values = append(values, v.String())
		}
	case reflect.TypeFor[quality.Check]():
		name = "Check"
		for _, c := range quality.Checks() {
			values = append(values, c.String())
		}
	case reflect.TypeFor[sounding.Severity]():
		name, values = "Severity", []string{sounding.Note.String(), sounding.Questionable.String(), sounding.Bad.String()}
	case reflect.TypeFor[sounding.Phase]():
		name = "Phase"
		for p := sounding.BeforeRelease; p <= sounding.AfterLanding; p++ {
			values = append(values, p.String())
		}
	case reflect.TypeFor[workbench.RulingKind]():
		name = "RulingKind"
		for _, k := range workbench.RulingKinds {
			values = append(values, string(k))
		}
	case reflect.TypeFor[sounding.Action]():
		name = "Action"
		for _, a := range sounding.Actions {
			values = append(values, string(a))
		}
	}
	return name, values
}

// nameOf is what a struct is called in TypeScript, where Set is taken.
func nameOf(t reflect.Type) string {
	switch t {
	case reflect.TypeFor[levels.Set]():
		return "LevelSet"
	case reflect.TypeFor[comparison.Variable]():
		return "ComparedVariable"
	case reflect.TypeFor[comparison.Result]():
		return "ComparisonResult"
	case reflect.TypeFor[prelaunch.Step]():
		return "ListStep"
	case reflect.TypeFor[prelaunch.Item]():
		return "StockItem"
	case reflect.TypeFor[prelaunch.Value]():
		return "PlannedValue"
	case reflect.TypeFor[indices.Set]():
		return "IndexSet"
	}
	return t.Name()
}

type typeWriter struct {
	done  map[string]bool
	taken map[string]reflect.Type // by name, so that no two types share one
	queue []reflect.Type
	unit  strings.Builder
}

func typeScript(roots []any) string {
	w := &typeWriter{done: map[string]bool{}, taken: map[string]reflect.Type{}}
	w.unit.WriteString("// Generated from the Go structs of internal/api by go generate; do not edit.\n")
	for _, r := range roots {
		w.queue = append(w.queue, reflect.TypeOf(r))
	}
	for len(w.queue) > 0 {
		t := w.queue[0]
		w.queue = w.queue[1:]
		w.declare(t)
	}
	return w.unit.String()
}

func (w *typeWriter) declare(t reflect.Type) {
	if name, values := words(t); name != "" {
		if !w.done[name] {
			w.done[name] = true
			fmt.Fprintf(&w.unit, "\nexport type %s =\n  | %q", name, values[0])
			for _, v := range values[1:] {
				fmt.Fprintf(&w.unit, "\n  | %q", v)
			}
			w.unit.WriteString(";\n")
		}
		return
	}
	if other := w.taken[nameOf(t)]; other != nil && other != t {
		panic(fmt.Sprintf("%v and %v would have one name: give one in nameOf", other, t))
	}
	w.taken[nameOf(t)] = t
	if w.done[nameOf(t)] {
		return
	}
	w.done[nameOf(t)] = true
	fmt.Fprintf(&w.unit, "\nexport interface %s {\n", nameOf(t))
	w.fields(t)
	w.unit.WriteString("}\n")
}

func (w *typeWriter) fields(t reflect.Type) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && tag == "" {
			w.fields(f.Type)
			continue
		}
		if tag == "-" || !f.IsExported() {
			continue
		}
		if tag == "" {
			tag = f.Name
		}
		optional := strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")
		text := w.of(f.Type)
		mark := ""
		if optional {
			mark, text = "?", strings.TrimSuffix(text, " | null")
		}
		fmt.Fprintf(&w.unit, "  readonly %s%s: %s;\n", tag, mark, text)
	}
}

// of is the TypeScript of a Go type as encoding/json writes it.
func (w *typeWriter) of(t reflect.Type) string {
	if name, _ := words(t); name != "" {
		w.queue = append(w.queue, t)
		return name
	}
	switch t {
	case reflect.TypeFor[time.Time]():
		return "string"
	case reflect.TypeFor[sounding.Number]():
		return "number | null"
	}
	if t.Implements(reflect.TypeFor[encoding.TextMarshaler]()) {
		return "string"
	}
	switch t.Kind() {
	case reflect.String:
		return "string"
	case reflect.Bool:
		return "boolean"
	case reflect.Int, reflect.Int32, reflect.Int64, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Float32, reflect.Float64:
		return "number"
	case reflect.Pointer:
		return w.of(t.Elem()) + " | null"
	case reflect.Slice:
		inner := w.of(t.Elem())
		if strings.Contains(inner, " ") {
			inner = "(" + inner + ")"
		}
		return "readonly " + inner + "[] | null"
	case reflect.Array:
		each := make([]string, t.Len())
		for i := range each {
			each[i] = w.of(t.Elem())
		}
		return "readonly [" + strings.Join(each, ", ") + "]"
	case reflect.Map:
		return "{ readonly [key: string]: " + w.of(t.Elem()) + " }"
	case reflect.Struct:
		w.queue = append(w.queue, t)
		return nameOf(t)
	}
	panic("no TypeScript for " + t.String())
}
