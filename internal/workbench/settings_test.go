package workbench_test

import (
	"reflect"
	"strings"
	"testing"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// The shipped settings, put together into one file, read back as the shipped settings.
func TestAllSectionsTogetherAreTheShippedSettings(t *testing.T) {
	var b strings.Builder
	for _, s := range workbench.DefaultTexts() {
		b.WriteString(workbench.SectionText(s) + "\n")
	}
	got, err := workbench.ReadSettings("all.toml", []byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, workbench.DefaultSettings()) {
		t.Error("they differ")
	}
}

// Every value has a word about it, and those that are measured in something say in what.
func TestEverySettingIsExplained(t *testing.T) {
	mine := "[verdict]\nlook_top_hpa = 50.0 # the last days of the campaign were cut short\n"
	all, err := workbench.Explain("mine.toml", []byte(mine))
	if err != nil {
		t.Fatal(err)
	}
	bare := 0
	for _, s := range all {
		if s.Source == "" {
			bare++
		}
		if s.Key == "verdict.look_top_hpa" && (s.Value != "50.0" || s.Default != "100.0" || s.Unit != "hPa" || s.From != "mine.toml" || !strings.HasPrefix(s.Source, "the last days") || !strings.Contains(s.Source, "shipped:")) {
			t.Errorf("%+v", s)
		}
		if s.Key == "check.spike.window_s" && s.Unit != "s" || s.Key == "levels.tropopause_lapse_k_km" && s.Unit != "K/km" {
			t.Errorf("%+v", s)
		}
	}
	if bare > len(all)/3 {
		t.Errorf("%d of %d settings have no word about them", bare, len(all))
	}
	for _, name := range sounding.ShippedSheets() {
		_, text, err := sounding.ShippedSheet(name)
		if err != nil {
			t.Fatal(err)
		}
		values := workbench.ExplainSheet("shipped", text)
		if len(values) < 15 {
			t.Errorf("%s lists %d values", name, len(values))
		}
		for _, v := range values {
			if v.Key == "temperature.noise_k" && (v.Unit != "K" || v.Source == "") {
				t.Errorf("%+v", v)
			}
		}
	}
}
