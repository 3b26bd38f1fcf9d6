package workbench

import (
	"fmt"

	"leadline/internal/sounding"
)

// chosenSheet returns the instrument sheet in force: the one a person chose last, else
// the one given with the flight. A sheet that is not at hand is a finding and changes
// nothing.
func chosenSheet(in Inputs, decisions []sounding.Decision) (*sounding.InstrumentSheet, []sounding.Finding) {
	sheet := in.Sheet
	var findings []sounding.Finding
	for _, d := range decisions {
		if d.Action != sounding.ActChooseSheet {
			continue
		}
		if chosen := in.Sheets[d.Field]; chosen != nil {
			sheet = chosen
			continue
		}
		findings = append(findings, decisionNote(d, sounding.Questionable, fmt.Sprintf("decision %s could not be applied: the instrument sheet %s (SHA-256 %s) is not at hand", d.ID, d.Value, d.Field)))
	}
	return sheet, findings
}

// sheetsOf reads the sheets that decisions name, by the SHA-256 of their text.
func sheetsOf(list []Blob) (map[string]*sounding.InstrumentSheet, error) {
	if len(list) == 0 {
		return nil, nil
	}
	out := make(map[string]*sounding.InstrumentSheet, len(list))
	for _, b := range list {
		s, err := sounding.ReadSheet(b.Name, b.Bytes)
		if err != nil {
			return nil, err
		}
		out[b.SHA256] = s
	}
	return out, nil
}

// shippedSheetsAtHand returns every shipped sheet, for decisions that come in a file
// without a logbook beside them.
func shippedSheetsAtHand() (map[string]*sounding.InstrumentSheet, error) {
	var list []Blob
	for _, name := range sounding.ShippedSheets() {
		_, text, err := sounding.ShippedSheet(name)
		if err != nil {
			return nil, err
		}
		list = append(list, blob(File{Name: name + ".toml", Bytes: text}))
	}
	return sheetsOf(list)
}

// SheetBlob reads and hashes the text of a sheet that a decision is to choose: a file's, or
// that of a shipped sheet.
func SheetBlob(f File) (Blob, *sounding.InstrumentSheet, error) {
	if len(f.Bytes) == 0 {
		s, text, err := sounding.ShippedSheet(f.Name)
		if err != nil {
			return Blob{}, nil, err
		}
		return blob(File{Name: f.Name + ".toml", Bytes: text}), s, nil
	}
	s, err := sounding.ReadSheet(f.Name, f.Bytes)
	if err != nil {
		return Blob{}, nil, err
	}
	return blob(f), s, nil
}

// SheetInForce returns the instrument sheet a flight is processed with: the one a person
// chose last, else the one given with the flight. chosen is the decision, nil where none did.
func (f *StoredFlight) SheetInForce() (file File, chosen *sounding.Decision) {
	file = File{f.Sheet.Name, f.Sheet.Bytes}
	for i := range f.Decisions {
		d := &f.Decisions[i]
		if d.Action != sounding.ActChooseSheet || d.Revoked != nil {
			continue
		}
		for _, b := range f.Sheets {
			if b.SHA256 == d.Field {
				file, chosen = File{b.Name, b.Bytes}, d
			}
		}
	}
	return file, chosen
}
