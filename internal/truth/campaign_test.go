package truth

import (
	"bytes"
	"strings"
	"testing"
)

func TestCampaignIsWhatTheDemoNeeds(t *testing.T) {
	plan, err := Campaign(1)
	if err != nil {
		t.Fatal(err)
	}
	if len(plan) < 14 || len(plan) > 20 {
		t.Errorf("%d launches", len(plan))
	}
	again, err := Campaign(1)
	if err != nil {
		t.Fatal(err)
	}
	names, sites, sheets := map[string]bool{}, map[string]bool{}, map[string]bool{}
	faulty, two, none := 0, 0, 0
	for i := range plan {
		l := &plan[i]
		files, err := l.Files()
		if err != nil {
			t.Fatalf("%s: %v", l.Name, err)
		}
		repeat, err := again[i].Files()
		if err != nil {
			t.Fatal(err)
		}
		for k, f := range files {
			if names[f.Name] || strings.ContainsAny(f.Name, "/\\") || len(f.Bytes) == 0 {
				t.Errorf("%s: file %q stands twice, has a folder or is empty", l.Name, f.Name)
			}
			names[f.Name] = true
			if !bytes.Equal(f.Bytes, repeat[k].Bytes) {
				t.Errorf("%s: %s differs from run to run", l.Name, f.Name)
			}
		}
		sites[l.Scenario.Site.Name], sheets[l.Scenario.Sheet.Name] = true, true
		switch len(files) {
		case 1:
			none++
		case 3:
			two++
		}
		if len(l.Scenario.Faults) > 0 {
			faulty++
		}
		if i > 0 && !l.Scenario.Release.After(plan[i-1].Scenario.Release) {
			t.Errorf("%s is not after the one before", l.Name)
		}
	}
	if len(sites) != 2 || len(sheets) < 3 || none != 1 || two != 1 || faulty == len(plan) {
		t.Errorf("%d sites, %d sheets, %d without data, %d with two receivers, %d with faults", len(sites), len(sheets), none, two, faulty)
	}
	if span := plan[len(plan)-1].Scenario.Release.Sub(plan[0].Scenario.Release).Hours() / 24; span < 12 || span > 15 {
		t.Errorf("%.1f days", span)
	}
	if d := Diary(plan); bytes.Count(d.Bytes, []byte("\n")) != len(plan)+3 {
		t.Errorf("diary: %s", d.Bytes)
	}
}
