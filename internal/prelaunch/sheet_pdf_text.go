package prelaunch

import (
	"strings"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/unicode/norm"
)

// readable stands for characters that the fonts of every PDF reader lack.
var readable = map[rune]string{
	'→': "->", '←': "<-", '↔': "<->", '↑': "up", '↓': "down", '−': "-", '‐': "-", '‑': "-", '―': "–", '≤': "<=", '≥': ">=", '≈': "~", '∝': "~", '≠': "<>",
	'✓': "x", '✕': "x", '△': "!", '○': "o", '′': "'", '″': "\"", '⁻': "-", '⁰': "0", '⁴': "4", '⁵': "5", '⁶': "6", '⁷': "7", '⁸': "8", '⁹': "9",
	'₀': "0", '₁': "1", '₂': "2", '₃': "3", '₄': "4", '₅': "5", '₆': "6", '₇': "7", '₈': "8", '₉': "9", 'ρ': "rho", 'σ': "sigma", 'Δ': "delta ", 'μ': "µ", 'Ω': "ohm",
	'ł': "l", 'Ł': "L", 'đ': "d", 'Đ': "D", 'ħ': "h", 'ı': "i", 'ŋ': "n", 'ĸ': "k", '\t': " ", '\n': " ", '\u2009': " ", '\u202f': " ", '\u2003': " ", '\u2002': " ",
}

// western returns a text in the bytes of Windows-1252, which the standard fonts of PDF
// have. Other letters lose their accents, signs become what a reader takes for them, and
// what is left becomes "?"; controls vanish.
func western(text string) string {
	var b strings.Builder
	for _, r := range norm.NFC.String(text) {
		put(&b, r, true)
	}
	return b.String()
}

func put(b *strings.Builder, r rune, deeper bool) {
	if s, ok := readable[r]; ok {
		for _, x := range s {
			put(b, x, false)
		}
		return
	}
	if r < ' ' || r >= 0x7f && r < 0xa0 {
		return
	}
	if c, ok := charmap.Windows1252.EncodeRune(r); ok {
		b.WriteByte(c)
		return
	}
	if deeper {
		if parts := norm.NFKD.String(string(r)); parts != string(r) {
			for _, x := range parts {
				if x >= 0x300 && x < 0x370 { // accents that stand over or under the letter before
					continue
				}
				put(b, x, false)
			}
			return
		}
		if r >= 0x300 && r < 0x370 {
			return
		}
	}
	b.WriteByte('?')
}
