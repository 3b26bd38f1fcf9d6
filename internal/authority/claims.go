package authority

import "strings"

// claim says which package's test answers for some rows.
type claim struct {
	rows   string // identifiers and ranges, for example "SVP-01..06 HUM-14"
	owner  string // package below internal, or nobody
	reason string // why nobody does, or empty
}

// nobody owns rows that are statements to be read, not numbers to be computed.
const nobody = "nobody"

// claims gives every row to exactly one package. A new row needs a line here, or
// the tests fail.
var claims = []claim{
	{rows: "SVP-01..06 SVP-09..75", owner: "humidity"},
	{rows: "SVP-07..08", owner: nobody, reason: "500 K and 600 K: no formula here reaches so far, and no balloon"},
	{rows: "HUM-01..11 HUM-15 THM-04..06 REF-01..05", owner: "humidity"},
	{rows: "HUM-12..14", owner: "parcel"},
	{rows: "THM-01..03 THM-07..42", owner: "parcel"},
	{rows: "ATM-01..57", owner: "earth"},
	{rows: "HGT-01..16 HGT-19", owner: "earth"},
	{rows: "HGT-17..18 HGT-20..23", owner: "hydrostatic"},
	{rows: "GEO-01..12", owner: "earth"},
	{rows: "WND-01..03", owner: "earth"},
	{rows: "WND-04..07", owner: "wind"},
	{rows: "WND-08..11", owner: "smooth"},
	{rows: "WND-12", owner: nobody, reason: "no Gaussian filter is offered"},
	{rows: "SEN-01..02 SEN-04", owner: "correct"},
	{rows: "SEN-03", owner: nobody, reason: "the product of its two inputs"},
	{rows: "SEN-05..08", owner: nobody, reason: "orders of magnitude from abstracts, without tolerance"},
	{rows: "QC-01..16", owner: "check"},
	{rows: "QC-17", owner: nobody, reason: "limits on departures from a campaign's level means, which are not computed yet"},
	{rows: "QC-18..19", owner: "smooth"},
	{rows: "TRP-01..03", owner: "levels"},
	{rows: "BAL-01..31", owner: "gas"},
	{rows: "BAL-32..39", owner: nobody, reason: "typical performance, for plausibility only, without tolerance"},
	{rows: "UNC-01..04", owner: "sounding"},
	{rows: "UNC-05..06", owner: nobody, reason: "typical results of one data product, without tolerance"},
	{rows: "SUN-01..21", owner: "sun"},
}

// pending names the packages whose tests do not run their rows yet. A package
// that starts to call Run takes itself off this list; the test says so.
var pending []string

// claimOf returns the claim that covers an identifier.
func claimOf(id string) (claim, bool) {
	for _, c := range claims {
		for _, part := range strings.Fields(c.rows) {
			if covers(part, id) {
				return c, true
			}
		}
	}
	return claim{}, false
}

// covers reports whether an identifier is in a part such as SVP-01..06 or HUM-14.
func covers(part, id string) bool {
	first, last, isRange := strings.Cut(part, "..")
	if !isRange {
		return part == id
	}
	prefix, from, _ := strings.Cut(first, "-")
	p, number, _ := strings.Cut(id, "-")
	// All numbers of two digits, so they compare as text.
	return p == prefix && len(number) == len(from) && number >= from && number <= last
}
