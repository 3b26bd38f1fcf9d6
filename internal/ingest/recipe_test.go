package ingest

import (
	"strings"
	"testing"
)

func TestShippedRecipesAreValid(t *testing.T) {
	names := ShippedRecipes()
	for _, want := range []string{"cf", "demo-text", "demo-vehicle", "igra", "leadline-csv"} {
		if !contains(names, want) {
			t.Errorf("%s does not ship: %v", want, names)
		}
	}
	for _, n := range names {
		r, text, err := ShippedRecipe(n)
		if err != nil {
			t.Errorf("%s: %v", n, err)
			continue
		}
		if r.Name != n || r.Title == "" || len(text) == 0 || !strings.HasPrefix(r.Identity(), n+" ") {
			t.Errorf("%s: name %q, title %q, identity %q", n, r.Name, r.Title, r.Identity())
		}
	}
	if _, _, err := ShippedRecipe("nothing"); err == nil || !strings.Contains(err.Error(), "shipped are") {
		t.Error(err)
	}
}

// A recipe says everything that is wrong with it at once, and where.
func TestRecipeRefusals(t *testing.T) {
	base := "name = \"x\"\nformat = \"text\"\n[time]\nkind = \"utc\"\ncolumn = \"t\"\n"
	for _, c := range []struct{ text, words string }{
		{"", "name is missing"},
		{"name = \"x\"\nformat = \"spread\"", "format \"spread\" is not known"},
		{"name = \"x\"\nformat = \"text\"", "time.kind is missing"},
		{"nmae = \"x\"", "line 1, column 1: unknown key \"nmae\""},
		{strings.Replace(base, "utc", "local", 1), "local time needs an IANA zone"},
		{strings.Replace(base, "column = \"t\"", "", 1), "time.column or time.columns"},
		{base + "layout = \"hh:mm\"", "has no full date"},
		{base + "layout = \"dd/mm\"", "has neither a full date"},
		{base + "zone = \"Nowhere\"", "zone \"Nowhere\" is not known"},
		{base + "[text]\ndelimiter = \"a\"", "text.delimiter"},
		{base + "[text]\ndelimiter = \",\"\ndecimal = \",\"", "both a comma"},
		{base + "[text]\nencoding = \"ebcdic\"", "text.encoding"},
		{base + "[preamble]\nuntil = \"(\"", "preamble.until is no regular expression"},
		{base + "[[capture]]\npattern = \"x\"", "has no group"},
		{base + "[[capture]]\npattern = \"(x)\"\nfield = \"surface.presure_hpa\"", "nearest is surface.pressure_hpa"},
		{base + "[[column]]\nvariable = \"pressure\"", "want name, names, number, or start and width"},
		{base + "[[column]]\nname = \"p\"\nvariable = \"presure\"", "is no variable leadline knows"},
		{base + "[[column]]\nname = \"p\"\nvariable = \"pressure\"\nunit = \"furlong\"", "known are hPa"},
		{base + "[[column]]\nname = \"p\"\nvariable = \"pressure\"\n[[column]]\nname = \"q\"\nvariable = \"pressure\"", "is already column 1"},
		{base + "[[column]]\nname = \"p\"\nvariable = \"pressure\"\nextra = \"q\"", "exclude each other"},
		{base + "[[column]]\nname = \"p\"\nstandard_name = \"air_pressure\"", "are for netCDF"},
		{base + "[[record]]\nfield = \"site.kind\"\nvalue = \"boat\"", "want fixed or mobile or ship"},
	} {
		r, err := ReadRecipe("mine.toml", []byte(c.text))
		if err == nil || r != nil || !strings.Contains(err.Error(), c.words) || !strings.HasPrefix(err.Error(), "mine.toml: ") {
			t.Errorf("%q: %v, want %q", c.text, err, c.words)
		}
	}
	_, err := ReadRecipe("mine.toml", []byte("format = \"text\"\n[time]\nkind = \"never\"\n"))
	if err == nil || strings.Count(err.Error(), "\n") < 2 {
		t.Errorf("want all errors together: %v", err)
	}
}

// Layouts, against what time.Parse of the standard library reads.
func TestTimeLayouts(t *testing.T) {
	for _, c := range []struct {
		layout, text string
		day          int64
		seconds      float64
		bad          bool
	}{
		{"YYYY-MM-DD hh:mm:ss", "2031-06-03 23:04:11", 22433, 83051, false},
		{"YYYY-MM-DD hh:mm:ss", "2031-6-3 3:4:1.5", 22433, 11041.5, false},
		{"YYYY-MM-DD hh:mm:ss", "1969-12-31 00:00:00", -1, 0, false},
		{"YYYYMMDDhhmmss", "20310603230411", 22433, 83051, false},
		{"YY-MM-DD hh:mm", "31-06-03 23:04", 22433, 83040, false},
		{"YY-MM-DD hh:mm", "71-01-01 00:00", 365, 0, false},
		{"YYYY DDD", "2031 154", 22433, 0, false},
		{"DD MON YYYY", "3 Jun 2031", 22433, 0, false},
		{"YYYY-MM-DD", "2031-02-29", 0, 0, true},
		{"YYYY-MM-DD", "2032-02-29", 22704, 0, false},
		{"YYYY-MM-DD", "2031-13-01", 0, 0, true},
		{"YYYY-MM-DD", "2031-06-03x", 0, 0, true},
		{"YYYY-MM-DD", "31-06-03", 0, 0, true},
		{"hh:mm:ss", "24:00:01", 0, 0, true},
		{"hh:mm:ss", "23:60:00", 0, 0, true},
		{"hh:mm:ss", "-1:00:00", 0, 0, true},
		{"hh:mm:ss AM", "12:00:00 am", 0, 0, false},
		{"hh:mm:ss AM", "13:00:00 am", 0, 0, true},
	} {
		l, err := compileLayout(c.layout)
		if err != nil {
			t.Error(err)
			continue
		}
		m, ok := l.read([]byte(c.text))
		if ok == c.bad || ok && (m.day != c.day || m.seconds != c.seconds) {
			t.Errorf("%q by %q: day %d, %g s, %t; want %d, %g", c.text, c.layout, m.day, m.seconds, ok, c.day, c.seconds)
		}
	}
}
