package export

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"leadline/internal/flighttest"
	"leadline/internal/netcdf"
	"leadline/internal/sounding"
)

func TestSignOffIsWrittenIntoEveryFile(t *testing.T) {
	at := time.Date(2031, 6, 4, 10, 12, 0, 0, time.UTC)
	signed := sounding.SignOff{State: sounding.StateDiffers, Differs: []string{"it was signed with method set a, this is b"},
		Signature: &sounding.Signature{Who: "A. Reviewer", When: at, Note: "iced, \"see\" B", MethodSet: "a", Digest: "00ff", Verdict: "look", Open: 2}}
	for _, c := range []struct {
		name string
		is   sounding.SignOff
		want map[string]string
	}{
		{"only checked", sounding.SignOff{}, map[string]string{"sign_off": "not signed off", "signed_by": ""}},
		{"in review", sounding.SignOff{State: sounding.StateInReview, Reopened: &sounding.Reopening{Who: "B. Other", When: at, Reason: "late file"}},
			map[string]string{"sign_off": "not signed off", "signed_by": "", "reopened_by": "B. Other", "reopened_utc": "2031-06-04T10:12:00Z", "reopened_reason": "late file"}},
		{"signed", signed, map[string]string{"sign_off": "signed off, differs now", "signed_by": "A. Reviewer", "signed_utc": "2031-06-04T10:12:00Z", "signed_note": "iced, \"see\" B",
			"signed_method_set": "a", "signed_digest_sha256": "00ff", "signed_verdict": "look", "signed_open_findings": "2", "signed_differs": "it was signed with method set a, this is b"}},
	} {
		final := flighttest.New(60)
		final.SignOff = c.is
		f := &Flight{Final: final}
		var b bytes.Buffer
		if err := NetCDF(&b, f); err != nil {
			t.Fatal(err)
		}
		file, err := netcdf.Open(bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, a := range file.Attributes {
			if s, ok := a.Value.(string); ok {
				got[a.Name] = s
			}
		}
		for name, want := range c.want {
			if got[name] != want {
				t.Errorf("%s: %s is %q, want %q", c.name, name, got[name], want)
			}
		}
		b.Reset()
		if err := JSON(&b, f); err != nil {
			t.Fatal(err)
		}
		var report struct {
			SignOff sounding.SignOff `json:"sign_off"`
		}
		if err := json.Unmarshal(b.Bytes(), &report); err != nil {
			t.Fatal(err)
		}
		if report.SignOff.State != c.is.State || report.SignOff.Line() != c.is.Line() {
			t.Errorf("%s: the JSON report says %+v", c.name, report.SignOff)
		}
	}
}

// The CSV files are what a signature vouches for: they hold nothing of it.
func TestCSVDoesNotDependOnTheSignature(t *testing.T) {
	final := flighttest.New(60)
	var before, after bytes.Buffer
	if err := CSV(&before, &Flight{Final: final}); err != nil {
		t.Fatal(err)
	}
	final.SignOff = sounding.SignOff{State: sounding.StateSigned, Signature: &sounding.Signature{Who: "A. Reviewer"}}
	final.FlightName += "-2"
	if err := CSV(&after, &Flight{Final: final}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(before.Bytes(), after.Bytes()) {
		t.Error("signing changed the file that was signed")
	}
}
