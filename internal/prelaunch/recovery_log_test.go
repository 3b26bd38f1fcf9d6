package prelaunch

import (
	"strings"
	"testing"
)

const recoveryLog = `{"serial":"L1","flight":"north-1","state":"down","at_utc":"2031-06-04T02:00:00Z","who":"A"}
{"serial":"L2","flight":"north-2","state":"down","at_utc":"2031-06-04T14:00:00Z","who":"A"}

{"serial":"L1","flight":"north-1","state":"found","at_utc":"2031-06-07T09:00:00Z","who":"B","place":{"latitude_deg":-38.5,"longitude_deg":-70.1},"note":"by the fence"}
`

func TestRecoveryLog(t *testing.T) {
	list, torn, err := ReadRecoveries("log", strings.NewReader(recoveryLog))
	if err != nil || torn || len(list) != 3 {
		t.Fatalf("%d entries, torn %v, %v", len(list), torn, err)
	}
	if list[2].Place == nil || list[2].Place.Latitude != -38.5 {
		t.Errorf("place %+v", list[2].Place)
	}
	latest := LatestRecoveries(list)
	if len(latest) != 2 || latest[0].Serial != "L2" || latest[1].State != Found {
		t.Errorf("latest %+v", latest)
	}
	// Power lost while a line was written: what was whole stays.
	list, torn, err = ReadRecoveries("log", strings.NewReader(recoveryLog+`{"serial":"L3","fli`))
	if err != nil || !torn || len(list) != 3 {
		t.Errorf("torn line: %d entries, torn %v, %v", len(list), torn, err)
	}
	for text, want := range map[string]string{
		"{}\n":                              "line 1: a recovery entry names no serial",
		recoveryLog + "x\n":                 "line 5",
		`{"colour":"red"}` + "\n":           "unknown field",
		strings.Repeat("x", recoveryLine+1): "longer than",
	} {
		if list, _, err := ReadRecoveries("log", strings.NewReader(text)); err == nil || list != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: %v, want %q", text, err, want)
		}
	}
}

func FuzzReadRecoveries(f *testing.F) {
	f.Add(recoveryLog)
	f.Add(`{"serial":"L3","fli`)
	f.Fuzz(func(t *testing.T, text string) {
		list, _, err := ReadRecoveries("fuzz", strings.NewReader(text))
		if err != nil && list != nil {
			t.Fatal("half a result")
		}
		for i := range list {
			if list[i].Validate() != nil {
				t.Fatal("an entry that was read is not valid")
			}
		}
		if len(LatestRecoveries(list)) > len(list) {
			t.Fatal("more latest entries than entries")
		}
	})
}
