package report

import (
	"strings"
	"testing"
	"time"

	"leadline/internal/flighttest"
	"leadline/internal/sounding"
)

func TestPageSaysWhoSigned(t *testing.T) {
	at := time.Date(2031, 6, 4, 10, 12, 0, 0, time.UTC)
	const evil = `<img src=x onerror=alert(1)>`
	for _, c := range []struct {
		is   sounding.SignOff
		want string
	}{
		{sounding.SignOff{}, `<p class="sign">Not signed off.</p>`},
		{sounding.SignOff{Reopened: &sounding.Reopening{Who: evil, When: at, Reason: "late file"}}, `Not signed off; reopened by &lt;img src=x onerror=alert(1)&gt;, 2031-06-04 10:12 UTC: late file.`},
		{sounding.SignOff{Signature: &sounding.Signature{Who: "A. Reviewer", When: at, Note: evil, MethodSet: "m", Digest: "00ff", Verdict: "look", Open: 2}, Differs: []string{"other methods"}},
			`Signed off by A. Reviewer, 2031-06-04 10:12 UTC: &lt;img src=x onerror=alert(1)&gt;; differs now: other methods. Signed with method set m, verdict look, 2 findings open, digest 00ff.`},
	} {
		f := flighttest.New(300)
		f.SignOff = c.is
		if page := written(t, f); !strings.Contains(page, c.want) {
			t.Errorf("the page does not say %s", c.want)
		}
	}
}
